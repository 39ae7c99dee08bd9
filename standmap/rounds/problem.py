"""What is asked of a round: where to go, what to carry, what stands in the way."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from enum import StrEnum

from standmap.rounds.carrying import Carrying
from standmap.rounds.ground import Ground, Ring, Xy, check_finite
from standmap.rounds.hiking import Pace

__all__ = ["Aim", "Person", "Pin", "Ring", "RoundProblem", "Tap", "Xy", "load_g"]

GRAMS_PER_KG = 1000


class Aim(StrEnum):
    """What is made as small as it can be."""

    TIME = "time"
    """Minutes until the last person is back."""
    EFFORT = "effort"
    """Carried kilograms times metres, of everybody."""
    DISTANCE = "distance"
    """Metres of everybody."""


class Pin(StrEnum):
    """Where in somebody's walk a tap is to be."""

    FIRST = "first"
    LAST = "last"


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
    left_kg
        What is carried out to it and left there: an empty vessel, a tube.
    worth
        What is lost where time does not last for it, in any unit; its load when None.
    due_min
        Minutes after the walk's beginning at which its vessel runs over; None where that is not known.
    pin
        Whether it is the very first or last stop of whoever serves it.
    together
        Taps that share this word, unless empty, are served on one trip.

    Raises
    ------
    ValueError
        If a number is negative or not finite.
    """

    key: str
    xy: Xy
    load_kg: float
    service_min: float
    left_kg: float = 0.0
    worth: float | None = None
    due_min: float | None = None
    pin: Pin | None = None
    together: str = ""

    def __post_init__(self) -> None:
        check_finite((self.xy,), f"tap '{self.key}'")
        for name in ("load_kg", "service_min", "left_kg"):
            _amount(getattr(self, name), f"{name} of tap '{self.key}'")
        if self.worth is not None:
            _amount(self.worth, f"worth of tap '{self.key}'")


@dataclass(frozen=True, slots=True)
class Person:
    """Somebody who walks.

    Attributes
    ----------
    capacity_kg
        The most this person carries, cans included.
    start
        Where the walk begins, and ends; the depot when None.
    sets_out_min
        Minutes after the walk's beginning.
    carrying_kg
        What is in the cans already, where a walk goes on from the middle of it; then `start` is where the person
        stands, and the walk ends at the depot.

    Raises
    ------
    ValueError
        If a number is out of range.
    """

    capacity_kg: float
    start: Xy | None = None
    sets_out_min: float = 0.0
    carrying_kg: float | None = None

    def __post_init__(self) -> None:
        _amount(self.capacity_kg, "capacity_kg of a person", above_zero=True)
        _amount(self.sets_out_min, "sets_out_min of a person")
        _amount(self.carrying_kg or 0.0, "carrying_kg of a person")
        if self.start is not None:
            check_finite((self.start,), "where a person starts")


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
        Walking speed in open wood, on level ground, with nothing to carry.
    people
        Who walks, where they differ; then `collectors` does not count.
    tanks
        Other places where cans may be emptied; a trip then ends at the one that costs least.
    aim
        What is made least.
    latest_min
        Minutes after the walk's beginning by which everybody is back; what then cannot be served is left out, that of
        least worth first, and what runs over late before what runs over soon.
    carrying
        How a load slows; None where it does not.
    path_m_per_min
        Walking speed on paths; as Tobler's function says beside `speed_m_per_min` when None.
    paths_only
        Whether a sledge or barrow keeps to paths, see `walking.walking`.

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
    obstacles: Ground = field(default_factory=Ground)
    speed_m_per_min: float = field(kw_only=True)
    people: tuple[Person, ...] = field(default=(), kw_only=True)
    tanks: tuple[Xy, ...] = field(default=(), kw_only=True)
    aim: Aim = field(default=Aim.DISTANCE, kw_only=True)
    latest_min: float | None = field(default=None, kw_only=True)
    carrying: Carrying | None = field(default=None, kw_only=True)
    path_m_per_min: float | None = field(default=None, kw_only=True)
    paths_only: bool = field(default=False, kw_only=True)

    def __post_init__(self) -> None:
        check_finite((self.depot, *self.tanks), "the depot or a tank")
        _amount(self.capacity_kg, "capacity_kg", above_zero=True)
        _amount(self.can_kg, "can_kg")
        _amount(self.speed_m_per_min, "speed_m_per_min", above_zero=True)
        if self.collectors < 1:
            raise ValueError(f"collectors must be at least 1, not {self.collectors}")
        if len({tap.key for tap in self.taps}) != len(self.taps):
            raise ValueError("two taps share a key")
        if self.latest_min is not None:
            _amount(self.latest_min, "latest_min", above_zero=True)
        if self.path_m_per_min is not None:
            _amount(self.path_m_per_min, "path_m_per_min", above_zero=True)

    @property
    def everybody(self) -> tuple[Person, ...]:
        """Who walks."""
        return self.people or tuple(Person(self.capacity_kg) for _ in range(self.collectors))

    @property
    def pace(self) -> Pace:
        """How fast one walks with nothing to carry."""
        plain = Pace()
        path = self.path_m_per_min
        if path is None:
            path = self.speed_m_per_min * plain.path_m_per_min / plain.wood_m_per_min
        return Pace(path_m_per_min=path, wood_m_per_min=self.speed_m_per_min)

    @property
    def plain(self) -> bool:
        """Whether only metres count, from one place, by people who are alike, with nothing asked of single taps."""
        return (
            self.aim is Aim.DISTANCE
            and not self.people
            and not self.tanks
            and self.latest_min is None
            and not any(tap.left_kg or tap.pin or tap.together for tap in self.taps)
        )

    @property
    def room_g(self) -> int:
        """Grams of sap that one trip holds, rounded down; below 0 when the cans alone are too heavy."""
        return math.floor((self.capacity_kg - self.can_kg) * GRAMS_PER_KG + 1e-6)


def load_g(tap: Tap) -> int:
    """Return a tap's load in whole grams, rounded up, so that a plan in grams never overloads anyone."""
    return math.ceil(tap.load_kg * GRAMS_PER_KG - 1e-6)
