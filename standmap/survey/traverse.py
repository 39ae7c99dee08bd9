"""Traverses: by how much a closed one misses its beginning, and the misclosure shared out by the compass rule."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from standmap.stand.sights import Sight
from standmap.stand.walks import FloatArray
from standmap.survey.one_sight import XY, grid_bearing_deg, level_distance_m, misfit_sigma_m, polar_point


@dataclass(frozen=True, slots=True)
class Closure:
    """How a closed traverse closes.

    Attributes
    ----------
    off
        Sums of departures (east) and latitudes (north) of its legs, metres; both are 0 where it closes.
    length_m
        Of all its legs.
    """

    off: XY
    length_m: float

    @property
    def off_m(self) -> float:
        """The misclosure, metres."""
        return math.hypot(*self.off)

    @property
    def one_in(self) -> float:
        """The length divided by the misclosure: 500 is "1 in 500"; infinite where it closes."""
        return self.length_m / self.off_m if self.off_m > 0 else math.inf


@dataclass(frozen=True, slots=True)
class Loop:
    """Sights that lead from a point back to it.

    Attributes
    ----------
    points
        In order, without the first again at the end.
    sights
        One a leg, in the same order; some may be walked against their direction.
    sigma_m
        Standard deviation of the misclosure by what is assumed of tape and compass, metres.
    """

    points: tuple[str, ...]
    sights: tuple[Sight, ...]
    closure: Closure
    sigma_m: float


def legs_of(bearings_deg: Sequence[float], lengths_m: Sequence[float]) -> FloatArray:
    """Return departures and latitudes, metres, shape (n, 2)."""
    return np.array(
        [polar_point((0.0, 0.0), b, d) for b, d in zip(bearings_deg, lengths_m, strict=True)], dtype=float
    ).reshape(-1, 2)


def closure_of(legs: FloatArray) -> Closure:
    """Return how a closed traverse closes.

    Parameters
    ----------
    legs
        Departures and latitudes, metres, shape (n, 2).
    """
    east, north = (math.fsum(column) for column in np.asarray(legs, dtype=float).reshape(-1, 2).T)
    return Closure((east, north), math.fsum(math.hypot(*leg) for leg in legs))


def by_compass_rule(legs: FloatArray) -> FloatArray:
    """Return the legs of a closed traverse with the misclosure shared out in proportion to their lengths.

    The compass (Bowditch) rule: the correction of a leg is the misclosure, turned round, times leg over perimeter
    (J. Mahun, open surveying text, ch. E).

    Parameters
    ----------
    legs
        Departures and latitudes, metres, shape (n, 2).
    """
    legs = np.asarray(legs, dtype=float).reshape(-1, 2)
    closure = closure_of(legs)
    if closure.length_m == 0:
        return legs
    share = np.hypot(legs[:, 0], legs[:, 1]) / closure.length_m
    return np.asarray(legs - share[:, None] * np.array(closure.off))


def loops_of(sights: Sequence[Sight], convergence_deg: float = 0.0) -> tuple[Loop, ...]:
    """Return the loops that sights with a bearing and a distance form, each as short as its last leg allows.

    Every sight that joins points which sights before it have joined already closes one loop.
    """
    ways: dict[str, list[tuple[str, Sight]]] = {}
    found: list[Loop] = []
    for sight in sights:
        bearing, length = grid_bearing_deg(sight, convergence_deg), level_distance_m(sight)
        if not sight.used or sight.toward_key is not None or bearing is None or length is None:
            continue
        way = _way(ways, sight.to_key, sight.from_key)
        if way is not None:
            found.append(_loop((sight.from_key, *way[0]), (sight, *way[1]), convergence_deg))
        ways.setdefault(sight.from_key, []).append((sight.to_key, sight))
        ways.setdefault(sight.to_key, []).append((sight.from_key, sight))
    return tuple(found)


def _way(
    ways: dict[str, list[tuple[str, Sight]]], start: str, end: str
) -> tuple[tuple[str, ...], tuple[Sight, ...]] | None:
    """Return the way of fewest legs: its points but the last, and its sights; None where there is none."""
    came: dict[str, tuple[str, Sight] | None] = {start: None}
    front = [start]
    while front and end not in came:
        ahead: list[str] = []
        for here in front:
            for there, sight in ways.get(here, ()):
                if there not in came:
                    came[there] = (here, sight)
                    ahead.append(there)
        front = ahead
    if end not in came:
        return None
    points: list[str] = []
    sights: list[Sight] = []
    step = came[end]
    while step is not None:
        points.append(step[0])
        sights.append(step[1])
        step = came[step[0]]
    return tuple(reversed(points)), tuple(reversed(sights))


def _loop(points: tuple[str, ...], sights: tuple[Sight, ...], convergence_deg: float) -> Loop:
    bearings = [
        (grid_bearing_deg(s, convergence_deg) or 0.0) + (0.0 if s.from_key == point else 180.0)
        for point, s in zip(points, sights, strict=True)
    ]
    lengths = [level_distance_m(s) or 0.0 for s in sights]
    variance = math.fsum(misfit_sigma_m(s, length) ** 2 for s, length in zip(sights, lengths, strict=True))
    return Loop(points, sights, closure_of(legs_of(bearings, lengths)), math.sqrt(variance))
