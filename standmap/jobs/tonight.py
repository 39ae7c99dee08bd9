"""What tonight's run will be, by hole and in all: which vessels may run over by the planned hour, and what to hang."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import TYPE_CHECKING

import numpy as np

from standmap.errors import NothingToDo, UserError
from standmap.jobs.cautions import LOCAL_RULES, SOURS
from standmap.jobs.round_collecting import no_open_hole
from standmap.jobs.round_hours import moment
from standmap.jobs.round_kit import vessel_for
from standmap.jobs.round_light import light_of, usual_start
from standmap.jobs.round_options import RoundOptions, check
from standmap.jobs.round_stops import LeftOut
from standmap.jobs.vessels import COURSE_OF_A_DAY, EMPTIED_BETWEEN, Hanging, WarmthOf, hanging_at, hung_at, weather_of
from standmap.jobs.who_walks import hour_of
from standmap.sap.expected import learned
from standmap.sap.priors import COLDEST_C, WARMEST_C
from standmap.sap.records import MOST_NIGHTS
from standmap.sap.sums import Total, total_of
from standmap.stand.snapshot import Stand
from standmap.stand.tree import Tree

if TYPE_CHECKING:
    from standmap.sap.calibration import Calibration
    from standmap.sap.model import SapModel

_DAY_AND_HOUR = re.compile(r"(?:(\d{4}-\d{2}-\d{2})[ T])?\s*(\d{1,2}:\d{2})")

EVENING = time(18)
"""When vessels would be emptied once more, before a night that they may not hold: an assumption."""

WARMTH_BOUNDS_C = (-20.0, 30.0)
"""Means of a day and the next in which sap is looked for at all."""


@dataclass(frozen=True, slots=True)
class HoleTonight:
    """One hole and its vessel.

    Attributes
    ----------
    vessel_ml
        What the vessel holds that hangs there.
    overflow
        How likely it runs over by the planned hour.
    wanted_ml
        The vessel that runs over with the chosen chance.
    evening
        How likely one of this size runs over where it is emptied in the evening as well; None where no evening
        lies before the planned hour.
    """

    tree: Tree
    hanging: Hanging
    vessel_ml: float
    overflow: float
    wanted_ml: float
    evening: float | None

    @property
    def waits_ml(self) -> float:
        """What is expected in the vessel: no more than it holds."""
        return min(self.hanging.run.median_ml, self.vessel_ml)


@dataclass(frozen=True, slots=True)
class Larger:
    """Trees at whose holes a larger vessel is wanted, each once."""

    vessel_l: float
    holes: int
    trees: tuple[Tree, ...]


@dataclass(frozen=True, slots=True)
class TonightAnswer:
    """What is expected until the planned hour.

    Attributes
    ----------
    until
        The planned hour, with its zone.
    warmth_c, warmth_basis
        How warm the night is taken to be, and why.
    total
        What is in the vessels together at that hour; each holds no more than its size.
    run
        What comes from the holes together, whatever the vessels hold.
    cans
        Cans for the total that nine times of ten is not passed; 0 where full vessels are carried home.
    basis, assumed
        What the figures rest on, and whether on published figures and assumptions alone.
    """

    day: date
    until: datetime
    options: RoundOptions
    warmth_c: float
    warmth_basis: str
    holes: tuple[HoleTonight, ...]
    total: Total
    run: Total
    cans: int
    left_out: tuple[LeftOut, ...]
    basis: str
    assumed: bool
    notes: tuple[str, ...]
    cautions: tuple[str, ...]

    @property
    def likely_over(self) -> tuple[HoleTonight, ...]:
        """The holes whose vessels run over more likely than chosen, the likeliest first."""
        over = [hole for hole in self.holes if hole.overflow > self.options.overflow_chance]
        return tuple(sorted(over, key=lambda hole: -hole.overflow))

    @property
    def larger(self) -> tuple[Larger, ...]:
        """Which larger vessels are wanted, the smallest first."""
        by_size: dict[float, list[HoleTonight]] = {}
        for hole in self.likely_over:
            by_size.setdefault(vessel_for(hole.wanted_ml / 1000, hole.vessel_ml / 1000), []).append(hole)
        return tuple(
            Larger(size, len(found), tuple(dict.fromkeys(hole.tree for hole in found)))
            for size, found in sorted(by_size.items())
        )

    @property
    def evening_helps(self) -> tuple[HoleTonight, ...]:
        """Of the holes whose vessels run over too likely, those where emptying them in the evening would do."""
        chance = self.options.overflow_chance
        return tuple(hole for hole in self.likely_over if hole.evening is not None and hole.evening <= chance)


def tonight(
    stand: Stand,
    day: date,
    until: datetime | time | None = None,
    *,
    warm_c: float | None = None,
    emptied: time | None = None,
    options: RoundOptions | None = None,
    model: SapModel | None = None,
) -> TonightAnswer:
    """Return what runs from a day on until the planned hour.

    Parameters
    ----------
    day
        The day in whose evening the night begins.
    until
        When the vessels are to be emptied. An hour in the morning is that of the next day, one from noon on that of
        `day`; the next sunrise when absent.
    warm_c
        The mean of `day` and the next in °C; else what the stand's weather says, else the usual.
    emptied
        The hour of `day` at which every vessel is emptied, whether or not that is written down yet.
    options
        The vessel, the chance that one runs over, and the cans count here.
    model
        What the stand's records teach where it is at hand; learned anew otherwise.

    Raises
    ------
    UserError
        If something is out of bounds, or the hour is before any vessel was hung.
    NothingToDo
        If no hole is open that day.
    """
    options = RoundOptions() if options is None else options
    check(options)
    _check_warmth(warm_c)
    open_holes = stand.all_open_holes(day)
    if not open_holes:
        raise NothingToDo(no_open_hole(stand, day))
    at = stand.by_key[open_holes[0].tree_key].at
    usual = usual_start(day, light_of(day, at)).time()
    end = _until(day, until, usual)
    holes = [hole for hole in open_holes if hung_at(hole, end, usual) < end]
    if not holes:
        raise UserError(f"no vessel hangs yet at {_hour(end)}", "choose a later hour")
    model = learned(stand) if model is None else model
    warmth, warmth_c, basis = _warmth(stand, day, end.date(), warm_c, model)
    vessel_ml = options.vessel_ml
    emptied_at = None if emptied is None else moment(day, emptied)
    if emptied_at is not None and emptied_at >= end:
        raise UserError(f"vessels emptied at {_hour(emptied_at)} are empty at {_hour(end)}", "choose a later hour")
    hangings = hanging_at(stand, holes, end, vessel_ml, usual=usual, emptied_at=emptied_at, model=model, warmth=warmth)
    evening = moment(day, EVENING)
    told = tuple(
        HoleTonight(
            stand.by_key[one.hole.tree_key],
            one,
            vessel_ml,
            one.overflow_chance(vessel_ml),
            one.run.vessel_ml(options.overflow_chance),
            _if_emptied(one, evening, vessel_ml),
        )
        for one in hangings
    )
    total = _total(hangings, vessel_ml)
    later = [hole for hole in open_holes if hole not in holes]
    stand_run = model.night("", None)
    return TonightAnswer(
        day=day,
        until=end,
        options=options,
        warmth_c=warmth_c,
        warmth_basis=basis,
        holes=told,
        total=total,
        run=_total(hangings, math.inf),
        cans=0 if options.swap_vessels else math.ceil(total.most_ml / 1000 / options.can_l - 1e-9),
        left_out=tuple((stand.by_key[hole.tree_key].name, f"not hung yet at {_hour(end)}") for hole in later),
        basis=stand_run.basis,
        assumed=stand_run.assumed,
        notes=tuple(_notes(hangings, warmth_c)),
        cautions=(SOURS, LOCAL_RULES),
    )


def past_seasons(stand: Stand, vessel_ml: float) -> Calibration:
    """Return how what is told of nights came true in each past season, told from the seasons before it alone.

    Raises
    ------
    NothingToDo
        If no collection of a single hole is written down.
    """
    from standmap.sap.calibration import calibrated
    from standmap.sap.records import records_of

    found = calibrated(records_of(stand), vessel_ml)
    if not found.seasons:
        raise NothingToDo("nothing was collected yet from a single hole: what is told cannot be held against anything")
    return found


def until_of(text: str) -> datetime | time:
    """Return a planned hour from what was typed: an hour of the day, or a date and an hour.

    Raises
    ------
    UserError
        If it is neither.
    """
    found = _DAY_AND_HOUR.fullmatch(text.strip())
    if found is None:
        raise UserError(f"'{text.strip()[:40]}' is no hour", "write it like 07:00, or 2026-03-29 07:00")
    hour = hour_of(found[2])
    if found[1] is None or hour is None:
        return hour or time()
    try:
        return moment(date.fromisoformat(found[1]), hour)
    except ValueError:
        raise UserError(f"'{found[1]}' is not a date", "write it like 2026-03-28") from None


def _until(day: date, until: datetime | time | None, usual: time) -> datetime:
    if isinstance(until, datetime):
        end = until.astimezone()
    else:
        hour = usual if until is None else until
        end = moment(day + timedelta(days=1) if hour < time(12) else day, hour)
    if end.date() < day:
        raise UserError(f"{_hour(end)} is before {day.isoformat()}", "choose a later hour, or an earlier date")
    if end.date() > day + timedelta(days=MOST_NIGHTS):
        raise UserError(
            f"{_hour(end)} is more than {MOST_NIGHTS} nights after {day.isoformat()}", "choose an earlier hour"
        )
    return end


def _check_warmth(warm_c: float | None) -> None:
    low, high = WARMTH_BOUNDS_C
    if warm_c is not None and not low <= warm_c <= high:
        raise UserError(f"a night of {warm_c:g} °C is out of bounds", f"choose {low:g} to {high:g} °C")


def _warmth(
    stand: Stand, day: date, ends_on: date, warm_c: float | None, model: SapModel
) -> tuple[WarmthOf, float, str]:
    """Return how warm each night is, how warm the last one is, and why."""
    of_weather = weather_of(stand)
    if warm_c is not None:
        return (lambda night: warm_c if night > day or night == ends_on else of_weather(night)), warm_c, "as asked for"
    known = of_weather(ends_on)
    if known is not None:
        return of_weather, known, "by this stand's weather"
    return of_weather, model.usual.warmth_c, "as warm as is usual, for there is no weather of that night"


def _if_emptied(vessel: Hanging, evening: datetime, vessel_ml: float) -> float | None:
    """Return how likely a vessel runs over that is emptied in the evening, too.

    The likelier of before and after: both come of the same tree and the same night.
    """
    if not vessel.emptied_at < evening < vessel.until:
        return None
    before = vessel.run_between(vessel.emptied_at, evening)
    after = vessel.run_between(evening, vessel.until)
    return max(before.overflow_chance(vessel_ml), after.overflow_chance(vessel_ml))


def _total(hangings: Sequence[Hanging], vessel_ml: float) -> Total:
    return total_of(
        np.log([one.run.median_ml for one in hangings]),
        np.array([one.run.spread for one in hangings]),
        np.array([one.shared for one in hangings]),
        np.full(len(hangings), vessel_ml),
    )


def _notes(hangings: Sequence[Hanging], warmth_c: float) -> Iterator[str]:
    yield COURSE_OF_A_DAY
    if not COLDEST_C <= warmth_c <= WARMEST_C:
        yield f"nights are told from {COLDEST_C:g} to {WARMEST_C:g} °C: this one is taken as the nearest of them"
    if any(not one.noted for one in hangings):
        yield EMPTIED_BETWEEN
    longest = max(one.nights for one in hangings)
    if longest > 1.5:
        yield f"some vessels hang for up to {longest:.1f} nights without a collection noted: all that came is counted"


def _hour(at: datetime) -> str:
    return f"{at:%Y-%m-%d %H:%M}"
