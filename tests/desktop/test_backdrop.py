"""A backdrop under the map: laid, drawn off the GUI thread, dimmed, undone; what is wrong with a file is said."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from PySide6.QtCore import Qt
from PySide6.QtGui import QImage
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QFileDialog
from pytestqt.qtbot import QtBot

from standmap.cli.main import run
from standmap.desktop.backdrop.backdrop_dialog import BackdropDialog
from standmap.desktop.backdrop.tiles import SIDE_PX, level_for, squares_in
from standmap.desktop.desk import Desk
from standmap.desktop.window import Window
from standmap.settings import Settings
from tests.formats.raster_files import LAT, LON, marked_picture, write_tiff


@pytest.fixture
def picture(tmp_path: Path) -> Path:
    return write_tiff(tmp_path / "air.tif", marked_picture(), tags={"TIFFTAG_COPYRIGHT": "Survey Office 2025"})


@pytest.fixture
def window(qtbot: QtBot, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Window]:
    """Open a stand whose two trees stand 60 m apart, the middle of the picture between them."""
    monkeypatch.chdir(tmp_path)
    trees = "".join(f"B{i},{LON + dx},{LAT}\n" for i, dx in ((1, -0.0006), (2, 0.0006)))
    (tmp_path / "trees.csv").write_text(f"name,lon,lat\n{trees}")
    assert run(["new", "wood.gpkg"]) == 0
    assert run(["bring", "wood.gpkg", "trees.csv"]) == 0
    made = Window(Desk(Settings()))
    made.resize(1280, 800)
    made.show()
    with qtbot.waitSignal(made.desk.seen_changed, timeout=20_000):
        made.desk.open_stand(tmp_path / "wood.gpkg")
    made.canvas.fit(animated=False)
    yield made
    made.close()
    made.deleteLater()


def drawn(window: Window) -> NDArray[np.int64]:
    """Return what is seen of the map, red, green and blue."""
    image = window.canvas.grab().toImage().convertToFormat(QImage.Format.Format_RGB888)
    rows = np.frombuffer(bytes(image.constBits()), np.uint8).reshape(image.height(), image.bytesPerLine())
    return rows[:, : 3 * image.width()].reshape(image.height(), image.width(), 3).astype(np.int64)


def red_middle(window: Window) -> tuple[float, float]:
    """Return the middle of what is reddest on the map, metres east and north."""
    table = drawn(window)
    rows, columns = np.nonzero(table[..., 0] - table[..., 1] > 60)
    assert len(rows) > 100
    return window.canvas.camera.point_to_world(float(columns.mean()), float(rows.mean()))


def wait_drawn(window: Window, qtbot: QtBot) -> None:
    def ready() -> bool:
        window.canvas.grab()
        return window.canvas.scene.backdrop is not None and not window.backdrop.waiting

    qtbot.waitUntil(ready, timeout=20_000)


def lay(window: Window, qtbot: QtBot, picture: Path) -> BackdropDialog:
    dialog = BackdropDialog(window.desk, window.backdrop, window)
    dialog.open()
    with qtbot.waitSignal(window.desk.seen_changed, timeout=20_000):
        dialog.lay(picture)
    wait_drawn(window, qtbot)
    return dialog


@pytest.mark.parametrize("turn_deg", [0.0, 40.0])
def test_a_picture_lies_where_it_says_on_a_turned_map_too(
    window: Window, qtbot: QtBot, picture: Path, turn_deg: float
) -> None:
    lay(window, qtbot, picture).close()
    window.canvas.look(window.canvas.camera.turned(turn_deg))
    wait_drawn(window, qtbot)
    assert red_middle(window) == pytest.approx((0.0, 0.0), abs=0.6)
    assert window.canvas.scene.backdrop is not None
    assert window.canvas.scene.backdrop.attribution == "Survey Office 2025"


def test_it_is_chosen_with_the_keyboard(
    window: Window, qtbot: QtBot, picture: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(QFileDialog, "getOpenFileName", lambda *_: (str(picture), ""))
    QTest.keyClick(window, Qt.Key.Key_B, Qt.KeyboardModifier.ControlModifier)
    dialog = window.findChild(BackdropDialog)
    assert isinstance(dialog, BackdropDialog)
    dialog.choose.setFocus()
    with qtbot.waitSignal(window.desk.seen_changed, timeout=20_000):
        QTest.keyClick(dialog.choose, Qt.Key.Key_Space)
    assert window.backdrop.kept is not None
    assert window.backdrop.kept.path == picture
    dialog.close()


def test_strength_is_an_edit_and_the_picture_steps_back(window: Window, qtbot: QtBot, picture: Path) -> None:
    dialog = lay(window, qtbot, picture)
    strong = drawn(window)
    assert dialog.strength is not None
    dialog.strength.setFocus()
    with qtbot.waitSignal(window.desk.seen_changed, timeout=10_000):
        QTest.keyClick(dialog.strength, Qt.Key.Key_PageDown)
    wait_drawn(window, qtbot)
    assert window.backdrop.kept is not None
    assert window.backdrop.kept.strength == pytest.approx(0.5)
    contrast = [np.abs(t[60:500, 700:900] - (243, 241, 232)).mean() for t in (strong, drawn(window))]
    assert contrast[1] == pytest.approx(contrast[0] * 5 / 6, rel=0.1)
    dialog.close()


def test_whom_it_is_from_is_asked_for_and_kept(window: Window, qtbot: QtBot, tmp_path: Path) -> None:
    dialog = lay(window, qtbot, write_tiff(tmp_path / "plain.tif", marked_picture()))
    assert dialog.source is not None
    dialog.source.edit.setFocus()
    QTest.keyClicks(dialog.source.edit, "my own flight")
    with qtbot.waitSignal(window.desk.seen_changed, timeout=10_000):
        QTest.keyClick(dialog.source.edit, Qt.Key.Key_Return)
    assert window.backdrop.kept is not None
    assert window.backdrop.kept.attribution == "my own flight"
    dialog.close()


def test_taken_away_and_back_by_undo(window: Window, qtbot: QtBot, picture: Path) -> None:
    dialog = lay(window, qtbot, picture)
    with qtbot.waitSignal(window.desk.seen_changed, timeout=10_000):
        QTest.mouseClick(dialog.off, Qt.MouseButton.LeftButton)
    assert window.canvas.scene.backdrop is None
    dialog.close()
    with qtbot.waitSignal(window.desk.seen_changed, timeout=10_000):
        window.desk.undo()
    wait_drawn(window, qtbot)
    assert red_middle(window) == pytest.approx((0.0, 0.0), abs=0.6)


def test_terrain_becomes_hill_shade(window: Window, qtbot: QtBot, tmp_path: Path) -> None:
    rows, columns = np.mgrid[0:300, 0:300].astype(np.float32)
    hill = 30 * np.exp(-((rows - 150) ** 2 + (columns - 150) ** 2) / 800)
    lay(window, qtbot, write_tiff(tmp_path / "dem.tif", hill[None].astype(np.float32), cell_m=1.0)).close()
    camera, table = window.canvas.camera, drawn(window).sum(axis=2)

    def light(x: float, y: float) -> float:
        column, row = camera.point_to_screen(x, y)
        return float(table[round(row) - 3 : round(row) + 4, round(column) - 3 : round(column) + 4].mean())

    assert light(-12, 12) > light(12, -12) + 60  # the slope that faces the north-west is the lighter one


def test_a_file_without_a_system_asks_for_it_in_the_dialog(window: Window, qtbot: QtBot, tmp_path: Path) -> None:
    picture = write_tiff(tmp_path / "air.tif", marked_picture(), crs=None)
    dialog = BackdropDialog(window.desk, window.backdrop, window)
    dialog.open()
    dialog.lay(picture)
    qtbot.waitUntil(dialog.system.isVisible, timeout=10_000)
    assert "does not say in which reference system it lies" in dialog.wrong.text()
    QTest.keyClicks(dialog.system.edit, "EPSG:3067")
    with qtbot.waitSignal(window.desk.seen_changed, timeout=10_000):
        QTest.keyClick(dialog.system.edit, Qt.Key.Key_Return)
    wait_drawn(window, qtbot)
    assert red_middle(window) == pytest.approx((0.0, 0.0), abs=0.6)
    assert not dialog.wrong.isVisible()
    dialog.close()


def test_a_file_that_is_no_picture_says_so(window: Window, qtbot: QtBot, tmp_path: Path) -> None:
    dialog = BackdropDialog(window.desk, window.backdrop, window)
    dialog.open()
    dialog.lay(tmp_path / "trees.csv")
    qtbot.waitUntil(lambda: bool(dialog.wrong.text()), timeout=10_000)
    assert "this file holds no picture of the ground. Choose a GeoTIFF" in dialog.wrong.text()
    assert window.backdrop.kept is None
    dialog.close()


def test_a_file_that_has_gone_is_told_once_when_the_stand_is_opened(
    window: Window, qtbot: QtBot, picture: Path, tmp_path: Path
) -> None:
    lay(window, qtbot, picture).close()
    window.desk.close_stand()
    picture.unlink()
    told: list[tuple[str, str]] = []
    window.desk.notice.connect(lambda kind, text: told.append((kind, text)))
    window.desk.open_stand(tmp_path / "wood.gpkg")
    qtbot.waitUntil(lambda: bool(told), timeout=10_000)
    ((kind, text),) = told
    assert kind == "caution"
    assert "air.tif: there is no such file" in text
    assert window.canvas.scene.backdrop is None


# How it is cut


def test_levels_follow_the_screen_but_not_beyond_the_file() -> None:
    assert level_for(4.0, 0.1) == -2
    assert level_for(1.0, 0.1) == 0
    assert level_for(0.3, 0.1) == 2
    assert level_for(100.0, 0.5) == -2  # a quarter of a metre: half of a cell of the file


def test_squares_cover_the_view_those_in_the_middle_first() -> None:
    box = (-700.0, -300.0, 900.0, 400.0)
    squares = squares_in(box, 0)
    assert min(s.column for s in squares) * SIDE_PX <= box[0]
    assert (max(s.column for s in squares) + 1) * SIDE_PX >= box[2]
    assert len(squares) == len(set(squares)) == 4 * 2
    assert (squares[0].column, squares[0].row) in {(0, 0), (-1, 0), (0, -1)}
    window = squares[0].window
    assert window.columns * window.cell_m == squares[0].side_m


def test_a_view_that_is_too_wide_takes_a_coarser_level() -> None:
    squares = squares_in((-50_000.0, -50_000.0, 50_000.0, 50_000.0), 0)
    assert 20 < len(squares) <= 200
    assert squares[0].level > 0
