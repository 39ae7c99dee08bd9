"""How an item of a review is drawn: its shape tells its fate as well as its colour does; one left out is struck."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPen, QPixmap, QPolygonF

from standmap.desktop.theme import FADED, Theme
from standmap.jobs.review import Fate

LINE_PX = 1.4
HALO_PX = 1.8


def paint_sign(painter: QPainter, at: QPointF, radius_px: float, fate: Fate, theme: Theme, *, left: bool) -> None:
    """Draw the sign of a fate: a diamond is new, a ring matched, a triangle doubtful, a square with a cross refused.

    Parameters
    ----------
    left
        Whether the item is left out as things are decided.
    """
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.translate(at)
    shape = _SHAPES[fate](radius_px)
    painter.setPen(QPen(QColor(theme.ground), LINE_PX + 2 * HALO_PX))
    painter.setBrush(QColor(theme.ground))
    _draw(painter, shape)
    if left:
        painter.setOpacity(FADED + 0.2)
    painter.setPen(_pen(theme))
    painter.setBrush(_fill(fate, theme, left=left))
    _draw(painter, shape)
    if fate is Fate.REFUSED:
        r = 0.45 * radius_px
        painter.drawLine(QPointF(-r, -r), QPointF(r, r))
        painter.drawLine(QPointF(-r, r), QPointF(r, -r))
    elif fate is Fate.DOUBTFUL:
        painter.drawLine(QPointF(0, -0.35 * radius_px), QPointF(0, 0.2 * radius_px))
        painter.drawPoint(QPointF(0, 0.5 * radius_px))
    if left and fate is not Fate.REFUSED:
        painter.setOpacity(1.0)
        painter.drawLine(QPointF(-1.1 * radius_px, 1.1 * radius_px), QPointF(1.1 * radius_px, -1.1 * radius_px))
    painter.restore()


def sign_picture(
    fate: Fate, size: int, theme: Theme, dpr: float, *, left: bool = False, radius_px: float | None = None
) -> QPixmap:
    """Return the sign as a picture, `size` logical pixels wide."""
    picture = QPixmap(round(size * dpr), round(size * dpr))
    picture.setDevicePixelRatio(dpr)
    picture.fill(Qt.GlobalColor.transparent)
    painter = QPainter(picture)
    paint_sign(painter, QPointF(size / 2, size / 2), radius_px or size / 2 - 3, fate, theme, left=left)
    painter.end()
    return picture


class Signs:
    """Signs drawn once and put on the map as pictures: a review of some hundred items is drawn for every frame."""

    def __init__(self, radius_px: float) -> None:
        self._radius_px = radius_px
        self._pictures: dict[tuple[Fate, bool, str, float], QPixmap] = {}

    def paint(self, painter: QPainter, x: float, y: float, fate: Fate, theme: Theme, *, left: bool) -> None:
        """Put a sign at a place of the view."""
        dpr = painter.device().devicePixelRatioF()
        size = 2 * round(self._radius_px + 4)
        key = (fate, left, theme.name, dpr)
        if key not in self._pictures:
            self._pictures[key] = sign_picture(fate, size, theme, dpr, left=left, radius_px=self._radius_px)
        painter.drawPixmap(QPointF(x - size / 2, y - size / 2), self._pictures[key])


def _pen(theme: Theme) -> QPen:
    pen = QPen(QColor(theme.ink), LINE_PX)
    pen.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
    pen.setCapStyle(Qt.PenCapStyle.RoundCap)
    return pen


def _fill(fate: Fate, theme: Theme, *, left: bool) -> QColor:
    if left or fate in (Fate.MATCHED, Fate.REFUSED):
        return QColor(theme.panel)
    return QColor(theme.accent if fate is Fate.NEW else theme.rest_ring)


def _draw(painter: QPainter, shape: QPolygonF | QRectF) -> None:
    if isinstance(shape, QRectF):
        painter.drawEllipse(shape)
    else:
        painter.drawPolygon(shape)


def _diamond(r: float) -> QPolygonF:
    return QPolygonF([QPointF(0, -r), QPointF(r, 0), QPointF(0, r), QPointF(-r, 0)])


def _ring(r: float) -> QRectF:
    return QRectF(-0.85 * r, -0.85 * r, 1.7 * r, 1.7 * r)


def _triangle(r: float) -> QPolygonF:
    return QPolygonF([QPointF(0, -1.05 * r), QPointF(1.05 * r, 0.85 * r), QPointF(-1.05 * r, 0.85 * r)])


def _square(r: float) -> QPolygonF:
    s = 0.8 * r
    return QPolygonF([QPointF(-s, -s), QPointF(s, -s), QPointF(s, s), QPointF(-s, s)])


_SHAPES: dict[Fate, Callable[[float], QPolygonF | QRectF]] = {
    Fate.NEW: _diamond,
    Fate.MATCHED: _ring,
    Fate.DOUBTFUL: _triangle,
    Fate.REFUSED: _square,
}
