"""Tonight in the window: reckoned, asked otherwise by keys, shown on the map, and held against past seasons."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QImage, QPainter
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QLabel, QPushButton, QWidget
from pytestqt.qtbot import QtBot

from standmap.desktop.kit import tab_stops
from standmap.desktop.pages.collect.brim_overlay import BrimOverlay
from standmap.desktop.pages.collect.page import CollectPage
from standmap.desktop.pages.collect.tonight_sheet import TonightSheet
from standmap.desktop.window import Window
from standmap.jobs.tonight import TonightAnswer

PATIENCE_MS = 30_000


@pytest.fixture
def sheet(qtbot: QtBot, page: CollectPage) -> TonightSheet:
    """Open the sheet by the quiet button of the form."""
    with qtbot.waitSignal(page.tonight.told, timeout=PATIENCE_MS):
        QTest.mouseClick(page.ask.to_tonight, Qt.MouseButton.LeftButton)
    return page.tonight


def answer_of(sheet: TonightSheet) -> TonightAnswer:
    assert sheet.answer is not None
    return sheet.answer


def texts(part: QWidget) -> str:
    return "\n".join(one.text() for one in part.findChildren(QLabel) if one.isVisible())


def ask(qtbot: QtBot, window: Window, sheet: TonightSheet, **typed: str) -> None:
    """Type into fields, press Enter in the last, and wait for the answer."""
    for name, text in typed.items():
        edit = getattr(sheet, name).edit
        edit.setFocus()
        edit.selectAll()
        QTest.keyClicks(edit, text)
    QTest.keyClick(edit, Qt.Key.Key_Return)
    rest(qtbot, window)


def rest(qtbot: QtBot, window: Window) -> None:
    qtbot.waitUntil(lambda: not window.desk.busy, timeout=PATIENCE_MS)
    qtbot.wait(20)


def test_the_night_is_reckoned_each_hole_told_and_past_seasons_looked_at(
    qtbot: QtBot, window: Window, page: CollectPage, sheet: TonightSheet
) -> None:
    rest(qtbot, window)
    answer = answer_of(sheet)
    assert page.over is sheet
    assert sheet.until.edit.hasFocus()
    said = texts(sheet)
    assert sheet.total.text() == sheet.units.volume(answer.total.median_ml)
    assert f"from {len(answer.holes)} holes" in said
    assert "recorded nights of this stand" in said
    for hole in answer.holes:
        assert sheet.units.volume(hole.hanging.run.median_ml) in said
        assert sheet.units.volume(hole.hanging.run.most_ml) in said
    least, middle, most = sheet.bar.parts
    assert 0 < least <= middle <= most <= 1
    assert sheet.bar.accessibleDescription().startswith("to carry home, eight times of ten ")
    assert sheet.plot.isVisible()
    assert sheet.plot.accessibleDescription().startswith(f"for each of {len(answer.holes)} holes the median")
    hole = answer.holes[2]
    row = next(b for b in sheet.findChildren(QPushButton) if b.text() == hole.tree.name and b.isVisible())
    assert "runs over with" in row.accessibleDescription()
    QTest.mouseClick(row, Qt.MouseButton.LeftButton)
    assert page.desk.chosen == (hole.tree.key,)
    assert page.over is sheet
    assert "in nine tenths of it" not in said
    QTest.mouseClick(sheet.past_button, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: "in nine tenths of it" in texts(sheet), timeout=PATIENCE_MS)
    assert sheet.past is not None
    assert all(f"{one.season}: " in texts(sheet) for one in sheet.past.seasons)
    assert all(f"{one.season}: " in sheet.past_plot.accessibleDescription() for one in sheet.past.seasons)
    assert sheet.past_plot.isVisible()
    stops = tab_stops(page.panel, window)
    fields = [sheet.until.edit, sheet.warmth.edit, sheet.emptied.edit]
    assert [one for one in stops if one in fields] == fields
    assert {sheet.past_button, sheet.go_button, row} <= set(stops)
    assert next(action for action in page.actions() if action.id == "collect.tonight").enabled()


def test_other_hours_and_warmth_are_typed_and_what_is_wrong_stands_beside_its_field(
    qtbot: QtBot, window: Window, sheet: TonightSheet
) -> None:
    before = answer_of(sheet)
    ask(qtbot, window, sheet, until="18:30", emptied="07:00", warmth="2")
    answer = answer_of(sheet)
    assert answer.until == datetime.combine(answer.day, answer.until.time()).astimezone()
    assert (answer.until.hour, answer.until.minute, answer.warmth_c) == (18, 30, 2.0)
    assert {hole.hanging.emptied_at.hour for hole in answer.holes} == {7}
    assert answer.total.median_ml < before.total.median_ml
    assert "2 °C, as asked for" in texts(sheet)
    assert "no vessel of 4.5 L runs over likelier than 10 %" in texts(sheet)
    assert sheet.overlays() == ()
    ask(qtbot, window, sheet, warmth="48 F")
    assert answer_of(sheet).warmth_c == pytest.approx(8.9, abs=0.02)
    for field, text, wrong in (
        (sheet.warmth, "999.9", "write -20 to 30 °C"),
        (sheet.until, "late", "'late' is no hour"),
        (sheet.emptied, "7 h", "is not a time of day"),
    ):
        was, answer = field.text(), answer_of(sheet)
        field.edit.selectAll()
        QTest.keyClicks(field.edit, text)
        QTest.keyClick(field.edit, Qt.Key.Key_Return)
        assert wrong in field.wrong.text()
        assert field.edit.text() == text
        assert sheet.answer is answer
        field.set_text(was)
    ask(qtbot, window, sheet, emptied="19:00", until="18:00")
    assert sheet.answer is None
    assert "vessels emptied at" in sheet.wrong.text()
    assert sheet.wrong.isVisible()
    assert not sheet.total.isVisible()
    ask(qtbot, window, sheet, until="07:00")
    assert not sheet.wrong.isVisible()
    assert sheet.total.isVisible()


def test_vessels_that_may_run_over_are_marked_on_the_map_by_what_is_set(
    qtbot: QtBot, window: Window, page: CollectPage, sheet: TonightSheet
) -> None:
    answer = answer_of(sheet)
    assert answer.likely_over, "nothing was collected today yet"
    (shown,) = page.canvas.scene.overlays
    assert isinstance(shown, BrimOverlay)
    assert shown.told[0] == f"{answer.likely_over[0].overflow * 100:.0f} %"
    assert len(shown.at) == len({hole.tree.key for hole in answer.likely_over})
    camera = page.canvas.camera
    picture = QImage(page.canvas.size(), QImage.Format.Format_RGB32)
    picture.fill(Qt.GlobalColor.white)
    painter = QPainter(picture)
    shown.paint(painter, camera, window.desk.theme)
    painter.end()
    x, y = camera.to_screen(shown.at)[0]
    below, above = (picture.pixelColor(round(x), round(y + side * 15)).lightness() for side in (1, -1))
    assert below < 90 < above, "open above"
    assert [label.text for label in shown.labels(camera)] == list(shown.told)
    window.desk.settings = replace(window.desk.settings, overflow_percent=40.0, vessel_ml=6000.0)
    with qtbot.waitSignal(sheet.told, timeout=PATIENCE_MS):
        window.desk.settings_changed.emit()
    other = answer_of(sheet)
    assert (other.options.overflow_chance, other.options.vessel_ml) == (0.4, 6000.0)
    assert len(other.likely_over) < len(answer.likely_over)
    QTest.mouseClick(page.tonight.back, Qt.MouseButton.LeftButton)
    assert not any(isinstance(one, BrimOverlay) for one in page.canvas.scene.overlays)
