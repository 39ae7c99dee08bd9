"""All that was measured between points, as equations: misfits in standard deviations, and how points change them.

Everything is on the grid of the working frame: x metres east, y metres north, bearings clockwise from grid north.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from standmap.stand.sights import Sight
from standmap.stand.walks import FloatArray
from standmap.survey.one_sight import XY, grid_bearing_deg, level_distance_m, sigma_deg, sigma_m

if TYPE_CHECKING:
    from scipy.sparse import csr_matrix

IntArray = NDArray[np.int64]

SHORTEST_M = 0.01
"""Two points are never taken to be nearer than this when a direction between them is asked for."""


class What(StrEnum):
    """What was read."""

    POSITION = "position"
    BEARING = "bearing"
    DISTANCE = "distance"
    OFFSET = "offset"


@dataclass(frozen=True, slots=True)
class SeenAt:
    """A position of a point by a receiver.

    Attributes
    ----------
    id
        Of the row that it comes from.
    point
        Key of the point.
    xy
        Metres on the grid.
    own_m2
        var_e, var_n, cov_en of what is its own, square metres: without what its whole walk shares.
    walk
        The walk whose shift it shares, if it was taken on one.
    """

    id: str
    point: str
    xy: XY
    own_m2: tuple[float, float, float]
    walk: str | None = None


@dataclass(frozen=True, slots=True)
class Reading:
    """One thing that was read, of one or two equations.

    Attributes
    ----------
    id
        Of the sight or the position.
    ends
        The points that it ties.
    """

    id: str
    what: What
    ends: tuple[str, ...]


class Equations:
    """The equations of a network in a fixed order: positions, bearings, distances, offsets, then what walks may share.

    Parameters
    ----------
    points
        Where each point is first taken to be, metres.
    held
        Points that do not move.
    seen, sights
        What was measured; each of its points is in `points`.
    shift_m2
        For each walk the variance of an axis of its shift, square metres.

    Attributes
    ----------
    start
        First values of the unknowns, metres: x and y of each free point, then of each walk's shift.
    columns
        For each point the first of its two unknowns; -1 where it is held, shape (points,).
    readings
        One for each reading, in order.
    reading_of
        For each equation the number of its reading; -1 for what only says that a walk is not shifted far.
    """

    def __init__(
        self,
        points: Mapping[str, XY],
        held: frozenset[str],
        seen: Sequence[SeenAt],
        sights: Sequence[Sight],
        shift_m2: Mapping[str, float],
        convergence_deg: float,
    ) -> None:
        self.keys = list(points)
        self.number = {key: i for i, key in enumerate(self.keys)}
        self.walks = sorted({s.walk for s in seen if s.walk is not None and shift_m2.get(s.walk, 0.0) > 0})
        free = [i for i, key in enumerate(self.keys) if key not in held]
        self.free = np.array(free, dtype=np.int64)
        self.columns = np.full(len(self.keys), -1, dtype=np.int64)
        self.columns[self.free] = 2 * np.arange(len(free))
        walk_column = {walk: 2 * (len(free) + i) for i, walk in enumerate(self.walks)}
        self._all = np.array([points[key] for key in self.keys], dtype=float).reshape(-1, 2)
        self.start = np.concatenate([self._all[self.free].ravel(), np.zeros(2 * len(self.walks))])

        self._seen = np.array([self.number[s.point] for s in seen], dtype=np.int64)
        self._seen_xy = np.array([s.xy for s in seen], dtype=float).reshape(-1, 2)
        self._white = _whitening([s.own_m2 for s in seen])
        self._seen_walk = np.array([walk_column.get(s.walk or "", -1) for s in seen], dtype=np.int64)
        self._prior = 1 / np.sqrt(np.array([shift_m2[walk] for walk in self.walks], dtype=float))
        self._prior_column = np.array([walk_column[walk] for walk in self.walks], dtype=np.int64)

        polar = [s for s in sights if s.toward_key is None]
        turned = [(s, b) for s in polar if (b := grid_bearing_deg(s, convergence_deg)) is not None]
        taped = [(s, d) for s in polar if (d := level_distance_m(s)) is not None]
        based = [s for s in sights if s.toward_key is not None]
        self._bearing = self._ends([s for s, _ in turned])
        self._bearing_rad = np.radians([b for _, b in turned])
        self._bearing_sigma = np.radians([sigma_deg(s) for s, _ in turned])
        self._tape = self._ends([s for s, _ in taped])
        self._tape_m = np.array([d for _, d in taped], dtype=float)
        self._tape_sigma = np.array([sigma_m(s) for s, _ in taped], dtype=float)
        self._offset = self._ends(based)
        self._base = np.array([self.number[s.toward_key or ""] for s in based], dtype=np.int64)
        self._offset_m = np.array([(s.along_m or 0.0, s.offset_m or 0.0) for s in based], dtype=float).reshape(-1, 2)
        self._offset_sigma = np.array([sigma_m(s) for s in based], dtype=float)

        self.readings = [
            *(Reading(s.id, What.POSITION, (s.point,)) for s in seen),
            *(Reading(s.key, What.BEARING, (s.from_key, s.to_key)) for s, _ in turned),
            *(Reading(s.key, What.DISTANCE, (s.from_key, s.to_key)) for s, _ in taped),
            *(Reading(s.key, What.OFFSET, (s.from_key, s.to_key, s.toward_key or "")) for s in based),
        ]
        counts = [2 if r.what in (What.POSITION, What.OFFSET) else 1 for r in self.readings]
        self.reading_of = np.concatenate(
            [np.repeat(np.arange(len(counts)), counts), np.full(2 * len(self.walks), -1)]
        ).astype(np.int64)

    def _ends(self, sights: Sequence[Sight]) -> IntArray:
        pairs = [(self.number[s.from_key], self.number[s.to_key]) for s in sights]
        return np.array(pairs, dtype=np.int64).reshape(-1, 2)

    def places(self, unknowns: FloatArray) -> FloatArray:
        """Return where all points lie, metres, shape (points, 2)."""
        found = self._all.copy()
        found[self.free] = unknowns[: 2 * len(self.free)].reshape(-1, 2)
        return found

    def shifts(self, unknowns: FloatArray) -> FloatArray:
        """Return the shift of each walk, metres east and north, shape (walks, 2)."""
        return unknowns[2 * len(self.free) :].reshape(-1, 2)

    def misfits(self, unknowns: FloatArray) -> FloatArray:
        """Return what the points say less what was read, in standard deviations, shape (equations,)."""
        at = self.places(unknowns)
        return np.concatenate(
            [
                (self._white @ self._off_positions(at, unknowns)[:, :, None]).ravel(),
                self._off_bearings(at),
                self._off_tapes(at),
                (self._off_offsets(at) / self._offset_sigma[:, None]).ravel(),
                (self.shifts(unknowns) * self._prior[:, None]).ravel(),
            ]
        )

    def _off_positions(self, at: FloatArray, unknowns: FloatArray) -> FloatArray:
        shift = np.zeros((len(self._seen), 2))
        shared = self._seen_walk >= 0
        column = self._seen_walk[shared]
        shift[shared, 0], shift[shared, 1] = unknowns[column], unknowns[column + 1]
        return np.asarray(at[self._seen] + shift - self._seen_xy)

    def _off_bearings(self, at: FloatArray) -> FloatArray:
        way = at[self._bearing[:, 1]] - at[self._bearing[:, 0]]
        turn = np.arctan2(way[:, 0], way[:, 1]) - self._bearing_rad
        return np.asarray((np.mod(turn + math.pi, 2 * math.pi) - math.pi) / self._bearing_sigma)

    def _off_tapes(self, at: FloatArray) -> FloatArray:
        way = at[self._tape[:, 1]] - at[self._tape[:, 0]]
        return np.asarray((np.hypot(way[:, 0], way[:, 1]) - self._tape_m) / self._tape_sigma)

    def _off_offsets(self, at: FloatArray) -> FloatArray:
        along, square, _length, ray = self._base_lines(at)
        return np.asarray(np.column_stack([(ray * along).sum(axis=1), (ray * square).sum(axis=1)]) - self._offset_m)

    def _base_lines(self, at: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
        """Return units along and right of each base line, its length, and the ray from its start to the point."""
        start = at[self._offset[:, 0]]
        base = at[self._base] - start
        length = np.maximum(np.hypot(base[:, 0], base[:, 1]), SHORTEST_M)
        along = base / length[:, None]
        return along, np.column_stack([along[:, 1], -along[:, 0]]), length, at[self._offset[:, 1]] - start

    def in_units(self, misfits: FloatArray) -> FloatArray:
        """Return misfits of bearings in degrees and of distances and offsets in metres; others as they are."""
        found = misfits.copy()
        lo = 2 * len(self._seen)
        for sigma in (np.degrees(self._bearing_sigma), self._tape_sigma, np.repeat(self._offset_sigma, 2)):
            found[lo : lo + len(sigma)] *= sigma
            lo += len(sigma)
        return found

    def off_position(self, number: int, places: FloatArray) -> XY:
        """Return metres east and north from a position as it was taken to where its point lies.

        Parameters
        ----------
        number
            Of the reading; positions come first.
        """
        east, north = places[self._seen[number]] - self._seen_xy[number]
        return float(east), float(north)

    def slopes(self, unknowns: FloatArray) -> csr_matrix:
        """Return by how much each misfit grows with each unknown, shape (equations, unknowns), sparse."""
        from scipy.sparse import csr_matrix

        at = self.places(unknowns)
        pieces = _Pieces()
        for axis in (0, 1):
            rows = 2 * np.arange(len(self._seen)) + axis
            pieces.add(rows, self.columns[self._seen], self._white[:, axis, :])
            pieces.add(rows, self._seen_walk, self._white[:, axis, :])
        first = 2 * len(self._seen)

        way = at[self._bearing[:, 1]] - at[self._bearing[:, 0]]
        square_m2 = np.maximum((way**2).sum(axis=1), SHORTEST_M**2)
        turn = np.column_stack([way[:, 1], -way[:, 0]]) / (square_m2 * self._bearing_sigma)[:, None]
        rows = first + np.arange(len(turn))
        pieces.add(rows, self.columns[self._bearing[:, 1]], turn)
        pieces.add(rows, self.columns[self._bearing[:, 0]], -turn)
        first += len(turn)

        way = at[self._tape[:, 1]] - at[self._tape[:, 0]]
        length = np.maximum(np.hypot(way[:, 0], way[:, 1]), SHORTEST_M)
        pull = way / (length * self._tape_sigma)[:, None]
        rows = first + np.arange(len(pull))
        pieces.add(rows, self.columns[self._tape[:, 1]], pull)
        pieces.add(rows, self.columns[self._tape[:, 0]], -pull)
        first += len(pull)

        along, square, length, ray = self._base_lines(at)
        across = (ray * square).sum(axis=1)
        of_base = (
            (ray - (ray * along).sum(axis=1)[:, None] * along) / length[:, None],
            (np.column_stack([-ray[:, 1], ray[:, 0]]) - across[:, None] * along) / length[:, None],
        )
        for axis, (of_point, turned) in enumerate(zip((along, square), of_base, strict=True)):
            rows = first + 2 * np.arange(len(ray)) + axis
            sigma = self._offset_sigma[:, None]
            pieces.add(rows, self.columns[self._offset[:, 1]], of_point / sigma)
            pieces.add(rows, self.columns[self._base], turned / sigma)
            pieces.add(rows, self.columns[self._offset[:, 0]], -(of_point + turned) / sigma)
        first += 2 * len(ray)

        for axis in (0, 1):
            rows = first + 2 * np.arange(len(self.walks)) + axis
            one = np.zeros((len(self.walks), 2))
            one[:, axis] = self._prior
            pieces.add(rows, self._prior_column, one)
        shape = (len(self.reading_of), len(self.start))
        return csr_matrix((pieces.values, (pieces.rows, pieces.columns)), shape=shape)


class _Pieces:
    """Entries of a sparse matrix: for each row two neighbouring columns; a column below 0 is left out."""

    def __init__(self) -> None:
        self._rows: list[IntArray] = []
        self._columns: list[IntArray] = []
        self._values: list[FloatArray] = []

    def add(self, rows: IntArray, columns: IntArray, values: FloatArray) -> None:
        kept = columns >= 0
        for axis in (0, 1):
            self._rows.append(rows[kept])
            self._columns.append(columns[kept] + axis)
            self._values.append(values[kept, axis])

    @property
    def rows(self) -> IntArray:
        return np.concatenate(self._rows)

    @property
    def columns(self) -> IntArray:
        return np.concatenate(self._columns)

    @property
    def values(self) -> FloatArray:
        return np.concatenate(self._values)


def _whitening(own_m2: Sequence[tuple[float, float, float]]) -> FloatArray:
    """Return matrices that turn position errors into independent ones of variance 1, shape (n, 2, 2)."""
    if not own_m2:
        return np.zeros((0, 2, 2))
    e, n, en = np.array(own_m2, dtype=float).T
    covariance = np.stack([np.stack([e, en], axis=1), np.stack([en, n], axis=1)], axis=1)
    return np.asarray(np.linalg.inv(np.linalg.cholesky(covariance)))
