"""Labels on the map: measured, and drawn with a halo of ground colour; kept as small pictures while they move."""

from __future__ import annotations

import math
from collections import OrderedDict
from collections.abc import Sequence

from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QPainter, QPainterPath, QPen, QPixmap

from standmap.desktop.canvas.labels import Label, Placed
from standmap.desktop.theme import Theme

TEXT_PX = 12.5
HALO_PX = 3.2
KEPT = 1500
"""Pictures of labels kept."""

FRESH = 12
"""Labels that are drawn for the first time in one frame."""

LONGEST = 40
"""Characters of a name that are written on the map."""

# The halo of a picture is the text itself set around: many times quicker than the outline of its letters.
_AROUND = [
    QPointF(math.cos(turn) * reach, math.sin(turn) * reach)
    for reach in (0.9, HALO_PX / 2)
    for turn in (k * math.pi / 4 for k in range(8))
]


class Lettering:
    """The type of the map in one theme.

    Parameters
    ----------
    font
        The window's; its size is set here.
    scale
        Size of the window's text, 1.0 up to 2.0.
    """

    def __init__(self, font: QFont, theme: Theme, scale: float = 1.0) -> None:
        self._theme = theme
        self._fonts = {}
        self._metrics = {}
        for strong in (False, True):
            made = QFont(font)
            made.setPixelSize(round(TEXT_PX * scale) if not strong else round((TEXT_PX + 0.5) * scale))
            made.setWeight(QFont.Weight.DemiBold if strong else QFont.Weight.Normal)
            self._fonts[strong] = made
            self._metrics[strong] = QFontMetricsF(made)
        self._drawn: OrderedDict[tuple[str, bool, float], QPixmap] = OrderedDict()
        self._widths: dict[tuple[str, bool], float] = {}

    def measure(self, label: Label) -> tuple[float, float]:
        """Return width and height of a label's text, logical pixels."""
        key = (label.text, label.strong)
        width = self._widths.get(key)
        if width is None:
            width = self._widths[key] = self._metrics[label.strong].horizontalAdvance(shortened(label.text))
        return width, self._metrics[label.strong].height()

    def paint(self, painter: QPainter, placed: Sequence[Placed], dpr: float) -> bool:
        """Draw labels as pictures, each drawn once; return whether some wait for the next frame, to keep it short."""
        fresh = 0
        for each in placed:
            if (each.label.text, each.label.strong, dpr) not in self._drawn:
                fresh += 1
                if fresh > FRESH:
                    continue
            at = QPointF(round((each.left - HALO_PX) * dpr) / dpr, round((each.top - HALO_PX) * dpr) / dpr)
            painter.drawPixmap(at, self._picture(each.label, dpr))
        return fresh > FRESH

    def paint_outlines(self, painter: QPainter, placed: Sequence[Placed]) -> None:
        """Draw labels as outlines, for a picture of any scale."""
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        for each in placed:
            self._paint_text(painter, each.label, each.left, each.top)

    def _picture(self, label: Label, dpr: float) -> QPixmap:
        key = (label.text, label.strong, dpr)
        found = self._drawn.get(key)
        if found is not None:
            self._drawn.move_to_end(key)
            return found
        width, height = self.measure(label)
        picture = QPixmap(round((width + 2 * HALO_PX) * dpr) + 1, round((height + 2 * HALO_PX) * dpr) + 1)
        picture.setDevicePixelRatio(dpr)
        picture.fill(Qt.GlobalColor.transparent)
        painter = QPainter(picture)
        painter.setFont(self._fonts[label.strong])
        text, foot = shortened(label.text), HALO_PX + self._metrics[label.strong].ascent()
        painter.setPen(QColor(self._theme.ground))
        for aside in _AROUND:
            painter.drawText(QPointF(HALO_PX, foot) + aside, text)
        painter.setPen(self._colour(label))
        painter.drawText(QPointF(HALO_PX, foot), text)
        painter.end()
        self._drawn[key] = picture
        if len(self._drawn) > KEPT:
            self._drawn.popitem(last=False)
        return picture

    def _paint_text(self, painter: QPainter, label: Label, left: float, top: float) -> None:
        path = QPainterPath()
        path.addText(left, top + self._metrics[label.strong].ascent(), self._fonts[label.strong], shortened(label.text))
        halo = QPen(QColor(self._theme.ground), HALO_PX)
        halo.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
        painter.strokePath(path, halo)
        painter.fillPath(path, self._colour(label))

    def _colour(self, label: Label) -> QColor:
        return QColor(self._theme.ink if label.strong else self._theme.second_ink)


def shortened(name: str) -> str:
    """Return a name on one line that is not too long for the map."""
    line = " ".join(name.split())
    return line if len(line) <= LONGEST else f"{line[: LONGEST - 1]}…"
