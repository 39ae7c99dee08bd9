"""Which trees have work that is overdue, on the map: a small ink pennant beside the dial."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QPointF
from PySide6.QtGui import QColor, QPainter, QPen, QPolygonF

from standmap.desktop.canvas.camera import Camera
from standmap.desktop.canvas.labels import Label
from standmap.desktop.theme import Theme

POLE_PX = 16.0
CLOTH_PX = 7.0


class DueMarks:
    """Pennants at positions in metres, shape (n, 2)."""

    def __init__(self, xy: NDArray[np.float64]) -> None:
        self._xy = xy[np.isfinite(xy).all(axis=1)] if len(xy) else xy.reshape(-1, 2)

    def paint(self, painter: QPainter, camera: Camera, theme: Theme) -> None:
        """Draw those in sight, with a halo of ground colour so that they stand out over anything."""
        if not len(self._xy):
            return
        places = camera.to_screen(self._xy)
        seen = (
            (places[:, 0] > -POLE_PX)
            & (places[:, 0] < camera.width + POLE_PX)
            & (places[:, 1] > -POLE_PX)
            & (places[:, 1] < camera.height + POLE_PX)
        )
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        for colour, width in ((theme.ground, 4.0), (theme.ink, 1.4)):
            painter.setPen(QPen(QColor(colour), width))
            painter.setBrush(QColor(theme.ink))
            for x, y in places[seen]:
                foot, top = QPointF(x - 5, y - 6), QPointF(x - 5, y - 6 - POLE_PX)
                painter.drawLine(foot, top)
                painter.drawPolygon(
                    QPolygonF([top, top + QPointF(-CLOTH_PX, CLOTH_PX / 2), top + QPointF(0, CLOTH_PX)])
                )

    def labels(self, camera: Camera) -> Sequence[Label]:
        """Return no labels: the trees have their own."""
        del camera
        return ()
