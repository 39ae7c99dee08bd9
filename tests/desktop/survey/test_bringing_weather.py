"""Weather dropped on the real window: it has nothing to decide, is told in a line, and stored like the rest."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QPushButton
from pytestqt.qtbot import QtBot

from standmap.desktop.desk import Desk
from standmap.desktop.pages.survey.page import SurveyPage
from standmap.desktop.window import Window
from standmap.settings import Settings
from tests.desktop.survey.test_dropped import drop

Key, Modifier = Qt.Key, Qt.KeyboardModifier
DAYS = "station,date,tmin_c,tmax_c\n" + "".join(f"A,2026-03-{n},-2,{n}\n" for n in range(10, 28))


@pytest.fixture
def window(qtbot: QtBot, alder_brook: Path) -> Iterator[Window]:
    desk = Desk(Settings())
    made = Window(desk)
    qtbot.addWidget(made)
    made.show()
    desk.open_stand(alder_brook)
    qtbot.waitUntil(lambda: desk.seen is not None, timeout=15_000)
    made.activateWindow()
    QTest.qWaitForWindowActive(made)
    yield made
    desk.close_stand()


@pytest.fixture
def page(window: Window) -> SurveyPage:
    found = window.pages["survey"]
    assert isinstance(found, SurveyPage)
    return found


def dropped(window: Window, page: SurveyPage, qtbot: QtBot, **texts: str) -> None:
    paths = []
    for name, text in texts.items():
        paths.append(window.desk.path.parent / f"{name}.csv")  # type: ignore[union-attr]
        paths[-1].write_text(text)
    drop(window, paths)
    qtbot.waitUntil(lambda: not page.bringing.under_way, timeout=15_000)


def click(qtbot: QtBot, made: QPushButton) -> None:
    qtbot.mouseClick(made, Qt.MouseButton.LeftButton)


def test_weather_alone_is_shown_stored_and_taken_back(window: Window, page: SurveyPage, qtbot: QtBot) -> None:
    desk, sheet = window.desk, page.bringing.sheet
    dropped(window, page, qtbot, weather=DAYS, signs="sign,date\nfirst sap,2026-03-21\n")
    assert page.sheet is sheet
    assert sheet.weather.text() == (
        "weather.csv: 18 days of weather, 10 Mar 2026 to 27 Mar 2026; 18 new, 0 told anew\n"
        "signs.csv: 1 sign of the season; 1 new, 0 told anew"
    )
    assert sheet.store.text() == "store 18 days of weather"
    assert sheet.list.isHidden()
    assert desk.seen is not None
    assert desk.seen.stand.weather == ()
    told: list[str] = []
    desk.notice.connect(lambda _, text: told.append(text))
    click(qtbot, sheet.store)
    qtbot.waitUntil(lambda: desk.seen is not None and len(desk.seen.stand.weather) == 18, timeout=15_000)
    qtbot.waitUntil(lambda: page.bringing.review is None, timeout=15_000)
    assert told == ["stored 18 new days of weather, stored 1 sign of the season"]
    assert len(desk.seen.stand.signs) == 1
    qtbot.keyClick(window, Key.Key_Z, Modifier.ControlModifier)
    qtbot.waitUntil(lambda: desk.seen is not None and desk.seen.stand.weather == (), timeout=15_000)


def test_weather_beside_trees_is_a_line_of_the_review(window: Window, page: SurveyPage, qtbot: QtBot) -> None:
    dropped(window, page, qtbot, weather=DAYS, trees="name,lon,lat,girth_cm\nNEW1,27.1713,62.5231,80\n")
    sheet = page.bringing.sheet
    assert sheet.weather.text().startswith("weather.csv: 18 days of weather")
    assert not sheet.list.isHidden()
    click(qtbot, sheet.discard)
    assert window.desk.seen is not None
    assert window.desk.seen.stand.weather == ()


def test_days_told_before_leave_nothing_to_store(window: Window, page: SurveyPage, qtbot: QtBot) -> None:
    dropped(window, page, qtbot, weather=DAYS)
    click(qtbot, page.bringing.sheet.store)
    qtbot.waitUntil(lambda: page.bringing.review is None, timeout=15_000)
    dropped(window, page, qtbot, weather2=DAYS + "A,2026-03-29,1,9\n")
    assert page.bringing.review is None
    assert page.sheet is not page.bringing.sheet


def test_a_file_of_many_stations_asks_which(window: Window, page: SurveyPage, qtbot: QtBot) -> None:
    reading = page.bringing.reading
    rows = "".join(f"S{n},2026-03-20,{n % 9}\n" for n in range(30))
    dropped(window, page, qtbot, weather="station,date,tmax_c\n" + rows)
    assert page.sheet is reading
    assert "holds more than 20 stations" in reading.wrong.text()
    assert not reading.station.isHidden()
    assert reading.grid.isHidden()
    reading.station.set_text("s17")
    click(qtbot, reading.again)
    qtbot.waitUntil(lambda: page.bringing.review is not None, timeout=15_000)
    assert page.bringing.sheet.weather.text().startswith("weather.csv: 1 day of weather, 20 Mar 2026")


def test_a_fault_is_told_and_the_grid_is_offered(window: Window, page: SurveyPage, qtbot: QtBot) -> None:
    dropped(window, page, qtbot, weather=DAYS.replace(",27\n", ",999.9\n"))
    reading = page.bringing.reading
    assert "999.9 °C is not possible" in reading.wrong.text()
    assert reading.station.isHidden()
    click(qtbot, reading.leave)
    assert window.desk.seen is not None
    assert window.desk.seen.stand.weather == ()
