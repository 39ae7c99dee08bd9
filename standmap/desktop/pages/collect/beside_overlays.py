"""What is shown on the map below a walk: the track that was walked, and the place that is looked at."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from PySide6.QtCore import QLineF, QPointF, Qt
from PySide6.QtGui import QColor, QPainter, QPen

from standmap.desktop.canvas.camera import Camera
from standmap.desktop.canvas.courses import Course
from standmap.desktop.canvas.labels import Label, Rank
from standmap.desktop.theme import Theme

TRACK_PX = 1.2
RING_PX = 16.0
TICK_PX = 6.0


@dataclass(frozen=True, eq=False)
class TrackOverlay:
    """A recorded walk as a thin dotted line; the plan stands over it."""

    course: Course
    scale: float = 1.0

    def paint(self, painter: QPainter, camera: Camera, theme: Theme) -> None:
        """Draw it."""
        points = self.course.on_screen(camera).tolist()
        pen = QPen(QColor(theme.second_ink), TRACK_PX * self.scale)
        pen.setCapStyle(Qt.PenCapStyle.FlatCap)
        pen.setDashPattern([2.0, 2.0])
        painter.setPen(pen)
        painter.drawLines([QLineF(*a, *b) for a, b in pairwise(points)])

    def labels(self, camera: Camera) -> Sequence[Label]:
        """Return none: the stops of the plan have numbers."""
        del camera
        return ()


@dataclass(frozen=True, slots=True)
class PlaceOverlay:
    """A place that is looked at: a ring with four short ticks, and its name where the map does not say it."""

    x: float
    y: float
    name: str
    scale: float = 1.0

    def paint(self, painter: QPainter, camera: Camera, theme: Theme) -> None:
        """Draw it, with a halo of ground colour."""
        x, y = camera.to_screen(np.array([[self.x, self.y]]))[0].tolist()
        ring, tick = RING_PX * self.scale, TICK_PX * self.scale
        ticks = [
            QLineF(x + ring * dx, y + ring * dy, x + (ring + tick) * dx, y + (ring + tick) * dy)
            for dx, dy in ((1, 0), (-1, 0), (0, 1), (0, -1))
        ]
        painter.setBrush(Qt.BrushStyle.NoBrush)
        for colour, width in ((theme.ground, 5.0), (theme.ink, 2.0)):
            painter.setPen(QPen(QColor(colour), width * self.scale))
            painter.drawEllipse(QPointF(x, y), ring, ring)
            painter.drawLines(ticks)

    def labels(self, camera: Camera) -> Sequence[Label]:
        """Return its name."""
        if not self.name:
            return ()
        x, y = camera.to_screen(np.array([[self.x, self.y]]))[0].tolist()
        return [Label(self.name, x, y, (RING_PX + TICK_PX) * self.scale, Rank.STOP)]
