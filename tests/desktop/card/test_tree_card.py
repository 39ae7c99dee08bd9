"""The tree card as a person sees it: one tree in full, several in sum, and always what the jobs say."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date

import pytest
from PySide6.QtCore import QCoreApplication, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QLabel, QWidget
from pytestqt.qtbot import QtBot

from standmap.desktop.card import tree_card
from standmap.desktop.card.stem_disc import StemDisc
from standmap.desktop.card.stem_view import stem_view
from standmap.desktop.card.tree_card import TreeCard
from standmap.desktop.desk import Desk
from standmap.desktop.theme import LIGHT
from standmap.desktop.words import said
from standmap.jobs.judge import judge
from standmap.jobs.mark import plans_of
from standmap.jobs.tree_facts import HoleFacts
from standmap.rules.judgement import Verdict
from standmap.stand.tapping import Wound


def texts(widget: QWidget) -> list[str]:
    """Return every text in sight, from the top."""
    QCoreApplication.processEvents()
    return [found.text() for found in widget.findChildren(QLabel) if found.isVisible() and found.text()]


def test_every_tree_is_told_as_the_command_line_tells_it(card: TreeCard, desk: Desk) -> None:
    assert desk.seen is not None
    for tree, judged in judge(desk.seen.stand, desk.season).trees:
        desk.choose([tree.key])
        shown = texts(card)
        assert shown[0].replace("\u200b", "") == tree.name
        back = f", back in {judged.back_in}" if judged.back_in else ""
        assert f"{judged.verdict}{back}" in shown
        for reason in judged.reasons:
            assert said(reason.text) in shown
            assert (reason.rule if reason.rule == reason.source else f"{reason.rule} · {said(reason.source)}") in shown
        for caution in judged.cautions:
            assert caution in shown


def test_a_resting_tree_says_what_would_make_it_ready_when_asked(card: TreeCard, choose: Callable[..., None]) -> None:
    choose("B03")
    assert "wait until 2028" not in texts(card)
    card.scroller.ensureWidgetVisible(card.reasons.fold)
    QTest.mouseClick(card.reasons.fold, Qt.MouseButton.LeftButton)
    assert "wait until 2028" in texts(card)
    choose("P1")
    assert "confirm that it is a tree" in texts(card)
    card.reasons.fold.setFocus()
    QTest.keyClick(card.reasons.fold, Qt.Key.Key_Space)
    assert "confirm that it is a tree" not in texts(card)
    choose("B07")
    assert not card.reasons.fold.isVisible()


def test_the_season_looked_at_changes_the_verdict(card: TreeCard, desk: Desk, choose: Callable[..., None]) -> None:
    choose("B03")
    assert "resting, back in 2028" in texts(card)
    desk.set_season(2028)
    assert "ready" in texts(card)


def test_units_follow_the_settings(card: TreeCard, desk: Desk, choose: Callable[..., None]) -> None:
    choose("B05")
    assert "849 mm" in texts(card)
    desk.settings = replace(desk.settings, units="us")
    desk.settings_changed.emit()
    assert "33.4 in" in texts(card)
    assert any("US gal" in text for text in texts(card))


def test_the_stem_disc_tells_its_holes_in_words(card: TreeCard, choose: Callable[..., None]) -> None:
    choose("B03")
    disc = card.record.disc
    assert disc.accessibleName() == "stem seen from above"
    assert disc.accessibleDescription().startswith("2024 · hole 1 · ")
    assert " · plugged · left 0.3 L without sap" in disc.accessibleDescription()
    assert len(disc.view.marks) == 1
    choose("B01")
    assert "no hole on record" in texts(card)
    assert not disc.isVisible()


@pytest.mark.parametrize(("side", "at"), [(0.0, (0, -1)), (90.0, (1, 0)), (180.0, (0, 1)), (270.0, (-1, 0))])
def test_a_hole_is_drawn_on_its_side(qtbot: QtBot, side: float, at: tuple[int, int]) -> None:
    disc = StemDisc(LIGHT)
    qtbot.addWidget(disc)
    hole = HoleFacts("h", 1, Wound.HOLE, 2024, date(2024, 3, 20), None, side, 60.0, 20.0, "plugged")
    disc.show_stem(stem_view(1600.0, (hole,)), (hole,), {"h": "told"}, LIGHT)
    disc.resize(disc.sizeHint())
    image = disc.grab().toImage()
    middle, inside = image.rect().center(), 72
    for x, y in ((0, -1), (1, 0), (0, 1), (-1, 0)):
        inked = image.pixelColor(middle.x() + inside * x, middle.y() + inside * y).name() == LIGHT.ink.lower()
        assert inked is ((x, y) == at)


def test_marking_and_unmarking(
    qtbot: QtBot, card: TreeCard, desk: Desk, told: list[tuple[str, str]], choose: Callable[..., None]
) -> None:
    choose("B03")
    with qtbot.waitSignal(desk.seen_changed):
        QTest.mouseClick(card.mark, Qt.MouseButton.LeftButton)
    assert desk.seen is not None
    (plan,) = plans_of(desk.seen.plans, 2026).values()
    assert (plan.tree_key, plan.holes) == (desk.chosen[0], 1)
    qtbot.waitUntil(lambda: any(kind == "caution" for kind, _ in told))
    assert told[0][1].startswith("B03 is not ready in 2026: resting")
    assert card.mark.text() == "unmark for 2026"
    assert "marked for 2026" in texts(card)
    card.mark.setFocus()
    with qtbot.waitSignal(desk.seen_changed):
        QTest.keyClick(card.mark, Qt.Key.Key_Space)
    assert desk.seen.plans == ()
    desk.set_season(2025)
    assert not card.mark.isEnabled()
    assert card.mark.accessibleDescription() == "2025 is past: marks are for a season to come"


def test_several_trees_are_counted_and_put_right_together(
    qtbot: QtBot, card: TreeCard, desk: Desk, choose: Callable[..., None], pick: Callable[[str, str], None]
) -> None:
    choose("P1", "P2", "B07")
    assert texts(card)[:2] == ["3 trees", "P1, P2, B07"]
    assert [w.accessibleName() for w in card.several.of_what.findChildren(QWidget) if w.accessibleName()] == [
        "ready: 1",
        "unsure: 2",
    ]
    with qtbot.waitSignal(desk.seen_changed):
        pick("note of all", "confirm that it is a tree")
    assert desk.seen is not None
    assert [desk.seen.stand.tree(n).proposed for n in ("P1", "P2")] == [False, False]
    with qtbot.waitSignal(desk.seen_changed):
        pick("note of all", "one rootstock...")
    assert len({desk.seen.stand.tree(n).rootstock for n in ("P1", "P2", "B07")}) == 1
    with qtbot.waitSignal(desk.seen_changed):
        pick("note of all", "looked over: sound")
    pick("note of all", "say its species...")
    assert card.form is not None
    QTest.keyClicks(card.form.fields[0].edit, "Betula pubescens")
    with qtbot.waitSignal(desk.seen_changed):
        QTest.keyClick(card.form.fields[0].edit, Qt.Key.Key_Return)
    assert {desk.seen.stand.tree(n).species for n in ("P1", "P2", "B07")} == {"Betula pubescens"}
    assert desk.seen.undo_label == "P1, P2, B07: Betula pubescens"


def test_a_large_stand_is_judged_off_the_gui_thread(
    qtbot: QtBot, card: TreeCard, choose: Callable[..., None], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(tree_card, "AT_ONCE", 0)
    card._ground = None
    choose("B03")
    assert "resting, back in 2028" in texts(card)
    qtbot.waitUntil(lambda: card.facts is not None and card.facts.tree.name == "B03")
    assert card.facts is not None
    assert card.facts.verdict is Verdict.RESTING
    assert any(text.startswith("tapped in 2024") for text in texts(card))


def test_the_keyboard_reaches_everything(qtbot: QtBot, card: TreeCard, choose: Callable[..., None]) -> None:
    choose("B03")
    card.activateWindow()
    card.setFocus()
    qtbot.waitUntil(card.reasons.fold.hasFocus)
    reached = set()
    for _ in range(8):
        focused = card.window().focusWidget()
        reached.add(focused)
        assert focused.accessibleName()
        QTest.keyClick(focused, Qt.Key.Key_Tab)
    assert {card.reasons.fold, card.mark, card.write_down, card.put_right} <= reached
    bar = card.scroller.verticalScrollBar()
    QTest.keyClick(card, Qt.Key.Key_PageDown)
    assert bar.value() == min(bar.pageStep(), bar.maximum())
    QTest.keyClick(card, Qt.Key.Key_PageUp)
    assert bar.value() == 0


def test_what_can_be_done_is_in_the_list_and_nothing_that_cannot(
    card: TreeCard, desk: Desk, choose: Callable[..., None]
) -> None:
    actions = {action.id: action for action in card.actions()}
    assert not any(action.enabled() for action in actions.values())
    choose("B03")
    assert actions["card.belongs"].enabled()
    assert not actions["card.confirm"].enabled()
    choose("P1")
    assert actions["card.confirm"].enabled()
    assert not actions["card.belongs"].enabled()
    choose("P1", "B03")
    assert actions["card.confirm"].enabled()
    assert not actions["card.measure"].enabled()
    assert desk.seen is not None
    desk.seen = replace(desk.seen, read_only=True)
    assert not any(action.enabled() for action in actions.values())


def test_nothing_chosen_shows_nothing(card: TreeCard, desk: Desk, choose: Callable[..., None]) -> None:
    choose("B03")
    desk.choose(())
    assert texts(card) == []
    assert not card.mark.isEnabled()


def test_sentences_of_the_card_are_in_the_persons_units(
    qtbot: QtBot,
    card: TreeCard,
    desk: Desk,
    told: list[tuple[str, str]],
    choose: Callable[..., None],
    pick: Callable[[str, str], None],
) -> None:
    choose("B07")
    assert any(" mm" in text for text in texts(card))
    desk.settings = replace(desk.settings, units="us")
    desk.settings_changed.emit()
    assert not any(" mm" in text for text in texts(card))
    pick("write down", "measure...")
    assert card.form is not None
    QTest.keyClicks(card.form.fields[0].edit, "12")
    with qtbot.waitSignal(desk.seen_changed):
        QTest.keyClick(card.form.fields[0].edit, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: any(kind == "caution" for kind, _ in told))
    (caution,) = (text for kind, text in told if kind == "caution")
    assert " and is 12.0 in now: a stem does not shrink" in caution
    assert " mm" not in caution
