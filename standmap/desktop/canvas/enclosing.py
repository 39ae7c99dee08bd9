"""Gestures that choose many trees: a rectangle, or a line drawn round them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QColor, QKeyEvent, QMouseEvent, QPainter, QPen, QPolygonF

from standmap.desktop.canvas.camera import Camera
from standmap.desktop.theme import Theme

if TYPE_CHECKING:
    from standmap.desktop.canvas.canvas import MapCanvas

ADDING = Qt.KeyboardModifier.ControlModifier
"""Held at the end, what is enclosed is added to what was chosen."""


class Lasso:
    """Chooses the trees inside a line drawn with the pointer.

    Parameters
    ----------
    once
        Lent to the map for one use: it takes itself off when it has chosen, or on Escape.
    """

    cursor = Qt.CursorShape.CrossCursor

    def __init__(self, *, once: bool = False) -> None:
        self._points: list[QPointF] = []
        self._once = once

    def begin(self, at: QPointF) -> None:
        """Start at a place of the view."""
        self._points = [at]

    def _extend(self, at: QPointF) -> None:
        if (at - self._points[-1]).manhattanLength() >= 2:
            self._points.append(at)

    def outline(self) -> list[QPointF]:
        """Return the corners of what is enclosed so far, logical pixels."""
        return self._points

    def press(self, event: QMouseEvent, canvas: MapCanvas) -> bool:
        """Begin to draw."""
        del canvas
        if event.button() is not Qt.MouseButton.LeftButton:
            return False
        self.begin(event.position())
        return True

    def move(self, event: QMouseEvent, canvas: MapCanvas) -> bool:
        """Draw on."""
        if not self._points:
            return False
        self._extend(event.position())
        canvas.update()
        return True

    def release(self, event: QMouseEvent, canvas: MapCanvas) -> bool:
        """Choose what is inside."""
        if not self._points:
            return False
        self._extend(event.position())
        outline = np.array([(p.x(), p.y()) for p in self.outline()], float).reshape(-1, 2)
        self._points = []
        canvas.choose_inside(outline, add=bool(event.modifiers() & ADDING))
        if self._once:
            canvas.lend(None)
        return True

    def double(self, event: QMouseEvent, canvas: MapCanvas) -> bool:
        """Leave double clicks alone."""
        del event, canvas
        return False

    def key(self, event: QKeyEvent, canvas: MapCanvas) -> bool:
        """Give up on Escape."""
        if event.key() != Qt.Key.Key_Escape or not (self._points or self._once):
            return False
        self._points = []
        if self._once:
            canvas.lend(None)
        canvas.update()
        return True

    def paint(self, painter: QPainter, camera: Camera, theme: Theme) -> None:
        """Draw the outline so far."""
        del camera
        shape = QPolygonF(self.outline())
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        tint = QColor(theme.accent)
        tint.setAlphaF(0.10)
        painter.setBrush(tint)
        for colour, width in ((theme.ground, 3.5), (theme.accent, 1.5)):
            painter.setPen(QPen(QColor(colour), width))
            painter.drawPolygon(shape)
            painter.setBrush(Qt.BrushStyle.NoBrush)


class Rectangle(Lasso):
    """Chooses the trees inside a rectangle from corner to corner."""

    def _extend(self, at: QPointF) -> None:
        self._points = [self._points[0], at]

    def outline(self) -> list[QPointF]:
        """Return the four corners, logical pixels."""
        if len(self._points) < 2:
            return self._points
        a, b = self._points
        return [a, QPointF(b.x(), a.y()), b, QPointF(a.x(), b.y())]
