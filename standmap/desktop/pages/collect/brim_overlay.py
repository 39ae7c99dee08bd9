"""Vessels that may run over, on the map: a ring open above round the dial of the tree, and how likely it is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPen

from standmap.desktop.canvas.camera import Camera, FloatArray
from standmap.desktop.canvas.labels import Label, Rank
from standmap.desktop.theme import Theme

RING_PX = 15.0
INK_PX, HALO_PX = 2.0, 5.0
OPEN_DEG = 100
TURN = 16
"""Qt counts sixteenths of a degree."""

MOST_TOLD = 200


@dataclass(frozen=True, eq=False)
class BrimOverlay:
    """Trees at these places, metres, shape (n, 2), each with what is told of it."""

    at: FloatArray
    told: tuple[str, ...]
    scale: float = 1.0

    def paint(self, painter: QPainter, camera: Camera, theme: Theme) -> None:
        """Draw the rings, with a halo of ground colour."""
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        ring = RING_PX * self.scale
        begin, span = 90 + OPEN_DEG // 2, 360 - OPEN_DEG
        boxes = [QRectF(x - ring, y - ring, 2 * ring, 2 * ring) for x, y in camera.to_screen(self.at).tolist()]
        for colour, width in ((theme.ground, HALO_PX), (theme.ink, INK_PX)):
            pen = QPen(QColor(colour), width * self.scale)
            pen.setCapStyle(Qt.PenCapStyle.RoundCap)
            painter.setPen(pen)
            for box in boxes:
                painter.drawArc(box, begin * TURN, span * TURN)

    def labels(self, camera: Camera) -> Sequence[Label]:
        """Return how likely each runs over, the likeliest first."""
        places = camera.to_screen(self.at).tolist()[:MOST_TOLD]
        radius = RING_PX * self.scale
        return [
            Label(text, x, y, radius, Rank.STOP, strong=True) for text, (x, y) in zip(self.told, places, strict=False)
        ]
