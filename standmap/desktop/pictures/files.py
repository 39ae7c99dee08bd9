"""A sheet as a file: PDF and SVG at a true scale, PNG at a chosen fineness."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Protocol

from PySide6.QtCore import QBuffer, QByteArray, QIODevice, QMarginsF, QRectF, QSize, QSizeF
from PySide6.QtGui import QImage, QImageWriter, QPageLayout, QPageSize, QPaintDevice, QPainter, QPdfWriter

from standmap.desktop.pictures.sheet import PX_PER_MM
from standmap.errors import UserError

PX_PER_INCH = 96
PDF_PER_INCH = 1200
SVG_PER_MM = 100
"""Units of the drawing in an SVG file: whole for every paper, so that its size is exact."""

DPI = 200
LEAST_DPI, MOST_DPI = 50, 1200
MOST_PX = 24_000
"""Along one side of a PNG."""

SUFFIXES = (".pdf", ".svg", ".png")


class Sized(Protocol):
    """A sheet of paper; only its size is asked for."""

    @property
    def width_mm(self) -> float: ...  # noqa: D102
    @property
    def height_mm(self) -> float: ...  # noqa: D102


Draw = Callable[[QPainter], object]
"""Draws a sheet in logical pixels of 1/96 inch."""


def picture_bytes(sheet: Sized, suffix: str, draw: Draw, *, dpi: int = DPI, title: str = "") -> bytes:
    """Return a sheet as the content of a file.

    Parameters
    ----------
    suffix
        One of `SUFFIXES`.
    dpi
        Of a PNG.

    Raises
    ------
    UserError
        If there is no such kind, or a PNG would be too large.
    """
    makers = {".pdf": _pdf, ".svg": _svg}
    if suffix == ".png":
        return _png(sheet, draw, dpi)
    if suffix not in makers:
        raise UserError(
            f"a picture cannot be written as '{suffix[:20]}'", f"name a file that ends in {', '.join(SUFFIXES)}"
        )
    return makers[suffix](sheet, draw, title)


def checked_suffix(path: Path) -> str:
    """Return the suffix of a file for a picture.

    Raises
    ------
    UserError
        If no picture can be written to it.
    """
    suffix = path.suffix.lower()
    if suffix not in SUFFIXES:
        raise UserError(f"{path.name}: this is no kind of picture", f"name a file that ends in {', '.join(SUFFIXES)}")
    return suffix


def _pdf(sheet: Sized, draw: Draw, title: str) -> bytes:
    held, buffer = _buffer()
    writer = QPdfWriter(buffer)
    writer.setResolution(PDF_PER_INCH)
    writer.setTitle(title)
    writer.setCreator("standmap")
    size = QPageSize(
        QSizeF(sheet.width_mm, sheet.height_mm), QPageSize.Unit.Millimeter, "", QPageSize.SizeMatchPolicy.ExactMatch
    )
    writer.setPageLayout(QPageLayout(size, QPageLayout.Orientation.Portrait, QMarginsF(0, 0, 0, 0)))
    _draw_on(writer, draw, PDF_PER_INCH / PX_PER_INCH)
    buffer.close()
    return bytes(held.data())


def _svg(sheet: Sized, draw: Draw, title: str) -> bytes:
    from PySide6.QtSvg import QSvgGenerator

    held, buffer = _buffer()
    generator = QSvgGenerator()
    generator.setOutputDevice(buffer)
    generator.setTitle(title)
    size = QSize(round(sheet.width_mm * SVG_PER_MM), round(sheet.height_mm * SVG_PER_MM))
    generator.setSize(size)
    generator.setViewBox(QRectF(0, 0, size.width(), size.height()))
    generator.setResolution(round(25.4 * SVG_PER_MM))
    _draw_on(generator, draw, SVG_PER_MM / PX_PER_MM)
    buffer.close()
    return bytes(held.data())


def _png(sheet: Sized, draw: Draw, dpi: int) -> bytes:
    if not LEAST_DPI <= dpi <= MOST_DPI:
        raise UserError(f"{dpi} dots an inch make no good picture", f"choose from {LEAST_DPI} to {MOST_DPI}")
    width, height = (round(mm / 25.4 * dpi) for mm in (sheet.width_mm, sheet.height_mm))
    if max(width, height) > MOST_PX:
        raise UserError(
            f"the picture would be {width} by {height} dots", "choose fewer dots an inch or a smaller scale"
        )
    image = QImage(width, height, QImage.Format.Format_RGB32)
    image.setDotsPerMeterX(round(dpi / 0.0254))
    image.setDotsPerMeterY(round(dpi / 0.0254))
    _draw_on(image, draw, dpi / PX_PER_INCH)
    held, buffer = _buffer()
    QImageWriter(buffer, b"png").write(image)
    buffer.close()
    return bytes(held.data())


def _draw_on(device: QPaintDevice, draw: Draw, factor: float) -> None:
    painter = QPainter(device)
    painter.scale(factor, factor)
    try:
        draw(painter)
    finally:
        painter.end()


def _buffer() -> tuple[QByteArray, QBuffer]:
    held = QByteArray()
    buffer = QBuffer(held)
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    return held, buffer
