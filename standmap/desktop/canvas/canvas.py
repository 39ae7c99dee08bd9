"""The map as a widget: what is shown on it, and what pointer and keyboard do with it."""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QEvent, QPointF, QRectF, QSize, QSizeF, Qt, QTimer, Signal
from PySide6.QtGui import (
    QColor,
    QFocusEvent,
    QKeyEvent,
    QMouseEvent,
    QNativeGestureEvent,
    QPainter,
    QPaintEvent,
    QPen,
    QResizeEvent,
    QWheelEvent,
)
from PySide6.QtWidgets import QGestureEvent, QWidget

from standmap.desktop.canvas.camera import NO_MARGINS, Camera, Margins
from standmap.desktop.canvas.chosen_ring import MOST_RINGS
from standmap.desktop.canvas.detail import detail
from standmap.desktop.canvas.ground import Ground, Walked
from standmap.desktop.canvas.lettering import Lettering
from standmap.desktop.canvas.overlay import Backdrop, Gesture, Overlay
from standmap.desktop.canvas.picking import trees_at, trees_inside
from standmap.desktop.canvas.pointing import Pointing
from standmap.desktop.canvas.scene import Scene
from standmap.desktop.canvas.shown_trees import ShownTrees
from standmap.desktop.canvas.spoken import tell, tree_words
from standmap.desktop.canvas.steering import Steering
from standmap.desktop.canvas.trees import Trees
from standmap.desktop.theme import Theme
from standmap.desktop.words import tr
from standmap.stand.ground import Area, Line, Place
from standmap.stand.walks import Stop, Walk
from standmap.survey.frame import WorkingFrame

FloatArray = NDArray[np.float64]

FOCUS_PX = 2.0
BY_KEYBOARD = (Qt.FocusReason.TabFocusReason, Qt.FocusReason.BacktabFocusReason, Qt.FocusReason.ShortcutFocusReason)


class MapCanvas(QWidget):
    """The map of a stand.

    Signals: `tree_clicked` (key, whether to add it to what is chosen), `trees_enclosed` (keys, added), `ground_clicked`
    (longitude and latitude of a click that hit no tree), `view_changed`, `handed_back` (a lent gesture is off the map).
    """

    tree_clicked = Signal(str, bool)
    trees_enclosed = Signal(list, bool)
    ground_clicked = Signal(float, float)
    view_changed = Signal()
    handed_back = Signal()

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.scene = Scene(theme)
        self._camera = Camera()
        self._frame: WorkingFrame | None = None
        self._margins: Margins = NO_MARGINS
        self._fitted: Sequence[int] | None = None
        self._keeps_fit = True
        self._ring_shown = False
        self._describe: Callable[[int], str] | None = None
        self._shown = ShownTrees(self, self.update)
        self._lettering = Lettering(self.font(), theme)
        self._steering = Steering(self)
        self._pointing = Pointing(self, self._steering)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setMouseTracking(True)
        self.setAttribute(Qt.WidgetAttribute.WA_OpaquePaintEvent)
        self.setAttribute(Qt.WidgetAttribute.WA_AcceptTouchEvents)
        self.grabGesture(Qt.GestureType.PinchGesture)
        self._tell()

    # What is shown

    def show_trees(
        self,
        keys: Sequence[str],
        names: Sequence[str],
        xy: FloatArray,
        girth_mm: FloatArray,
        codes: NDArray[np.uint8],
        rest: FloatArray,
    ) -> None:
        """Show these trees in place of those before; columns of one length n.

        Parameters
        ----------
        xy
            Metres in the working frame, NaN where out of its reach, shape (n, 2).
        girth_mm
            NaN where unknown.
        codes
            Verdicts as indexes into `standmap.rules.columns.CODES`.
        rest
            Part of the rest already passed, 0 up to 1; NaN for a tree that does not rest.
        """
        before = self.scene.trees
        trees = Trees(keys, names, xy, girth_mm, codes, rest).where_they_stood(before)
        if before.faded is not None and before.keys == keys:
            trees = trees.with_faded(before.faded)
        row_of: dict[str, int] = {}
        if self.scene.chosen:
            row_of = {key: row for row, key in enumerate(keys)}
        kept = [row_of[before.keys[row]] for row in self.scene.chosen if before.keys[row] in row_of]
        self.scene.trees = trees
        self.scene.pointed = self.scene.hovered = None
        self._shown.forget()
        self.set_chosen(kept)

    def recolour(self, codes: NDArray[np.uint8], rest: FloatArray) -> None:
        """Show other verdicts of the same trees; they come in gently."""
        self.scene.trees = self.scene.trees.recoloured(codes, rest)
        self._shown.changed(fade=True)
        self._tell()
        self.update()

    def show_ground(
        self, places: Sequence[Place], lines: Sequence[Line], areas: Sequence[Area], frame: WorkingFrame | None
    ) -> None:
        """Show the ground of a stand; `frame` is the one that the trees' metres are in."""
        self._frame = frame
        self.scene.ground = Ground.of(places, lines, areas, frame)
        self.update()

    def show_walks(self, walks: Sequence[Walk], stops: Sequence[Stop], frame: WorkingFrame | None) -> None:
        """Show walks as dotted lines, and those of the stops that are still proposed as crosses."""
        self.scene.walked = Walked.of(walks, stops, frame)
        self.update()

    def set_spread(self, covariance_m2: FloatArray | None) -> None:
        """Tell how sure positions are: variances east and north, covariance, m²; NaN unknown, shape (n, 3)."""
        self.scene.spread = covariance_m2
        self.update()

    def show_ellipses(self, shown: bool) -> None:
        """Show or hide how sure positions are."""
        self.scene.spread_shown = shown
        self.update()

    def show_names(self, shown: bool) -> None:
        """Show or hide the names of trees; a chosen or pointed one keeps its own."""
        self.scene.names_shown = shown
        self.update()

    def set_calm(self, calm: bool) -> None:
        """Let nothing glide or fade, whatever the system says."""
        self._steering.set_calm(calm)
        self._shown.set_calm(calm)

    def set_chosen(self, rows: Sequence[int]) -> None:
        """Show what is chosen; the last one is on the card."""
        self.scene.chosen = tuple(rows)
        marked = None
        if len(rows) > MOST_RINGS:
            marked = np.zeros(len(self.scene.trees), bool)
            marked[np.asarray(rows, np.int64)] = True
        if marked is not None or self.scene.trees.marked is not None:
            self.scene.trees = self.scene.trees.with_marked(marked)
            self._shown.changed()
        self._tell()
        self.update()

    def set_faded(self, mask: NDArray[np.bool_] | None) -> None:
        """Let trees that the page is not about step back, shape (n,); None lets none."""
        if mask is None and self.scene.trees.faded is None:
            return
        self.scene.trees = self.scene.trees.with_faded(mask)
        self._shown.changed()
        self.update()

    def set_overlays(self, overlays: Sequence[Overlay]) -> None:
        """Lay these over the trees in place of those before."""
        self.scene.overlays = tuple(overlays)
        self.update()

    def set_gesture(self, gesture: Gesture | None) -> None:
        """Let the pointer do something else than choose and drag, or that again, for as long as a page wants it."""
        self._pointing.set_gesture(gesture)

    def lend(self, gesture: Gesture | None) -> None:
        """Let a gesture come before the one that is set; None takes it off, and the one that is set goes on."""
        if self._pointing.lend(gesture):
            self.handed_back.emit()

    @property
    def gesture(self) -> Gesture | None:
        """What pointer and keys do now: what is lent, or else what is set."""
        return self._pointing.gesture

    def clear(self) -> None:
        """Take off all that a page, or a question about the map, had laid on it."""
        self.set_overlays([])
        self.set_gesture(None)
        self.set_faded(None)
        self._pointing.lend(None)
        self.handed_back.emit()

    def set_backdrop(self, backdrop: Backdrop | None) -> None:
        """Put a picture under everything, or take it away."""
        self.scene.backdrop = backdrop
        self.update()

    def set_theme(self, theme: Theme) -> None:
        """Change the look."""
        self.scene.theme = theme
        self._new_type()

    def set_text_scale(self, scale: float) -> None:
        """Change the size of labels and dials with that of the window's text, 1.0 up to 2.0."""
        self.scene.scale = scale
        self._new_type()

    def set_spoken(self, describe: Callable[[int], str] | None) -> None:
        """Say how a tree, by its row, is told to a screen reader, such as "tree B27, resting, back in 2028"."""
        self._describe = describe
        self._tell()

    def _new_type(self) -> None:
        self._lettering = Lettering(self.font(), self.scene.theme, self.scene.scale)
        self._shown.forget()
        self.update()

    # The view

    @property
    def camera(self) -> Camera:
        """The view that is shown."""
        return self._camera

    @property
    def theme(self) -> Theme:
        """The look."""
        return self.scene.theme

    @property
    def frame(self) -> WorkingFrame | None:
        """The frame that the map's metres are in."""
        return self._frame

    @property
    def margins(self) -> Margins:
        """What floats over the map at its left, top, right and bottom, logical pixels."""
        return self._margins

    @property
    def sharp(self) -> bool:
        """Whether the trees are drawn for just this view."""
        return self._shown.sharp

    @property
    def gliding(self) -> bool:
        """Whether the view is on its way to another one."""
        return self._steering.gliding

    def set_margins(self, left: float, top: float, right: float, bottom: float) -> None:
        """Say what floats over the map, so that `fit` and `centre_on` keep clear of it."""
        self._margins = (left, top, right, bottom)
        if self._keeps_fit and not self.isVisible():
            self.fit(self._fitted, animated=False)
        self.update()

    def look(self, camera: Camera) -> None:
        """Show another view."""
        if camera != self._camera:
            self._keeps_fit = False
            self._camera = camera
            self.view_changed.emit()
            self.update()

    def fit(self, rows: Sequence[int] | None = None, *, animated: bool = True) -> None:
        """Show these trees, or the whole stand, in the part of the map that nothing floats over."""
        trees, ground = self.scene.trees, self.scene.ground
        if rows is not None and len(rows):
            xy = trees.xy[np.asarray(rows, np.int64)]
        elif len(trees):
            spots = np.array([(p.x, p.y) for p in ground.places], float).reshape(-1, 2)
            xy = np.concatenate([trees.xy, spots])
        else:
            xy = ground.xy()
        goal = self._camera.fitted(xy, self._margins)
        self._steering.go(goal, animated=animated and self.isVisible())
        self._fitted, self._keeps_fit = rows, True

    def centre_on(self, x: float, y: float) -> None:
        """Bring a position, metres, into the middle of the free part."""
        self._steering.go(self._steering.goal.centred(x, y, self._margins), animated=self.isVisible())

    def zoom_by(self, factor: float, at: QPointF | None = None) -> None:
        """Go nearer (factor above 1) or farther, about a place of the view or its free middle."""
        self._steering.zoom(factor, None if at is None else (at.x(), at.y()))

    def turn_to(self, bearing_deg: float) -> None:
        """Turn the map until this grid bearing points up."""
        self._steering.turn(bearing_deg)

    def free_middle(self) -> tuple[float, float]:
        """Return the middle of the part that nothing floats over, logical pixels."""
        left, top, right, bottom = self._margins
        return (self.width() + left - right) / 2, (self.height() + top - bottom) / 2

    # What lies where

    def tree_at(self, pos: QPointF) -> int | None:
        """Return the row of the tree at a place of the view: of several the one whose middle is nearest."""
        return next(iter(self.trees_at(pos)), None)

    def trees_at(self, pos: QPointF) -> list[int]:
        """Return the rows of all trees whose dials lie at a place of the view, the nearest first."""
        level = detail(self.scene.trees.spacing_m, self._camera.px_per_m, self.scene.scale)
        return trees_at(self.scene.trees, self._camera, level, pos.x(), pos.y())

    def lonlat_at(self, pos: QPointF) -> tuple[float, float] | None:
        """Return longitude and latitude of a place of the view; None without a frame or beyond its reach."""
        if self._frame is None:
            return None
        x, y = self._camera.point_to_world(pos.x(), pos.y())
        try:
            lon, lat = self._frame.to_lonlat(np.array(x), np.array(y))
        except ValueError:
            return None
        return float(lon), float(lat)

    def choose_inside(self, outline_px: FloatArray, *, add: bool = False) -> None:
        """Tell which trees lie in an outline drawn on the view, logical pixels, shape (k, 2)."""
        rows = trees_inside(self.scene.trees, self._camera, outline_px)
        self.trees_enclosed.emit([self.scene.trees.keys[row] for row in rows], add)
        self.update()

    def point_at(self, row: int | None, *, hovering: bool = False) -> None:
        """Show which tree the keyboard, or the pointer, stands on."""
        if hovering:
            self.scene.hovered = row
        else:
            self.scene.pointed = row
            self._tell()
        self.update()

    def _tell(self) -> None:
        scene = self.scene
        row = scene.pointed if scene.pointed is not None else scene.chosen[-1] if scene.chosen else None
        if row is None:
            tell(self, tr("map of the stand"), tr("no tree is chosen"))
        else:
            words = self._describe(row) if self._describe is not None else tree_words(scene.trees, row)
            tell(self, tr("map of the stand"), words)

    # Drawing

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802 - Qt's name
        """Draw the map."""
        del event
        painter = QPainter(self)
        try:
            self._paint(painter)
        except Exception:  # noqa: BLE001 - told at once: an error that leaves a drawing ends the program without a word
            sys.excepthook(*sys.exc_info())
        finally:
            painter.end()

    def _paint(self, painter: QPainter) -> None:
        scene, camera, dpr = self.scene, self._camera, self.devicePixelRatioF()
        scene.paint_below(painter, camera)
        if len(scene.trees):
            self._shown.paint(painter, scene.trees, camera, scene.theme, dpr, scene.scale)
        scene.paint_above(painter, camera)
        if self._lettering.paint(painter, scene.labels(camera, self._lettering, self._margins), dpr):
            QTimer.singleShot(0, self, self.update)
        self._pointing.paint(painter, camera, scene.theme)
        scene.paint_attribution(painter, camera, self._margins)
        if self._ring_shown and self.hasFocus():
            half = FOCUS_PX / 2
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.setPen(QPen(QColor(scene.theme.accent), FOCUS_PX))
            painter.drawRect(QRectF(self.rect()).adjusted(half, half, -half, -half))

    def paint_picture(
        self, painter: QPainter, size_px: QSizeF | QSize, camera: Camera, theme: Theme | None = None
    ) -> None:
        """Draw the same map with lines, fills and text alone: for a picture of any size.

        Parameters
        ----------
        size_px
            Size of the picture in the painter's own units; the view is drawn to fill it.
        camera
            The view; its width and height are what `size_px` shows.
        theme
            The look of the picture, that of the window where none is told.
        """
        look = theme or self.scene.theme
        scene = replace(self.scene, theme=look, pointed=None, hovered=None)
        painter.save()
        painter.scale(size_px.width() / camera.width, size_px.height() / camera.height)
        scene.paint_whole(painter, camera, Lettering(self.font(), look, self.scene.scale))
        painter.restore()

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802 - Qt's name
        """Keep the middle, or all that was fitted, in sight."""
        super().resizeEvent(event)
        keeps = self._keeps_fit
        self._camera = self._camera.resized(self.width(), self.height())
        if keeps:
            self.fit(self._fitted, animated=False)
        self.view_changed.emit()

    # Events

    def event(self, event: QEvent) -> bool:
        """Take gestures, and the map's own keys before they become shortcuts."""
        if isinstance(event, QNativeGestureEvent) and self._steering.native(event):
            return True
        if isinstance(event, QGestureEvent) and self._steering.pinch(event):
            return True
        if (
            event.type() == QEvent.Type.ShortcutOverride
            and isinstance(event, QKeyEvent)
            and self._pointing.knows(event)
        ):
            event.accept()
            return True
        return super().event(event)

    def wheelEvent(self, event: QWheelEvent) -> None:  # noqa: N802 - Qt's name
        """Zoom."""
        self._steering.wheel(event)

    def mousePressEvent(self, event: QMouseEvent) -> None:  # noqa: N802 - Qt's name
        """Take hold."""
        self._ring_shown = False
        self._pointing.press(event)

    def mouseMoveEvent(self, event: QMouseEvent) -> None:  # noqa: N802 - Qt's name
        """Drag, or see what lies under the pointer."""
        self._pointing.move(event)

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:  # noqa: N802 - Qt's name
        """Let go, or choose."""
        self._pointing.release(event)

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:  # noqa: N802 - Qt's name
        """Leave it to the gesture that is set; else it is one more click."""
        self._pointing.double(event)

    def leaveEvent(self, event: QEvent) -> None:  # noqa: N802 - Qt's name
        """Point at nothing."""
        super().leaveEvent(event)
        if self.scene.hovered is not None:
            self.point_at(None, hovering=True)

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: N802 - Qt's name
        """Move the view, step from tree to tree, choose."""
        if not self._pointing.key(event):
            super().keyPressEvent(event)
            return
        self._ring_shown = True
        self.update()

    def focusInEvent(self, event: QFocusEvent) -> None:  # noqa: N802 - Qt's name
        """Show where the keyboard is when it came by keyboard."""
        super().focusInEvent(event)
        self._ring_shown = event.reason() in BY_KEYBOARD
        self.update()

    def focusOutEvent(self, event: QFocusEvent) -> None:  # noqa: N802 - Qt's name
        """Stop showing it."""
        super().focusOutEvent(event)
        self.update()
