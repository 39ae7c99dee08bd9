"""The solved round: who walks which trips, where each leg leads, and how sure the order is."""

from __future__ import annotations

from dataclasses import dataclass

from standmap.rounds.problem import Aim, Xy
from standmap.rounds.watch import Ending


@dataclass(frozen=True, slots=True)
class Visit:
    """One tap on a trip.

    Attributes
    ----------
    leg_m
        Walked from the place before, metres.
    bearing_rad
        Where the first stretch of the leg leads: clockwise from grid north, 0 to 2 pi; 0 for a leg of no length.
    bends
        Whether the leg goes round something, so that the bearing does not lead straight to the tap.
    load_kg
        Carried after pouring in, cans included; to the milligram.
    arrive_min
        Minutes on arrival since this collector first set out.
    leg_min, climb_m
        Minutes that the leg takes with what is carried, and metres that it rises.
    course
        The line walked from the place before; one point where they share a spot.
    """

    key: str
    leg_m: float
    bearing_rad: float
    bends: bool
    load_kg: float
    arrive_min: float
    leg_min: float = 0.0
    climb_m: float = 0.0
    course: tuple[Xy, ...] = ()


@dataclass(frozen=True, slots=True)
class Trip:
    """From the depot and back to it.

    Attributes
    ----------
    collector
        Who walks it, from 1.
    length_m
        The way back included.
    minutes
        Walking and serving.
    max_load_kg
        Carried on the way back, cans included.
    course
        The whole line walked, from the depot round every obstacle and back; at least two points.
    home_m, home_min, home_course
        The way from the last tap to where the trip ends.
    kg_m
        Carried kilograms, cans included, times metres.
    start, end
        Where it begins and ends; None for the depot.
    sets_out_min
        Minutes since this collector first set out.
    """

    collector: int
    visits: tuple[Visit, ...]
    length_m: float
    minutes: float
    max_load_kg: float
    course: tuple[Xy, ...]
    home_m: float = 0.0
    home_min: float = 0.0
    home_course: tuple[Xy, ...] = ()
    kg_m: float = 0.0
    start: Xy | None = None
    end: Xy | None = None
    sets_out_min: float = 0.0


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A tap that no trip can serve."""

    key: str
    why: str


@dataclass(frozen=True, slots=True)
class Round:
    """A whole round.

    Attributes
    ----------
    trips
        By collector, and for each in the order walked.
    left_out
        Taps that cannot be carried or reached, by key.
    length_m, minutes
        Of all trips together.
    repeatable
        Whether the same problem, rule and seed give the same round again.
    proved
        Whether no round is shorter. Of several collectors who together could carry all at once, none serves more
        than a fair share; then no round shared in this way is shorter.
    lower_bound_m
        No round is shorter than this, where known; None where metres are not what was made least.
    aim, cost, lower_bound
        What was made least, what it came to in its own unit (minutes, kilogram-metres or metres), and what no round
        falls short of, where known.
    kg_m
        Of all trips together.
    stopped
        Why the search ended, a value of `Ending`.
    """

    trips: tuple[Trip, ...]
    left_out: tuple[LeftOut, ...]
    length_m: float
    minutes: float
    repeatable: bool
    proved: bool
    lower_bound_m: float | None
    stopped: Ending
    aim: Aim = Aim.DISTANCE
    cost: float = 0.0
    lower_bound: float | None = None
    kg_m: float = 0.0

    @property
    def gap_percent(self) -> float | None:
        """At most so many per cent above the best possible; None where no bound is known."""
        if self.proved:
            return 0.0
        if self.lower_bound is None or self.lower_bound <= 0:
            return None
        return max(0.0, 100 * (self.cost - self.lower_bound) / self.lower_bound)
