"""The trees as they are shown while the view moves: the last picture at once, a sharp one as soon as it is drawn."""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Iterator

from PySide6.QtCore import QObject, QTimer
from PySide6.QtGui import QPainter

from standmap.desktop.canvas.camera import Camera
from standmap.desktop.canvas.detail import Detail, detail
from standmap.desktop.canvas.motion import Glide
from standmap.desktop.canvas.raster import TreePicture, draw_trees
from standmap.desktop.canvas.sprites import SpriteBook
from standmap.desktop.canvas.trees import Trees
from standmap.desktop.theme import RECOLOUR_MS, Theme

AT_ONCE_S = 0.003
"""A picture that is drawn so quickly is drawn anew in every frame."""

SLICE_S = 0.003
"""How long drawing goes on between two looks at what else is to be done."""

BEYOND_PX = 96.0
BOOKS_KEPT = 6


class ShownTrees(QObject):
    """Keeps the picture of the trees.

    Parameters
    ----------
    parent
        The map; asked to paint itself by `update`.
    update
        Called whenever another picture is to be shown.
    """

    def __init__(self, parent: QObject, update: Callable[[], None]) -> None:
        super().__init__(parent)
        self._update = update
        self._picture: TreePicture | None = None
        self._before: TreePicture | None = None
        self._fade = 1.0
        self._stale = True
        self._spent_s = 0.0
        self._drawing: Iterator[TreePicture | None] | None = None
        self._drawing_s = 0.0
        self._books: dict[tuple[str, Detail, float], SpriteBook] = {}
        self._wanted: tuple[Trees, Camera, Theme, float, float] | None = None
        self._timer = QTimer(self)
        self._timer.setInterval(0)
        self._timer.timeout.connect(self._go_on)
        self._fading = Glide(self, RECOLOUR_MS)

    def set_calm(self, calm: bool) -> None:
        """Let other verdicts come in at once."""
        self._fading.calm = calm

    @property
    def sharp(self) -> bool:
        """Whether what is shown was drawn for just this view."""
        return not self._stale and self._drawing is None

    def forget(self) -> None:
        """Drop what was drawn: other trees, or another theme."""
        self._picture = self._before = None
        self.changed()

    def changed(self, *, fade: bool = False) -> None:
        """Say that the trees look different now; with `fade` the new look comes in gently."""
        self._stale = True
        self._drawing = None
        if fade and self._picture is not None:
            self._before = self._picture

    def paint(self, painter: QPainter, trees: Trees, camera: Camera, theme: Theme, dpr: float, scale: float) -> None:
        """Draw the trees as well as can be done in this frame, and see to it that they get sharp.

        Parameters
        ----------
        dpr
            Device pixels a logical one.
        scale
            Size of the window's text, 1.0 up to 2.0.
        """
        self._wanted = (trees, camera, theme, dpr, scale)
        picture = self._picture
        if (picture is None or self._stale or not picture.serves(camera, dpr)) and self._drawing is None:
            self._begin()
            if picture is None:
                self._go_on(for_s=math.inf, told=False)
            elif self._spent_s <= AT_ONCE_S:
                self._go_on(for_s=2 * AT_ONCE_S, told=False)
        picture = self._picture
        if picture is None:
            return
        if self._before is not None:
            self._before.paint(painter, camera)
            painter.setOpacity(self._fade)
        picture.paint(painter, camera)
        painter.setOpacity(1.0)

    def _begin(self) -> None:
        if self._wanted is None:
            return
        trees, camera, theme, dpr, scale = self._wanted
        book = self._book(theme, detail(trees.spacing_m, camera.px_per_m, scale), dpr)
        self._drawing = draw_trees(trees, camera, book, BEYOND_PX)
        self._drawing_s = 0.0
        self._stale = False
        self._timer.start()

    def _go_on(self, for_s: float = SLICE_S, *, told: bool = True) -> None:
        if self._drawing is None:
            self._timer.stop()
            return
        begun = time.perf_counter()
        for picture in self._drawing:
            if picture is not None:
                self._spent_s = self._drawing_s + time.perf_counter() - begun
                self._arrived(picture, told=told)
                return
            if time.perf_counter() - begun > for_s:
                break
        self._drawing_s += time.perf_counter() - begun

    def _arrived(self, picture: TreePicture, *, told: bool) -> None:
        self._picture = picture
        self._drawing = None
        self._timer.stop()
        if self._before is not None and not self._fading.running:
            if self._before.serves(picture.camera, picture.dpr):
                self._fade = 0.0
                self._fading.go(self._faded_in)
            else:
                self._faded_in(1.0)
        if told:
            self._update()

    def _faded_in(self, part: float) -> None:
        self._fade = part
        if part >= 1.0:
            self._before = None
        self._update()

    def _book(self, theme: Theme, level: Detail, dpr: float) -> SpriteBook:
        key = (theme.name, level, dpr)
        book = self._books.pop(key, None) or SpriteBook(theme, level, dpr)
        self._books[key] = book
        while len(self._books) > BOOKS_KEPT:
            del self._books[next(iter(self._books))]
        return book
