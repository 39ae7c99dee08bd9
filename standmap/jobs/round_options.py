"""How a round is to be walked: what a person may choose, its bounds, and the assumptions behind it."""

from __future__ import annotations

import math
import unicodedata
from dataclasses import dataclass
from datetime import time

from standmap.errors import UserError
from standmap.jobs.planned_round import Purpose
from standmap.sap.expected import VESSEL_ML
from standmap.stand.tree import LonLat

CAPACITY_KG = 12.0
"""Load carried unless said otherwise, cans included: an assumption, three quarters of the lower figure below."""

CAPACITY_BOUNDS_KG = (5.0, 40.0)

LOAD_CAUTION_KG = 16.0
LOAD_CAUTION = (
    "a load over 16 kg: a public handling guideline (HSE, INDG143, from memory: 16 kg for women and 25 kg for men, "
    "held close to the body, no more than 10 m without rest) asks for a closer look, on bad ground all the more"
)

EASED = 0.8
"""Part of the usual load that is taken where it is dark, wet or steep, once for each: an assumption. The handling
guideline lowers its figures for bad footing without a number (HSE, L23, via two reprints)."""

STEEP = 0.15
"""A slope on which less is carried: an assumption."""

OVERFLOW_CHANCE = 0.1
"""How likely a vessel may run over in a night before a larger one is told: an assumption."""

OVERFLOW_BOUNDS = (0.01, 0.5)

LONG_OPEN_DAYS = 35
"""A hole open for longer is asked about: a season lasts two to five weeks (Finnish Forest Research Institute
figures, via Seinäjoki UAS)."""

CAN_KG = 1.0
"""Weight of the empty cans of one trip: an assumption."""

CAN_L = 10.0
"""What one can holds: an assumption."""

VESSEL_KG = 0.4
"""Weight of an empty vessel, which is hung up, or carried home full where vessels are swapped: an assumption."""

TOOLS_KG = 2.5
"""Drill, bit, water and cloth on a walk that taps, or mallet, pegs and knife on one that closes: an assumption."""

SERVICE_MIN = 3.0
"""Minutes at one vessel: an assumption."""

TAPPING_MIN = 6.0
"""Minutes for looking a tree over, drilling and hanging a vessel: an assumption."""

CLOSING_MIN = 4.0
"""Minutes for taking out a tube and seeing to its hole: an assumption."""

MARGIN_MIN = 30.0
"""Minutes after the planned return at which somebody begins to look: an assumption."""

BARROW_KG = 40.0
"""Load of a sledge or barrow, its cans included, unless said otherwise: an assumption."""

BARROW_BOUNDS_KG = (10.0, 150.0)

MOST_COLLECTORS = 20
LONGEST_NAME = 60
TURNING = frozenset({"LRE", "RLE", "LRO", "RLO", "PDF", "LRI", "RLI", "FSI", "PDI"})
"""Kinds of characters that change the direction in which others are read (UAX 9)."""

LONGEST_CONTACT = 200

HANDLING_MIN = {Purpose.COLLECTING: SERVICE_MIN, Purpose.TAPPING: TAPPING_MIN, Purpose.CLOSING: CLOSING_MIN}
"""Minutes at one stop unless said otherwise."""

AIMS = ("time", "effort", "distance")
"""What may be made least: minutes, carried kilograms times metres, or metres."""


@dataclass(frozen=True, slots=True)
class Walker:
    """One person who walks, where people differ.

    Attributes
    ----------
    capacity_kg
        What this one carries at most, cans included; as for everybody when None.
    start
        Name of the place where this one's first trip begins; as for everybody when None.
    sets_out
        When this one begins; as for everybody when None.
    """

    name: str = ""
    capacity_kg: float | None = None
    start: str | None = None
    sets_out: time | None = None


@dataclass(frozen=True, slots=True)
class FromHere:
    """Where a walk that has begun stands, so that the rest can be planned anew.

    Attributes
    ----------
    at
        The place where one is: a tree's name or id, or longitude and latitude.
    carrying_kg
        What is carried there, cans included.
    """

    at: str | LonLat
    carrying_kg: float = 0.0


@dataclass(frozen=True, slots=True)
class RoundOptions:
    """How the walk is to be.

    Attributes
    ----------
    trees
        Names or ids; all that the purpose asks for when empty.
    start
        Name of the place where trips begin and end; the first tank, else the first gate, when absent.
    capacity_kg
        What a person carries at most, cans included.
    capacity_as_given
        Whether that load is meant as it stands; else it is a usual one, and is lowered in the dark, on wet and on steep
        ground.
    can_kg
        The empty cans of one trip.
    can_l
        What one can holds.
    collectors
        How many walk, where they do not differ.
    walkers
        Who walks, where people differ; then `collectors` does not count.
    run_ml
        Expected volume of a hole in a night; from records or the assumption when absent.
    overflow_chance
        How likely a vessel may run over in a night before a larger one is told.
    purpose
        What the walk is for.
    aim
        What is made least, one of `AIMS`.
    handling_min
        Minutes at one stop; `HANDLING_MIN` of the purpose when absent.
    swap_vessels
        Whether full vessels are carried home and empty ones hung in their place, instead of pouring into cans.
    vessel_kg
        Weight of an empty vessel.
    barrow_kg
        Load of a sledge or barrow that keeps to paths, cans included; None where all is carried by hand.
    tanks
        Names of the places where cans may be emptied on the way; where a trip began when empty.
    sets_out
        When the walk begins; the day's own light says it when absent.
    latest
        When everybody must be back; trees are then chosen by what would be lost.
    margin_min
        From the planned return until somebody begins to look.
    contact
        Who is told of the walk.
    first, last
        Name or id of the tree with which the walk begins, or ends.
    together
        Groups of names or ids of trees that are served on one trip.
    not_today
        Names or ids of trees that are left out.
    done
        Names or ids of trees that were served already.
    from_here
        Where a walk that has begun stands.
    dark, wet
        Whether it is walked in the dark, or on wet or icy ground: less is carried.
    """

    trees: tuple[str, ...] = ()
    start: str | None = None
    capacity_kg: float = CAPACITY_KG
    can_kg: float = CAN_KG
    can_l: float = CAN_L
    collectors: int = 1
    run_ml: float | None = None
    vessel_ml: float = VESSEL_ML
    overflow_chance: float = OVERFLOW_CHANCE
    seed: int = 1
    purpose: Purpose = Purpose.COLLECTING
    aim: str = "distance"
    capacity_as_given: bool = True
    walkers: tuple[Walker, ...] = ()
    handling_min: float | None = None
    swap_vessels: bool = False
    vessel_kg: float = VESSEL_KG
    barrow_kg: float | None = None
    tanks: tuple[str, ...] = ()
    sets_out: time | None = None
    latest: time | None = None
    margin_min: float = MARGIN_MIN
    contact: str = ""
    first: str | None = None
    last: str | None = None
    together: tuple[tuple[str, ...], ...] = ()
    not_today: tuple[str, ...] = ()
    done: tuple[str, ...] = ()
    from_here: FromHere | None = None
    dark: bool = False
    wet: bool = False

    @property
    def people(self) -> tuple[Walker, ...]:
        """Everybody who walks."""
        return self.walkers or tuple(Walker() for _ in range(self.collectors))

    @property
    def minutes_at_a_stop(self) -> float:
        """What one stop takes."""
        return HANDLING_MIN[self.purpose] if self.handling_min is None else self.handling_min


def check(options: RoundOptions) -> None:
    """Raise a `UserError` if an option is out of bounds."""
    _check_loads(options)
    _check_people(options)
    if options.run_ml is not None and not 0 < options.run_ml <= 60_000:
        raise UserError(f"a run of {options.run_ml / 1000:g} L is out of bounds", "choose up to 60 L a night")
    if not 0 < options.vessel_ml <= 60_000:
        raise UserError(f"a vessel of {options.vessel_ml / 1000:g} L is out of bounds", "choose up to 60 L")
    low, high = OVERFLOW_BOUNDS
    if not low <= options.overflow_chance <= high:
        raise UserError(
            f"a chance of {options.overflow_chance * 100:g} % is out of bounds",
            f"choose {low * 100:g} to {high * 100:g} %",
        )
    if options.aim not in AIMS:
        raise UserError(f"'{options.aim[:40]}' is nothing that a walk can aim at", f"choose one of: {', '.join(AIMS)}")
    if not 0 <= options.minutes_at_a_stop <= 120:
        raise UserError(f"{options.minutes_at_a_stop:g} minutes at a stop are out of bounds", "choose up to 120")
    if not 0 <= options.margin_min <= 600:
        raise UserError(f"a margin of {options.margin_min:g} minutes is out of bounds", "choose up to 600")
    if len(options.contact) > LONGEST_CONTACT:
        raise UserError("the contact is too long", f"use at most {LONGEST_CONTACT} characters")
    for text in (options.contact, *(walker.name for walker in options.walkers)):
        # One of them would turn the words of the cautions round that stand beside the name.
        if any(unicodedata.bidirectional(c) in TURNING or unicodedata.category(c) == "Cc" for c in text):
            raise UserError("a contact or collector holds characters that cannot be seen", "type the name anew")


def _check_loads(options: RoundOptions) -> None:
    low, high = CAPACITY_BOUNDS_KG
    for load in (options.capacity_kg, *(w.capacity_kg for w in options.walkers if w.capacity_kg is not None)):
        if not low <= load <= high:
            raise UserError(f"a load of {load:g} kg is out of bounds", f"choose {low:g} to {high:g} kg")
        if not 0 <= options.can_kg < load:
            raise UserError(f"cans of {options.can_kg:g} kg leave no room", "choose less than the load carried")
    if not 1 <= options.can_l <= 60:
        raise UserError(f"a can of {options.can_l:g} L is out of bounds", "choose 1 to 60 L")
    if not 0 <= options.vessel_kg <= 10:
        raise UserError(f"an empty vessel of {options.vessel_kg:g} kg is out of bounds", "choose up to 10 kg")
    if options.barrow_kg is not None:
        low, high = BARROW_BOUNDS_KG
        if not low <= options.barrow_kg <= high:
            raise UserError(
                f"a sledge or barrow of {options.barrow_kg:g} kg is out of bounds", f"choose {low:g} to {high:g} kg"
            )
    if options.from_here is not None:
        carrying = options.from_here.carrying_kg
        if not (math.isfinite(carrying) and 0 <= carrying <= CAPACITY_BOUNDS_KG[1]):
            raise UserError(f"{carrying:g} kg cannot be carried already", f"choose 0 to {CAPACITY_BOUNDS_KG[1]:g} kg")


def _check_people(options: RoundOptions) -> None:
    count = len(options.people) if options.walkers else options.collectors
    if not 1 <= count <= MOST_COLLECTORS:
        raise UserError(f"{count} collectors are out of bounds", f"choose 1 to {MOST_COLLECTORS}")
    names = [walker.name.casefold() for walker in options.walkers if walker.name]
    if len(set(names)) < len(names):
        raise UserError("two collectors have the same name", "tell them apart")
    if any(len(walker.name) > LONGEST_NAME for walker in options.walkers):
        raise UserError("a collector's name is too long", f"use at most {LONGEST_NAME} characters")
    if options.from_here is not None and count > 1:
        raise UserError("a walk is planned anew from where one person stands", "name one collector")
