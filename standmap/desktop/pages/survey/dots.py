"""Thousands of items of a review as dots: drawn into one picture, which is kept until the view changes."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QPointF
from PySide6.QtGui import QColor, QImage, QPainter

from standmap.desktop.canvas.camera import Camera
from standmap.desktop.pages.survey.review_state import Review
from standmap.desktop.theme import Theme
from standmap.jobs.review import Fate

DOT_PX = {Fate.MATCHED: 3, Fate.NEW: 3, Fate.REFUSED: 3, Fate.DOUBTFUL: 6}
"""What asks for a look is larger, and drawn last."""


class Dots:
    """Draws items as squares in the colour of their fate."""

    def __init__(self, scale: float) -> None:
        self._scale = scale
        self._key: tuple[object, ...] = ()
        self._picture = QImage()
        self._pixels: NDArray[np.uint32] | None = None

    def paint(
        self,
        painter: QPainter,
        px: NDArray[np.float64],
        rows: NDArray[np.int64],
        review: Review,
        camera: Camera,
        theme: Theme,
    ) -> None:
        """Draw these rows of a review, which stand at `px` in the view, shape (n, 2) for all rows."""
        dpr = painter.device().devicePixelRatioF()
        key = (camera, theme.name, dpr)
        if key != self._key:
            self._key = key
            self._draw(px[rows] * dpr, review.fates[rows], camera, theme, dpr)
        painter.drawImage(QPointF(0, 0), self._picture)

    def _draw(
        self, at: NDArray[np.float64], fates: NDArray[np.uint8], camera: Camera, theme: Theme, dpr: float
    ) -> None:
        width, height = round(camera.width * dpr), round(camera.height * dpr)
        pixels = np.zeros((height, width), np.uint32)
        colours = {
            Fate.MATCHED: theme.second_ink,
            Fate.NEW: theme.accent,
            Fate.REFUSED: theme.second_ink,
            Fate.DOUBTFUL: theme.rest_ring,
        }
        for fate, size in DOT_PX.items():
            side = max(round(size * self._scale * dpr), 1)
            corner = np.round(at[fates == list(Fate).index(fate)] - side / 2).astype(np.int64)
            corner = corner[((corner >= 0) & (corner < (width - side, height - side))).all(axis=1)]
            for right in range(side):
                for down in range(side):
                    pixels[corner[:, 1] + down, corner[:, 0] + right] = QColor(colours[fate]).rgba()
        self._pixels = pixels  # the picture looks into this memory
        self._picture = QImage(pixels.data, width, height, 4 * width, QImage.Format.Format_ARGB32_Premultiplied)
        self._picture.setDevicePixelRatio(dpr)
