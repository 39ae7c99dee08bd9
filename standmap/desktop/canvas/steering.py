"""How the view is moved: wheel, touchpad, pinch, drag and keys."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import TYPE_CHECKING

from PySide6.QtCore import QEvent, QPointF, Qt
from PySide6.QtGui import QInputDevice, QKeyEvent, QNativeGestureEvent, QWheelEvent
from PySide6.QtWidgets import QGestureEvent, QPinchGesture

from standmap.desktop.canvas.camera import Camera
from standmap.desktop.canvas.motion import Glide

if TYPE_CHECKING:
    from standmap.desktop.canvas.canvas import MapCanvas

NOTCH_DEG8 = 120.0
"""What a wheel tells for one notch, eighths of a degree."""

NOTCH_FACTOR = 1.25
KEY_FACTOR = 1.5
KEY_PAN_PX = 80.0
KEY_TURN_DEG = 15.0


class Steering:
    """Moves the view of one map; every way of doing so ends in `MapCanvas.look`."""

    def __init__(self, canvas: MapCanvas) -> None:
        self._canvas = canvas
        self._glide = Glide(canvas)
        self._goal: Camera | None = None
        self._dragged_from: QPointF | None = None
        self._zoom_left = 0.0
        self._keys: dict[int, Callable[[], object]] = {
            Qt.Key.Key_Left: lambda: self.push(KEY_PAN_PX, 0),
            Qt.Key.Key_Right: lambda: self.push(-KEY_PAN_PX, 0),
            Qt.Key.Key_Up: lambda: self.push(0, KEY_PAN_PX),
            Qt.Key.Key_Down: lambda: self.push(0, -KEY_PAN_PX),
            Qt.Key.Key_Plus: lambda: self.zoom(KEY_FACTOR),
            Qt.Key.Key_Equal: lambda: self.zoom(KEY_FACTOR),
            Qt.Key.Key_Minus: lambda: self.zoom(1 / KEY_FACTOR),
            Qt.Key.Key_Home: canvas.fit,
            Qt.Key.Key_0: canvas.fit,
            Qt.Key.Key_BracketLeft: lambda: self.turn(self.goal.turn_deg + KEY_TURN_DEG),
            Qt.Key.Key_BracketRight: lambda: self.turn(self.goal.turn_deg - KEY_TURN_DEG),
        }

    def set_calm(self, calm: bool) -> None:
        """Let the view change at once."""
        self._glide.calm = calm

    @property
    def goal(self) -> Camera:
        """The view that is being gone to, or the one that is shown."""
        return self._goal if self._goal is not None and self._glide.running else self._canvas.camera

    @property
    def gliding(self) -> bool:
        """Whether the view is on its way to another one."""
        return self._glide.running

    # Going somewhere

    def go(self, goal: Camera, *, animated: bool = True) -> None:
        """Go to another view."""
        start = self._canvas.camera
        self._goal = goal
        self._zoom_left = 0.0
        self._glide.go(lambda part: self._canvas.look(start.toward(goal, part)), animated=animated)

    def stop(self) -> None:
        """Stay where the view is now."""
        self._glide.stop()
        self._goal = None
        self._zoom_left = 0.0

    def push(self, right_px: float, down_px: float) -> None:
        """Push the map by so many pixels."""
        self.go(self.goal.panned(right_px, down_px))

    def zoom(self, factor: float, at: tuple[float, float] | None = None) -> None:
        """Go nearer or farther about a place of the view, its free middle where none is told."""
        self._zoom_gently(math.log(factor), at if at is not None else self._canvas.free_middle())

    def turn(self, bearing_deg: float) -> None:
        """Turn the map until this grid bearing points up, about its free middle."""
        start = self._canvas.camera
        middle = self._canvas.free_middle()
        by = (bearing_deg - start.turn_deg + 180.0) % 360.0 - 180.0
        self._goal = start.turned(bearing_deg, middle)
        self._zoom_left = 0.0
        self._glide.go(lambda part: self._canvas.look(start.turned(start.turn_deg + by * part, middle)))

    def _zoom_gently(self, by: float, at: tuple[float, float]) -> None:
        """Zoom by a logarithm; what was still to be zoomed is added, so that no notch of the wheel is lost."""
        start = self._canvas.camera
        total = by + (self._zoom_left if self._glide.running else 0.0)

        def step(part: float) -> None:
            self._zoom_left = total * (1 - part)
            self._canvas.look(start.zoomed(math.exp(total * part), at))

        self._goal, self._zoom_left = start.zoomed(math.exp(total), at), total
        self._glide.go(step)

    # Wheel and touch

    def wheel(self, event: QWheelEvent) -> None:
        """Zoom about the pointer with a wheel; push the map with two fingers on a touchpad, zoom with Ctrl held."""
        at = (event.position().x(), event.position().y())
        device = event.device()
        touchpad = device.type() is QInputDevice.DeviceType.TouchPad
        pixels = event.pixelDelta()
        if touchpad and not pixels.isNull():
            self.stop()
            if event.modifiers() & Qt.KeyboardModifier.ControlModifier:
                self._canvas.look(self._canvas.camera.zoomed(math.exp(pixels.y() / 200.0), at))
            else:
                self._canvas.look(self._canvas.camera.panned(pixels.x(), pixels.y()))
        else:
            delta = event.angleDelta()
            notches = (delta.y() or delta.x()) / NOTCH_DEG8
            self._zoom_gently(notches * math.log(NOTCH_FACTOR), at)
        event.accept()

    def native(self, event: QNativeGestureEvent) -> bool:
        """Follow a pinch or a turn of two fingers on a touchpad; return whether it was one."""
        at = (event.position().x(), event.position().y())
        camera = self._canvas.camera
        match event.gestureType():
            case Qt.NativeGestureType.ZoomNativeGesture:
                self.stop()
                self._canvas.look(camera.zoomed(max(1 + event.value(), 0.1), at))
            case Qt.NativeGestureType.RotateNativeGesture:
                self.stop()
                self._canvas.look(camera.turned(camera.turn_deg + event.value(), at))
            case _:
                return False
        return True

    def pinch(self, event: QGestureEvent) -> bool:
        """Follow two fingers on a touch screen; return whether there were any."""
        pinch = event.gesture(Qt.GestureType.PinchGesture)
        if not isinstance(pinch, QPinchGesture):
            return False
        self.stop()
        middle = self._canvas.mapFromGlobal(pinch.centerPoint())
        before = self._canvas.mapFromGlobal(pinch.lastCenterPoint())
        camera = self._canvas.camera.panned(middle.x() - before.x(), middle.y() - before.y())
        at = (middle.x(), middle.y())
        camera = camera.zoomed(pinch.scaleFactor() or 1.0, at)
        by = pinch.rotationAngle() - pinch.lastRotationAngle()
        self._canvas.look(camera.turned(camera.turn_deg - by, at))
        event.accept()
        return True

    # Dragging

    @property
    def dragging(self) -> bool:
        """Whether the map is being dragged."""
        return self._dragged_from is not None

    def begin_drag(self, at: QPointF) -> None:
        """Take hold of the map."""
        self.stop()
        self._dragged_from = at

    def drag(self, at: QPointF) -> None:
        """Drag the map along."""
        if self._dragged_from is not None:
            gone = at - self._dragged_from
            self._dragged_from = at
            self._canvas.look(self._canvas.camera.panned(gone.x(), gone.y()))

    def end_drag(self) -> None:
        """Let go of the map."""
        self._dragged_from = None

    # Keys

    def knows(self, event: QKeyEvent) -> bool:
        """Return whether a key moves the view."""
        plain = event.modifiers() & ~(Qt.KeyboardModifier.KeypadModifier | Qt.KeyboardModifier.ShiftModifier)
        return not plain and event.key() in self._keys

    def key(self, event: QKeyEvent) -> bool:
        """Move the view by a key; return whether it was one of those."""
        if event.type() != QEvent.Type.KeyPress or not self.knows(event):
            return False
        self._keys[event.key()]()
        return True
