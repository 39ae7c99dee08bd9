"""Tape and compass: where the points lie that sights lead to from known ones.

Everything is on the grid of the working frame: x metres east, y metres north, bearings clockwise from grid north.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from standmap.stand.sights import Sight
from standmap.stand.walks import FloatArray
from standmap.survey.one_sight import (
    XY,
    grid_bearing_deg,
    grid_turn_deg,
    level_distance_m,
    misfit_m,
    misfit_sigma_m,
    misreadings,
    offset_point,
    polar_point,
    sigma_deg,
    sigma_m,
    turn_deg,
)

Covariance = tuple[float, float, float]
"""var_e, var_n, cov_en in square metres."""

THIN_DEG = 10.0
"""Lines that cross at less than this tell no place: a sigma grows there more than fivefold (1 / sin of it)."""

_STEPS = 20


@dataclass(frozen=True, slots=True)
class Placed:
    """A point that sights lead to.

    Attributes
    ----------
    xy
        Metres east and north.
    covariance
        Square metres: of the measuring, and of the points that it hangs on, their errors taken to be common.
    measured
        The part of the covariance that comes of the measuring alone, from the known points on.
    by
        Which sights place it, by their place in the sequence.
    roots
        The known points that it hangs on.
    """

    xy: XY
    covariance: Covariance
    measured: Covariance
    by: tuple[int, ...]
    roots: frozenset[str]


@dataclass(frozen=True, slots=True)
class _Seen:
    """One sight as seen from a known point: a length, a grid bearing, or both, toward the unknown one."""

    near: Placed
    length_m: float | None
    bearing_deg: float | None
    sigma_m: float
    sigma_deg: float
    number: int

    @property
    def at(self) -> XY:
        """Where it was seen from."""
        return self.near.xy


@dataclass(frozen=True, slots=True)
class _Spot:
    """A place told outright, by an offset from a base line."""

    xy: XY
    near: Placed
    sigma_m: float
    number: int


def first_positions(known: Mapping[str, XY], sights: Sequence[Sight], convergence_deg: float = 0.0) -> dict[str, XY]:
    """Return where the points lie that sights lead to from known ones, on the grid.

    Each point is placed by all the sights that reach it from points placed before it: along a bearing and a distance,
    either way; by three tapes; by two tapes and a bearing that tells the side; by bearings that cross; by an offset
    from a base line. This is repeated until no other is reached. Sights that are not used are passed over.

    Parameters
    ----------
    known
        Positions by key; these stay.
    convergence_deg
        Grid bearing + convergence = true bearing.

    Returns
    -------
    dict
        The points that were not known, by key. What no sight reaches is missing.
    """
    held = {key: (xy, (0.0, 0.0, 0.0)) for key, xy in known.items()}
    return {key: placed.xy for key, placed in place(held, sights, convergence_deg).items()}


def place(
    known: Mapping[str, tuple[XY, Covariance]], sights: Sequence[Sight], convergence_deg: float = 0.0
) -> dict[str, Placed]:
    """Return what `first_positions` does, with how sure each point is.

    Parameters
    ----------
    known
        Positions by key, each with its covariance in square metres.
    """
    nothing = (0.0, 0.0, 0.0)
    held = {key: Placed(xy, spread, nothing, (), frozenset({key})) for key, (xy, spread) in known.items()}
    seen = _SeenSoFar(sights, convergence_deg)
    found: dict[str, Placed] = {}
    fresh = list(known)
    while fresh:
        reached = {key: _placed(*seen.of(key)) for key in seen.look_from(fresh, held)}
        placed = {key: at for key, at in reached.items() if at is not None}
        found |= placed
        held |= placed
        fresh = list(placed)
    return found


class _SeenSoFar:
    """What is seen of unknown points from those known so far; each sight is looked along once from either end."""

    def __init__(self, sights: Sequence[Sight], convergence_deg: float) -> None:
        self._sights = sights
        self._convergence_deg = convergence_deg
        self._touching: dict[str, list[int]] = {}
        for number, sight in enumerate(sights):
            if sight.used:
                for key in {sight.from_key, sight.toward_key or sight.to_key}:
                    self._touching.setdefault(key, []).append(number)
        self._seen: dict[str, list[_Seen]] = {}
        self._spots: dict[str, list[_Spot]] = {}

    def of(self, key: str) -> tuple[Sequence[_Seen], Sequence[_Spot]]:
        """Return what is seen of a point."""
        return self._seen.get(key, ()), self._spots.get(key, ())

    def look_from(self, fresh: Sequence[str], held: Mapping[str, Placed]) -> Iterator[str]:
        """Look along all sights from points that are newly known, and yield those of which more is seen than before."""
        looked: set[int] = set()
        more: dict[str, None] = {}
        for near in fresh:
            for number in self._touching.get(near, ()):
                sight = self._sights[number]
                far = sight.to_key if sight.toward_key is not None or near == sight.from_key else sight.from_key
                if far in held or number in looked:
                    continue
                looked.add(number)
                if self._look(sight, number, near, far, held):
                    more[far] = None
        yield from more

    def _look(self, sight: Sight, number: int, near: str, far: str, held: Mapping[str, Placed]) -> bool:
        if sight.toward_key is not None:
            if sight.from_key not in held or sight.toward_key not in held:
                return False
            start = held[sight.from_key]
            xy = offset_point(start.xy, held[sight.toward_key].xy, sight.along_m or 0.0, sight.offset_m or 0.0)
            if xy is not None:
                self._spots.setdefault(far, []).append(_Spot(xy, start, sigma_m(sight), number))
            return xy is not None
        bearing = grid_bearing_deg(sight, self._convergence_deg)
        if bearing is not None and near == sight.to_key:
            bearing = (bearing + 180.0) % 360.0
        seen = _Seen(held[near], level_distance_m(sight), bearing, sigma_m(sight), sigma_deg(sight), number)
        self._seen.setdefault(far, []).append(seen)
        return True


def _placed(seen: Sequence[_Seen], spots: Sequence[_Spot]) -> Placed | None:
    begun = _begun(seen, spots)
    if begun is None:
        return None
    xy, own = _settled(begun, seen, spots)
    near = [*(s.near for s in seen), *(s.near for s in spots)]
    # The errors of the points that it hangs on are for the most part one and the same: those of their walk.
    covariance, measured = (
        _sum(own, *(_part(getattr(n, kind), len(near)) for n in near)) for kind in ("covariance", "measured")
    )
    numbers = tuple(sorted({*(s.number for s in seen), *(s.number for s in spots)}))
    return Placed(xy, covariance, measured, numbers, frozenset().union(*(n.roots for n in near)))


def _part(spread: Covariance, of: int) -> Covariance:
    return spread[0] / of, spread[1] / of, spread[2] / of


def _sum(*spreads: Covariance) -> Covariance:
    e, n, en = (math.fsum(column) for column in zip(*spreads, strict=True))
    return e, n, en


def _begun(seen: Sequence[_Seen], spots: Sequence[_Spot]) -> XY | None:
    """Return a first place from what is enough for one, or None."""
    outright = [s.xy for s in spots]
    outright += [
        polar_point(s.at, s.bearing_deg, s.length_m)
        for s in seen
        if s.bearing_deg is not None and s.length_m is not None
    ]
    if outright:
        return _mean(outright)
    tapes = [s for s in seen if s.length_m is not None]
    bearings = [s for s in seen if s.bearing_deg is not None]
    if len(tapes) >= 3 and (found := _by_three_tapes(tapes)) is not None:
        return found
    if len(tapes) >= 2 and bearings:
        return _by_two_tapes(tapes, bearings)
    return _by_bearings(bearings) if len(bearings) >= 2 else None


def _mean(points: Sequence[XY]) -> XY:
    return math.fsum(p[0] for p in points) / len(points), math.fsum(p[1] for p in points) / len(points)


def _by_three_tapes(tapes: Sequence[_Seen]) -> XY | None:
    """Return where three or more circles meet best; None where their middles lie nearly in one line."""
    at = np.array([s.at for s in tapes])
    length = np.array([s.length_m for s in tapes], dtype=float)
    middle = at.mean(axis=0)
    rows = at - middle
    wide, narrow = np.linalg.svd(rows, compute_uv=False)[:2]
    if narrow <= math.sin(math.radians(THIN_DEG)) * wide:
        return None  # the point and its mirror image are as good
    # Differences of the squared circles are linear in the point.
    squares = (rows**2).sum(axis=1) - length**2
    solved, *_ = np.linalg.lstsq(2 * rows, squares - squares.mean(), rcond=None)
    return float(solved[0] + middle[0]), float(solved[1] + middle[1])


def _by_two_tapes(tapes: Sequence[_Seen], bearings: Sequence[_Seen]) -> XY | None:
    """Return that of the two points of two circles which a bearing tells."""
    one, other = _widest(tapes)
    crossings = _circles(one, other)
    if not crossings:
        return None

    def off(xy: XY) -> float:
        return sum(abs(turn_deg(s.bearing_deg or 0.0, grid_turn_deg(s.at, xy))) for s in bearings)

    return min(crossings, key=off)


def _widest(tapes: Sequence[_Seen]) -> tuple[_Seen, _Seen]:
    pairs = [(a, b) for i, a in enumerate(tapes) for b in tapes[i + 1 :]]
    return max(pairs, key=lambda pair: math.dist(pair[0].at, pair[1].at))


def _circles(one: _Seen, other: _Seen) -> list[XY]:
    """Return where two tapes drawn as circles cross; where they just miss each other, the point between them."""
    base, r, s = math.dist(one.at, other.at), one.length_m or 0.0, other.length_m or 0.0
    short = max(base - (r + s), abs(r - s) - base)
    if base == 0.0 or short > 3 * math.hypot(one.sigma_m, other.sigma_m):
        return []
    along = (base**2 + r**2 - s**2) / (2 * base)
    beside = math.sqrt(max(r**2 - along**2, 0.0))
    points = [offset_point(one.at, other.at, along, side) for side in (beside, -beside)]
    return [p for p in points if p is not None]


def _by_bearings(bearings: Sequence[_Seen]) -> XY | None:
    """Return where bearings cross ahead of the points they were read at; None where they cross too thinly or behind."""
    turns = np.radians([s.bearing_deg or 0.0 for s in bearings])
    across = np.column_stack([np.cos(turns), -np.sin(turns)])  # square to each line
    singular = np.linalg.svd(across, compute_uv=False)
    # Of two lines crossing at an angle a the singular values are sqrt(1 ± |cos a|): their ratio is tan(a / 2).
    if len(singular) < 2 or singular[1] <= math.tan(math.radians(THIN_DEG / 2)) * singular[0]:
        return None
    at = np.array([s.at for s in bearings])
    solved, *_ = np.linalg.lstsq(across, (across * at).sum(axis=1), rcond=None)
    ahead = ((solved - at) * np.column_stack([np.sin(turns), np.cos(turns)])).sum(axis=1)
    return (float(solved[0]), float(solved[1])) if (ahead > 0).all() else None


def _settled(begun: XY, seen: Sequence[_Seen], spots: Sequence[_Spot]) -> tuple[XY, Covariance]:
    """Return the weighted least-squares place by all that was seen of a point, with the covariance of the measuring."""
    xy = np.array(begun)
    last = math.inf
    for _ in range(_STEPS):
        rows, misfits = _linear((float(xy[0]), float(xy[1])), seen, spots)
        step, *_ = np.linalg.lstsq(rows, misfits, rcond=None)
        size = float(np.hypot(*step))
        if size >= last:
            break  # it no longer comes nearer
        xy, last = xy + step, size
        if size < 1e-9:
            break
    rows, _misfits = _linear((float(xy[0]), float(xy[1])), seen, spots)
    spread = np.linalg.pinv(rows.T @ rows)
    return (float(xy[0]), float(xy[1])), (float(spread[0, 0]), float(spread[1, 1]), float(spread[0, 1]))


def _linear(xy: XY, seen: Sequence[_Seen], spots: Sequence[_Spot]) -> tuple[FloatArray, FloatArray]:
    """Return equations for a step from a place, each divided by its standard deviation."""
    rows: list[XY] = []
    misfits: list[float] = []
    for s in seen:
        east, north = xy[0] - s.at[0], xy[1] - s.at[1]
        length = math.hypot(east, north)
        if length == 0.0:
            continue
        if s.length_m is not None:
            rows.append((east / length / s.sigma_m, north / length / s.sigma_m))
            misfits.append((s.length_m - length) / s.sigma_m)
        if s.bearing_deg is not None:
            across = math.radians(s.sigma_deg) * length
            rows.append((north / length / across, -east / length / across))
            turn = math.radians(turn_deg(grid_turn_deg(s.at, xy), s.bearing_deg))
            misfits.append(turn * length / across)
    for spot in spots:
        rows += [(1 / spot.sigma_m, 0.0), (0.0, 1 / spot.sigma_m)]
        misfits += [(spot.xy[0] - xy[0]) / spot.sigma_m, (spot.xy[1] - xy[1]) / spot.sigma_m]
    return np.array(rows, dtype=float).reshape(-1, 2), np.array(misfits, dtype=float)


__all__ = [
    "XY",
    "Covariance",
    "Placed",
    "first_positions",
    "grid_bearing_deg",
    "level_distance_m",
    "misfit_m",
    "misfit_sigma_m",
    "misreadings",
    "offset_point",
    "place",
    "polar_point",
    "sigma_deg",
    "sigma_m",
    "turn_deg",
]
