"""The map in a file: at a true scale as measured in the file itself, from the window and from the command line."""

from __future__ import annotations

import re
import shutil
import subprocess
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QImage, QPainter
from PySide6.QtSvg import QSvgRenderer
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QFileDialog
from pytestqt.qtbot import QtBot

from standmap.cli.main import run
from standmap.desktop.canvas.canvas import MapCanvas
from standmap.desktop.desk import Desk
from standmap.desktop.map_content import MapContent
from standmap.desktop.pictures.picture_dialog import PictureDialog
from standmap.jobs.backdrop import choose_backdrop
from standmap.settings import Settings
from standmap.store.stand_file import StandFile
from standmap.survey.frame import true_distance
from tests.formats.raster_files import LAT, LON, marked_picture, write_tiff

DPI = 200

READY = (0, 158, 115)
"""Fill of the dial of a ready tree."""

TREES = f"""name,lon,lat,species,girth_mm,date,soundness
west,{LON - 0.0006},{LAT},Betula pendula,900,2025-09-14,sound
east,{LON + 0.0006},{LAT + 0.0002},Betula pendula,900,2025-09-14,sound
"""
GROUND = f"""<gpx version="1.1" creator="a test" xmlns="http://www.topografix.com/GPX/1/1">
<wpt lat="{LAT}" lon="{LON}"><name>gate</name><type>gate</type></wpt></gpx>"""

APART_M = true_distance((LON - 0.0006, LAT), (LON + 0.0006, LAT + 0.0002))


@pytest.fixture
def wood(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Path:
    """Return a stand of two ready trees."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "trees.csv").write_text(TREES)
    (tmp_path / "gate.gpx").write_text(GROUND)
    path = tmp_path / "wood.gpkg"
    assert run(["new", str(path)]) == 0
    assert run(["bring", str(path), "trees.csv", "gate.gpx"]) == 0
    capsys.readouterr()
    return path


def pixels(image: QImage) -> NDArray[np.uint8]:
    plain = image.convertToFormat(QImage.Format.Format_RGB888)
    rows = np.frombuffer(bytes(plain.constBits()), np.uint8).reshape(plain.height(), plain.bytesPerLine())
    return rows[:, : 3 * plain.width()].reshape(plain.height(), plain.width(), 3)


def measured_mm(image: QImage, height_mm: float) -> float:
    """Return how far apart the middles of the two green dials on the map are."""
    per_mm = image.height() / height_mm
    table = pixels(image).astype(int)[: round((height_mm - 38) * per_mm)]  # above the legend, which has one too
    rows, columns = np.nonzero((np.abs(table - READY) < 12).all(axis=2))
    assert len(rows) > 20
    middle = (columns.min() + columns.max()) / 2
    left, right = columns < middle, columns > middle
    a = np.array([columns[left].mean(), rows[left].mean()])
    b = np.array([columns[right].mean(), rows[right].mean()])
    return float(np.hypot(*(a - b))) / per_mm


def pdf_image(path: Path, tmp_path: Path) -> QImage:
    assert shutil.which("pdftoppm"), "poppler's programs are wanted: apt-get install poppler-utils"
    subprocess.run(["pdftoppm", "-r", str(DPI), "-png", "-singlefile", path, tmp_path / "page"], check=True, timeout=60)
    return QImage(str(tmp_path / "page.png"))


@pytest.mark.parametrize(
    ("paper", "scale", "size"),
    [("A4", 1000, (297, 210)), ("A4", 500, (297, 210)), ("A3", 400, (420, 297)), ("Letter", 750, (279.4, 215.9))],
)
def test_a_pdf_is_at_its_true_scale(
    wood: Path, tmp_path: Path, paper: str, scale: int, size: tuple[float, float]
) -> None:
    out = tmp_path / "map.pdf"
    assert run(["picture", str(wood), "--out", str(out), "--scale", str(scale), "--paper", paper]) == 0
    image = pdf_image(out, tmp_path)
    assert (image.width() / DPI * 25.4, image.height() / DPI * 25.4) == pytest.approx(size, abs=0.3)
    assert measured_mm(image, size[1]) == pytest.approx(1000 * APART_M / scale, abs=0.2)


def test_an_svg_is_at_its_true_scale(wood: Path, tmp_path: Path) -> None:
    out = tmp_path / "map.svg"
    assert run(["picture", str(wood), "--out", str(out), "--scale", "1000"]) == 0
    text = out.read_text()
    assert re.search(r'<svg width="297mm" height="210mm"', text)
    assert "<image" not in text  # lines alone, at any size
    image = QImage(2970, 2100, QImage.Format.Format_RGB32)
    painter = QPainter(image)
    QSvgRenderer(str(out)).render(painter, QRectF(0, 0, 2970, 2100))
    painter.end()
    assert measured_mm(image, 210) == pytest.approx(APART_M, abs=0.2)


@pytest.mark.parametrize("dpi", [100, 300])
def test_a_png_is_at_its_true_scale(wood: Path, tmp_path: Path, dpi: int) -> None:
    out = tmp_path / "map.png"
    assert run(["picture", str(wood), "--out", str(out), "--scale", "1:1000", "--dpi", str(dpi)]) == 0
    image = QImage(str(out))
    assert (image.width(), image.height()) == (round(297 / 25.4 * dpi), round(210 / 25.4 * dpi))
    assert image.dotsPerMeterX() == pytest.approx(dpi / 0.0254, abs=1)
    assert measured_mm(image, 210) == pytest.approx(APART_M, abs=0.2)


def test_what_is_written_on_the_sheet(wood: Path, tmp_path: Path, now: datetime) -> None:
    picture = write_tiff(tmp_path / "air.tif", marked_picture(), tags={"TIFFTAG_COPYRIGHT": "Survey Office 2025"})
    with StandFile.open(wood) as file:
        choose_backdrop(file, picture, now)
    out = tmp_path / "map.pdf"
    assert run(["picture", str(wood), "--out", str(out), "--scale", "1000", "--title", "Two birches"]) == 0
    told = subprocess.run(["pdftotext", "-layout", out, "-"], capture_output=True, text=True, check=True).stdout
    for words in (
        "Two birches",
        "season 2026 · drawn 2026-03-28",
        "ready 2",
        "scale 1:1000",
        "50 m",
        "magnetic north 13.2° east of true",
        "Survey Office 2025",
    ):
        assert words in told
    table = pixels(pdf_image(out, tmp_path)).astype(int)
    red = (table[..., 0] > 200) & (table[..., 1] < 170) & (table[..., 2] < 170)
    # The red square of 10 m, veiled by the ground, is 10 mm wide at 1:1000.
    assert np.ptp(np.flatnonzero(red.any(axis=0))) / DPI * 25.4 == pytest.approx(10.0, abs=0.7)


def test_trees_that_are_not_on_the_sheet_are_told(
    wood: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["picture", str(wood), "--out", str(tmp_path / "map.pdf"), "--scale", "100"]) == 0
    assert "2 trees are not on the sheet" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("arguments", "wrong"),
    [
        (["--out", "map.jpg"], "map.jpg: this is no kind of picture; name a file that ends in .pdf, .svg, .png"),
        (["--out", "map.pdf", "--scale", "0"], "'0' is no scale of a map"),
        (["--out", "map.pdf", "--paper", "B7"], "'B7' is no paper known here"),
        (["--out", "map.png", "--dpi", "5"], "5 dots an inch"),
        (["--out", "map.png", "--dpi", "1200", "--scale", "50", "--paper", "as needed"], "the picture would be"),
        (["--out", "nowhere/\0/map.pdf"], ""),
        (["--out", "trees.csv/map.pdf"], "could not be written"),
    ],
)
def test_what_cannot_be_drawn(wood: Path, arguments: list[str], wrong: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["picture", str(wood), *arguments]) == 2
    told = capsys.readouterr().err
    assert wrong in told
    assert told.count("\n") == 1
    assert not list(wood.parent.glob("map.*"))


def test_a_file_that_is_there_is_kept(wood: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "map.svg"
    out.write_text("mine")
    assert run(["picture", str(wood), "--out", str(out)]) == 2
    assert "there already" in capsys.readouterr().err
    assert out.read_text() == "mine"
    assert run(["picture", str(wood), "--out", str(out), "--replace"]) == 0
    assert out.read_text() != "mine"


def test_an_empty_stand_has_no_picture(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    StandFile.create(tmp_path / "wood.gpkg").close()
    assert run(["picture", str(tmp_path / "wood.gpkg"), "--out", str(tmp_path / "map.pdf")]) == 2
    assert "there is nothing to draw yet" in capsys.readouterr().err


# The dialog


@pytest.fixture
def desk(qtbot: QtBot, wood: Path) -> Iterator[Desk]:
    made = Desk(Settings())
    with qtbot.waitSignal(made.seen_changed, timeout=10_000):
        made.open_stand(wood)
    yield made
    made.close_stand()


@pytest.fixture
def dialog(qtbot: QtBot, desk: Desk) -> PictureDialog:
    canvas = MapCanvas(desk.theme)
    qtbot.addWidget(canvas)
    canvas.resize(800, 600)
    content = MapContent(desk, canvas)
    desk.seen_changed.emit()
    made = PictureDialog(desk, canvas, canvas)
    made.setProperty("content", content)
    made.open()
    qtbot.waitExposed(made)
    return made


def test_the_dialog_foresees_the_sheet(dialog: PictureDialog) -> None:
    assert dialog.outcome.text() == "1:250 on 297 by 210 mm; every tree is on it"
    dialog.scale.edit.setFocus()
    QTest.keyClicks(dialog.scale.edit, "100")
    assert dialog.outcome.text() == "1:100 on 297 by 210 mm; 2 trees are not on it"
    QTest.keyClicks(dialog.scale.edit, "x")
    dialog.scale.edit.clearFocus()
    assert "is no scale of a map" in dialog.scale.wrong.text()
    assert dialog.scale.text() == "100x"
    assert dialog.outcome.text() == ""


def parts(path: Path) -> tuple[str, list[float]]:
    """Return what an SVG file draws without its numbers, and these."""
    number = r"-?\d+(?:\.\d+)?"
    text = path.read_text()
    return re.sub(number, "#", text), [float(n) for n in re.findall(number, text)]


def test_the_dialog_saves_the_same_as_the_command_line(
    qtbot: QtBot, dialog: PictureDialog, desk: Desk, wood: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    out, twin = tmp_path / "window.svg", tmp_path / "line.svg"
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (str(out.with_suffix("")), "SVG (*.svg)"))
    QTest.keyClicks(dialog.scale.edit, "1000")
    with qtbot.waitSignal(desk.notice, timeout=20_000) as told:
        QTest.mouseClick(dialog.save_button, Qt.MouseButton.LeftButton)
    assert told.args == ["tell", "the map is drawn at 1:1000 in window.svg"]
    assert not dialog.isVisible()
    assert run(["picture", str(wood), "--out", str(twin), "--scale", "1000"]) == 0
    (shapes, numbers), (twin_shapes, twin_numbers) = parts(out), parts(twin)
    assert shapes == twin_shapes
    # Outlines of letters may differ by a sixty-fourth of a pixel with what was written before.
    assert numbers == pytest.approx(twin_numbers, abs=0.05)


def test_the_dialog_says_what_went_wrong(qtbot: QtBot, dialog: PictureDialog, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    dialog.save(tmp_path / "file" / "map.pdf")
    qtbot.waitUntil(lambda: bool(dialog.wrong.text()), timeout=20_000)
    assert "could not be written" in dialog.wrong.text()
    assert dialog.isVisible()
    dialog.save(tmp_path / "map.bmp")
    assert "this is no kind of picture" in dialog.wrong.text()
