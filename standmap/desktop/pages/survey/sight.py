"""Small things that this page asks of the map."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QKeyEvent, QMouseEvent, QPainter

from standmap.desktop.canvas.camera import Camera
from standmap.desktop.canvas.canvas import MapCanvas
from standmap.desktop.theme import Theme

STILL_PX = 4.0
"""A pointer that moves less than this between press and release has clicked."""


def bring_into_sight(canvas: MapCanvas, places: NDArray[np.float64]) -> None:
    """Show positions, metres, shape (n, 2), in the part of the map that nothing floats over."""
    canvas.look(canvas.camera.fitted(places, canvas.margins))


class PickGesture:
    """Tells of each click and leaves it to the map as well: trees can be chosen as ever.

    Parameters
    ----------
    clicked
        Called with metres east and north and with the key of the tree that was hit, if one was.
    """

    cursor = Qt.CursorShape.ArrowCursor

    def __init__(self, clicked: Callable[[tuple[float, float], str | None], object]) -> None:
        self._clicked = clicked
        self._pressed: QPointF | None = None

    def press(self, event: QMouseEvent, canvas: MapCanvas) -> bool:
        """Note where the button went down."""
        del canvas
        self._pressed = event.position() if event.button() == Qt.MouseButton.LeftButton else None
        return False

    def move(self, event: QMouseEvent, canvas: MapCanvas) -> bool:
        """Leave it to the map."""
        del event, canvas
        return False

    def release(self, event: QMouseEvent, canvas: MapCanvas) -> bool:
        """Tell of a click."""
        pressed, self._pressed = self._pressed, None
        if pressed is not None and (event.position() - pressed).manhattanLength() <= STILL_PX:
            row = canvas.tree_at(event.position())
            here = canvas.camera.point_to_world(event.position().x(), event.position().y())
            self._clicked(here, None if row is None else canvas.scene.trees.keys[row])
        return False

    def double(self, event: QMouseEvent, canvas: MapCanvas) -> bool:
        """Leave it to the map."""
        del event, canvas
        return False

    def key(self, event: QKeyEvent, canvas: MapCanvas) -> bool:
        """Leave it to the map."""
        del event, canvas
        return False

    def paint(self, painter: QPainter, camera: Camera, theme: Theme) -> None:
        """Draw nothing."""
