"""The solved round: who walks which trips, where each leg leads, and how sure the order is."""

from __future__ import annotations

from dataclasses import dataclass

from standmap.rounds.problem import Xy
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
    """

    key: str
    leg_m: float
    bearing_rad: float
    bends: bool
    load_kg: float
    arrive_min: float


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
    """

    collector: int
    visits: tuple[Visit, ...]
    length_m: float
    minutes: float
    max_load_kg: float
    course: tuple[Xy, ...]


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
        No round is shorter than this, where known.
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
