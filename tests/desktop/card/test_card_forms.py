"""Writing down and putting right on the card, with real keys: right input is one edit, wrong input stays in sight."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QLineEdit
from pytestqt.qtbot import QtBot

from standmap.desktop.card.correct_forms import BelongsForm, MoveForm, RetagForm
from standmap.desktop.card.forms import Form
from standmap.desktop.card.record_forms import CareForm, CollectionForm, HoleForm, MeasureForm
from standmap.desktop.card.tree_card import TreeCard
from standmap.desktop.desk import Desk
from standmap.stand.snapshot import Stand
from standmap.stand.tapping import Act
from standmap.stand.tree import Soundness, Standing, Tree

Choose = Callable[..., None]
Pick = Callable[[str, str], None]


def stand_of(desk: Desk) -> Stand:
    assert desk.seen is not None
    return desk.seen.stand


def tree(desk: Desk, name: str) -> Tree:
    return stand_of(desk).tree(name)


def open_form(card: TreeCard, kind: type[Form]) -> Form:
    assert isinstance(card.form, kind)
    assert card.form.isVisible()
    return card.form


def retype(edit: QLineEdit, text: str) -> None:
    edit.selectAll()
    QTest.keyClick(edit, Qt.Key.Key_Delete)
    QTest.keyClicks(edit, text)


def save(qtbot: QtBot, card: TreeCard, desk: Desk) -> None:
    """Press Enter in the last field of the open form and wait until it is written."""
    assert card.form is not None
    with qtbot.waitSignal(desk.seen_changed):
        QTest.keyClick(card.form.fields[-1].edit, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: card.form is None)


def test_a_girth_is_written_down(qtbot: QtBot, card: TreeCard, desk: Desk, choose: Choose, pick: Pick) -> None:
    choose("B01")
    pick("write down", "measure...")
    form = open_form(card, MeasureForm)
    assert isinstance(form, MeasureForm)
    assert form.thickness.edit.hasFocus()
    QTest.keyClicks(form.thickness.edit, "84,2 cm")
    save(qtbot, card, desk)
    newest = stand_of(desk).newest_measurement(tree(desk, "B01").key)
    assert newest is not None
    assert (newest.girth_mm, newest.given, newest.given_unit, newest.measured_on) == (842.0, "84,2", "cm", desk.today)
    assert desk.seen is not None
    assert desk.seen.undo_label == "B01: girth 84,2 cm"
    assert card.facts is not None
    assert card.facts.verdict == "ready"


@pytest.mark.parametrize(
    ("text", "why"), [("0", "a girth of 0 mm"), ("9 m", "a girth of 9000 mm"), ("", "is not a length")]
)
def test_a_girth_that_cannot_be_is_said_beside_the_field(
    card: TreeCard, desk: Desk, choose: Choose, pick: Pick, text: str, why: str
) -> None:
    before = stand_of(desk)
    choose("B01")
    pick("write down", "measure...")
    form = open_form(card, MeasureForm)
    assert isinstance(form, MeasureForm)
    QTest.keyClicks(form.thickness.edit, text)
    QTest.mouseClick(form.save, Qt.MouseButton.LeftButton)
    assert why in form.thickness.wrong.text()
    assert form.thickness.wrong.isVisible()
    assert form.thickness.edit.text() == text
    assert not desk.busy
    retype(form.thickness.edit, "842")
    assert form.thickness.wrong.text() == ""
    retype(form.on.edit, "2027-01-01")
    QTest.keyClick(form.on.edit, Qt.Key.Key_Return)
    assert "1 Jan 2027 is after today" in form.on.wrong.text()
    assert stand_of(desk) is before


def test_a_hole_is_written_down_and_warned_of(
    qtbot: QtBot, card: TreeCard, desk: Desk, told: list[tuple[str, str]], choose: Choose, pick: Pick
) -> None:
    choose("B03")
    pick("write down", "a hole or slit was made...")
    form = open_form(card, HoleForm)
    assert isinstance(form, HoleForm)
    for field, text in ((form.side, "SW"), (form.height_up, "90"), (form.depth_in, "40"), (form.bit, "10")):
        QTest.keyClicks(field.edit, text)
    save(qtbot, card, desk)
    hole = stand_of(desk).holes_of[tree(desk, "B03").key][-1]
    assert (hole.side_deg, hole.height_mm, hole.depth_mm, hole.bit_mm) == (225.0, 900.0, 40.0, 10.0)
    assert hole.made_on == desk.today
    assert any(k == "caution" and text.startswith("B03 was not ready in 2026: resting") for k, text in told)
    pick("write down", "sap was collected...")
    sap = open_form(card, CollectionForm)
    assert isinstance(sap, CollectionForm)
    QTest.keyClicks(sap.volume.edit, "3 gallons")
    QTest.keyClick(sap.volume.edit, Qt.Key.Key_Return)
    assert "imperial or US" in sap.volume.wrong.text()
    assert sap.hole is not None
    sap.hole.box.setCurrentIndex(0)
    retype(sap.volume.edit, "2,5")
    save(qtbot, card, desk)
    (taken,) = stand_of(desk).collections_of[hole.key]
    assert (taken.volume_ml, taken.given_unit) == (2500.0, "l")
    pick("write down", "something was done at it...")
    care = open_form(card, CareForm)
    assert isinstance(care, CareForm)
    care.what.box.setFocus()
    QTest.keyClick(care.what.box, Qt.Key.Key_Down)
    save(qtbot, card, desk)
    assert stand_of(desk).observations_of[tree(desk, "B03").key][-1].what is Act.PLUGGED


def test_what_the_stand_refuses_is_said_and_what_was_typed_stays(
    qtbot: QtBot, card: TreeCard, choose: Choose, pick: Pick
) -> None:
    choose("B03")
    pick("write down", "sap was collected...")
    form = open_form(card, CollectionForm)
    assert isinstance(form, CollectionForm)
    QTest.keyClicks(form.volume.edit, "2.5")
    QTest.keyClick(form.volume.edit, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: bool(form.wrong.text()))
    assert "B03 has no open hole on 28 Mar 2026" in form.wrong.text()
    assert form.volume.edit.text() == "2.5"
    assert card.form is form


@pytest.mark.parametrize(
    ("typed", "why"),
    [
        ("x" * 10_000, "a name of 10000 characters is too long; use 1 to 120"),
        ("B05", "another tree is called 'B05'"),
        ("   ", "cannot be a name"),
    ],
)
def test_names_that_cannot_be(card: TreeCard, desk: Desk, choose: Choose, pick: Pick, typed: str, why: str) -> None:
    choose("B03")
    pick("put right", "re-tag...")
    form = open_form(card, RetagForm)
    assert isinstance(form, RetagForm)
    form.name.edit.insert(typed)
    QTest.keyClick(form.name.edit, Qt.Key.Key_Return)
    assert why in form.name.wrong.text()
    assert form.name.edit.text() == typed
    assert tree(desk, "B03").name == "B03"


@pytest.mark.parametrize("name", ["🌳 7", "שלום", "x" * 120])
def test_names_in_any_script_fit_the_card(
    qtbot: QtBot, card: TreeCard, desk: Desk, choose: Choose, pick: Pick, name: str
) -> None:
    choose("B03")
    pick("put right", "re-tag...")
    form = open_form(card, RetagForm)
    form.fields[0].edit.insert(name)
    save(qtbot, card, desk)
    assert tree(desk, name).name == name
    assert card.head.name.text().replace("\u200b", "") == name
    qtbot.waitUntil(lambda: card.head.name.height() >= card.head.name.heightForWidth(card.head.name.width()))
    assert card.body.width() <= card.scroller.viewport().width()


def test_a_tree_moves_only_when_sure(qtbot: QtBot, card: TreeCard, desk: Desk, choose: Choose, pick: Pick) -> None:
    choose("B03")
    before = tree(desk, "B03").at
    pick("put right", "move by coordinates...")
    form = open_form(card, MoveForm)
    assert isinstance(form, MoveForm)
    retype(form.position.edit, "61.9 999")
    QTest.keyClick(form.position.edit, Qt.Key.Key_Return)
    assert "longitude 999 is not within -180 and 180" in form.position.wrong.text()
    far = f"{before[1] + 0.2:.5f} {before[0]:.5f}"
    retype(form.position.edit, far)
    QTest.keyClick(form.position.edit, Qt.Key.Key_Return)
    qtbot.waitUntil(form.sure.isVisible)
    assert "km from the stand's centre" in form.position.wrong.text()
    assert tree(desk, "B03").at == before
    QTest.mouseClick(form.sure, Qt.MouseButton.LeftButton, pos=form.sure.rect().center() / 4)
    form.sure.setFocus()
    if not form.sure.isChecked():
        QTest.keyClick(form.sure, Qt.Key.Key_Space)
    save(qtbot, card, desk)
    moved = tree(desk, "B03")
    assert moved.at == pytest.approx((before[0], before[1] + 0.2), abs=1e-5)
    assert moved.pinned


def test_a_record_goes_to_the_tree_it_belongs_to(
    qtbot: QtBot, card: TreeCard, desk: Desk, choose: Choose, pick: Pick
) -> None:
    choose("B03")
    pick("put right", "a record belongs to another tree...")
    form = open_form(card, BelongsForm)
    assert isinstance(form, BelongsForm)
    QTest.keyClicks(form.to.edit, "B03")
    QTest.keyClick(form.to.edit, Qt.Key.Key_Return)
    assert "that is B03 itself" in form.to.wrong.text()
    retype(form.to.edit, "B04")
    save(qtbot, card, desk)
    assert not stand_of(desk).holes_of.get(tree(desk, "B03").key)
    assert [h.season for h in stand_of(desk).holes_of[tree(desk, "B04").key]] == [2024]


def test_a_measurement_goes_to_the_tree_it_belongs_to(
    qtbot: QtBot, card: TreeCard, desk: Desk, choose: Choose, pick: Pick
) -> None:
    choose("B07")
    measured = stand_of(desk).newest_measurement(tree(desk, "B07").key)
    assert measured is not None
    pick("put right", "a record belongs to another tree...")
    form = open_form(card, BelongsForm)
    assert isinstance(form, BelongsForm)
    at = next(i for i in range(form.record.box.count()) if form.record.box.itemText(i).startswith("girth "))
    form.record.box.setFocus()
    for _ in range(at):
        QTest.keyClick(form.record.box, Qt.Key.Key_Down)
    QTest.keyClicks(form.to.edit, "B04")
    save(qtbot, card, desk)
    assert measured.key in {m.key for m in stand_of(desk).measurements_of[tree(desk, "B04").key]}
    assert measured not in stand_of(desk).measurements_of[tree(desk, "B07").key]
    notes = [o.note for o in stand_of(desk).observations_of[tree(desk, "B04").key] if o.what is Act.CORRECTED]
    assert any("moved here from B07" in note for note in notes)


def test_corrections_are_history_and_come_undone(
    qtbot: QtBot, card: TreeCard, desk: Desk, choose: Choose, pick: Pick
) -> None:
    before = stand_of(desk)
    edits: list[tuple[str, str, str, Callable[[], bool]]] = [
        ("B20", "looked over: sound", "", lambda: tree(desk, "B20").soundness is Soundness.SOUND),
        ("B03", "the tag was read and is right", "", lambda: tree(desk, "B03").tag_confirmed),
        ("B03", "say its species...", "Betula pubescens", lambda: tree(desk, "B03").species == "Betula pubescens"),
        ("B12", "each on its own root", "", lambda: tree(desk, "B12").rootstock is None),
        ("B04", "it was felled...", "2026-03-01", lambda: tree(desk, "B04").standing_since == date(2026, 3, 1)),
        ("B05", "it has died...", "2026-03-01", lambda: tree(desk, "B05").standing is Standing.DEAD),
        ("B07", "one rootstock...", "B10, B15", lambda: tree(desk, "B07").rootstock is not None),
        ("P1", "the same as another tree...", "P2", lambda: not stand_of(desk).named("P1")),
        ("P3", "confirm that it is a tree", "", lambda: not tree(desk, "P3").proposed),
    ]
    for name, title, text, holds in edits:
        choose(name)
        assert not holds()
        if not text:
            with qtbot.waitSignal(desk.seen_changed):
                pick("put right", title)
        else:
            pick("put right", title)
            assert card.form is not None
            retype(card.form.fields[0].edit, text)
            save(qtbot, card, desk)
        assert holds(), title
    assert len({tree(desk, name).rootstock for name in ("B07", "B10", "B15")}) == 1
    assert desk.chosen_tree is not None
    for _ in edits:
        with qtbot.waitSignal(desk.seen_changed):
            desk.undo()
    assert stand_of(desk) == before


def test_merging_shows_the_tree_that_is_left(
    qtbot: QtBot, card: TreeCard, desk: Desk, choose: Choose, pick: Pick
) -> None:
    choose("P1")
    pick("put right", "the same as another tree...")
    assert card.form is not None
    QTest.keyClicks(card.form.fields[0].edit, "P2")
    with qtbot.waitSignal(desk.seen_changed):
        QTest.keyClick(card.form.fields[0].edit, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: desk.chosen_tree is not None and desk.chosen_tree.name == "P2")
    assert card.form is None


def test_a_form_left_in_the_middle_keeps_what_was_typed(card: TreeCard, desk: Desk, choose: Choose, pick: Pick) -> None:
    choose("B01")
    pick("write down", "measure...")
    form = open_form(card, MeasureForm)
    QTest.keyClicks(form.fields[0].edit, "84,2 cm")
    choose("B03")
    assert card.form is None
    choose("B01")
    pick("write down", "measure...")
    again = open_form(card, MeasureForm)
    assert again.fields[0].edit.text() == "84,2 cm"
    QTest.keyClick(again.fields[0].edit, Qt.Key.Key_Escape)
    assert card.form is None
    pick("write down", "measure...")
    assert open_form(card, MeasureForm).fields[0].edit.text() == ""
    assert not desk.busy


def test_an_edit_elsewhere_does_not_close_the_form(
    qtbot: QtBot, card: TreeCard, desk: Desk, choose: Choose, pick: Pick
) -> None:
    choose("B01")
    pick("write down", "measure...")
    form = open_form(card, MeasureForm)
    QTest.keyClicks(form.fields[0].edit, "84")
    with qtbot.waitSignal(desk.seen_changed):
        desk.undo()
    assert card.form is form
    assert form.fields[0].edit.text() == "84"
