"""What an adjustment says: where points lie best, what disagrees, how loops close, what hangs on nothing."""

from __future__ import annotations

import math
from dataclasses import dataclass

from standmap.jobs.adjust_basis import Basis, Spread
from standmap.stand.tree import LonLat

SAME_M = 0.001
"""Less than this is no move: it comes of rounding."""


@dataclass(frozen=True, slots=True)
class MovedPoint:
    """A tree or a place and where it lies best.

    Attributes
    ----------
    at
        Longitude and latitude; those it has where it is held or nothing ties it down.
    covariance
        var_e, var_n, cov_en in square metres; None where nothing ties it down.
    walk_key
        The walk that it comes from, where it comes from one alone.
    bearing_deg
        On the grid, from where it stands to where it lies best; None where it does not move.
    beside
        Key of the point nearest to it, and how sure the way from one to the other is: root mean of the two axis
        variances, metres.
    """

    key: str
    name: str
    tree: bool
    held: bool
    before: LonLat
    at: LonLat
    away_m: float
    covariance: Spread | None
    walk_key: str | None = None
    bearing_deg: float | None = None
    beside: tuple[str, float] | None = None

    @property
    def sigma_m(self) -> float | None:
        """Root mean of the two axis variances, metres."""
        return None if self.covariance is None else math.sqrt((self.covariance[0] + self.covariance[1]) / 2)

    @property
    def moves(self) -> bool:
        """Whether it is moved by anything to speak of."""
        return self.away_m > SAME_M


@dataclass(frozen=True, slots=True)
class Disagreement:
    """A reading that the others speak against.

    Attributes
    ----------
    id
        Of the sight, stop or position.
    sigmas
        Its normalised misfit.
    weight
        How far it still counts, from 1 to 0.
    points
        The trees and places that it ties.
    """

    id: str
    what: str
    text: str
    off: float
    sigmas: float
    weight: float
    points: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class CheckedReading:
    """A reading, and how well the others check it.

    Attributes
    ----------
    checked
        Share of a slip in it that would show, from 0 to 1: its redundancy number.
    sigmas
        Its normalised misfit; None where nothing checks it.
    """

    id: str
    what: str
    text: str
    points: tuple[str, ...]
    checked: float
    sigmas: float | None
    weight: float


@dataclass(frozen=True, slots=True)
class LeftOut:
    """An observation that does not count, and could be taken back in."""

    id: str
    text: str
    points: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Misclosure:
    """How a loop of sights closes."""

    points: tuple[str, ...]
    text: str
    off_m: float
    length_m: float
    sigma_m: float
    gross: bool


@dataclass(frozen=True, slots=True)
class Loose:
    """Points that nothing ties down."""

    lack: str
    points: tuple[str, ...]
    text: str


@dataclass(frozen=True, slots=True)
class ShiftedWalk:
    """A walk, and by how much all of its positions lay off."""

    key: str
    name: str
    east_m: float
    north_m: float
    text: str


@dataclass(frozen=True, slots=True, eq=False)
class Adjustment:
    """What comes of all that was measured; nothing of it is written.

    Attributes
    ----------
    readings
        Everything that counts, in a fixed order.
    disagreeing
        Worst first.
    misclosures
        Worst first, as multiples of what is usual.
    misfit
        Near 1 where tape, compass and receiver are as good as is assumed, more where they are worse.
    spare
        How many readings there are more than are needed.
    left_out_now
        Ids of observations that this adjustment leaves out, and the file does not yet.
    """

    points: tuple[MovedPoint, ...]
    readings: tuple[CheckedReading, ...]
    disagreeing: tuple[Disagreement, ...]
    left_out: tuple[LeftOut, ...]
    misclosures: tuple[Misclosure, ...]
    loose: tuple[Loose, ...]
    walks: tuple[ShiftedWalk, ...]
    misfit: float
    spare: int
    basis: Basis
    left_out_now: frozenset[str]

    @property
    def moved(self) -> tuple[MovedPoint, ...]:
        """The points that move."""
        return tuple(p for p in self.points if p.moves)

    @property
    def unchecked(self) -> tuple[CheckedReading, ...]:
        """The readings in which no slip would show."""
        return tuple(r for r in self.readings if r.sigmas is None)
