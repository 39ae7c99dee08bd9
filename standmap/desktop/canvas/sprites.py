"""Dials drawn once and kept as pixels: where they lie about the middle, and their colour."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QColor, QImage, QPainter, QPen

from standmap.desktop.canvas.detail import Detail
from standmap.desktop.canvas.dials import HALO_PX, OUTLINE_PX, paint_dial, paint_dot
from standmap.desktop.canvas.trees import MOST_RADIUS_PX, Look, full_radius_px, look_of
from standmap.desktop.theme import FADED, Theme

MARK_PX = 3.4
"""Room between a dial and the ring that tells it is one of very many chosen."""


@dataclass(frozen=True, slots=True, eq=False)
class Sprite:
    """The pixels of one dial that are not clear.

    Attributes
    ----------
    right, down
        Device pixels from the middle of the dial, shape (k,).
    colour
        Premultiplied 0xAARRGGBB, shape (k,).
    """

    right: NDArray[np.intp]
    down: NDArray[np.intp]
    colour: NDArray[np.uint32]


class SpriteBook:
    """All dials of one theme at one level of detail, each drawn when it is first asked for.

    Parameters
    ----------
    dpr
        Device pixels a logical one.
    """

    def __init__(self, theme: Theme, detail: Detail, dpr: float) -> None:
        self.theme, self.detail, self.dpr = theme, detail, dpr
        self._drawn: dict[int, Sprite] = {}

    @property
    def reach(self) -> int:
        """No sprite goes farther from its middle than so many device pixels."""
        largest = self.detail.radius_px(MOST_RADIUS_PX)
        return int(np.ceil((largest + OUTLINE_PX + HALO_PX + MARK_PX + 2) * self.dpr)) + 1

    def sprite(self, number: int) -> Sprite:
        """Return the dial of a look by its number."""
        drawn = self._drawn.get(number)
        if drawn is None:
            drawn = self._drawn[number] = self._draw(look_of(number))
        return drawn

    def _draw(self, look: Look) -> Sprite:
        reach = self.reach
        side = 2 * reach + 1
        image = QImage(side, side, QImage.Format.Format_ARGB32_Premultiplied)
        image.fill(Qt.GlobalColor.transparent)
        painter = QPainter(image)
        painter.scale(self.dpr, self.dpr)
        middle = (reach + 0.5) / self.dpr
        self._paint(painter, QPointF(middle, middle), look)
        painter.end()
        pixels = np.frombuffer(image.constBits(), np.uint32).reshape(side, -1)[:, :side]
        if look.faded:
            parts = pixels.copy().view(np.uint8).reshape(side, side, 4)
            pixels = np.rint(parts * FADED).astype(np.uint8).view(np.uint32).reshape(side, side)
        down, right = np.nonzero(pixels)
        return Sprite(right - reach, down - reach, pixels[down, right].copy())

    def _paint(self, painter: QPainter, middle: QPointF, look: Look) -> None:
        radius = self.detail.radius_px(full_radius_px(look.size))
        if look.chosen:
            painter.setRenderHint(QPainter.RenderHint.Antialiasing)
            ring = radius + (MARK_PX if self.detail.dial_scale is not None else 1.6)
            painter.setPen(QPen(QColor(self.theme.ground), 3.6))
            painter.drawEllipse(middle, ring, ring)
            painter.setPen(QPen(QColor(self.theme.accent), 1.6))
            painter.setBrush(QColor(self.theme.ground))
            painter.drawEllipse(middle, ring, ring)
        if self.detail.dial_scale is None:
            paint_dot(painter, middle, radius, look.verdict, self.theme)
        else:
            paint_dial(painter, middle, radius, look.verdict, self.theme, look.rest)
