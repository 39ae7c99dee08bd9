"""Marking by its key: once however often it is pressed, never in silence, and never from where letters are typed."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QWidget
from pytestqt.qtbot import QtBot

from standmap.desktop.actions import Actions
from standmap.desktop.canvas.canvas import MapCanvas
from standmap.desktop.desk import Desk
from standmap.desktop.pages.choose.page import ChoosePage
from standmap.desktop.theme import LIGHT
from standmap.jobs.mark import plans_of
from standmap.settings import Settings
from tests.desktop.holding_up import held_up


class Sheet(QWidget):
    """The page with the keys of its actions."""

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self.desk = desk
        self.told: list[tuple[str, str]] = []
        desk.notice.connect(lambda kind, text: self.told.append((kind, text)))
        self.page = ChoosePage(desk, MapCanvas(LIGHT, self))
        self.page.panel.setParent(self)
        self.page.panel.setGeometry(16, 16, 300, 700)
        self.keys = Actions(self, lambda _: None, lambda: "choose")
        self.keys.add(self.page.actions())

    def marked(self) -> set[str]:
        """Return the names of the trees that are marked for the season looked at."""
        assert self.desk.seen is not None
        return {self.desk.seen.stand.by_key[key].name for key in plans_of(self.desk.seen.plans, self.desk.season)}


@pytest.fixture
def sheet(qtbot: QtBot, alder_brook: Path) -> Iterator[Sheet]:
    desk = Desk(Settings())
    made = Sheet(desk)
    qtbot.addWidget(made)
    made.resize(1000, 740)
    made.show()
    made.activateWindow()
    with qtbot.waitSignal(desk.stand_opened):
        desk.open_stand(alder_brook)
    made.page.shown = True
    with qtbot.waitSignal(made.page.asked.answered):
        made.page.entered()
    yield made
    desk.close_stand()


def click_first_row(sheet: Sheet) -> str:
    table = sheet.page.table
    index = sheet.page.model.index(0, 0)
    QTest.mouseClick(table.viewport(), Qt.MouseButton.LeftButton, pos=table.visualRect(index).center())
    return str(index.data())


def test_pressing_m_twice_at_once_marks_once(qtbot: QtBot, sheet: Sheet) -> None:
    name = click_first_row(sheet)
    with held_up(qtbot, sheet.desk):
        QTest.keyClick(sheet.page.table, Qt.Key.Key_M)
        QTest.keyClick(sheet.page.table, Qt.Key.Key_M)
        QTest.mouseClick(sheet.page.bar.press, Qt.MouseButton.LeftButton)
    assert sheet.marked() == {name}
    assert "error" not in {kind for kind, _ in sheet.told}
    with qtbot.waitSignal(sheet.desk.seen_changed):
        QTest.keyClick(sheet.page.table, Qt.Key.Key_M)
    assert sheet.marked() == set()


def test_m_says_why_nothing_is_marked(sheet: Sheet) -> None:
    sheet.page.table.setFocus()
    QTest.keyClick(sheet.page.table, Qt.Key.Key_M)
    assert sheet.told == [("tell", "no tree is chosen: choose the trees to be marked, on the map or in the table")]
    click_first_row(sheet)
    sheet.desk.set_season(2025)
    QTest.keyClick(sheet.page.table, Qt.Key.Key_M)
    assert sheet.told[1:] == [("tell", "2025 is past: marks are for a season to come")]
    assert sheet.page.bar.press.toolTip() == "2025 is past: marks are for a season to come"
    assert not sheet.desk.busy


def test_letters_typed_into_the_list_of_taps_stay_there(sheet: Sheet) -> None:
    click_first_row(sheet)
    taps = sheet.page.bar.holes
    taps.setFocus()
    QTest.keyClick(taps, Qt.Key.Key_M)
    assert not sheet.desk.busy
    QTest.mouseClick(taps, Qt.MouseButton.LeftButton, pos=QPoint(8, 8))
    QTest.keyClick(taps.view(), Qt.Key.Key_M)
    taps.hidePopup()
    assert not sheet.desk.busy
    assert sheet.marked() == set()
    assert sheet.told == []


def test_units_set_on_another_page_are_shown_when_this_one_is_entered_again(qtbot: QtBot, sheet: Sheet) -> None:
    click_first_row(sheet)
    with qtbot.waitSignal(sheet.page.asked.answered):
        QTest.keyClick(sheet.page.table, Qt.Key.Key_M)
    assert sheet.page.totals.night.value.text().endswith(" L")
    sheet.page.shown = False
    sheet.page.left()
    sheet.desk.settings = replace(sheet.desk.settings, units="us")
    sheet.desk.settings_changed.emit()
    sheet.page.shown = True
    with qtbot.waitSignal(sheet.page.asked.answered):
        sheet.page.entered()
    assert sheet.page.totals.night.value.text().endswith(" US gal")
