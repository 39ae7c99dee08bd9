"""The rules dialog: drawn from the rule set, what is wrong stands beside the field, and what is kept is one edit."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QLabel
from pytestqt.qtbot import QtBot
from shiboken6 import isValid

from standmap.desktop.desk import Desk
from standmap.desktop.dialogs.figure_words import figure_title
from standmap.desktop.dialogs.rules_dialog import RulesDialog
from standmap.desktop.dialogs.rules_form import can_be_set, changed_counts, own_value, printed
from standmap.desktop.words import said
from standmap.errors import UserError
from standmap.jobs.rule_choice import keep_rules, own_figures
from standmap.rules.ruleset import UNITS, available, load
from standmap.settings import Settings
from standmap.stand.tapping import TapHole, Wound
from standmap.stand.tree import Measurement, Tree
from standmap.store.stand_file import StandFile
from tests.desktop.holding_up import held_up

NOW = datetime(2026, 3, 28, 7, 30, tzinfo=UTC)
WORDS = {"yes": True, "no": False, "ja": True}


@pytest.fixture
def desk(qtbot: QtBot, today: date, stand_path: Path) -> Iterator[Desk]:
    assert today.year == 2026
    trees = [Tree(f"k{i}", f"B{i}", (27 + i / 1000, 62.0), "Betula pendula") for i in range(3)]
    girths = [Measurement(f"m{i}", f"k{i}", date(2024, 9, 14), 842.0, None, "", "mm") for i in range(3)]
    with StandFile.create(stand_path) as file, file.writing("plant", NOW) as writing:
        for rows in (trees, girths, [TapHole("h", "k0", 1, Wound.HOLE, date(2022, 3, 20))]):
            writing.insert_many(rows)
    desk = Desk(Settings())
    with qtbot.waitSignal(desk.seen_changed):
        desk.open_stand(stand_path)
    yield desk
    desk.close_stand()
    desk.deleteLater()


def shown(qtbot: QtBot, desk: Desk) -> RulesDialog:
    dialog = RulesDialog(desk)
    qtbot.addWidget(dialog)
    dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose, False)
    dialog.open()
    qtbot.waitUntil(lambda: bool(dialog.change.text()))
    return dialog


def type_in(dialog: RulesDialog, figure: str, text: str) -> None:
    edit = dialog.figures[figure].field.edit
    edit.setFocus()
    edit.selectAll()
    QTest.keyClick(edit, Qt.Key.Key_Delete)
    if text.isascii():
        QTest.keyClicks(edit, text)
        return
    QApplication.clipboard().setText(text)
    QTest.keyClick(edit, Qt.Key.Key_V, Qt.KeyboardModifier.ControlModifier)


def press_keep(dialog: RulesDialog) -> None:
    QTest.mouseClick(dialog.keep_button, Qt.MouseButton.LeftButton)


def steps(desk: Desk) -> int:
    assert desk.path is not None
    with StandFile.open(desk.path, read_only=True) as file:
        return len(file.history())


def test_every_figure_is_there_with_its_value_bounds_and_source(qtbot: QtBot, desk: Desk) -> None:
    dialog = shown(qtbot, desk)
    rules = load("cautious")
    assert list(dialog.figures) == list(rules.figures)
    for name, row in dialog.figures.items():
        figure = rules.figures[name]
        told = " ".join(label.text() for label in row.findChildren(QLabel))
        assert figure.source in told
        assert figure_title(name) in told
        assert row.field.edit.placeholderText() == printed(figure)
        if figure.unit != "yes or no":
            assert f"{figure.least:g} to {figure.most:g}" in told
        assert row.field.text() == ""
    assert any("local rules and licensed practice" in label.text() for label in dialog.findChildren(QLabel))


def test_every_figure_of_every_set_has_words_of_its_own(qapp: QApplication) -> None:
    assert qapp is not None
    assert {name for name in UNITS if figure_title(name) == name} == set()


def test_the_change_is_told_before_anything_is_kept(qtbot: QtBot, desk: Desk) -> None:
    dialog = shown(qtbot, desk)
    assert dialog.change.text() == "no verdict of season 2026 would change"
    type_in(dialog, "return_after_years", "5")
    qtbot.waitUntil(lambda: dialog.change.text() == "season 2026 would change: resting 0 → 1, ready 3 → 2")
    assert desk.seen is not None
    assert desk.seen.rules == load("cautious")
    assert "this stand's own" in dialog.figures["return_after_years"].whose.text()


def test_own_figures_are_kept_as_one_edit_and_taken_back_as_one(qtbot: QtBot, desk: Desk) -> None:
    before = steps(desk)
    dialog = shown(qtbot, desk)
    type_in(dialog, "return_after_years", "5")
    type_in(dialog, "least_diameter_mm", "250,5")
    with qtbot.waitSignal(dialog.accepted):
        press_keep(dialog)
    assert desk.seen is not None
    assert own_figures(desk.seen.stand) == {"return_after_years": 5, "least_diameter_mm": 250.5}
    assert desk.seen.rules.return_after_years == 5
    assert steps(desk) == before + 1
    with qtbot.waitSignal(desk.seen_changed):
        desk.undo()
    assert desk.seen.rules == load("cautious")


def test_kept_figures_stand_in_their_fields_and_go_when_emptied(qtbot: QtBot, desk: Desk) -> None:
    with qtbot.waitSignal(desk.seen_changed):
        desk.run(lambda file, _: keep_rules(file, NOW, "cautious", {"return_after_years": 5, "plug": 0}), "")
    dialog = shown(qtbot, desk)
    assert dialog.figures["return_after_years"].field.text() == "5"
    assert dialog.figures["plug"].field.text() == "no"
    type_in(dialog, "plug", "")
    with qtbot.waitSignal(dialog.accepted):
        press_keep(dialog)
    assert desk.seen is not None
    assert own_figures(desk.seen.stand) == {"return_after_years": 5}


@pytest.mark.parametrize(
    ("figure", "text", "told"),
    [
        ("least_diameter_mm", "100", "100 is below 200"),
        ("least_diameter_mm", "9999", "above 1000"),
        ("least_diameter_mm", "thick", "'thick' is not a number"),
        ("return_after_years", "3.5", "not a whole number"),
        ("return_after_years", "🌳" * 5000, "is not a number"),
        ("return_after_years", "nan", "is not a number"),
        ("return_after_years", "1e999", "is not a number"),
        ("plug", "perhaps", "neither yes nor no"),
    ],
)
def test_a_bad_figure_is_told_beside_its_field_and_not_kept(
    qtbot: QtBot, desk: Desk, figure: str, text: str, told: str
) -> None:
    before = steps(desk)
    dialog = shown(qtbot, desk)
    type_in(dialog, figure, text)
    qtbot.waitUntil(lambda: not dialog.keep_button.isEnabled())
    field = dialog.figures[figure].field
    assert told in field.wrong.text()
    assert field.wrong.isVisible()
    assert field.text() == text
    assert "stands beside it" in dialog.wrong.text()
    press_keep(dialog)
    assert dialog.isVisible()
    assert steps(desk) == before
    type_in(dialog, figure, "")
    qtbot.waitUntil(dialog.keep_button.isEnabled)
    assert not field.wrong.isVisible()


def test_two_figures_that_contradict_each_other_are_told(qtbot: QtBot, desk: Desk) -> None:
    dialog = shown(qtbot, desk)
    type_in(dialog, "hole_depth_least_mm", "20")
    qtbot.waitUntil(lambda: bool(dialog.wrong.text()))
    assert "least depth of a hole, in the wood 20 is above greatest depth" in dialog.wrong.text()
    assert not dialog.keep_button.isEnabled()
    type_in(dialog, "hole_depth_most_mm", "25")
    qtbot.waitUntil(dialog.keep_button.isEnabled)


def test_another_set_is_chosen_by_keyboard_and_leaves_own_figures_behind(qtbot: QtBot, desk: Desk) -> None:
    with qtbot.waitSignal(desk.seen_changed):
        desk.run(lambda file, _: keep_rules(file, NOW, "cautious", {"return_after_years": 5}), "")
    dialog = shown(qtbot, desk)
    dialog.choice.setFocus()
    QTest.keyClick(dialog.choice, Qt.Key.Key_Down)
    assert dialog.choice.currentData() == available()[1] == "alaska"
    assert dialog.figures["return_after_years"].field.text() == ""
    QTest.keyClick(dialog.choice, Qt.Key.Key_Up)
    assert dialog.figures["return_after_years"].field.text() == "5"
    QTest.keyClick(dialog.choice, Qt.Key.Key_Down)
    with qtbot.waitSignal(dialog.accepted):
        press_keep(dialog)
    assert desk.seen is not None
    assert desk.seen.rules == load("alaska")
    assert own_figures(desk.seen.stand) == {}


@pytest.mark.parametrize("rule_set", available())
def test_every_set_can_be_shown_with_its_notes(qtbot: QtBot, desk: Desk, rule_set: str) -> None:
    dialog = shown(qtbot, desk)
    dialog.choice.setCurrentIndex(dialog.choice.findData(rule_set))
    rules = load(rule_set)
    shown_texts = " ".join(label.text() for label in dialog.findChildren(QLabel))
    for text in (
        rules.about,
        rules.species_source,
        *rules.notes,
        *rules.cautions,
        *(s.source for s in rules.hole_steps),
    ):
        assert said(text) in shown_texts
    for name, row in dialog.figures.items():
        assert row.field.isEnabled() == can_be_set(rules.figures[name])


def test_nothing_is_written_when_nothing_was_changed_or_it_was_left(qtbot: QtBot, desk: Desk) -> None:
    before = steps(desk)
    dialog = shown(qtbot, desk)
    with qtbot.waitSignal(dialog.accepted):
        press_keep(dialog)
    dialog = shown(qtbot, desk)
    type_in(dialog, "return_after_years", "7")
    QTest.keyClick(dialog, Qt.Key.Key_Escape)
    assert not dialog.isVisible()
    assert steps(desk) == before


def test_rules_of_a_stand_that_is_only_looked_at_cannot_be_changed(qtbot: QtBot, desk: Desk) -> None:
    assert desk.path is not None
    other = Desk(Settings())
    with qtbot.waitSignal(other.seen_changed):
        other.open_stand(desk.path)
    dialog = shown(qtbot, other)
    assert not dialog.keep_button.isVisible()
    assert not dialog.choice.isEnabled()
    assert not any(row.field.isEnabled() for row in dialog.figures.values())
    other.close_stand()
    other.deleteLater()


# What is typed


def test_own_values_are_read_in_any_way_they_are_written() -> None:
    assert own_value("cautious", "least_diameter_mm", " 250,5 ", WORDS) == 250.5
    assert own_value("cautious", "plug", "JA", WORDS) == 1
    assert own_value("cautious", "plug", "no", WORDS) == 0
    assert own_value("cautious", "plug", "  ", WORDS) is None
    with pytest.raises(UserError, match="least under Belarus"):
        own_value("belarus", "plug", "no", WORDS)


def test_only_what_differs_is_told() -> None:
    assert changed_counts({"ready": 3, "resting": 0, "unfit": 1}, {"ready": 2, "resting": 1, "unfit": 1}) == {
        "ready": (3, 2),
        "resting": (0, 1),
    }


def test_rules_kept_and_the_dialog_left_at_once_are_kept_and_told(qtbot: QtBot, desk: Desk) -> None:
    told: list[tuple[str, str]] = []
    desk.notice.connect(lambda kind, text: told.append((kind, text)))
    dialog = RulesDialog(desk)
    dialog.open()
    qtbot.waitUntil(lambda: bool(dialog.change.text()))
    type_in(dialog, "return_after_years", "5")
    with held_up(qtbot, desk):
        press_keep(dialog)
        QTest.keyClick(dialog, Qt.Key.Key_Escape)
        qtbot.waitUntil(lambda: not isValid(dialog))
    assert desk.seen is not None
    assert own_figures(desk.seen.stand) == {"return_after_years": 5}
    assert told == [("tell", "the rules of this stand are kept as they were typed")]
