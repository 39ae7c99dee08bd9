"""What pointer and keyboard mean on the map: choosing trees, dragging, and the gesture that a page has set."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QGuiApplication, QKeyEvent, QMouseEvent, QPainter

from standmap.desktop.canvas.camera import Camera
from standmap.desktop.canvas.enclosing import Lasso, Rectangle
from standmap.desktop.canvas.overlay import Gesture, TakesKeysFirst
from standmap.desktop.canvas.picking import next_tree
from standmap.desktop.canvas.steering import Steering
from standmap.desktop.theme import Theme

if TYPE_CHECKING:
    from standmap.desktop.canvas.canvas import MapCanvas

Key, Modifier, Button = Qt.Key, Qt.KeyboardModifier, Qt.MouseButton

ADDING = Modifier.ShiftModifier | Modifier.ControlModifier
"""Either of them held, a click adds to what is chosen."""

STEPS = {Key.Key_Left: (-1, 0), Key.Key_Right: (1, 0), Key.Key_Up: (0, -1), Key.Key_Down: (0, 1)}
STILL_PX = 4.0
"""A click no farther from the last one is on the same spot."""

EDGE_PX = 60.0
"""A tree stepped to nearer to the edge of the free part is brought into its middle."""


class Pointing:
    """Gives pointer and keys of one map their meaning."""

    def __init__(self, canvas: MapCanvas, steering: Steering) -> None:
        self._canvas = canvas
        self._steering = steering
        self._set: Gesture | None = None
        self._lent: Gesture | None = None
        self._enclosing: Lasso | None = None
        self._pressed: QPointF | None = None
        self._clicked: tuple[QPointF, Camera] | None = None
        self._doubled = False

    @property
    def gesture(self) -> Gesture | None:
        """The gesture that comes first."""
        return self._lent or self._set

    def set_gesture(self, gesture: Gesture | None) -> None:
        """Set another gesture; one that is lent still comes before it."""
        self._set = gesture
        self._begin_anew()

    def lend(self, gesture: Gesture | None) -> bool:
        """Let a gesture come before the one that is set; return whether that ends another one that was lent."""
        before, self._lent = self._lent, gesture
        self._begin_anew()
        return before is not None and before is not gesture

    def _begin_anew(self) -> None:
        self._enclosing = self._pressed = None
        self._steering.end_drag()
        self._set_cursor(over_tree=False)
        self._canvas.update()

    def paint(self, painter: QPainter, camera: Camera, theme: Theme) -> None:
        """Draw what is being done."""
        for gesture in (self._set, self._lent, self._enclosing):
            if gesture is not None:
                painter.save()
                gesture.paint(painter, camera, theme)
                painter.restore()

    # Pointer

    def press(self, event: QMouseEvent) -> None:
        """Begin a click, a drag or a gesture."""
        if self.gesture is not None and self.gesture.press(event, self._canvas):
            return
        if event.button() is Button.MiddleButton:
            self._grab(event.position())
        elif event.button() is Button.LeftButton:
            self._pressed = event.position()

    def move(self, event: QMouseEvent) -> None:
        """Go on with it, or point at what lies there."""
        if self.gesture is not None and self.gesture.move(event, self._canvas):
            return
        at = event.position()
        if self._enclosing is not None:
            self._enclosing.move(event, self._canvas)
        elif self._steering.dragging:
            self._steering.drag(at)
        elif self._pressed is not None:
            far = QGuiApplication.styleHints().startDragDistance()
            if (at - self._pressed).manhattanLength() >= far:
                self._begin_drag(event, self._pressed)
        elif event.buttons() == Button.NoButton:
            row = self._canvas.tree_at(at)
            if row != self._canvas.scene.hovered:
                self._canvas.point_at(row, hovering=True)
                self._set_cursor(over_tree=row is not None)

    def _begin_drag(self, event: QMouseEvent, start: QPointF) -> None:
        self._pressed = None
        held = event.modifiers()
        if held & (Modifier.ShiftModifier | Modifier.AltModifier):
            self._enclosing = Rectangle() if held & Modifier.ShiftModifier else Lasso()
            self._enclosing.begin(start)
            self._enclosing.move(event, self._canvas)
        else:
            self._grab(start)
            self._steering.drag(event.position())

    def _grab(self, at: QPointF) -> None:
        self._steering.begin_drag(at)
        if self._canvas.scene.hovered is not None:
            self._canvas.point_at(None, hovering=True)
        self._canvas.setCursor(Qt.CursorShape.ClosedHandCursor)

    def release(self, event: QMouseEvent) -> None:
        """Finish a drag or a gesture, or choose what was clicked."""
        if self.gesture is not None and self.gesture.release(event, self._canvas):
            return
        if self._enclosing is not None:
            enclosing, self._enclosing = self._enclosing, None
            enclosing.release(event, self._canvas)
        elif self._steering.dragging:
            self._steering.end_drag()
            self._set_cursor(over_tree=False)
        elif self._pressed is not None and event.button() is Button.LeftButton:
            self._pressed = None
            self._click(event)

    def double(self, event: QMouseEvent) -> None:
        """Give a double click to the gesture; else it is one more press."""
        if self.gesture is None or not self.gesture.double(event, self._canvas):
            self._doubled = True
            self.press(event)

    def _click(self, event: QMouseEvent) -> None:
        adding = bool(event.modifiers() & ADDING)
        row = self._clicked_tree(event.position(), onward=not adding and not self._doubled)
        self._doubled = False
        self._canvas.point_at(None)
        if row is not None:
            self._canvas.tree_clicked.emit(self._canvas.scene.trees.keys[row], adding)
            return
        lonlat = self._canvas.lonlat_at(event.position())
        if lonlat is not None:
            self._canvas.ground_clicked.emit(*lonlat)

    def _clicked_tree(self, at: QPointF, *, onward: bool) -> int | None:
        """Return the tree that a click is meant for: where dials lie on each other, a further click takes the next."""
        rows, chosen, before = self._canvas.trees_at(at), self._canvas.scene.chosen, self._clicked
        self._clicked = (at, self._canvas.camera)
        again = (
            before is not None and before[1] == self._canvas.camera and (before[0] - at).manhattanLength() <= STILL_PX
        )
        if again and len(chosen) == 1 and chosen[0] in rows:
            return rows[(rows.index(chosen[0]) + onward) % len(rows)]
        return rows[0] if rows else None

    def _set_cursor(self, *, over_tree: bool) -> None:
        if self.gesture is not None:
            self._canvas.setCursor(self.gesture.cursor)
        elif over_tree:
            self._canvas.setCursor(Qt.CursorShape.PointingHandCursor)
        else:
            self._canvas.unsetCursor()

    # Keys

    def knows(self, event: QKeyEvent) -> bool:
        """Return whether a key means something here, so that it must not become a shortcut elsewhere."""
        gesture = self.gesture
        if isinstance(gesture, TakesKeysFirst) and gesture.takes_first(event):
            return True
        alone = event.modifiers() & ~Modifier.KeypadModifier == Modifier.NoModifier
        stepping = event.key() in STEPS and bool(event.modifiers() & Modifier.AltModifier)
        choosing = alone and event.key() in (Key.Key_Return, Key.Key_Enter, Key.Key_Space)
        leaving = alone and event.key() == Key.Key_Escape and self._has_something_to_leave()
        return stepping or choosing or leaving or self._steering.knows(event)

    def key(self, event: QKeyEvent) -> bool:
        """Do what a key means; return whether it meant something."""
        for gesture in (self.gesture, self._enclosing):
            if gesture is not None and gesture.key(event, self._canvas):
                self._enclosing = None
                return True
        if not self.knows(event):
            return False
        if event.key() in STEPS and event.modifiers() & Modifier.AltModifier:
            self._step(*STEPS[Key(event.key())])
        elif event.key() in (Key.Key_Return, Key.Key_Enter, Key.Key_Space):
            row = self._canvas.scene.pointed
            if row is None:
                return False
            self._canvas.tree_clicked.emit(self._canvas.scene.trees.keys[row], event.key() == Key.Key_Space)
        elif event.key() == Key.Key_Escape:
            self._leave()
        else:
            return self._steering.key(event)
        return True

    def _has_something_to_leave(self) -> bool:
        scene = self._canvas.scene
        return scene.pointed is not None or bool(scene.chosen)

    def _leave(self) -> None:
        if self._canvas.scene.pointed is not None:
            self._canvas.point_at(None)
        else:
            self._canvas.trees_enclosed.emit([], False)

    def _step(self, right: int, down: int) -> None:
        scene, canvas = self._canvas.scene, self._canvas
        from_row = scene.pointed if scene.pointed is not None else scene.chosen[-1] if scene.chosen else None
        camera = self._steering.goal
        start = canvas.free_middle() if from_row is None else camera.point_to_screen(*scene.trees.xy[from_row].tolist())
        row = next_tree(scene.trees, camera, start, right, down, from_row)
        if row is None:
            return
        canvas.point_at(row)
        x, y = scene.trees.xy[row].tolist()
        px, py = camera.point_to_screen(x, y)
        left, top, on_right, bottom = canvas.margins
        if not (
            left + EDGE_PX < px < canvas.width() - on_right - EDGE_PX
            and top + EDGE_PX < py < canvas.height() - bottom - EDGE_PX
        ):
            canvas.centre_on(x, y)
