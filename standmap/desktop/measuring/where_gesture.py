"""Asking where a point is: a click marks it, the arrow keys and everything else stay the map's own."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QKeyEvent, QMouseEvent, QPainter

from standmap.desktop.canvas.camera import Camera, Margins
from standmap.desktop.canvas.canvas import MapCanvas
from standmap.desktop.measuring.click_or_push import ClickOrPush
from standmap.desktop.measuring.measure import Point
from standmap.desktop.measuring.note import draw_hint, halo_pen, ink_pen
from standmap.desktop.measuring.told import where_hint
from standmap.desktop.theme import Theme

ARM_PX = 12.0
GAP_PX = 4.0


class WhereGesture:
    """Marks the point that is asked about with a cross.

    Parameters
    ----------
    asked
        Called with the row of the tree that was hit, or None, and the point in metres.
    ended
        Called when the gesture is to be taken off the map.
    margins
        Returns what floats over the map.
    """

    cursor = Qt.CursorShape.CrossCursor

    def __init__(
        self, asked: Callable[[int | None, Point], object], ended: Callable[[], object], margins: Callable[[], Margins]
    ) -> None:
        self.point: Point | None = None
        self._pointer = ClickOrPush()
        self._margins = margins
        self._asked = asked
        self._ended = ended

    def press(self, event: QMouseEvent, canvas: MapCanvas) -> bool:
        """Take the left button: a click asks, a drag pushes the map."""
        del canvas
        return self._pointer.press(event)

    def move(self, event: QMouseEvent, canvas: MapCanvas) -> bool:
        """Push the map while the button is down."""
        self._pointer.move(event, canvas)
        return bool(event.buttons() & Qt.MouseButton.LeftButton)

    def release(self, event: QMouseEvent, canvas: MapCanvas) -> bool:
        """Ask about the point that was clicked."""
        if event.button() is not Qt.MouseButton.LeftButton:
            return False
        clicked = self._pointer.release()
        if clicked is not None:
            self._ask(clicked, canvas)
        return True

    def double(self, event: QMouseEvent, canvas: MapCanvas) -> bool:
        """Take a second click as the same question."""
        del canvas
        return event.button() is Qt.MouseButton.LeftButton

    def key(self, event: QKeyEvent, canvas: MapCanvas) -> bool:
        """End on Escape; Enter and Space ask about the middle of the free part of the map."""
        match event.key():
            case Qt.Key.Key_Escape:
                self._ended()
            case Qt.Key.Key_Return | Qt.Key.Key_Enter | Qt.Key.Key_Space:
                self._ask(QPointF(*canvas.free_middle()), canvas)
            case _:
                return False
        canvas.update()
        return True

    def _ask(self, at: QPointF, canvas: MapCanvas) -> None:
        self.point = canvas.camera.point_to_world(at.x(), at.y())
        self._asked(canvas.tree_at(at), self.point)
        canvas.update()

    def paint(self, painter: QPainter, camera: Camera, theme: Theme) -> None:
        """Draw the cross."""
        if self.point is None:
            draw_hint(painter, where_hint(), camera, self._margins(), theme)
            return
        x, y = camera.point_to_screen(*self.point)
        painter.save()
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        for pen in (halo_pen(theme, 2.0), ink_pen(theme, 2.0)):
            painter.setPen(pen)
            for dx, dy in ((1, 0), (-1, 0), (0, 1), (0, -1)):
                painter.drawLine(QPointF(x + dx * GAP_PX, y + dy * GAP_PX), QPointF(x + dx * ARM_PX, y + dy * ARM_PX))
        painter.restore()
