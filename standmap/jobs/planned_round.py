"""A planned walk as a value: what the terminal, the files, paper, phone and window show."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum

from standmap.stand.ground import Place
from standmap.stand.tapping import TapHole
from standmap.stand.tree import LonLat, Tree


class Purpose(StrEnum):
    """What a walk is for."""

    COLLECTING = "collecting"
    TAPPING = "tapping"
    CLOSING = "closing"


@dataclass(frozen=True, slots=True)
class Todo:
    """One thing to do or to ask at a stop.

    Attributes
    ----------
    text
        One sentence, such as "take the tube out" or "plug with a peg of 10 mm".
    source
        The rule or figure it rests on, empty where it is the order of the work itself.
    """

    text: str
    source: str = ""


@dataclass(frozen=True, slots=True)
class RoundStop:
    """One vessel to empty, one tree to tap, or one wound to close.

    Attributes
    ----------
    key
        Of the stop in this walk: its wound's key, and for a hole yet to be made the tree's key with its number.
    hole
        The wound; None for one yet to be made.
    hole_number
        Of the wound, or of the one to be made.
    litres, high_l
        Expected there, no more than the vessel holds, and what nine times of ten is not passed; 0 where nothing is
        collected.
    load_kg
        What is carried on from it, cans and kit included.
    leg_m, leg_min, climb_m, bearing_true_deg
        The way there, the minutes it takes with what is carried, the metres it rises, and the true bearing on which it
        sets off; `bends` when it does not go straight on.
    course
        The line walked from the stop before, both ends included.
    minutes
        On arriving there, since this collector first set out.
    todo
        What to do there, in order.
    cautions
        What to mind there, such as "check the tag".
    full_at
        When its vessel is expected to run over; None where none hangs or that lies far off.
    overflow
        How likely its vessel has run over when the walk sets out; None where none hangs.
    vessel_l
        The vessel that runs over in one night no likelier than asked for; 0 where nothing is collected.
    """

    order: int
    tree: Tree
    hole: TapHole | None
    litres: float
    load_kg: float
    leg_m: float
    bearing_true_deg: float
    bends: bool
    minutes: float
    key: str = ""
    hole_number: int = 1
    high_l: float = 0.0
    leg_min: float = 0.0
    climb_m: float = 0.0
    course: tuple[LonLat, ...] = ()
    todo: tuple[Todo, ...] = ()
    cautions: tuple[str, ...] = ()
    full_at: datetime | None = None
    overflow: float | None = None
    vessel_l: float = 0.0


@dataclass(frozen=True, slots=True)
class PlannedTrip:
    """A walk out and back; its length includes the way back.

    Attributes
    ----------
    start, end
        Where it begins, and where it is emptied; the start of the round where absent.
    who
        The collector's name, where one was given.
    sets_out_min
        Minutes since the walk set out, for collectors may set out one after another.
    home_m, home_min, home_course
        The way back from the last stop.
    effort_kg_m
        Carried kilograms times metres.
    """

    number: int
    collector: int
    length_m: float
    minutes: float
    max_load_kg: float
    stops: tuple[RoundStop, ...]
    course: tuple[LonLat, ...]
    who: str = ""
    start: Place | None = None
    end: Place | None = None
    sets_out_min: float = 0.0
    home_m: float = 0.0
    home_min: float = 0.0
    home_course: tuple[LonLat, ...] = ()
    effort_kg_m: float = 0.0


@dataclass(frozen=True, slots=True)
class Light:
    """The sun on the day of a walk, with the time zone it is told in; None where it does not rise or set that day.

    Attributes
    ----------
    lamp_until
        A lamp is needed on the way until then; None where the walk sets out in daylight.
    """

    civil_dawn: datetime | None
    sunrise: datetime | None
    sunset: datetime | None
    civil_dusk: datetime | None
    lamp_until: datetime | None = None


@dataclass(frozen=True, slots=True)
class KitLine:
    """One line of what to take along.

    Attributes
    ----------
    count
        How many; None where it is not counted.
    note
        Why, or which: "10 mm, for 14 holes", "2 hang already".
    """

    what: str
    count: int | None
    note: str = ""


@dataclass(frozen=True, slots=True)
class PlannedRound:
    """A whole walk of one day, for one purpose.

    Attributes
    ----------
    repeatable
        Whether the same stand, options and seed give the same walk again.
    proved
        Whether none better exists.
    minutes
        Until the last collector is back.
    aim
        What was made least: "time", "effort" or "distance".
    gap_percent
        At most so much longer than the best possible, in the unit of the aim; None where nothing is proved.
    sets_out, back_by, contact
        When it begins, when the latest collector is expected back with a margin, and who is told; as the person said.
    kit
        What to take along; each line can be ticked off.
    notes
        Assumptions behind the figures, in words.
    cautions
        Of the whole walk, in words.
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
    purpose: Purpose = Purpose.COLLECTING
    aim: str = "distance"
    gap_percent: float | None = None
    effort_kg_m: float = 0.0
    sets_out: datetime | None = None
    back_by: datetime | None = None
    contact: str = ""
    light: Light | None = None
    kit: tuple[KitLine, ...] = ()
    notes: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()

    @property
    def taps(self) -> int:
        """How many vessels are emptied, holes made or wounds closed."""
        return sum(len(t.stops) for t in self.trips)
