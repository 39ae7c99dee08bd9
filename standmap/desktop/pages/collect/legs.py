"""Where the lines of a round run on the screen: legs, arrows, and places for the numbers of the stops. No Qt here."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

SAME_SPOT_M = 0.2
"""A point of a course this near to a stop is that stop: positions went to degrees and back."""

ASIDE_PX = 2.5
"""Lines run this far to the right of the way, so that a way walked in both directions shows as two lines."""

LEAST_FOR_ARROW_PX = 26.0
ARROW_AT = 0.6
"""How far along its stretch an arrow stands: past the middle, so that there and back on one way do not cross."""

DIRECTIONS = 16
"""So many places round a stop are tried for its number."""

MARK_PX = 12.0
"""Half the size of other marks."""

AWAY_PX = (4.0, 10.0)
"""Gaps between a stop and its number that are tried."""


def legs_of(course: FloatArray, stops: FloatArray) -> list[FloatArray]:
    """Return a course cut at its stops.

    Parameters
    ----------
    course
        Metres, shape (n, 2), from the depot and back to it.
    stops
        Metres, shape (k, 2), in the order walked; each lies on the course.

    Returns
    -------
    list
        k + 1 lines, each of at least one point: to each stop, then home.
    """
    legs: list[FloatArray] = []
    at = 0
    for stop in stops:
        away = np.hypot(*(course[at:] - stop).T)
        near = np.flatnonzero(away <= max(SAME_SPOT_M, float(away.min())))
        reached = at + int(near[0])
        legs.append(course[at : reached + 1])
        at = reached
    legs.append(course[at:])
    return legs


@dataclass(frozen=True, slots=True, eq=False)
class Drawn:
    """All lines of a round on the screen.

    Attributes
    ----------
    trips
        For each trip the lines of its legs that are long enough to be seen.
    arrows
        Where the arrows stand and where they point, radians from right to down, shape (n, 3).
    arrow_trips
        The trip of each arrow, from 0, shape (n,).
    """

    trips: tuple[tuple[FloatArray, ...], ...]
    arrows: FloatArray
    arrow_trips: NDArray[np.intp]


class Lines:
    """All legs of all trips in one row of points, so that a whole round is moved to the screen at once.

    Parameters
    ----------
    trips
        For each trip its legs in metres, see `legs_of`; legs of one point are left out.
    """

    def __init__(self, trips: Sequence[Sequence[FloatArray]]) -> None:
        legs = [(number, _without_doubles(leg)) for number, trip in enumerate(trips) for leg in trip]
        homes = {sum(len(trip) for trip in trips[: k + 1]) - 1 for k in range(len(trips))}
        starts = {sum(len(trip) for trip in trips[:k]) for k in range(len(trips))}
        kept = [(k, number, leg) for k, (number, leg) in enumerate(legs) if len(leg) > 1]
        self._trips = len(trips)
        self._trip_of = [number for _, number, _ in kept]
        self._xy = np.concatenate([leg for *_, leg in kept]) if kept else np.zeros((0, 2))
        self._first = np.cumsum([0, *[len(leg) for *_, leg in kept]])
        """Where each leg begins in the row, and the end of the last."""
        self._leg = np.repeat(np.arange(len(kept)), np.diff(self._first))
        self._from_depot = np.array([k in starts for k, *_ in kept], dtype=bool)
        self._to_depot = np.array([k in homes for k, *_ in kept], dtype=bool)

    def on_screen(
        self, to_screen: Callable[[FloatArray], FloatArray], depot_px: float, stop_px: float, part: float = 1.0
    ) -> Drawn:
        """Return the lines, a little to the right of the way and clear of the marks at their ends.

        Parameters
        ----------
        depot_px, stop_px
            How far lines keep from the depot and from the stops.
        part
            How much of the round to return, 0 up to 1, from its start.
        """
        if not len(self._xy):
            return Drawn(((),) * self._trips, np.zeros((0, 3)), np.zeros(0, np.intp))
        points = _aside(to_screen(self._xy), self._leg)
        inside = np.diff(self._leg) == 0
        step = np.where(inside[:, None], np.diff(points, axis=0), 0.0)
        # One measure along all legs, which grows by a pixel from each leg to the next.
        along = np.concatenate([[0.0], np.cumsum(np.hypot(*step.T) + ~inside)])
        begin = along[self._first[:-1]]
        end = along[self._first[1:] - 1]
        low = begin + np.where(self._from_depot, depot_px, stop_px)
        high = end - np.where(self._to_depot, depot_px, stop_px)
        if part < 1:
            high = np.minimum(high, along[-1] * part)
        seen = high - low >= 1
        kept = np.clip(along, low[self._leg], np.maximum(high, low)[self._leg])
        points = np.column_stack([np.interp(kept, along, points[:, 0]), np.interp(kept, along, points[:, 1])])
        trips: list[list[FloatArray]] = [[] for _ in range(self._trips)]
        for leg in np.flatnonzero(seen).tolist():
            trips[self._trip_of[leg]].append(points[self._first[leg] : self._first[leg + 1]])
        arrows, legs = self._arrows(points, inside, seen)
        return Drawn(tuple(map(tuple, trips)), arrows, np.array(self._trip_of, np.intp)[legs])

    def _arrows(
        self, points: FloatArray, inside: NDArray[np.bool_], seen: NDArray[np.bool_]
    ) -> tuple[FloatArray, NDArray[np.intp]]:
        """Return one arrow a leg, on its longest straight stretch, and its leg; none for a short leg."""
        step = np.diff(points, axis=0)
        length = np.where(inside, np.hypot(*step.T), 0.0)
        whole = np.bincount(self._leg[:-1], weights=length, minlength=len(seen))
        order = np.lexsort((-length, self._leg[:-1]))
        longest = order[np.searchsorted(self._leg[:-1][order], np.arange(len(seen)))]
        legs = np.flatnonzero(seen & (whole >= LEAST_FOR_ARROW_PX))
        longest = longest[legs]
        places = points[longest] + ARROW_AT * (points[longest + 1] - points[longest])
        return np.column_stack([places, np.arctan2(step[longest, 1], step[longest, 0])]), legs


def _aside(points: FloatArray, leg: NDArray[np.intp], by_px: float = ASIDE_PX) -> FloatArray:
    """Return legs moved to the right of the way they are walked."""
    step = np.diff(points, axis=0)
    length = np.maximum(np.hypot(*step.T), 1e-9)
    right = np.where((np.diff(leg) == 0)[:, None], np.column_stack([-step[:, 1], step[:, 0]]) / length[:, None], 0.0)
    none = np.zeros((1, 2))
    before, after = np.vstack([none, right]), np.vstack([right, none])
    middle = before + after
    bends = (before.any(axis=1) & after.any(axis=1)).astype(float)
    # At a bend the two directions are added up; no spikes where it is sharp.
    size = np.where(bends > 0, np.maximum((middle**2).sum(axis=1) / 2, 0.5), 1.0)
    moved: FloatArray = points + by_px * middle / size[:, None]
    return moved


def number_places(
    stops: FloatArray,
    radii_px: Sequence[float],
    sizes_px: Sequence[tuple[float, float]],
    lines: Sequence[FloatArray],
    marks: FloatArray,
) -> FloatArray:
    """Return where the middle of each stop's number is to stand, shape (k, 2): beside its dial, clear of lines.

    Parameters
    ----------
    stops
        On the screen, shape (k, 2).
    sizes_px
        Width and height of each number.
    lines
        On the screen.
    marks
        Other marks on the screen that a number should not cover, shape (m, 2).
    """
    joined = [np.hstack([line[:-1], line[1:]]) for line in lines if len(line) > 1]
    segments = np.concatenate(joined) if joined else np.zeros((0, 4))
    turns = np.arange(DIRECTIONS) * 2 * np.pi / DIRECTIONS - np.pi / 4  # up to the right first
    ways = np.column_stack([np.cos(turns), np.sin(turns)])
    found = np.zeros_like(stops)
    # Stops, then numbers as they are set (far away until then), then other marks.
    around = np.concatenate([stops, np.full_like(stops, 1e9), marks])
    for k, (stop, radius, (width, height)) in enumerate(zip(stops, radii_px, sizes_px, strict=True)):
        half = np.array([width, height]) / 2
        room = float(np.hypot(*half))
        spots = np.concatenate([stop + ways * (radius + gap + np.abs(ways) @ half)[:, None] for gap in AWAY_PX])
        reach = radius + AWAY_PX[-1] + 2 * room + MARK_PX
        near = (np.maximum(segments[:, :2], segments[:, 2:]) > stop - reach).all(axis=1)
        near &= (np.minimum(segments[:, :2], segments[:, 2:]) < stop + reach).all(axis=1)
        clear = 2 * np.minimum(_away_from_lines(spots, segments[near]), room + 2)
        others = around[(np.abs(around - stop) < reach).all(axis=1) & (around != stop).any(axis=1)]
        if len(others):
            away = np.hypot(*(spots[:, None, :] - others[None, :, :]).transpose(2, 0, 1)).min(axis=1)
            clear += 2 * np.minimum(away, room + MARK_PX)
        else:
            clear += 2 * (room + MARK_PX)
        best = int(np.argmax(clear - np.repeat(np.arange(len(AWAY_PX)), DIRECTIONS) * 1.5))
        found[k] = around[len(stops) + k] = spots[best]
    return found


def _away_from_lines(spots: FloatArray, segments: FloatArray) -> FloatArray:
    """Return how far each spot is from the nearest segment."""
    if not len(segments):
        return np.full(len(spots), np.inf)
    start, step = segments[:, :2], segments[:, 2:] - segments[:, :2]
    squared = np.maximum((step**2).sum(axis=1), 1e-9)
    part = np.clip(((spots[:, None, :] - start) * step).sum(axis=2) / squared, 0, 1)
    away = spots[:, None, :] - start - part[:, :, None] * step
    nearest: FloatArray = np.hypot(away[..., 0], away[..., 1]).min(axis=1)
    return nearest


def _without_doubles(line: FloatArray) -> FloatArray:
    if len(line) < 2:
        return line
    kept: FloatArray = line[np.concatenate([[True], np.hypot(*np.diff(line, axis=0).T) > 1e-6])]
    return kept
