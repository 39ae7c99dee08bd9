"""The round on the map: a line a trip with one arrow a leg, and the numbers of the stops beside their dials."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QLineF, QPointF, Qt
from PySide6.QtGui import QColor, QPainter, QPen

from standmap.desktop.canvas.camera import Camera
from standmap.desktop.canvas.labels import GAP_PX, Label, Rank
from standmap.desktop.canvas.nearby import Nearby
from standmap.desktop.pages.collect.legs import Drawn, Lines, legs_of, number_places
from standmap.desktop.pages.collect.trip_lines import TripLine
from standmap.desktop.theme import Theme
from standmap.jobs.positions import xy
from standmap.survey.frame import WorkingFrame

FloatArray = NDArray[np.float64]
Worked = TypeVar("Worked")

LINE_PX = 1.7
HALO_PX = 5.0
DASHES: tuple[tuple[float, ...], ...] = ((), (5.0, 3.0), (1.0, 2.2), (6.0, 2.4, 1.0, 2.4), (9.0, 3.0, 3.0, 3.0))
"""Of one trip after another, in widths of the line; the first is drawn through."""

ARROW_PX = 7.5
DIAL_PX = 12.0
DEPOT_PX = 11.0
EMPTIED_PX = 15.0
DIGIT_PX = 8.0
NUMBER_HEIGHT_PX = 15.0
MOST_NUMBERED = 400
MANY_STOPS = 40
"""With more stops than this only the trip that is looked at has its numbers."""

STEPPED_BACK = 0.35
SAME_M = 0.01


RING_PX = 18.0
NAME_AT_PX = (12.0, 30.0)
"""Where, beside its ring, the name of the chosen tree stands."""

ROUND_A_STOP_PX = 60.0


class Marks:
    """Positions in metres, shape (n, 2), of which those near to others are found quickly."""

    def __init__(self, xy: FloatArray) -> None:
        self._xy = xy
        self._nearby = Nearby(xy)

    def near(self, places: FloatArray, within_m: float) -> FloatArray:
        """Return the positions near to places, but not those at them."""
        found: set[int] = set()
        for x, y in places.tolist():
            rows, away = self._nearby.about(x, y, within_m)
            found.update(rows[away > SAME_M].tolist())
            found.difference_update(rows[away <= SAME_M].tolist())
        close: FloatArray = self._xy[sorted(found)]
        return close


@dataclass(frozen=True, slots=True, eq=False)
class RoundLines:
    """A round in metres: its lines, and where its stops are, shape (n, 2), with their numbers and trips from 0.

    Attributes
    ----------
    emptied
        Where trips end that do not end as they began, shape (k, 2).
    """

    lines: Lines
    stops: FloatArray
    orders: tuple[int, ...]
    trip_of: tuple[int, ...]
    emptied: FloatArray


def round_lines(walked: Sequence[TripLine], frame: WorkingFrame) -> RoundLines:
    """Return the lines of a round in the frame of the map."""
    # All positions at once: a change of frame costs by the call, not by the point.
    courses = [trip.course for trip in walked]
    stops = [trip.stops for trip in walked]
    emptied = list(dict.fromkeys(trip.emptied_at for trip in walked if trip.emptied_at is not None))
    flat = xy(frame, [at for line in (*courses, *stops, emptied) for at in line])
    *lines, tanks = np.split(flat, np.cumsum([len(line) for line in (*courses, *stops)]))
    places = lines[len(courses) :]
    trips = [legs_of(course, at) for course, at in zip(lines, places, strict=False)]
    orders = tuple(order for trip in walked for order in trip.orders)
    trip_of = tuple(number for number, trip in enumerate(walked) for _ in trip.stops)
    return RoundLines(Lines(trips), np.concatenate(places), orders, trip_of, tanks)


@dataclass(frozen=True, eq=False)
class RoundOverlay:
    """A planned round, drawn as far as `part` of its length.

    Attributes
    ----------
    part
        0 up to 1.
    sketch
        A best round so far: lighter, without numbers.
    scale
        Size of the window's text.
    marks
        All trees and places, metres, from which the numbers keep clear.
    trip
        The trip, from 0, that is looked at: the others step back; None for all alike.
    chosen
        Where the chosen tree stands, metres, shape (0 or 1, 2): its ring and its name need room.
    """

    shown: RoundLines
    part: float = 1.0
    sketch: bool = False
    scale: float = 1.0
    marks: Marks | None = None
    trip: int | None = None
    chosen: FloatArray = field(default_factory=lambda: np.zeros((0, 2)))
    _kept: dict[str, tuple[object, Any]] = field(default_factory=dict)
    """What was worked out last, and for which view."""

    def paint(self, painter: QPainter, camera: Camera, theme: Theme) -> None:
        """Draw the lines, each with a halo of ground colour, then the arrows."""
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        drawn = self._drawn(camera)
        # Single lines with flat ends are drawn many times as fast as paths.
        trips = [_stretches(lines) for lines in drawn.trips]
        painter.setPen(_pen(QColor(theme.ground), HALO_PX * self.scale))
        for stretches in trips:
            painter.drawLines(stretches)
        ink = QColor(theme.second_ink if self.sketch else theme.ink)
        for number, stretches in enumerate(trips):
            pen = _pen(ink if self.trip in (None, number) else _stepped_back(ink), LINE_PX * self.scale)
            dashes = DASHES[number % len(DASHES)]
            if dashes:
                pen.setDashPattern(list(dashes))
            painter.setPen(pen)
            painter.drawLines(stretches)
        own = np.array([self.trip in (None, int(number)) for number in drawn.arrow_trips], dtype=bool)
        for arrows, colour in ((drawn.arrows[~own], _stepped_back(ink)), (drawn.arrows[own], ink)):
            heads = _stretches(_arrow_heads(arrows, ARROW_PX * self.scale))
            for pen in (_pen(QColor(theme.ground), (LINE_PX + 2.5) * self.scale), _pen(colour, LINE_PX * self.scale)):
                pen.setCapStyle(Qt.PenCapStyle.SquareCap)
                painter.setPen(pen)
                painter.drawLines(heads)
        self._paint_emptied(painter, camera, theme, ink)

    def _paint_emptied(self, painter: QPainter, camera: Camera, theme: Theme, ink: QColor) -> None:
        """Draw a ring where cans are emptied that were not filled from there."""
        painter.setBrush(Qt.BrushStyle.NoBrush)
        for at in camera.to_screen(self.shown.emptied).tolist():
            for pen in (_pen(QColor(theme.ground), HALO_PX * self.scale), _pen(ink, LINE_PX * self.scale)):
                painter.setPen(pen)
                painter.drawEllipse(QPointF(*at), EMPTIED_PX * self.scale, EMPTIED_PX * self.scale)

    def labels(self, camera: Camera) -> Sequence[Label]:
        """Return the numbers of the stops, each where it is clear of the lines."""
        orders = self.shown.orders
        if self.sketch or self.part < 1 or not orders or len(orders) > MOST_NUMBERED:
            return ()
        stops = camera.to_screen(self.shown.stops)
        sizes = [(DIGIT_PX * self.scale * len(str(order)), NUMBER_HEIGHT_PX * self.scale) for order in orders]
        # While the map is only pushed aside the numbers stay beside their stops as they are.
        view = (camera.px_per_m, camera.turn_deg)
        middles = stops + self._once("numbers", view, lambda: self._numbers(camera, stops, sizes) - stops)
        # A label with no mark to keep clear of begins just where it is told to.
        alone = self.trip is not None and len(orders) > MANY_STOPS
        return [
            Label(str(order), float(x) - width / 2, float(y), -GAP_PX, Rank.STOP, strong=True)
            for order, trip, (x, y), (width, _) in zip(orders, self.shown.trip_of, middles, sizes, strict=True)
            if not alone or trip == self.trip
        ]

    def _numbers(self, camera: Camera, stops: FloatArray, sizes: Sequence[tuple[float, float]]) -> FloatArray:
        ringed = camera.to_screen(self.chosen)
        radii = np.full(len(stops), DIAL_PX * self.scale)
        for at in ringed:
            radii[np.hypot(*(stops - at).T) < 1] = RING_PX * self.scale
        beside = [ringed + np.array([RING_PX + along, 0.0]) for along in NAME_AT_PX]
        near: FloatArray = np.zeros((0, 2))
        if self.marks is not None:
            near = self.marks.near(self.shown.stops, ROUND_A_STOP_PX / camera.px_per_m)
        around = np.concatenate([camera.to_screen(near), *beside])
        lines = [line for trip in self._drawn(camera).trips for line in trip]
        return number_places(stops, radii.tolist(), sizes, lines, around)

    def _drawn(self, camera: Camera) -> Drawn:
        scale = self.scale
        return self._once(
            "lines",
            camera,
            lambda: self.shown.lines.on_screen(camera.to_screen, DEPOT_PX * scale, DIAL_PX * scale, self.part),
        )

    def _once(self, what: str, view: object, work: Callable[[], Worked]) -> Worked:
        """Work something out unless it was, for the same view."""
        kept = self._kept.get(what)
        if kept is None or kept[0] != view:
            kept = self._kept[what] = (view, work())
        found: Worked = kept[1]
        return found


def _stepped_back(ink: QColor) -> QColor:
    faded = QColor(ink)
    faded.setAlphaF(STEPPED_BACK)
    return faded


def _pen(colour: QColor, width: float) -> QPen:
    pen = QPen(colour, width)
    pen.setCapStyle(Qt.PenCapStyle.FlatCap)
    return pen


def _stretches(lines: Iterable[FloatArray]) -> list[QLineF]:
    return [QLineF(*a, *b) for line in lines for a, b in pairwise(line.tolist())]


def _arrow_heads(arrows: FloatArray, size_px: float) -> FloatArray:
    """Return the three points of each arrow, shape (n, 3, 2)."""
    turn = arrows[:, 2]
    tip = arrows[:, :2] + size_px / 2 * np.column_stack([np.cos(turn), np.sin(turn)])
    wings = [tip - size_px * np.column_stack([np.cos(turn + side), np.sin(turn + side)]) for side in (-0.45, 0.45)]
    heads: FloatArray = np.stack([wings[0], tip, wings[1]], axis=1)
    return heads
