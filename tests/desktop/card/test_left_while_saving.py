"""A form that is left while it is being written: nothing is lost, nothing is stored twice, and all is told."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from pytestqt.qtbot import QtBot
from shiboken6 import isValid

from standmap.desktop.card.forms import Form
from standmap.desktop.card.tree_card import TreeCard
from standmap.desktop.desk import Desk
from standmap.jobs import correct
from standmap.store.stand_file import StandFile
from tests.desktop.holding_up import held_up

Choose = Callable[..., None]
Pick = Callable[[str, str], None]
Told = list[tuple[str, str]]


def opened(card: TreeCard) -> Form:
    assert card.form is not None
    return card.form


def typed_and_sent(card: TreeCard, text: str) -> Form:
    form = opened(card)
    QTest.keyClicks(form.fields[0].edit, text)
    QTest.keyClick(form.fields[0].edit, Qt.Key.Key_Return)
    return form


def left_for(card: TreeCard, choose: Choose, way: str) -> None:
    if way == "escape":
        QTest.keyClick(opened(card).fields[0].edit, Qt.Key.Key_Escape)
    else:
        choose("B04")


@pytest.mark.parametrize("way", ["escape", "another tree"])
def test_what_was_written_is_told_and_no_draft_of_it_stays(
    qtbot: QtBot, card: TreeCard, desk: Desk, told: Told, choose: Choose, pick: Pick, way: str
) -> None:
    choose("B01")
    pick("write down", "measure...")
    with held_up(qtbot, desk):
        form = typed_and_sent(card, "84,2 cm")
        left_for(card, choose, way)
        assert card.form is None
        qtbot.waitUntil(lambda: not isValid(form))
    assert told == [("tell", "written down: 84,2 cm")]
    choose("B01")
    pick("write down", "measure...")
    assert opened(card).fields[0].text() == ""


@pytest.mark.parametrize("way", ["escape", "another tree"])
def test_what_was_refused_is_told_and_kept_as_typed(
    qtbot: QtBot, card: TreeCard, desk: Desk, told: Told, choose: Choose, pick: Pick, way: str
) -> None:
    def taken(file: StandFile) -> None:
        correct.retag(file, "B05", "K9", desk.today, desk.now())

    choose("B03")
    pick("put right", "re-tag...")
    with held_up(qtbot, desk, taken):
        form = typed_and_sent(card, "K9")
        left_for(card, choose, way)
        qtbot.waitUntil(lambda: not isValid(form))
    (kind, text), *more = told
    assert (kind, more) == ("error", [])
    assert "another tree is called 'K9'" in text
    choose("B03")
    pick("put right", "re-tag...")
    assert opened(card).fields[0].text() == "K9"


def test_saving_twice_writes_once(qtbot: QtBot, card: TreeCard, desk: Desk, choose: Choose, pick: Pick) -> None:
    choose("B01")
    assert desk.seen is not None
    before = len(desk.seen.stand.measurements)
    pick("write down", "measure...")
    with held_up(qtbot, desk):
        form = typed_and_sent(card, "84,2 cm")
        QTest.keyClick(form.fields[0].edit, Qt.Key.Key_Return)
        QTest.mouseClick(form.save, Qt.MouseButton.LeftButton)
    assert len(desk.seen.stand.measurements) == before + 1


def test_a_form_about_several_trees_goes_with_them(
    qtbot: QtBot, card: TreeCard, desk: Desk, choose: Choose, pick: Pick
) -> None:
    others = ("B03", "B04", "B05")
    assert desk.seen is not None
    before = [desk.seen.stand.tree(name).species for name in others]
    choose("P1", "P2")
    pick("note of all", "say its species...")
    QTest.keyClicks(opened(card).fields[0].edit, "Betula pubescens")
    choose(*others)
    assert card.form is None
    pick("note of all", "say its species...")
    assert opened(card).fields[0].text() != "Betula pubescens"
    choose("P2", "P1")
    pick("note of all", "say its species...")
    form = opened(card)
    assert form.fields[0].text() == "Betula pubescens"
    with qtbot.waitSignal(desk.seen_changed):
        QTest.keyClick(form.fields[0].edit, Qt.Key.Key_Return)
    assert {desk.seen.stand.tree(name).species for name in ("P1", "P2")} == {"Betula pubescens"}
    assert [desk.seen.stand.tree(name).species for name in others] == before


@pytest.mark.parametrize(
    ("names", "menu", "title"),
    [
        (("P1", "P2"), "note of all", "confirm that it is a tree"),
        (("B03",), "put right", "the tag was read and is right"),
        (("B03",), "put right", "looked over: not sound"),
    ],
)
def test_the_same_entry_taken_twice_at_once_is_one_edit(
    qtbot: QtBot, desk: Desk, told: Told, choose: Choose, pick: Pick,
    names: tuple[str, ...], menu: str, title: str,
) -> None:  # fmt: skip
    choose(*names)
    with held_up(qtbot, desk):
        pick(menu, title)
        pick(menu, title)
    assert [kind for kind, _ in told] == ["tell"]
