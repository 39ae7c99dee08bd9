"""What it costs to walk from each place to each other, and the line that is walked."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from standmap.rounds.ground import Ground, Xy
from standmap.rounds.hiking import Pace
from standmap.rounds.on_paths import OverPaths
from standmap.rounds.ways import OverGround, Straight, Ways

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Foot:
    """Where a sledge or barrow is left on the paths, to go on by foot.

    Attributes
    ----------
    at
        On a path, metres.
    metres, minutes
        From there to the place; infinite where no path leads near it.
    course
        The line walked from there to the place.
    """

    at: Xy
    metres: float
    minutes: float
    course: tuple[Xy, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Walking:
    """The quickest ways between the places of a round, with nothing to carry.

    Attributes
    ----------
    minutes
        Shape (n, n), from the row's place to the column's; infinite where there is no way. On level ground it is
        symmetric. No way by a third place is quicker.
    cost_m
        Shape (n, n), level metres of the quickest way; infinite where there is no way.
    climb_m
        Shape (n, n), metres that the quickest way rises; 0 where there is no way.
    hindrance
        For each place, why nobody can stand there; empty where one can.
    feet
        For each place, where the sledge or barrow is left; empty where one walks.
    """

    minutes: FloatArray
    cost_m: FloatArray
    climb_m: FloatArray
    hindrance: tuple[str, ...]
    _at: tuple[int, ...]
    """The spot of each place; places at one spot share theirs."""
    _ways: Ways
    feet: tuple[Foot, ...] = ()

    def part(self, places: tuple[int, ...]) -> Walking:
        """Return the ways between some of the places, which are then numbered anew."""
        chosen = np.ix_(places, places)
        return replace(
            self,
            minutes=self.minutes[chosen],
            cost_m=self.cost_m[chosen],
            climb_m=self.climb_m[chosen],
            hindrance=tuple(self.hindrance[place] for place in places),
            _at=tuple(self._at[place] for place in places),
            feet=tuple(self.feet[place] for place in places) if self.feet else (),
        )

    def course(self, start: int, end: int) -> tuple[Xy, ...]:
        """Return the line walked from one place to another, both included, one point when they share a spot.

        Raises
        ------
        ValueError
            If there is no way.
        """
        if not np.isfinite(self.minutes[start, end]):
            raise ValueError(f"there is no way from place {start} to place {end}")
        return self._ways.course(self._at[start], self._at[end])

    def why_cut_off(self, place: int, start: int = 0) -> str:
        """Return what cuts a place off from the start, by name; empty where there is a way or nobody can stand.

        As in "the stream 'brook' without a bridge or ford"; several things, one behind the other, are joined by "and".
        """
        if np.isfinite(self.minutes[start, place]) or self.hindrance[start] or self.hindrance[place]:
            return ""
        return self._ways.why_cut_off(self._at[start], self._at[place])


def walking(places: tuple[Xy, ...], ground: Ground, pace: Pace | None = None, *, paths_only: bool = False) -> Walking:
    """Return what it costs to walk between places.

    Parameters
    ----------
    places
        n points, metres in a flat frame.
    ground
        Where it has nothing, every way is the straight line.
    pace
        Level speeds; those of the hiking function when absent.
    paths_only
        Whether a sledge or barrow is taken that keeps to paths: then all costs and courses lead along paths, from the
        foot of one place to that of the other, and `feet` tells how far one goes from there on foot. Feet are chosen
        on the paths that are joined to the first place's.

    Notes
    -----
    On level ground the ways are the quickest in the graph of all straight lines, between the places, the outward
    corners of what is in the way, and points a few metres apart on paths, that touch nothing. Over slopes there are
    points spread evenly besides; see `way_graph`.
    """
    pace = pace or Pace()
    spots, at = np.unique(np.array(places, dtype=np.float64).reshape(-1, 2), axis=0, return_inverse=True)
    at = at.reshape(-1)
    feet: tuple[Foot, ...] = ()
    ways: Ways
    if paths_only:
        ways = led = OverPaths.of(spots, ground, pace, start=int(at[0]))
        feet = tuple(Foot(*led.foot(k)) for k in at.tolist())
    else:
        ways = OverGround.of(spots, ground, pace) if ground else Straight(spots, pace)
    chosen = np.ix_(at, at)
    return Walking(
        ways.minutes[chosen],
        ways.metres[chosen],
        ways.climb_m[chosen],
        tuple(ways.hindrance[k] for k in at),
        tuple(at.tolist()),
        ways,
        feet,
    )
