"""An adjustment on the map: from where each tree stands to where it lies best, and how sure that is."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QColor, QPainter, QPen

from standmap.desktop.canvas.camera import Camera
from standmap.desktop.canvas.labels import Label, Rank
from standmap.desktop.canvas.spreads import paint_spreads
from standmap.desktop.theme import Theme
from standmap.jobs.adjust_answer import Adjustment
from standmap.jobs.positions import xy

LINE_PX, HALO_PX, DOT_PX, RING_PX = 2.0, 2.0, 3.5, 12.0
SHORTEST_PX = 2.0
"""A shorter line would hide under its dot."""


class AdjustOverlay:
    """Draws an adjustment; `current` are the keys of the points that are looked at."""

    def __init__(self, adjustment: Adjustment, scale: float = 1.0) -> None:
        frame = adjustment.basis.frame
        points = adjustment.points
        self.current: tuple[str, ...] = ()
        self._scale = scale
        self._names = [p.name for p in points]
        self._row = {p.key: row for row, p in enumerate(points)}
        empty = np.zeros((0, 2))
        self.before = empty if frame is None else xy(frame, [p.before for p in points])
        self.at = empty if frame is None else xy(frame, [p.at for p in points])
        unknown = (np.nan, np.nan, np.nan)
        spreads = [p.covariance if p.covariance is not None else unknown for p in points]
        self._spreads = np.array(spreads, dtype=float).reshape(-1, 3)

    def places_of(self, keys: Sequence[str]) -> NDArray[np.float64]:
        """Return where points lie best, metres, shape (n, 2)."""
        return self.at[[self._row[key] for key in keys if key in self._row]]

    def paint(self, painter: QPainter, camera: Camera, theme: Theme) -> None:
        """Draw it."""
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        paint_spreads(painter, self.at, self._spreads, camera, theme)
        starts, ends = camera.to_screen(self.before), camera.to_screen(self.at)
        with np.errstate(invalid="ignore"):
            inside = (ends > -50).all(axis=1) & (ends[:, 0] < camera.width + 50) & (ends[:, 1] < camera.height + 50)
            moves = np.hypot(*(ends - starts).T) >= SHORTEST_PX
        rows = np.flatnonzero(inside & moves).tolist()
        lines = [(QPointF(*starts[row].tolist()), QPointF(*ends[row].tolist())) for row in rows]
        for colour, width in ((theme.ground, LINE_PX + 2 * HALO_PX), (theme.accent, LINE_PX)):
            painter.setPen(QPen(QColor(colour), width * self._scale, Qt.PenStyle.SolidLine, Qt.PenCapStyle.RoundCap))
            for start, end in lines:
                painter.drawLine(start, end)
        dot = DOT_PX * self._scale
        painter.setPen(QPen(QColor(theme.ground), 1.5))
        painter.setBrush(QColor(theme.accent))
        for _, end in lines:
            painter.drawEllipse(end, dot, dot)
        self._paint_current(painter, ends, theme)

    def _paint_current(self, painter: QPainter, ends: NDArray[np.float64], theme: Theme) -> None:
        at = [QPointF(*ends[self._row[key]].tolist()) for key in self.current if key in self._row]
        painter.setBrush(Qt.BrushStyle.NoBrush)
        ring = RING_PX * self._scale
        for colour, width in ((theme.ground, 4.6), (theme.ink, 2.0)):
            painter.setPen(QPen(QColor(colour), width * self._scale))
            for start, end in pairwise(at):
                painter.drawLine(start, end)
            for place in at:
                painter.drawEllipse(place, ring, ring)

    def labels(self, camera: Camera) -> Sequence[Label]:
        """Return the names of the points that are looked at."""
        px = camera.to_screen(self.at).tolist()
        rows = [self._row[key] for key in self.current if key in self._row]
        clear = (RING_PX + 3) * self._scale
        return [Label(self._names[row], px[row][0], px[row][1], clear, Rank.CHOSEN, strong=True) for row in rows]
