"""A planned morning as a value: what the terminal, the files and the window show."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from standmap.stand.ground import Place
from standmap.stand.tapping import TapHole
from standmap.stand.tree import LonLat, Tree


@dataclass(frozen=True, slots=True)
class RoundStop:
    """One vessel on the walk.

    Attributes
    ----------
    load_kg
        What is carried after it, cans included.
    leg_m, bearing_true_deg
        The way there, and the true bearing on which it sets off; `bends` when it does not go straight on.
    minutes
        On arriving there, since this collector first set out.
    """

    order: int
    tree: Tree
    hole: TapHole
    litres: float
    load_kg: float
    leg_m: float
    bearing_true_deg: float
    bends: bool
    minutes: float


@dataclass(frozen=True, slots=True)
class PlannedTrip:
    """A walk out and back; its length includes the way back."""

    number: int
    collector: int
    length_m: float
    minutes: float
    max_load_kg: float
    stops: tuple[RoundStop, ...]
    course: tuple[LonLat, ...]


@dataclass(frozen=True, slots=True)
class PlannedRound:
    """A whole morning.

    Attributes
    ----------
    repeatable
        Whether the same stand, options and seed give the same walk again.
    proved
        Whether no shorter one exists.
    minutes
        Until the last collector is back.
    """

    day: date
    start: Place
    seed: int
    repeatable: bool
    proved: bool
    stopped: str
    length_m: float
    minutes: float
    trips: tuple[PlannedTrip, ...]
    left_out: tuple[tuple[str, str], ...]

    @property
    def taps(self) -> int:
        """How many vessels are emptied."""
        return sum(len(t.stops) for t in self.trips)
