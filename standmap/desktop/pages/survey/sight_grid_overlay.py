"""Sights on the map while they are typed: their lines, and the trees and stations that they lead to."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QColor, QPainter, QPen, QPolygonF

from standmap.desktop.canvas.camera import Camera
from standmap.desktop.canvas.labels import Label, Rank
from standmap.desktop.theme import Theme
from standmap.jobs.bring_items import Fate
from standmap.jobs.positions import xy
from standmap.jobs.sights import Looked
from standmap.survey.frame import WorkingFrame

POINT_PX = 6.0
STATION_PX = 5.0
HALO_PX = 2.0
LINE_PX = 1.6


class SightOverlay:
    """Draws what sights would bring."""

    def __init__(self, looked: Looked, frame: WorkingFrame, scale: float = 1.0) -> None:
        self._scale = scale
        courses = [(taken, taken.course) for taken in looked.taken if taken.course is not None]
        self._lines = [
            (xy(frame, course), taken.fate in (Fate.DOUBTFUL, Fate.REFUSED) and taken.left_out)
            for taken, course in courses
        ]
        self._trees = xy(frame, [t.at for t in looked.trees])
        self._stations = xy(frame, [p.at for p in looked.places])
        self._names = [*(t.name for t in looked.trees), *(p.name for p in looked.places)]

    @property
    def new_points(self) -> NDArray[np.float64]:
        """Where the new trees and stations are, metres, shape (n, 2)."""
        return np.concatenate([self._trees, self._stations])

    @property
    def names(self) -> Sequence[str]:
        """What they are called, in the order of `new_points`."""
        return self._names

    def paint(self, painter: QPainter, camera: Camera, theme: Theme) -> None:
        """Draw it."""
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        for places, doubted in self._lines:
            ends = QPolygonF([QPointF(x, y) for x, y in camera.to_screen(places).tolist()])
            style = Qt.PenStyle.DashLine if doubted else Qt.PenStyle.SolidLine
            painter.setPen(QPen(QColor(theme.ground), LINE_PX + 2 * HALO_PX))
            painter.drawPolyline(ends)
            painter.setPen(QPen(QColor(theme.error if doubted else theme.accent), LINE_PX, style))
            painter.drawPolyline(ends)
        painter.setPen(QPen(QColor(theme.ground), HALO_PX))
        painter.setBrush(QColor(theme.accent))
        for x, y in camera.to_screen(self._trees).tolist():
            painter.drawEllipse(QPointF(x, y), POINT_PX * self._scale, POINT_PX * self._scale)
        side = STATION_PX * self._scale
        for x, y in camera.to_screen(self._stations).tolist():
            corners = [(0.0, -1.3), (1.2, 0.8), (-1.2, 0.8)]
            painter.drawPolygon(QPolygonF([QPointF(x + side * a, y + side * b) for a, b in corners]))

    def labels(self, camera: Camera) -> Sequence[Label]:
        """Return the names of what is new."""
        px = camera.to_screen(self.new_points).tolist()
        clear = (POINT_PX + HALO_PX + 2.0) * self._scale
        return [
            Label(name, x, y, clear, Rank.CHOSEN, strong=True) for name, (x, y) in zip(self._names, px, strict=True)
        ]
