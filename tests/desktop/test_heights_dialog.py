"""Heights of the ground, taken, told of and taken out in the window."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFileDialog
from pytestqt.qtbot import QtBot

from standmap.cli.main import run
from standmap.desktop.backdrop.heights_dialog import HeightsDialog
from standmap.desktop.desk import Desk
from standmap.desktop.pages.survey.page import SurveyPage
from standmap.desktop.window import Window
from standmap.settings import Settings
from tests.formats.raster_files import EAST, LAT, LON, NORTH, marked_picture, write_tiff
from tests.jobs.test_terrain import dem


@pytest.fixture
def window(qtbot: QtBot, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Window]:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "trees.csv").write_text(f"name,lon,lat\nB1,{LON},{LAT}\nB2,{LON + 0.001},{LAT}\n")
    assert run(["new", "wood.gpkg"]) == 0
    assert run(["bring", "wood.gpkg", "trees.csv"]) == 0
    made = Window(Desk(Settings()))
    made.resize(1280, 800)
    made.show()
    with qtbot.waitSignal(made.desk.seen_changed, timeout=20_000):
        made.desk.open_stand(tmp_path / "wood.gpkg")
    yield made
    made.close()
    made.deleteLater()


def opened(window: Window) -> HeightsDialog:
    (action,) = [a for a in window.backdrop.actions(window) if a.id == "map.heights"]
    action.run()
    dialog = window.findChild(HeightsDialog)
    assert isinstance(dialog, HeightsDialog)
    return dialog


def told(dialog: HeightsDialog) -> str:
    rows = [dialog.facts.itemAt(i) for i in range(dialog.facts.count())]
    parts = [row.widget() for row in rows if row is not None]
    return "\n".join(part.accessibleName() for part in parts if part is not None)


def test_heights_are_chosen_with_the_keyboard_told_and_taken_out(
    window: Window, qtbot: QtBot, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = dem(tmp_path / "dem.tif")
    monkeypatch.setattr(QFileDialog, "getOpenFileName", lambda *_: (str(path), ""))
    dialog = opened(window)
    assert not dialog.off.isEnabled()
    dialog.choose.setFocus()
    qtbot.keyClick(dialog.choose, Qt.Key.Key_Space)
    qtbot.waitUntil(lambda: dialog.known is not None, timeout=20_000)
    assert "file: dem.tif" in told(dialog)
    assert "a height every: 5 m" in told(dialog)
    assert "a tenth of the ground is steeper than: 10 %" in told(dialog)
    assert dialog.source is not None
    dialog.source.edit.setFocus()
    qtbot.keyClicks(dialog.source.edit, "Survey Office 2025")
    qtbot.keyClick(dialog.source.edit, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: dialog.known is not None and dialog.known.attribution != "", timeout=20_000)
    assert window.desk.seen is not None
    assert window.desk.seen.stand.terrain is not None
    assert window.desk.seen.stand.terrain.note == "Survey Office 2025"
    qtbot.mouseClick(dialog.off, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: dialog.known is None, timeout=20_000)
    assert window.desk.seen.stand.terrain is None
    dialog.close()


def test_the_survey_page_leads_to_them(window: Window, qtbot: QtBot) -> None:
    window.show_page("survey")
    page = window.pages["survey"]
    assert isinstance(page, SurveyPage)
    qtbot.mouseClick(page.home.heights, Qt.MouseButton.LeftButton)
    dialog = window.findChild(HeightsDialog)
    assert isinstance(dialog, HeightsDialog)
    assert dialog.isVisible()
    dialog.close()


def test_the_terrain_under_the_map_is_offered(window: Window, qtbot: QtBot, tmp_path: Path) -> None:
    from standmap.jobs.backdrop import choose_backdrop

    path, now = dem(tmp_path / "dem.tif"), window.desk.now()
    with qtbot.waitSignal(window.desk.seen_changed, timeout=20_000):
        window.desk.run(lambda file, _: choose_backdrop(file, path, now), "")
    dialog = opened(window)
    assert dialog.from_map is not None
    assert "dem.tif" in dialog.from_map.text()
    qtbot.mouseClick(dialog.from_map, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: dialog.known is not None, timeout=20_000)
    assert dialog.from_map is None
    dialog.close()


def test_what_is_wrong_with_a_file_is_said_and_a_system_is_asked_for(
    window: Window, qtbot: QtBot, tmp_path: Path
) -> None:
    dialog = opened(window)
    dialog.lay(write_tiff(tmp_path / "air.tif", marked_picture()))
    qtbot.waitUntil(dialog.wrong.isVisible, timeout=20_000)
    assert "holds a picture, not heights" in dialog.wrong.text()
    grid = tmp_path / "grid.asc"
    rows = "\n".join(" ".join("50" for _ in range(100)) for _ in range(100))
    head = f"ncols 100\nnrows 100\nxllcorner {EAST - 250}\nyllcorner {NORTH - 250}\ncellsize 5\n"
    grid.write_text(f"{head}NODATA_value -9999\n{rows}\n")
    dialog.lay(grid)
    qtbot.waitUntil(dialog.system.isVisible, timeout=20_000)
    dialog.system.edit.setFocus()
    qtbot.keyClicks(dialog.system.edit, "EPSG:3067")
    qtbot.keyClick(dialog.system.edit, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: dialog.known is not None, timeout=20_000)
    assert not dialog.wrong.isVisible()
    assert not np.isnan(dialog.known.lowest_m if dialog.known else np.nan)
    dialog.close()
