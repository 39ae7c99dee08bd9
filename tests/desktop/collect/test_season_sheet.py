"""When to tap, in the window: weather brought in, signs noted, told, drawn and saved, by clicks and keys."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QImage
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QFileDialog, QLabel, QPushButton, QWidget
from pytestqt.qtbot import QtBot

from standmap.desktop.pages.collect.page import CollectPage
from standmap.desktop.pages.collect.season_sheet import SeasonSheet
from standmap.desktop.window import Window
from standmap.jobs.when import when
from standmap.season.answer import Phase, Sign
from tests.season.springs import year_round

PATIENCE_MS = 30_000
FIRST = date(2023, 10, 1)
TODAY = date(2026, 3, 28)


@pytest.fixture
def sheet(qtbot: QtBot, page: CollectPage) -> SeasonSheet:
    """Open it by the quiet button of the form."""
    qtbot.waitUntil(lambda: page.season.answer is not None, timeout=PATIENCE_MS)
    QTest.mouseClick(page.ask.to_season, Qt.MouseButton.LeftButton)
    assert page.over is page.season
    return page.season


def weather(path: Path) -> Path:
    means = year_round(FIRST, (TODAY - FIRST).days + 1, seed=11)
    rows = [f"X,{FIRST + timedelta(days=n)},{v - 3:.1f},{v + 3:.1f}" for n, v in enumerate(means)]
    path.write_text("\n".join(["station,date,tmin_c,tmax_c", *rows]) + "\n")
    return path


def texts(part: QWidget) -> str:
    return "\n".join(one.text() for one in part.findChildren(QLabel) if one.isVisible())


def bring(qtbot: QtBot, sheet: SeasonSheet, window: Window, path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(QFileDialog, "getOpenFileNames", lambda *_args, **_more: ([str(path)], ""))
    before = sheet.answer
    QTest.mouseClick(sheet.bring_button, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: sheet.answer is not before and not window.desk.busy, timeout=PATIENCE_MS)


def test_without_weather_it_says_what_to_do_first(sheet: SeasonSheet) -> None:
    assert sheet.phase.text() == "not known"
    assert "bring one or note the other" in sheet.why.text()
    assert not sheet.plot.isVisible()
    assert sheet.bring_button.isEnabled()


def test_weather_is_brought_in_and_the_season_told_as_the_command_tells_it(
    qtbot: QtBot, sheet: SeasonSheet, window: Window, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    bring(qtbot, sheet, window, weather(tmp_path / "w.csv"), monkeypatch)
    assert window.desk.seen is not None
    told = when(window.desk.seen.stand, TODAY)
    assert sheet.phase.text() == str(told.phase)
    assert told.first is not None
    qtbot.waitUntil(lambda: "buds and trees say more" in texts(sheet), timeout=PATIENCE_MS)
    assert "Menzel 1997" not in texts(sheet)  # folded away
    QTest.mouseClick(sheet.models_fold, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: "Menzel 1997" in texts(sheet), timeout=PATIENCE_MS)
    assert sheet.models_fold.accessibleDescription() == "unfolded below"
    shown = texts(sheet)
    assert f"{told.first.days.likely.day} {told.first.days.likely:%b %Y}" in shown
    assert sheet.plot.isVisible()
    days = told.first.days
    assert f"first day {days.likely.day} {days.likely:%b} (" in sheet.plot.accessibleDescription()
    assert "degree days wanted at leaf-out" in sheet.plot.accessibleDescription()
    picture = sheet.plot.grab().toImage()
    colours = {picture.pixel(x, y) for x in range(0, picture.width(), 2) for y in range(0, picture.height(), 2)}
    assert len(colours) > 10


def test_a_station_far_off_is_cautioned_of(
    qtbot: QtBot, sheet: SeasonSheet, window: Window, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "far.csv"
    path.write_text("station,lat,lon,date,tmin_c,tmax_c\nFar,60.2,26.0,2026-03-20,-1,5\n")
    notices: list[tuple[str, str]] = []
    window.desk.notice.connect(lambda kind, text: notices.append((kind, text)))
    bring(qtbot, sheet, window, path, monkeypatch)
    assert ("caution", "Far is 210 km from the stand: its spring is another's; look for a nearer station") in notices
    assert ("tell", "1 day of weather is new") in notices


def test_a_sign_is_noted_by_keys_told_on_the_form_and_taken_out_again(
    qtbot: QtBot, sheet: SeasonSheet, window: Window, page: CollectPage, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    bring(qtbot, sheet, window, weather(tmp_path / "w.csv"), monkeypatch)
    sheet.what.box.setFocus()
    QTest.keyClick(sheet.what.box, Qt.Key.Key_Home)
    sheet.on.edit.setFocus()
    QTest.keyClicks(sheet.on.edit, "2026-03-25")
    QTest.keyClick(sheet.on.edit, Qt.Key.Key_Return)
    qtbot.waitUntil(
        lambda: sheet.answer is not None and sheet.answer.phase in (Phase.RUNNING, Phase.LAST_DAYS), timeout=PATIENCE_MS
    )
    qtbot.waitUntil(lambda: "first sap, 25 Mar 2026" in texts(sheet), timeout=PATIENCE_MS)
    assert page.ask.to_season.text().startswith("when to tap: until about ")
    assert window.desk.seen is not None
    assert window.desk.seen.undo_label == "first sap: 2026-03-25"
    away = next(b for b in sheet.findChildren(QPushButton) if b.accessibleName() == "take out: first sap, 25 Mar 2026")
    QTest.mouseClick(away, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: window.desk.seen is not None and not window.desk.seen.stand.signs, timeout=PATIENCE_MS)


def test_a_sign_that_cannot_be_is_said_beside_its_day(qtbot: QtBot, sheet: SeasonSheet, window: Window) -> None:
    sheet.what.box.setCurrentIndex(list(Sign).index(Sign.LEAF_OUT))
    QTest.keyClicks(sheet.on.edit, "2025-11-20")
    QTest.mouseClick(sheet.note_button, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: "not seen at that time of year" in sheet.on.wrong.text(), timeout=PATIENCE_MS)
    assert sheet.on.text() == "2025-11-20"
    assert window.desk.seen is not None
    assert window.desk.seen.stand.signs == ()


def test_the_plot_is_saved_as_each_kind_of_file(
    qtbot: QtBot, sheet: SeasonSheet, window: Window, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert not sheet.save_button.isVisible()
    bring(qtbot, sheet, window, weather(tmp_path / "w.csv"), monkeypatch)
    chosen: list[Path] = []
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_args, **_more: (str(chosen[-1]), ""))
    for suffix, begins in ((".png", b"\x89PNG"), (".svg", b"<?xml"), (".pdf", b"%PDF")):
        chosen.append(tmp_path / f"spring{suffix}")
        QTest.mouseClick(sheet.save_button, Qt.MouseButton.LeftButton)
        qtbot.waitUntil(lambda: chosen[-1].exists() and not window.desk.busy, timeout=PATIENCE_MS)
        assert chosen[-1].read_bytes().startswith(begins)
    assert QImage(str(tmp_path / "spring.png")).width() > 1000


def test_back_leads_to_the_form(page: CollectPage, sheet: SeasonSheet) -> None:
    QTest.mouseClick(sheet.back, Qt.MouseButton.LeftButton)
    assert page.over is None
    assert page.ask.isVisible()
