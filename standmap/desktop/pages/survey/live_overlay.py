"""Where the person stands, on the map: a mark, and around it the ellipse that holds the true place with 95 %."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QColor, QPainter, QPen, QPolygonF

from standmap.desktop.canvas.camera import Camera
from standmap.desktop.canvas.labels import Label, Rank
from standmap.desktop.canvas.spreads import ellipses
from standmap.desktop.theme import Theme
from standmap.desktop.words import tr
from standmap.jobs.live import Spot
from standmap.jobs.positions import xy
from standmap.survey.frame import WorkingFrame

MARK_PX = 8.0
HALO_PX = 2.5
RING_PX = 1.8
CROSS_PX = 4.0


class LiveOverlay:
    """Draws where the person stands; what is old is drawn open and dashed."""

    def __init__(self, scale: float = 1.0) -> None:
        self._scale = scale
        self._fresh = False
        self._at = np.full((1, 2), np.nan)
        self._ring = np.zeros((0, 2))

    def show(self, spot: Spot, frame: WorkingFrame, *, fresh: bool) -> None:
        """Draw this position from now on."""
        self._fresh = fresh
        self._at = xy(frame, [spot.at])
        self._ring = ellipses(self._at, np.array([spot.spread_m2]))[0]

    @property
    def at(self) -> tuple[float, float]:
        """Where the mark is, metres."""
        return float(self._at[0, 0]), float(self._at[0, 1])

    def paint(self, painter: QPainter, camera: Camera, theme: Theme) -> None:
        """Draw it."""
        if not np.isfinite(self._at).all():
            return
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        ring = QPolygonF([QPointF(x, y) for x, y in camera.to_screen(self._ring).tolist()])
        inside = QColor(theme.accent)
        inside.setAlphaF(0.10 if self._fresh else 0.0)
        style = Qt.PenStyle.SolidLine if self._fresh else Qt.PenStyle.DashLine
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.setPen(QPen(QColor(theme.ground), RING_PX + HALO_PX))
        painter.drawPolygon(ring)
        painter.setBrush(inside)
        painter.setPen(QPen(QColor(theme.accent), RING_PX, style))
        painter.drawPolygon(ring)
        x, y = camera.to_screen(self._at)[0].tolist()
        size = MARK_PX * self._scale
        painter.setPen(QPen(QColor(theme.ground), 2 * HALO_PX))
        painter.setBrush(QColor(theme.panel))
        painter.drawEllipse(QPointF(x, y), size, size)
        painter.setPen(QPen(QColor(theme.accent), HALO_PX))
        painter.drawEllipse(QPointF(x, y), size, size)
        arm = CROSS_PX * self._scale
        painter.drawLine(QPointF(x - arm, y), QPointF(x + arm, y))
        painter.drawLine(QPointF(x, y - arm), QPointF(x, y + arm))

    def labels(self, camera: Camera) -> Sequence[Label]:
        """Return what the mark is."""
        if not np.isfinite(self._at).all():
            return []
        x, y = camera.to_screen(self._at)[0].tolist()
        text = tr("you") if self._fresh else tr("you, a while ago")
        return [Label(text, x, y, (MARK_PX + HALO_PX) * self._scale, Rank.CHOSEN, strong=True)]
