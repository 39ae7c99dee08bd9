"""The signs of places: small ink squares with a drawing of what is there."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPainterPath, QPen

from standmap.desktop.theme import Theme
from standmap.stand.ground import PlaceKind

SIGN_PX = 18.0
HALO_PX = 1.6
CORNER_PX = 4.0
CROSSING_PX = 20.0
"""Length of the two strokes of a bridge, and of the row of stones of a ford."""


def paint_sign(painter: QPainter, centre: QPointF, kind: PlaceKind, theme: Theme) -> None:
    """Draw the sign of a place."""
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.translate(centre)
    half = SIGN_PX / 2
    painter.setPen(Qt.PenStyle.NoPen)
    for grown, colour in ((HALO_PX, theme.ground), (0.0, theme.ink)):
        painter.setBrush(QColor(colour))
        side = half + grown
        painter.drawRoundedRect(QRectF(-side, -side, 2 * side, 2 * side), CORNER_PX + grown, CORNER_PX + grown)
    pen = QPen(QColor(theme.ground), 1.5)
    pen.setCapStyle(Qt.PenCapStyle.RoundCap)
    pen.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
    painter.setPen(pen)
    painter.setBrush(Qt.BrushStyle.NoBrush)
    _DRAWINGS[kind](painter)
    painter.restore()


def _gate(painter: QPainter) -> None:
    for x in (-4.5, 4.5):
        painter.drawLine(QPointF(x, -5), QPointF(x, 5))
    for y in (-2.5, 2.0):
        painter.drawLine(QPointF(-4.5, y), QPointF(4.5, y))


def _tank(painter: QPainter) -> None:
    painter.drawRoundedRect(QRectF(-4, -4.5, 8, 9.5), 1.5, 1.5)
    painter.drawLine(QPointF(-4, -0.5), QPointF(4, -0.5))


def _landmark(painter: QPainter) -> None:
    stone = QPainterPath(QPointF(-5, 4.5))
    stone.lineTo(-1, -4.5)
    stone.lineTo(1.5, -1)
    stone.lineTo(2.5, -2.5)
    stone.lineTo(5, 4.5)
    stone.closeSubpath()
    painter.drawPath(stone)


def _hazard(painter: QPainter) -> None:
    painter.drawLine(QPointF(0, -5), QPointF(0, 1.2))
    painter.drawPoint(QPointF(0, 4.8))


def _bridge(painter: QPainter) -> None:
    for x in (-2.6, 2.6):
        painter.drawLine(QPointF(x, -5), QPointF(x, 5))


def _ford(painter: QPainter) -> None:
    for x, y in ((-4.5, 2.5), (0.0, -0.5), (4.5, -3.5)):
        painter.drawEllipse(QPointF(x, y), 1.4, 1.4)


_DRAWINGS = {
    PlaceKind.GATE: _gate,
    PlaceKind.TANK: _tank,
    PlaceKind.LANDMARK: _landmark,
    PlaceKind.HAZARD: _hazard,
    PlaceKind.BRIDGE: _bridge,
    PlaceKind.FORD: _ford,
}


def paint_crossing(painter: QPainter, centre: QPointF, stream_deg: float, theme: Theme, *, ford: bool) -> None:
    """Draw a bridge as two strokes across a stream, a ford as a row of stones in it.

    Parameters
    ----------
    stream_deg
        Which way the stream runs on the screen, degrees clockwise from up.
    """
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.translate(centre)
    painter.rotate(stream_deg + 90.0)
    half = CROSSING_PX / 2
    for colour, wider in ((theme.ground, 1.5), (theme.ink, 0.0)):
        if ford:
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(QColor(colour))
            for along, aside in ((-1.0, 1.2), (-1 / 3, -1.2), (1 / 3, 1.2), (1.0, -1.2)):
                painter.drawEllipse(QPointF(aside, half * along), 1.9 + wider, 1.9 + wider)
            continue
        pen = QPen(QColor(colour), 2.0 + 2 * wider)
        pen.setCapStyle(Qt.PenCapStyle.RoundCap)
        painter.setPen(pen)
        for aside in (-4.5, 4.5):
            painter.drawLine(QPointF(aside, -half), QPointF(aside, half))
    painter.restore()
