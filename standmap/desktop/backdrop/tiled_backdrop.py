"""A backdrop as the map draws it: in squares that are drawn off the GUI thread and kept."""

from __future__ import annotations

from collections import OrderedDict

from PySide6.QtCore import QObject, QTimer, Signal
from PySide6.QtGui import QImage, QPainter, QTransform

from standmap.desktop.backdrop.tiles import SIDE_PX, Square, level_for, squares_in
from standmap.desktop.canvas.camera import Camera
from standmap.desktop.desk import Desk
from standmap.desktop.working import Watch, Work
from standmap.formats.backdrops import BackdropFile
from standmap.formats.raster_window import Rgba
from standmap.jobs.backdrop import Backdrop, drawn
from standmap.survey.frame import WorkingFrame

KEPT = 96
"""Squares that are kept, one megabyte each; never fewer than twice what is in sight."""

SETTLE_MS = 40
"""The view must have come to rest for this long before squares are drawn for it."""


class TiledBackdrop(QObject):
    """The backdrop of one stand, as the map's `Backdrop`.

    Attributes
    ----------
    changed
        More of it can be painted.
    failed
        It could not be drawn; carries the error. Nothing more is tried.
    """

    changed = Signal()
    failed = Signal(object)
    _made = Signal(object, object)

    def __init__(self, desk: Desk, kept: Backdrop, found: BackdropFile, frame: WorkingFrame) -> None:
        super().__init__(desk)
        self.kept = kept
        self._desk = desk
        self._found = found
        self._frame = frame
        self._squares: OrderedDict[Square, QImage] = OrderedDict()
        self._wanted: list[Square] = []
        self._level: int | None = None
        self._work: Work[None] | None = None
        self._broken = False
        self._settle = QTimer(self)
        self._settle.setSingleShot(True)
        self._settle.setInterval(SETTLE_MS)
        self._settle.timeout.connect(self._begin)
        self._made.connect(self._take)

    @property
    def attribution(self) -> str:
        """Whose picture it is."""
        return self.kept.attribution

    @property
    def waiting(self) -> bool:
        """Whether something in sight is still to be drawn."""
        return bool(self._wanted) and not self._broken

    def stop(self) -> None:
        """Draw nothing more."""
        self._broken = True
        self._settle.stop()
        if self._work is not None:
            self._work.cancel()

    def paint(self, painter: QPainter, camera: Camera) -> None:
        """Draw what is there of it; what is missing is asked for and told by `changed`."""
        ratio = painter.device().devicePixelRatioF()
        box = camera.box_m()
        needed = squares_in(box, level_for(camera.px_per_m * ratio, self._found.finest_m))
        self._want([s for s in needed if s not in self._squares])
        level = needed[0].level
        if level != self._level and (not self._wanted or not self._in_sight(box, self._level)):
            self._level = level
        painter.save()
        painter.setOpacity(self.kept.strength)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)
        painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform, True)
        base = painter.transform()
        for square in self._in_sight(box, self._level):
            image = self._squares[square]
            self._squares.move_to_end(square)
            painter.setTransform(_placed(square, camera) * base)
            painter.drawImage(0, 0, image)
        painter.restore()
        self._forget(2 * len(needed))

    def _in_sight(self, box: tuple[float, float, float, float], level: int | None) -> list[Square]:
        if level is None:
            return []
        return [s for s in squares_in(box, level) if s in self._squares]

    def _want(self, missing: list[Square]) -> None:
        if self._broken or missing == self._wanted:
            return
        under_way = set(self._wanted)
        self._wanted = missing
        if missing and (self._work is None or not under_way.issuperset(missing)):
            self._settle.start()

    def _begin(self) -> None:
        if self._work is not None:
            self._work.cancel()
        if self._broken or not self._wanted:
            return
        wanted, found, frame = list(self._wanted), self._found, self._frame

        def draw(watch: Watch) -> None:
            for square in wanted:
                picture = drawn(found, frame, square.window, watch)
                if picture is None:
                    return
                self._made.emit(square, image_of(picture))

        work = self._desk.compute(draw, "", failed=self._fail)
        self._work = work
        work.ended.connect(lambda: self._end(work))

    def _take(self, square: Square, image: QImage) -> None:
        self._squares[square] = image
        if square in self._wanted:
            self._wanted.remove(square)
        self.changed.emit()

    def _end(self, work: Work[None]) -> None:
        if self._work is work:
            self._work = None
            if self._wanted and not self._broken and not work.stopping:
                self.changed.emit()

    def _fail(self, error: Exception) -> None:
        if not self._broken:
            self._broken = True
            self.failed.emit(error)

    def _forget(self, least: int) -> None:
        while len(self._squares) > max(KEPT, least):
            self._squares.popitem(last=False)


def image_of(picture: Rgba) -> QImage:
    """Return a picture as an image that holds its own bytes, ready to be painted fast."""
    rows, columns = picture.shape[:2]
    view = QImage(picture.tobytes(), columns, rows, 4 * columns, QImage.Format.Format_RGBA8888)
    return view.convertToFormat(QImage.Format.Format_ARGB32_Premultiplied)


def _placed(square: Square, camera: Camera) -> QTransform:
    """Return where the pixels of a square go in the view, turned as it is."""
    window = square.window
    left, top = window.left_m, window.top_m
    x0, y0 = camera.point_to_screen(left, top)
    x1, y1 = camera.point_to_screen(left + square.side_m, top)
    x2, y2 = camera.point_to_screen(left, top - square.side_m)
    return QTransform((x1 - x0) / SIDE_PX, (y1 - y0) / SIDE_PX, (x2 - x0) / SIDE_PX, (y2 - y0) / SIDE_PX, x0, y0)
