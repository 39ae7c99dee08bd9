"""Measuring with the pointer and the keys: a click or Space sets a point, Backspace takes the last one back."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QKeyEvent, QKeySequence, QMouseEvent, QPainter, QPolygonF

from standmap.desktop.canvas.camera import Camera, Margins
from standmap.desktop.canvas.canvas import MapCanvas
from standmap.desktop.measuring.click_or_push import ClickOrPush
from standmap.desktop.measuring.measure import Measure, Point, What
from standmap.desktop.measuring.note import draw_hint, draw_note, halo_pen, ink_pen
from standmap.desktop.measuring.told import measure_hint
from standmap.desktop.theme import Theme

LINE_PX = 2.0
POINT_PX = 4.0


class MeasureGesture:
    """Measures a line or an area on the map.

    A click on a tree takes the tree's own position; Space that of the tree the keyboard stands on, or of the one
    chosen last. Enter finishes, Escape clears and, with nothing left, ends.

    Parameters
    ----------
    margins
        Returns what floats over the map.
    told
        Returns the lines of the read-out for a measure and where the pointer is.
    position_of
        Returns the position of a tree by its row, metres, or None where it has none.
    next_point
        Returns the position of the tree chosen last, for the keyboard.
    ended
        Called when the gesture is to be taken off the map.
    finished
        Called with the lines of the read-out when a measure is finished.
    """

    cursor = Qt.CursorShape.CrossCursor

    def __init__(
        self,
        what: What,
        *,
        margins: Callable[[], Margins],
        told: Callable[[Measure, Point | None], list[str]],
        position_of: Callable[[int], Point | None],
        next_point: Callable[[], Point | None],
        ended: Callable[[], object],
        finished: Callable[[Sequence[str]], object],
    ) -> None:
        self.measure = Measure(what)
        self.hover: Point | None = None
        self._pointer = ClickOrPush()
        self._margins = margins
        self._told = told
        self._position_of = position_of
        self._next_point = next_point
        self._ended = ended
        self._finished = finished

    @property
    def lines(self) -> list[str]:
        """What is read of the measure now."""
        return self._told(self.measure, self.hover)

    def press(self, event: QMouseEvent, canvas: MapCanvas) -> bool:
        """Take the left button: a click sets a point, a drag pushes the map."""
        del canvas
        return self._pointer.press(event)

    def move(self, event: QMouseEvent, canvas: MapCanvas) -> bool:
        """Follow the pointer; a drag with another button is the map's own."""
        if event.buttons() & ~Qt.MouseButton.LeftButton:
            return False
        if not self._pointer.move(event, canvas):
            self.hover = self._point(event.position(), canvas)
            canvas.update()
        return True

    def release(self, event: QMouseEvent, canvas: MapCanvas) -> bool:
        """Set a point where it was clicked."""
        if event.button() is not Qt.MouseButton.LeftButton:
            return False
        clicked = self._pointer.release()
        if clicked is not None:
            self.take(self._point(clicked, canvas))
            canvas.update()
        return True

    def double(self, event: QMouseEvent, canvas: MapCanvas) -> bool:
        """Finish: the first click of the two has set the last point."""
        if event.button() is not Qt.MouseButton.LeftButton:
            return False
        self._finish()
        canvas.update()
        return True

    def key(self, event: QKeyEvent, canvas: MapCanvas) -> bool:
        """Take Space, Backspace, Enter and Escape."""
        match event.key():
            case Qt.Key.Key_Space:
                pointed = canvas.scene.pointed
                point = self._next_point() if pointed is None else self._position_of(pointed)
                if point is not None:
                    self.hover = None
                    self.take(point)
            case Qt.Key.Key_Backspace | Qt.Key.Key_Z:
                if event.key() == Qt.Key.Key_Z and not self.takes_first(event):
                    return False
                self.measure = self.measure.shortened()
            case Qt.Key.Key_Return | Qt.Key.Key_Enter:
                self.hover = None
                self._finish()
            case Qt.Key.Key_Escape:
                if not self.measure.points:
                    self._ended()
                self.measure = Measure(self.measure.what)
            case _:
                return False
        canvas.update()
        return True

    def takes_first(self, event: QKeyEvent) -> bool:
        """Return whether a key takes back a point: as long as there is one, it is not the last edit that is undone."""
        return event.matches(QKeySequence.StandardKey.Undo) and bool(self.measure.points)

    def take(self, point: Point) -> None:
        """Set a point."""
        self.measure = self.measure.added(point)

    def finish(self) -> None:
        """Take no more points, if there are enough of them."""
        self._finish()

    def _finish(self) -> None:
        if self.measure.finished:
            return
        self.measure = self.measure.ended()
        if self.measure.finished:
            self._finished(self.lines)

    def _point(self, at: QPointF, canvas: MapCanvas) -> Point:
        row = canvas.tree_at(at)
        position = None if row is None else self._position_of(row)
        return position if position is not None else canvas.camera.point_to_world(at.x(), at.y())

    def paint(self, painter: QPainter, camera: Camera, theme: Theme) -> None:
        """Draw the line or the area, its points, and the read-out."""
        points = [QPointF(*camera.point_to_screen(*p)) for p in self.measure.with_hover(self.hover)]
        if not points:
            draw_hint(painter, measure_hint(), camera, self._margins(), theme)
            return
        painter.save()
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        outline = QPolygonF(points)
        is_area = self.measure.what is What.AREA and len(points) > 2
        if is_area:
            fill = QColor(theme.accent)
            fill.setAlphaF(0.14)
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(fill)
            painter.drawPolygon(outline)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        for pen in (halo_pen(theme, LINE_PX), ink_pen(theme, LINE_PX)):
            painter.setPen(pen)
            if is_area:
                painter.drawPolygon(outline)
            else:
                painter.drawPolyline(outline)
        painter.setBrush(QColor(theme.panel))
        for point in points[: len(self.measure.points)]:
            painter.drawEllipse(point, POINT_PX, POINT_PX)
        lines = self.lines
        if lines:
            room = QRectF(0, 0, camera.width, camera.height).adjusted(8, 8, -8, -8)
            draw_note(painter, lines, points[-1], room, theme)
        painter.restore()
