"""A click sets a point, a drag pushes the map: so that nobody must leave a measure to see more ground."""

from __future__ import annotations

from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QGuiApplication, QMouseEvent

from standmap.desktop.canvas.canvas import MapCanvas


class ClickOrPush:
    """Tells a click of the left button from a drag with it, which pushes the map."""

    def __init__(self) -> None:
        self._pressed: QPointF | None = None
        self._pushing = False

    def press(self, event: QMouseEvent) -> bool:
        """Take the left button going down."""
        if event.button() is not Qt.MouseButton.LeftButton:
            return False
        self._pressed, self._pushing = event.position(), False
        return True

    def move(self, event: QMouseEvent, canvas: MapCanvas) -> bool:
        """Push the map while the button is down; return whether it is being pushed."""
        if self._pressed is None or not event.buttons() & Qt.MouseButton.LeftButton:
            return False
        gone = event.position() - self._pressed
        if not self._pushing and gone.manhattanLength() < QGuiApplication.styleHints().startDragDistance():
            return False
        self._pushing, self._pressed = True, event.position()
        canvas.look(canvas.camera.panned(gone.x(), gone.y()))
        return True

    def release(self) -> QPointF | None:
        """Return where it was clicked; None after a drag, or when the button had not gone down here."""
        clicked = None if self._pushing else self._pressed
        self._pressed, self._pushing = None, False
        return clicked
