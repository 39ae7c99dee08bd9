"""The quickest ways of a sledge or barrow that keeps to paths, and how far each spot lies from them on foot."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from standmap.rounds.barriers import Barriers, barriers
from standmap.rounds.cut_off import cut_off_by
from standmap.rounds.ground import Ground, Xy
from standmap.rounds.hiking import Pace
from standmap.rounds.paths import Network, network
from standmap.rounds.steps import Footing, along, back, points_of, quickest

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]

NO_PATH = "no path that is joined to the start's leads near it"


@dataclass(frozen=True, slots=True, eq=False)
class OverPaths:
    """Ways along paths, from the foot of one spot to that of another.

    Attributes
    ----------
    points
        The spots, then corners, then points of paths, shape (n, 2).
    at
        The point of a path at which each spot is left; below 0 where there is none.
    leg_metres, leg_minutes
        On foot between each spot and that point; infinite where there is none.
    leg_before
        Shape (s, n): the point before each on the way on foot from each spot, off the paths.
    before
        Shape (s, n): the point before each on the way from each spot's foot.
    """

    minutes: FloatArray
    metres: FloatArray
    climb_m: FloatArray
    hindrance: tuple[str, ...]
    points: FloatArray
    at: IntArray
    leg_metres: FloatArray
    leg_minutes: FloatArray
    leg_before: NDArray[np.int32]
    before: NDArray[np.int32]
    barriers: Barriers

    @classmethod
    def of(cls, spots: FloatArray, ground: Ground, pace: Pace, start: int) -> OverPaths:
        """Find the ways along the paths that are joined to the foot of the spot `start`."""
        import shapely

        shut = barriers(ground)
        paths = network(ground.paths, shut)
        count, first = len(spots), len(spots) + len(shut.corners)
        points = np.concatenate([spots, shut.corners, paths.points])
        footing = Footing(points, shut, ground.heights, pace)
        rails = footing.steps(*(first + paths.pieces).T, path=True)
        one, other = np.triu_indices(len(points), 1)
        on_foot = footing.steps(one[one < first], other[one < first])
        leg = quickest(on_foot, len(points), np.arange(count))
        feet = _feet(leg.minutes[:, first:], paths, start)
        row, at = np.arange(count), np.where(feet >= 0, first + feet, 0)
        led = quickest(rails, len(points), at)
        walked = along(on_foot, leg.before, on_foot.metres)[row, at]
        none = np.where(feet >= 0, 0.0, np.inf)
        tables = np.stack(
            [led.minutes, *(along(rails, led.before, measure) for measure in (rails.metres, rails.climb_m))]
        )[:, :, at]
        tables[:2] += none[:, None] + none[None, :]
        if ground.heights is None:
            tables = np.stack([np.triu(table, 1) + np.triu(table, 1).T for table in tables])
        tables[:, row, row] = 0.0
        minutes, metres, climb = tables
        return cls(
            minutes=minutes,
            metres=metres,
            climb_m=climb,
            hindrance=tuple(shut.why_not(shapely.Point(spot)) for spot in spots),
            points=points,
            at=np.where(feet >= 0, at, -1),
            leg_metres=walked + none,
            leg_minutes=leg.minutes[row, at] + none,
            leg_before=leg.before,
            before=led.before,
            barriers=shut,
        )

    def course(self, start: int, end: int) -> tuple[Xy, ...]:
        """Return the line along paths from the foot of one spot to that of another, where there is a way."""
        a, b = (int(self.at[spot]) if self.at[spot] >= 0 else spot for spot in (start, end))
        return points_of(self.points, [b, *back(self.before[start], a, b)][::-1])

    def foot(self, spot: int) -> tuple[Xy, float, float, tuple[Xy, ...]]:
        """Return where a spot is gone to from (itself where nowhere), metres, minutes and the line from there."""
        at = int(self.at[spot])
        line = [spot] if at < 0 else [at, *back(self.leg_before[spot], spot, at)]
        course = points_of(self.points, line)
        return course[0], float(self.leg_metres[spot]), float(self.leg_minutes[spot]), course

    def why_cut_off(self, start: int, end: int) -> str:
        """Return by name what cuts one spot off from the paths at another."""
        if self.at[start] < 0:
            return NO_PATH
        foot, spot = points_of(self.points, [int(self.at[start]), end])
        return " and ".join(cut_off_by(self.barriers, foot, spot))


def _feet(minutes: FloatArray, paths: Network, start: int) -> IntArray:
    """Return the point of the paths to which each spot lies nearest on foot; below 0 where none is reached.

    Parameters
    ----------
    minutes
        From each spot to each point of the paths.
    """
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    if len(paths.points) == 0 or not np.isfinite(minutes[start]).any():
        return np.full(len(minutes), -1, np.intp)
    pieces = coo_array((np.ones(len(paths.pieces)), tuple(paths.pieces.T)), shape=(len(paths.points),) * 2)
    part = connected_components(pieces, directed=False)[1]
    joined = np.where(part == part[minutes[start].argmin()], minutes, np.inf)
    nearest: IntArray = np.where(np.isfinite(joined.min(axis=1)), joined.argmin(axis=1), -1)
    return nearest
