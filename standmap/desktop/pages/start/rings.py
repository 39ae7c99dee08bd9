"""The ground of the start: the rings of a birch stem, cut across, in the thinnest line there is."""

from __future__ import annotations

import math

from PySide6.QtCore import QPointF, QRect, Qt
from PySide6.QtGui import QColor, QPainter, QPainterPath, QPen

from standmap.desktop.theme import HIGH_CONTRAST, Theme

RINGS = 17
GAP_PX = 34.0
STEPS = 120


def paint_rings(painter: QPainter, rect: QRect, theme: Theme) -> None:
    """Fill the ground and draw the rings from its lower right corner; none of them in high contrast."""
    painter.fillRect(rect, QColor(theme.ground))
    if theme is HIGH_CONTRAST:
        return
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    pith = QPointF(rect.right() - 60, rect.bottom() + 60)
    painter.setBrush(Qt.BrushStyle.NoBrush)
    for number in range(1, RINGS + 1):
        # Each ring a little fainter than the one within it.
        line = QColor(theme.hairline)
        line.setAlphaF(0.9 * (1 - number / (RINGS + 1)))
        painter.setPen(QPen(line, 1.2))
        painter.drawPath(ring(pith, number))


def ring(pith: QPointF, number: int) -> QPainterPath:
    """Return one ring, the first the innermost: wider on one side, as a leaning stem grows, and never quite round."""
    path = QPainterPath()
    radius = GAP_PX * (number + 0.35 * math.sin(1.7 * number))
    for step in range(STEPS + 1):
        angle = 2 * math.pi * step / STEPS
        wobble = 1 + 0.06 * math.cos(angle - 2.4) + 0.012 * math.sin(5 * angle + 0.4 * number)
        point = pith + QPointF(radius * wobble * math.cos(angle), radius * wobble * math.sin(angle))
        if step:
            path.lineTo(point)
        else:
            path.moveTo(point)
    return path
