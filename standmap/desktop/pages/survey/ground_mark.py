"""The thing of the ground that is looked at, marked on the map."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QColor, QPainter, QPen, QPolygonF

from standmap.desktop.canvas.camera import Camera
from standmap.desktop.canvas.labels import Label
from standmap.desktop.theme import Theme
from standmap.jobs.ground_by_hand import Ground
from standmap.jobs.positions import xy
from standmap.stand.ground import Line, Place
from standmap.survey.frame import WorkingFrame

RING_PX = 16.0


class GroundMark:
    """A ring about a place, or a line of ink along a line or round an area."""

    def __init__(self, thing: Ground, frame: WorkingFrame) -> None:
        points = (
            [thing.at] if isinstance(thing, Place) else thing.course if isinstance(thing, Line) else thing.outline[0]
        )
        places = xy(frame, points)
        self.places: NDArray[np.float64] = places[np.isfinite(places).all(axis=1)]

    def paint(self, painter: QPainter, camera: Camera, theme: Theme) -> None:
        """Draw it."""
        px = [QPointF(x, y) for x, y in camera.to_screen(self.places).tolist()]
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        for colour, width in ((theme.ground, 5.0), (theme.ink, 2.2)):
            painter.setPen(QPen(QColor(colour), width))
            if len(px) == 1:
                painter.drawEllipse(px[0], RING_PX, RING_PX)
            else:
                painter.drawPolyline(QPolygonF(px))

    def labels(self, camera: Camera) -> Sequence[Label]:
        """Return no labels: the ground has its own."""
        del camera
        return ()
