"""A review on the map: walks, stops with their ellipses, items by their fate, and lines to the trees they belong to."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QColor, QPainter, QPen, QPolygonF

from standmap.desktop.canvas.camera import Camera
from standmap.desktop.canvas.labels import Label, Rank
from standmap.desktop.pages.survey.dots import Dots
from standmap.desktop.pages.survey.review_state import Review, Will
from standmap.desktop.pages.survey.signs import Signs
from standmap.desktop.theme import Theme
from standmap.jobs.positions import xy
from standmap.jobs.review import Fate, Item, Kind
from standmap.stand.tree import LonLat

SIGN_PX = 8.0
RING_PX = 15.0
TICK_PX = 5.0
DOTS_FROM = 500
"""More items in sight than this are drawn as dots: signs would cover each other."""

MOST_VERTICES = 2000
"""A walk is thinned to so many vertices: more cannot be told apart."""

ELLIPSE_SIGMAS = 1.0
MOST_NAMED = 400
NAME_PX = 44.0
"""Room that a short name takes beside its sign."""


class ReviewOverlay:
    """Draws a review; `current` is the row that is looked at."""

    def __init__(self, review: Review, scale: float = 1.0) -> None:
        self.review = review
        self.current: int | None = None
        self._scale = scale
        self._shapes = self._shaped()
        self._places: dict[LonLat, NDArray[np.float64]] = {}
        self._signs = Signs(SIGN_PX * scale)
        self._dots = Dots(scale)

    def _shaped(self) -> list[tuple[int, NDArray[np.float64]]]:
        frame = self.review.frame
        if frame is None:
            return []
        found = []
        for row, item in enumerate(self.review.items):
            if item.shape is not None:
                step = max(len(item.shape) // MOST_VERTICES, 1)
                thinned = np.concatenate([item.shape[:-1:step], item.shape[-1:]])
                places = xy(frame, [(lon, lat) for lon, lat in thinned.tolist()])
                places = places[np.isfinite(places).all(axis=1)]
                if len(places) > 1:
                    found.append((row, places))
        return found

    def extent(self) -> NDArray[np.float64]:
        """Return all positions, metres, shape (n, 2): what is to be brought into sight."""
        review = self.review
        well = np.array([i.fate is not Fate.DOUBTFUL or review.will(i) is not Will.LEFT for i in review.items], bool)
        return np.concatenate([review.xy[well & review.points], *(shape for _, shape in self._shapes)])

    def paint(self, painter: QPainter, camera: Camera, theme: Theme) -> None:
        """Draw it."""
        review = self.review
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        for row, shape in self._shapes:
            self._paint_shape(painter, camera, theme, row, shape)
        px = camera.to_screen(review.xy)
        in_sight = self._in_sight(px, camera)
        if len(in_sight) > DOTS_FROM:
            self._dots.paint(painter, px, in_sight, review, camera, theme)
        else:
            rows = in_sight.tolist()
            for row in rows:
                self._paint_link(painter, camera, theme, review.items[row], px[row])
                self._paint_ellipse(painter, camera, theme, review.items[row], px[row])
            for row in rows:
                item = review.items[row]
                left = review.will(item) is Will.LEFT
                self._signs.paint(painter, float(px[row, 0]), float(px[row, 1]), item.fate, theme, left=left)
        if self.current is not None and np.isfinite(px[self.current]).all():
            self._paint_ring(painter, QPointF(*px[self.current].tolist()), theme)

    def labels(self, camera: Camera) -> Sequence[Label]:
        """Return the name of the item that is looked at, and of the others where there is room."""
        review = self.review
        px = camera.to_screen(review.xy)
        in_sight = self._in_sight(px, camera)
        rows = self._with_room(px, in_sight) if len(in_sight) <= MOST_NAMED else []
        found = [
            Label(_called(review.items[row]), float(px[row, 0]), float(px[row, 1]), 10.0 * self._scale)
            for row in rows
            if row != self.current and self._is_named(review.items[row])
        ]
        if self.current is not None and np.isfinite(px[self.current]).all():
            x, y = px[self.current].tolist()
            clear = (RING_PX + TICK_PX + 3.0) * self._scale
            found.append(Label(_called(review.items[self.current]), x, y, clear, Rank.CHOSEN, strong=True))
        return found

    def _with_room(self, px: NDArray[np.float64], rows: NDArray[np.int64]) -> list[int]:
        """Return the rows to the right of which no other sign lies where the name would be written."""
        at = px[rows]
        right = at[None, :, 0] - at[:, None, 0]
        down = np.abs(at[None, :, 1] - at[:, None, 1])
        near = (right > 0) & (right < NAME_PX * self._scale) & (down < 1.8 * SIGN_PX * self._scale)
        return [int(row) for row in rows[~near.any(axis=1)]]

    def _is_named(self, item: Item) -> bool:
        will = self.review.will(item)
        return will is Will.NEW_TREE or (will is Will.TAKEN and item.kind is Kind.PLACE)

    def _in_sight(self, px: NDArray[np.float64], camera: Camera) -> NDArray[np.int64]:
        edge = 40.0
        with np.errstate(invalid="ignore"):
            inside = (px > -edge).all(axis=1) & (px[:, 0] < camera.width + edge) & (px[:, 1] < camera.height + edge)
        return np.flatnonzero(inside & self.review.points)

    def _place(self, at: LonLat) -> NDArray[np.float64] | None:
        """Return where a tree stands in the frame, metres, shape (1, 2)."""
        frame = self.review.frame
        if frame is None:
            return None
        if at not in self._places:
            self._places[at] = xy(frame, [at])
        return self._places[at]

    def _paint_shape(
        self, painter: QPainter, camera: Camera, theme: Theme, row: int, shape: NDArray[np.float64]
    ) -> None:
        item = self.review.items[row]
        left = self.review.will(item) is Will.LEFT
        line = QPolygonF([QPointF(x, y) for x, y in camera.to_screen(shape).tolist()])
        chosen = row == self.current
        pen = QPen(QColor(theme.second_ink if item.kind is Kind.WALK and not chosen else theme.ink))
        pen.setWidthF((2.4 if chosen else 1.0 if item.kind is Kind.WALK else 1.8) * self._scale)
        pen.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
        if left:
            pen.setDashPattern([2, 3])
        elif item.kind is Kind.LINE:
            pen.setDashPattern([6, 3])
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.setPen(pen)
        painter.drawPolyline(line)

    def _paint_link(self, painter: QPainter, camera: Camera, theme: Theme, item: Item, px: NDArray[np.float64]) -> None:
        target = self.review.target(item)
        place = None if target is None else self._place(target.at)
        if place is None:
            return
        there = camera.to_screen(place)[0]
        if np.isfinite(there).all() and math.dist(there, px) > 2:
            pen = QPen(QColor(theme.ink), 1.4 * self._scale)
            pen.setDashPattern([2, 2])
            painter.setPen(pen)
            painter.drawLine(QPointF(*px.tolist()), QPointF(*there.tolist()))

    def _paint_ellipse(
        self, painter: QPainter, camera: Camera, theme: Theme, item: Item, px: NDArray[np.float64]
    ) -> None:
        if item.covariance is None:
            return
        var_e, var_n, cov = item.covariance
        values, axes = np.linalg.eigh([[var_e, cov], [cov, var_n]])
        minor, major = ELLIPSE_SIGMAS * np.sqrt(np.maximum(values, 0)) * camera.px_per_m
        bearing = math.degrees(math.atan2(axes[0, 1], axes[1, 1]))
        painter.save()
        painter.translate(QPointF(*px))
        painter.rotate(bearing - camera.turn_deg)
        tint = QColor(theme.accent)
        tint.setAlphaF(0.10)
        painter.setBrush(tint)
        painter.setPen(QPen(QColor(theme.second_ink), 1.0))
        painter.drawEllipse(QPointF(0, 0), float(minor), float(major))
        painter.restore()

    def _paint_ring(self, painter: QPainter, at: QPointF, theme: Theme) -> None:
        ring, tick = RING_PX * self._scale, TICK_PX * self._scale
        painter.setBrush(Qt.BrushStyle.NoBrush)
        for colour, width in ((theme.ground, 4.6), (theme.ink, 2.0)):
            painter.setPen(QPen(QColor(colour), width * self._scale))
            painter.drawEllipse(at, ring, ring)
            for turn in range(4):
                out = QPointF(math.sin(turn * math.pi / 2), -math.cos(turn * math.pi / 2))
                painter.drawLine(at + out * (ring + 1), at + out * (ring + 1 + tick))


def _called(item: Item) -> str:
    """Return what stands beside an item on the map: of a sight, the tree at its far end."""
    return item.tree_name if item.kind is Kind.SIGHT and item.tree_name else item.name
