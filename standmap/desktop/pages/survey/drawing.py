"""Drawing on the map by pointer and keys: a course of vertices, or one spot, with a dashed line from where it was."""

from __future__ import annotations

import math
from collections.abc import Callable

from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QColor, QKeyEvent, QKeySequence, QMouseEvent, QPainter, QPen, QPolygonF

from standmap.desktop.canvas.camera import Camera
from standmap.desktop.canvas.canvas import MapCanvas
from standmap.desktop.pages.survey.course import XY, Course
from standmap.desktop.theme import Theme

REACH_PX = 9.0
"""So near to a vertex or a line a press is meant for it."""

STILL_PX = 4.0
"""A pointer that moves less than this between press and release has clicked."""

VERTEX_PX = 4.5


class DrawGesture:
    """Draws a course: a click adds a vertex or puts one into a line, a drag moves one; Backspace, Enter and Escape.

    Parameters
    ----------
    changed
        Called when the course has changed.
    ended, left
        Called on Enter or a double click, and on Escape.
    origin
        Where a thing that is moved stands: a dashed line leads from there to the last vertex.
    """

    cursor = Qt.CursorShape.CrossCursor

    def __init__(
        self,
        course: Course,
        changed: Callable[[], object],
        ended: Callable[[], object],
        left: Callable[[], object],
        origin: XY | None = None,
    ) -> None:
        self.course = course
        self._changed = changed
        self._ended = ended
        self._left = left
        self._origin = origin
        self._pressed: QPointF | None = None
        self._dragged: int | None = None
        self._pointer: XY | None = None

    def press(self, event: QMouseEvent, canvas: MapCanvas) -> bool:
        """Take hold of a vertex; a press on the ground may become a click or push the map."""
        if event.button() != Qt.MouseButton.LeftButton:
            return False
        self._pressed = event.position()
        here, reach = _world(event, canvas)
        self._dragged = self.course.vertex_at(here, reach)
        return self._dragged is not None

    def move(self, event: QMouseEvent, canvas: MapCanvas) -> bool:
        """Drag a vertex, or show where the next one would go."""
        here, _ = _world(event, canvas)
        if self._dragged is not None:
            self.course.move(self._dragged, here)
            self._changed()
            canvas.update()
            return True
        self._pointer = here
        if event.buttons():
            return False
        canvas.update()
        return True

    def release(self, event: QMouseEvent, canvas: MapCanvas) -> bool:
        """Let a vertex go, or add one where the pointer was clicked."""
        pressed, self._pressed = self._pressed, None
        if event.button() != Qt.MouseButton.LeftButton or pressed is None:
            return False
        if self._dragged is not None:
            self._dragged = None
            return True
        way = event.position() - pressed
        if math.hypot(way.x(), way.y()) > STILL_PX:
            return False
        here, reach = _world(event, canvas)
        between = None if self.course.most == 1 else self.course.between_at(here, reach * 0.7)
        if between is None:
            self.course.add(here)
        else:
            self.course.insert(between, here)
        self._changed()
        canvas.update()
        return True

    def double(self, event: QMouseEvent, canvas: MapCanvas) -> bool:
        """End the course; the first of the two clicks has added the last vertex."""
        del event, canvas
        self._pressed, self._dragged = None, None
        if self.course.most > 1:
            self._ended()
        return True

    def key(self, event: QKeyEvent, canvas: MapCanvas) -> bool:
        """Take a vertex back, end, or leave."""
        match event.key():
            case Qt.Key.Key_Backspace | Qt.Key.Key_Z:
                if event.key() == Qt.Key.Key_Z and not self.takes_first(event):
                    return False
                self.course.take_back()
                self._changed()
            case Qt.Key.Key_Return | Qt.Key.Key_Enter:
                self._ended()
            case Qt.Key.Key_Escape:
                self._left()
            case _:
                return False
        canvas.update()
        return True

    def takes_first(self, event: QKeyEvent) -> bool:
        """Return whether a key takes back a point: as long as there is one, it is not the last edit that is undone."""
        return event.matches(QKeySequence.StandardKey.Undo) and bool(self.course.points)

    def paint(self, painter: QPainter, camera: Camera, theme: Theme) -> None:
        """Draw the course so far."""
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        px = [QPointF(*camera.point_to_screen(*p)) for p in self.course.points]
        if self._origin is not None and px:
            start = QPointF(*camera.point_to_screen(*self._origin))
            _dashed(painter, [start, px[-1]], theme)
        outline = [*px, px[0]] if self.course.closed and len(px) > 2 else px
        if len(outline) > 1:
            for colour, width in ((theme.ground, 5.0), (theme.ink, 2.0)):
                painter.setPen(QPen(QColor(colour), width))
                painter.drawPolyline(QPolygonF(outline))
        if px and self._pointer is not None and self.course.most > 1 and self._dragged is None:
            _dashed(painter, [px[-1], QPointF(*camera.point_to_screen(*self._pointer))], theme)
        painter.setPen(QPen(QColor(theme.ink), 1.6))
        for number, at in enumerate(px):
            last = number == len(px) - 1
            painter.setBrush(QColor(theme.accent if last else theme.panel))
            size = VERTEX_PX + 1.5 * last
            painter.drawRect(round(at.x() - size), round(at.y() - size), round(2 * size), round(2 * size))


def _dashed(painter: QPainter, points: list[QPointF], theme: Theme) -> None:
    pen = QPen(QColor(theme.ink), 1.6)
    pen.setDashPattern([4, 3])
    painter.setPen(pen)
    painter.drawPolyline(QPolygonF(points))


def _world(event: QMouseEvent, canvas: MapCanvas) -> tuple[XY, float]:
    """Return where the pointer is, metres, and how many metres are near it."""
    camera = canvas.camera
    return camera.point_to_world(event.position().x(), event.position().y()), REACH_PX / camera.px_per_m
