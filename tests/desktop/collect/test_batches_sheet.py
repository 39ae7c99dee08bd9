"""Batches in the window: made, split, given a fate and taken back by clicks and keys, with what boiling would give."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QLabel, QWidget
from pytestqt.qtbot import QtBot

from standmap.cli.main import run as command
from standmap.desktop.kit import tab_stops
from standmap.desktop.pages.collect.batch_form import BatchForm
from standmap.desktop.pages.collect.batches_sheet import BatchesSheet
from standmap.desktop.pages.collect.page import CollectPage
from standmap.desktop.window import Window
from standmap.jobs.opening import open_stand
from standmap.stand.fates import Fate
from standmap.stand.tapping import Batch

PATIENCE_MS = 30_000


@pytest.fixture
def sheet(page: CollectPage) -> BatchesSheet:
    """Open the batches by the quiet button of the form."""
    QTest.mouseClick(page.ask.to_batches, Qt.MouseButton.LeftButton)
    return page.batches.list


@pytest.fixture
def form(page: CollectPage, sheet: BatchesSheet) -> BatchForm:
    QTest.mouseClick(sheet.new_button, Qt.MouseButton.LeftButton)
    return page.batches.form


def batches(path: Path) -> tuple[Batch, ...]:
    with open_stand(path, read_only=True) as file:
        return file.stand().batches


def texts(part: QWidget) -> str:
    return "\n".join(one.text() for one in part.findChildren(QLabel) if one.isVisible())


def shows(qtbot: QtBot, part: QWidget, *wanted: str) -> None:
    """Wait until texts are seen."""
    qtbot.waitUntil(lambda: all(one in texts(part) for one in wanted), timeout=PATIENCE_MS)


def focused() -> QWidget:
    found = QApplication.focusWidget()
    assert found is not None
    return found


def typed(field: QWidget, text: str) -> None:
    field.setFocus()
    QTest.keyClicks(focused(), text)


def rest(qtbot: QtBot, window: Window) -> None:
    qtbot.waitUntil(lambda: not window.desk.busy, timeout=PATIENCE_MS)


def make(qtbot: QtBot, window: Window, form: BatchForm, name: str = "Friday") -> None:
    typed(form.name, name)
    typed(form.brix, "1,4")
    typed(form.read_at, "12")
    typed(form.warm, "4")
    QTest.keyClick(focused(), Qt.Key.Key_Return, Qt.KeyboardModifier.ControlModifier)
    rest(qtbot, window)


def test_a_stand_without_batches_says_what_to_do(page: CollectPage, sheet: BatchesSheet) -> None:
    assert page.over is sheet
    assert sheet.nothing.isVisible()
    assert sheet.new_button.hasFocus()
    assert not sheet.write_button.isVisible()
    QTest.mouseClick(sheet.back, Qt.MouseButton.LeftButton)
    assert page.over is None


def test_the_last_day_with_returns_is_offered_and_brought_together(
    qtbot: QtBot, window: Window, page: CollectPage, form: BatchForm, alder_brook: Path
) -> None:
    assert form.day.text() == "2026-03-27"
    assert "9 returns, 35.7 L" in form.about.text()
    shows(qtbot, form, "never seal sap up")
    make(qtbot, window, form)
    (made,) = batches(alder_brook)
    assert (made.name, made.sugar_brix, made.temperature_c) == ("Friday", 0.97, 4.0)
    assert made.note == "refractometer: 1.4 °Bx read at 12 °C"
    sheet = page.batches.list
    assert page.over is sheet
    assert sheet.chosen is not None
    assert sheet.chosen.batch == made
    shows(qtbot, sheet, "refrigerated it keeps about 6 days")
    shows(qtbot, sheet, "Bilek, Pytko & Sosnowski 2016")
    shows(qtbot, sheet, "keep it in the cold")
    QTest.keyClick(window, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    qtbot.waitUntil(lambda: not batches(alder_brook), timeout=PATIENCE_MS)


def test_what_boiling_would_give_is_the_commands_answer(
    qtbot: QtBot,
    window: Window,
    page: CollectPage,
    form: BatchForm,
    alder_brook: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:
    make(qtbot, window, form)
    boil = page.batches.list.boil
    qtbot.waitUntil(lambda: boil.told is not None, timeout=PATIENCE_MS)
    shows(qtbot, boil, "not known")
    typed(boil.rate, "5")
    QTest.keyClick(focused(), Qt.Key.Key_Tab)
    qtbot.waitUntil(lambda: boil.told is not None and boil.told.hours is not None, timeout=PATIENCE_MS)
    assert command(["boil", str(alder_brook), "--batch", "Friday", "--litres-an-hour", "5"]) == 0
    told = capsys.readouterr().out
    # 35.7 L by 0.97 over 87.1 or so.
    shows(qtbot, boil, "about 0.40 L")
    assert "about 0.40 L" in told
    shows(qtbot, boil, "7 h 3 min")
    assert "hours: 7.0" in told
    shows(qtbot, boil, "an approximation")
    shows(qtbot, boil, "finish by refractometer")
    assert len(batches(alder_brook)) == 1


def test_a_part_and_a_fate(qtbot: QtBot, window: Window, page: CollectPage, form: BatchForm, alder_brook: Path) -> None:
    make(qtbot, window, form)
    view = page.batches.list.view
    typed(view.part_name, "to drink")
    typed(view.part_volume, "5")
    QTest.mouseClick(view.part_button, Qt.MouseButton.LeftButton)
    rest(qtbot, window)
    assert [(b.name, round(b.volume_ml or 0)) for b in batches(alder_brook)] == [
        ("Friday", 30_700),
        ("to drink", 5000),
    ]
    row = next(row for row in page.batches.list.rows.buttons() if row.text() == "to drink")
    QTest.mouseClick(row, Qt.MouseButton.LeftButton)
    view.fate.box.setFocus()
    for _ in range(1 + list(Fate).index(Fate.FERMENTED)):
        QTest.keyClick(view.fate.box, Qt.Key.Key_Down)
    assert view.fate.value() is Fate.FERMENTED
    assert view.on.text() == "2026-03-28"
    shows(qtbot, view, "never a closed bottle")
    QTest.keyClick(view.fate.box, Qt.Key.Key_Return, Qt.KeyboardModifier.ControlModifier)
    rest(qtbot, window)
    assert [b.fate for b in batches(alder_brook)] == ["", "fermented"]
    shows(qtbot, page.batches.list, "fermented 28 Mar 2026")
    assert not page.batches.list.boil.heading.isVisible()
    QTest.mouseClick(view.remove_button, Qt.MouseButton.LeftButton)
    rest(qtbot, window)
    assert [(b.name, round(b.volume_ml or 0)) for b in batches(alder_brook)] == [("Friday", 35_700)]


def test_what_cannot_be_stands_beside_its_field_and_stays(
    qtbot: QtBot, window: Window, form: BatchForm, alder_brook: Path
) -> None:
    typed(form.name, "Friday")
    typed(form.brix, "70")
    typed(form.warm, "999.9")
    QTest.keyClick(focused(), Qt.Key.Key_Return)
    rest(qtbot, window)
    assert "70 °Bx cannot be sap" in form.brix.wrong.text()
    assert "cannot be its temperature" in form.warm.wrong.text()
    assert form.brix.text() == "70"
    assert form.warm.edit.hasFocus()
    assert batches(alder_brook) == ()
    form.brix.set_text("")
    form.warm.set_text("")
    typed(form.read_at, "12")
    QTest.keyClick(focused(), Qt.Key.Key_Return)
    assert form.brix.wrong.text() == "what did it show?"
    assert batches(alder_brook) == ()


def test_later_readings_are_written_and_nothing_else(
    qtbot: QtBot, window: Window, page: CollectPage, form: BatchForm, alder_brook: Path
) -> None:
    make(qtbot, window, form)
    sheet = page.batches.list
    assert not sheet.write_button.isEnabled()
    typed(sheet.view.measured, "40")
    assert sheet.write_button.isEnabled()
    QTest.mouseClick(sheet.write_button, Qt.MouseButton.LeftButton)
    rest(qtbot, window)
    (batch,) = batches(alder_brook)
    assert (batch.volume_ml, batch.sugar_brix, batch.fate) == (40_000, 0.97, "")
    assert not sheet.write_button.isEnabled()
    assert sheet.view.measured.edit.placeholderText() == "40 L"


def test_in_other_units_a_bare_number_is_read_in_them(
    qtbot: QtBot, window: Window, page: CollectPage, form: BatchForm, alder_brook: Path
) -> None:
    make(qtbot, window, form)
    window.desk.settings = replace(window.desk.settings, units="us")
    window.desk.settings_changed.emit()
    sheet = page.batches.list
    shows(qtbot, sheet, "9.43 US gal")
    shows(qtbot, sheet, "measured, US gal")
    typed(sheet.view.measured, "10")
    QTest.keyClick(focused(), Qt.Key.Key_Return)
    rest(qtbot, window)
    assert batches(alder_brook)[0].volume_ml == pytest.approx(37_854.1, abs=0.1)
    qtbot.waitUntil(lambda: "US gal" in texts(sheet.boil), timeout=PATIENCE_MS)


def test_everything_has_a_name_and_a_place_in_the_tab_order(
    qtbot: QtBot, window: Window, page: CollectPage, form: BatchForm
) -> None:
    make(qtbot, window, form)
    stops = tab_stops(page.batches.list, window)
    assert len(stops) > 10
    assert all(stop.accessibleName() for stop in stops)


def test_it_is_found_by_its_words(page: CollectPage) -> None:
    titles = {action.id: action for action in page.actions()}
    assert "syrup" in titles["collect.batches"].words
    titles["collect.batch"].run()
    assert page.over is page.batches.form
