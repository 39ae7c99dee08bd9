"""North and scale as they are drawn, on the map and on paper."""

from __future__ import annotations

import math

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QPainter, QPen, QPolygonF


def draw_north(
    painter: QPainter,
    middle: QPointF,
    radius: float,
    turn_deg: float,
    declination_deg: float | None,
    ink: QColor,
    second: QColor,
    north_letter: str,
) -> None:
    """Draw a needle to true north with its letter, and a thin line to magnetic north.

    Parameters
    ----------
    radius
        Half the length of the needle; the letter stands beyond it.
    turn_deg
        The bearing that points up.
    declination_deg
        East positive; None where it is not known.
    """
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.setPen(QPen(second, max(radius / 24, 0.4)))
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.drawEllipse(middle, radius * 0.62, radius * 0.62)
    tip, foot = _toward(middle, radius, -turn_deg), _toward(middle, radius * 0.62, 180 - turn_deg)
    wide = radius * 0.11
    left, right = _toward(middle, wide, -90 - turn_deg), _toward(middle, wide, 90 - turn_deg)
    painter.setPen(QPen(ink, max(radius / 24, 0.4)))
    painter.setBrush(ink)
    painter.drawPolygon(QPolygonF([tip, right, middle, left]))
    painter.drawLine(middle, foot)
    if declination_deg is not None:
        # A thin line that ends in a small open ring just outside the circle.
        bearing = declination_deg - turn_deg
        ring = radius * 0.09
        painter.setPen(QPen(ink, max(radius / 26, 0.4)))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawLine(middle, _toward(middle, radius * 0.82 - ring, bearing))
        painter.drawEllipse(_toward(middle, radius * 0.82, bearing), ring, ring)
    font = QFont(painter.font())
    font.setWeight(QFont.Weight.DemiBold)
    painter.setFont(font)
    metrics = QFontMetricsF(font)
    at = _toward(middle, radius + metrics.height() * 0.55, -turn_deg)
    box = QRectF(0, 0, metrics.horizontalAdvance(north_letter) + 2, metrics.height())
    box.moveCenter(at)
    painter.drawText(box, Qt.AlignmentFlag.AlignCenter, north_letter)
    painter.restore()


def draw_bar(painter: QPainter, left: float, baseline: float, length: float, text: str, ink: QColor) -> None:
    """Draw a scale bar that lies on a baseline, four parts in turn full and open, its length written above the end.

    Parameters
    ----------
    length
        Of the whole bar, in the painter's units.
    """
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)
    metrics = QFontMetricsF(painter.font())
    high = metrics.height() * 0.3
    pen = QPen(ink, max(high / 5, 0.5))
    pen.setJoinStyle(Qt.PenJoinStyle.MiterJoin)
    painter.setPen(pen)
    for part in range(4):
        painter.setBrush(ink if part % 2 == 0 else Qt.BrushStyle.NoBrush)
        painter.drawRect(QRectF(left + part * length / 4, baseline - high, length / 4, high))
    painter.drawText(QPointF(left, baseline - high - metrics.descent() - high / 2), "0")
    painter.drawText(
        QPointF(left + length - metrics.horizontalAdvance(text), baseline - high - metrics.descent() - high / 2), text
    )
    painter.restore()


def _toward(middle: QPointF, far: float, bearing_deg: float) -> QPointF:
    """Return the point so far away on a bearing, up being 0 and clockwise positive."""
    angle = math.radians(bearing_deg)
    return QPointF(middle.x() + far * math.sin(angle), middle.y() - far * math.cos(angle))
