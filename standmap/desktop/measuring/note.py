"""A short note drawn on the map: a main line and lines of less weight on a small sheet."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QPainter, QPen

from standmap.desktop.canvas.camera import Camera, Margins
from standmap.desktop.theme import MARGIN_PX, Theme

PADDING_PX = 8.0
CORNER_PX = 8.0
AWAY_PX = 16.0
HALO_PX = 3.0


def draw_note(painter: QPainter, lines: Sequence[str], at: QPointF, room: QRectF, theme: Theme) -> QRectF:
    """Draw a note beside a point, within the room there is, and return where it lies.

    Parameters
    ----------
    lines
        The main figure first.
    at
        What it is about; the note lies below and to the right of it, or where there is room.
    """
    wide, high = _size(painter, lines)
    left = at.x() + AWAY_PX if at.x() + AWAY_PX + wide <= room.right() else at.x() - AWAY_PX - wide
    top = at.y() + AWAY_PX if at.y() + AWAY_PX + high <= room.bottom() else at.y() - AWAY_PX - high
    sheet = QRectF(max(left, room.left()), max(top, room.top()), wide, high)
    _draw(painter, lines, sheet, theme)
    return sheet


def draw_hint(painter: QPainter, lines: Sequence[str], camera: Camera, margins: Margins, theme: Theme) -> None:
    """Draw a note at the top of the part of the map that nothing floats over, in its middle."""
    wide, high = _size(painter, lines)
    left, top, right, _ = margins
    _draw(painter, lines, QRectF((camera.width + left - right - wide) / 2, top + MARGIN_PX, wide, high), theme)


def _fonts(painter: QPainter, lines: Sequence[str]) -> list[QFont]:
    main = QFont(painter.font())
    main.setWeight(QFont.Weight.DemiBold)
    return [main, *[QFont(painter.font())] * (len(lines) - 1)]


def _size(painter: QPainter, lines: Sequence[str]) -> tuple[float, float]:
    metrics = [QFontMetricsF(f) for f in _fonts(painter, lines)]
    wide = max(m.horizontalAdvance(t) for m, t in zip(metrics, lines, strict=True)) + 2 * PADDING_PX
    return wide, sum(m.height() for m in metrics) + 2 * PADDING_PX - 2


def _draw(painter: QPainter, lines: Sequence[str], sheet: QRectF, theme: Theme) -> None:
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.setPen(QPen(QColor(theme.hairline), 1))
    painter.setBrush(QColor(theme.panel))
    painter.drawRoundedRect(sheet, CORNER_PX, CORNER_PX)
    down = sheet.top() + PADDING_PX - 1
    for row, (text, font) in enumerate(zip(lines, _fonts(painter, lines), strict=True)):
        metrics = QFontMetricsF(font)
        painter.setFont(font)
        painter.setPen(QColor(theme.ink if row == 0 else theme.second_ink))
        painter.drawText(QPointF(sheet.left() + PADDING_PX, down + metrics.ascent()), text)
        down += metrics.height()
    painter.restore()


def halo_pen(theme: Theme, width_px: float) -> QPen:
    """Return the pen that lies under a line of ink so that it stands out on any ground."""
    pen = QPen(QColor(theme.ground), width_px + HALO_PX)
    pen.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
    pen.setCapStyle(Qt.PenCapStyle.RoundCap)
    return pen


def ink_pen(theme: Theme, width_px: float) -> QPen:
    """Return a pen of ink."""
    pen = QPen(QColor(theme.ink), width_px)
    pen.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
    pen.setCapStyle(Qt.PenCapStyle.RoundCap)
    return pen
