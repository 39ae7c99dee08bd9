"""The dial of a tree: its outline and mark tell the verdict without colour, its fill says it again.

Every drawing of a dial comes from `paint_dial`: on the map, in lists, in pictures on paper.
"""

from __future__ import annotations

import math

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPainterPath, QPen, QPixmap

from standmap.desktop.theme import HIGH_CONTRAST, Theme
from standmap.rules.judgement import Verdict

OUTLINE_PX = 1.2
HALO_PX = 1.6
GROWING_ON_SIZE = 0.75
RING_TINT = 0.28
"""How much colour the part of the ring has that is still to be rested."""


def mark_colour(fill: str | None, theme: Theme) -> str:
    """Return the colour of a mark on a fill: ink or ground, whichever stands out more."""
    if fill is None:
        return theme.ink
    return max((theme.ink, theme.ground), key=lambda colour: contrast(colour, fill))


def contrast(one: str, other: str) -> float:
    """Return the contrast ratio of two colours, 1 up to 21 (WCAG 2.2, relative luminance)."""
    light, dark = sorted((_luminance(one), _luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def _luminance(colour: str) -> float:
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def paint_dial(
    painter: QPainter,
    centre: QPointF,
    radius_px: float,
    verdict: Verdict,
    theme: Theme,
    rest: float = 0.0,
    *,
    halo: bool = True,
) -> None:
    """Draw one dial.

    Parameters
    ----------
    radius_px
        Of a full-sized dial; a tree that grows on is drawn at three quarters of it.
    rest
        Which part of its rest a resting tree has behind it, 0 up to 1.
    halo
        A rim of ground colour, which keeps the outline clear of whatever lies below.
    """
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    r = radius_px * (GROWING_ON_SIZE if verdict is Verdict.GROWING_ON else 1.0)
    painter.translate(centre)
    painter.setPen(Qt.PenStyle.NoPen)
    if halo:
        painter.setBrush(QColor(theme.ground))
        painter.drawEllipse(QPointF(0, 0), r + OUTLINE_PX / 2 + HALO_PX, r + OUTLINE_PX / 2 + HALO_PX)
    fill = theme.fill(verdict)
    if fill is not None:
        painter.setBrush(QColor(fill))
        painter.drawEllipse(QPointF(0, 0), r, r)
    _MARKS[verdict](painter, r, theme, rest)
    outline = QPen(QColor(theme.ink), _line(theme))
    if verdict is Verdict.UNSURE:
        gaps = max(round(2 * math.pi * r / 3.6), 6)
        dash = 2 * math.pi * r / gaps / outline.widthF()
        outline.setDashPattern([0.5 * dash, 0.5 * dash])
        outline.setCapStyle(Qt.PenCapStyle.FlatCap)
    painter.setPen(outline)
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.drawEllipse(QPointF(0, 0), r, r)
    painter.restore()


def _line(theme: Theme) -> float:
    return 1.6 if theme is HIGH_CONTRAST else OUTLINE_PX


def _pen(theme: Theme, r: float, colour: str | None = None) -> QPen:
    pen = QPen(QColor(colour or theme.ink), max(_line(theme), 0.16 * r))
    pen.setCapStyle(Qt.PenCapStyle.RoundCap)
    pen.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
    return pen


def _plain(painter: QPainter, r: float, theme: Theme, rest: float) -> None:
    """Draw nothing: a ready tree has no mark."""
    del painter, r, theme, rest


def _drop(painter: QPainter, r: float, theme: Theme, rest: float) -> None:
    del rest
    drop = QPainterPath(QPointF(0, -0.62 * r))
    drop.cubicTo(QPointF(0.12 * r, -0.25 * r), QPointF(0.42 * r, -0.02 * r), QPointF(0.42 * r, 0.2 * r))
    drop.arcTo(QRectF(-0.42 * r, -0.22 * r, 0.84 * r, 0.84 * r), 0, -180)
    drop.cubicTo(QPointF(-0.42 * r, -0.02 * r), QPointF(-0.12 * r, -0.25 * r), QPointF(0, -0.62 * r))
    painter.setBrush(QColor(mark_colour(theme.fill(Verdict.GIVING), theme)))
    painter.drawPath(drop)


def _rest_ring(painter: QPainter, r: float, theme: Theme, rest: float) -> None:
    """Draw the rest already passed as the full part of a ring, clockwise from the top, with an ink hand at its end."""
    inner, outer = 0.32 * r, 0.8 * r
    middle, width = (inner + outer) / 2, outer - inner
    box = QRectF(-middle, -middle, 2 * middle, 2 * middle)
    tint = QColor(theme.rest_ring)
    tint.setAlphaF(RING_TINT)
    passed = min(max(rest, 0.0), 1.0)
    pen = QPen(tint, width)
    pen.setCapStyle(Qt.PenCapStyle.FlatCap)
    painter.setPen(pen)
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.drawArc(box, 90 * 16, round((1 - passed) * 360 * 16))
    pen.setColor(QColor(theme.rest_ring))
    painter.setPen(pen)
    painter.drawArc(box, 90 * 16, round(-passed * 360 * 16))
    painter.setPen(_pen(theme, 0.8 * r))
    for part in (0.0, passed):
        turn = 2 * math.pi * part
        along = QPointF(math.sin(turn), -math.cos(turn))
        painter.drawLine(along * inner, along * outer)


def _chevron(painter: QPainter, r: float, theme: Theme, rest: float) -> None:
    del rest
    painter.setPen(_pen(theme, r))
    painter.drawPolyline([QPointF(-0.42 * r, 0.2 * r), QPointF(0, -0.24 * r), QPointF(0.42 * r, 0.2 * r)])


def _stroke(painter: QPainter, r: float, theme: Theme, rest: float) -> None:
    del rest
    painter.setPen(_pen(theme, r, mark_colour(theme.fill(Verdict.UNFIT), theme)))
    painter.drawLine(QPointF(-0.5 * r, 0.5 * r), QPointF(0.5 * r, -0.5 * r))


def _hatch(painter: QPainter, r: float, theme: Theme, rest: float) -> None:
    del rest
    painter.setPen(_pen(theme, 0.7 * r))
    for aside in (-0.55, 0.0, 0.55):
        # A chord at 45 degrees, `aside` of the radius off the middle, kept a little off the rim.
        half = r * (math.sqrt(1 - aside**2) - 0.08) / math.sqrt(2)
        off = aside * r / math.sqrt(2)
        painter.drawLine(QPointF(off - half, off + half), QPointF(off + half, off - half))


def _dot(painter: QPainter, r: float, theme: Theme, rest: float) -> None:
    del rest
    painter.setBrush(QColor(theme.ink))
    dot = max(0.22 * r, 1.2)
    painter.drawEllipse(QPointF(0, 0), dot, dot)


_MARKS = {
    Verdict.READY: _plain,
    Verdict.GIVING: _drop,
    Verdict.RESTING: _rest_ring,
    Verdict.GROWING_ON: _chevron,
    Verdict.UNFIT: _stroke,
    Verdict.OFF_LIMITS: _hatch,
    Verdict.UNSURE: _dot,
}


def dot_colours(verdict: Verdict, theme: Theme) -> tuple[str, str | None]:
    """Return the colour of a tree seen from far away, and that of a middle spot where the dot is large enough."""
    match verdict:
        case Verdict.RESTING:
            return theme.rest_ring, theme.panel
        case Verdict.GROWING_ON:
            return theme.second_ink, theme.ground
        case Verdict.OFF_LIMITS:
            return theme.hatch, theme.ink
        case Verdict.UNSURE:
            return theme.ground, theme.ink
        case Verdict.GIVING:
            return theme.fills[verdict] or theme.ink, mark_colour(theme.fills[verdict], theme)
        case _:
            return theme.fills[verdict] or theme.ink, None


def paint_dot(painter: QPainter, centre: QPointF, radius_px: float, verdict: Verdict, theme: Theme) -> None:
    """Draw a tree as seen from far away: a dot in the verdict's colour, with a rim and a spot while there is room."""
    painter.save()
    colour, spot = dot_colours(verdict, theme)
    rimmed = radius_px >= 2.2
    if verdict is Verdict.UNSURE and not rimmed:
        colour = theme.ink
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, radius_px > 1.0)
    painter.setPen(QPen(QColor(theme.ink), 0.9) if rimmed else Qt.PenStyle.NoPen)
    painter.setBrush(QColor(colour))
    if radius_px <= 1.0:
        painter.drawRect(QRectF(centre.x() - radius_px, centre.y() - radius_px, 2 * radius_px, 2 * radius_px))
    else:
        painter.drawEllipse(centre, radius_px - 0.45 * rimmed, radius_px - 0.45 * rimmed)
    if spot is not None and rimmed:
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(spot))
        painter.drawEllipse(centre, 0.38 * radius_px, 0.38 * radius_px)
    painter.restore()


def dial_icon(verdict: Verdict, size: int, theme: Theme, dpr: float = 1.0, rest: float = 0.5) -> QPixmap:
    """Return a dial for a list, a table or a legend.

    Parameters
    ----------
    size
        Side of the square picture in logical pixels.
    dpr
        Device pixels a logical one.
    rest
        What the ring of a resting tree shows, 0 up to 1.
    """
    picture = QPixmap(round(size * dpr), round(size * dpr))
    picture.setDevicePixelRatio(dpr)
    picture.fill(Qt.GlobalColor.transparent)
    painter = QPainter(picture)
    paint_dial(painter, QPointF(size / 2, size / 2), size / 2 - OUTLINE_PX, verdict, theme, rest, halo=False)
    painter.end()
    return picture
