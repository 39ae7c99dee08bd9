"""A plot inside a sheet: drawn anew for every size, look and fineness of the screen."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from PySide6.QtCore import QSize
from PySide6.QtGui import QImage, QPainter, QPaintEvent
from PySide6.QtWidgets import QSizePolicy, QWidget

from standmap.desktop.desk import Desk
from standmap.desktop.theme import HIGH_CONTRAST
from standmap.formats.plot import PlotLook, plot_pixels

if TYPE_CHECKING:
    from matplotlib.figure import Figure

Draw = Callable[[PlotLook, float, float], "Figure"]
"""Draws a sheet in a look, of a width and a height in pixels of 1/96 inch."""

TEXT_PX = 11.5
SMALLEST_PX = 40


class PlotView(QWidget):
    """Shows one plot; what it tells is said in words by its accessible description."""

    def __init__(self, desk: Desk, height_px: float, name: str) -> None:
        super().__init__()
        self._desk = desk
        self._height_px = height_px
        self._draw: Draw | None = None
        self._drawn: tuple[object, QImage] | None = None
        self.setAccessibleName(name)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        desk.settings_changed.connect(self._again)

    def show_plot(self, draw: Draw | None, told: str = "", height_px: float | None = None) -> None:
        """Show another plot, or none.

        Parameters
        ----------
        told
            The same in words, for those who do not see it.
        height_px
            Another height than before, in the usual size of text.
        """
        self._draw = draw
        self._height_px = self._height_px if height_px is None else height_px
        self.setAccessibleDescription(told)
        self.setVisible(draw is not None)
        self._again()

    def sizeHint(self) -> QSize:  # noqa: N802 - Qt's name
        """Return a height that grows with the text."""
        return QSize(240, round(self._height_px * self._scale))

    def paintEvent(self, _event: QPaintEvent) -> None:  # noqa: N802 - Qt's name
        """Draw the plot, kept until size, look or fineness change."""
        if self._draw is None or min(self.width(), self.height()) < SMALLEST_PX:
            return  # not laid out yet
        ratio = self.devicePixelRatioF()
        wanted = (self.width(), self.height(), ratio, self._desk.theme.name, self._scale)
        if self._drawn is None or self._drawn[0] != wanted:
            sheet = self._draw(self.look(), self.width(), self.height())
            pixels, width, height = plot_pixels(sheet, ratio)
            image = QImage(pixels, width, height, 4 * width, QImage.Format.Format_RGBA8888).copy()
            image.setDevicePixelRatio(ratio)
            self._drawn = (wanted, image)
        painter = QPainter(self)
        painter.drawImage(0, 0, self._drawn[1])
        painter.end()

    def look(self) -> PlotLook:
        """Return the look of the window, for a plot."""
        theme = self._desk.theme
        tints = {"warm": theme.panel, "cool": theme.panel} if theme.name == HIGH_CONTRAST.name else {}
        return PlotLook(
            ink=theme.ink,
            second_ink=theme.second_ink,
            hairline=theme.hairline,
            panel=theme.panel,
            text_px=TEXT_PX * self._scale,
            **tints,
        )

    @property
    def _scale(self) -> float:
        return self._desk.settings.text_size_percent / 100

    def _again(self) -> None:
        self._drawn = None
        self.updateGeometry()
        self.update()
