"""What is asked of a round: where to go, what to carry, what stands in the way."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, field

Xy = tuple[float, float]
"""East and north in metres, working frame."""

Ring = tuple[Xy, ...]
"""A closed ring; the last point may or may not repeat the first."""

GRAMS_PER_KG = 1000


def _finite(points: Iterable[Xy], what: str) -> None:
    for x, y in points:
        if not (math.isfinite(x) and math.isfinite(y)):
            raise ValueError(f"{what} has a position that is not finite")


def _amount(value: float, what: str, *, above_zero: bool = False) -> None:
    if not math.isfinite(value) or value < 0 or (above_zero and value == 0):
        raise ValueError(f"{what} must be a finite number {'above' if above_zero else 'of at least'} 0, not {value}")


@dataclass(frozen=True, slots=True)
class Tap:
    """One vessel to empty, or one tree to serve.

    Attributes
    ----------
    key
        Tells it apart from the others of the round.
    load_kg
        What is taken up there.
    service_min
        Minutes spent there.

    Raises
    ------
    ValueError
        If a number is negative or not finite.
    """

    key: str
    xy: Xy
    load_kg: float
    service_min: float

    def __post_init__(self) -> None:
        _finite((self.xy,), f"tap '{self.key}'")
        _amount(self.load_kg, f"load_kg of tap '{self.key}'")
        _amount(self.service_min, f"service_min of tap '{self.key}'")


@dataclass(frozen=True, slots=True)
class Obstacles:
    """What cannot be walked across.

    Attributes
    ----------
    streams
        Lines of at least two points, crossed at bridges only.
    bridges
        Points; each opens the streams that pass close by.
    no_go
        Polygons, each a tuple of rings: the outline, then its holes.

    Raises
    ------
    ValueError
        If a line has fewer than two points, a ring fewer than three, or a position is not finite.
    """

    streams: tuple[tuple[Xy, ...], ...] = ()
    bridges: tuple[Xy, ...] = ()
    no_go: tuple[tuple[Ring, ...], ...] = ()

    def __post_init__(self) -> None:
        for line in self.streams:
            _finite(line, "a stream")
            if len(set(line)) < 2:
                raise ValueError("a stream needs at least two different points")
        _finite(self.bridges, "a bridge")
        for area in self.no_go:
            if not area:
                raise ValueError("a no-go area needs an outline")
            for ring in area:
                _finite(ring, "a no-go area")
                if len(set(ring)) < 3:
                    raise ValueError("a ring of a no-go area needs at least three different points")

    def __bool__(self) -> bool:
        """Whether anything is in the way."""
        return bool(self.streams or self.no_go)


@dataclass(frozen=True, slots=True)
class RoundProblem:
    """A morning's walk from one depot and back to it, as often as the cans are full.

    Attributes
    ----------
    depot
        The gate or tank where every trip begins and ends.
    capacity_kg
        The most a person carries, cans included.
    can_kg
        The empty cans, carried on every trip.
    collectors
        How many people share the round.
    speed_m_per_min
        Walking speed.

    Raises
    ------
    ValueError
        If a number is out of range or two taps share a key.
    """

    depot: Xy
    taps: tuple[Tap, ...]
    capacity_kg: float
    can_kg: float
    collectors: int = 1
    obstacles: Obstacles = field(default_factory=Obstacles)
    speed_m_per_min: float = field(kw_only=True)

    def __post_init__(self) -> None:
        _finite((self.depot,), "the depot")
        _amount(self.capacity_kg, "capacity_kg", above_zero=True)
        _amount(self.can_kg, "can_kg")
        _amount(self.speed_m_per_min, "speed_m_per_min", above_zero=True)
        if self.collectors < 1:
            raise ValueError(f"collectors must be at least 1, not {self.collectors}")
        if len({tap.key for tap in self.taps}) != len(self.taps):
            raise ValueError("two taps share a key")

    @property
    def room_g(self) -> int:
        """Grams of sap that one trip holds, rounded down; below 0 when the cans alone are too heavy."""
        return math.floor((self.capacity_kg - self.can_kg) * GRAMS_PER_KG + 1e-6)


def load_g(tap: Tap) -> int:
    """Return a tap's load in whole grams, rounded up, so that a plan in grams never overloads anyone."""
    return math.ceil(tap.load_kg * GRAMS_PER_KG - 1e-6)
