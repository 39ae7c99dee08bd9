"""What runs into each hanging vessel until an hour: since it was emptied last, by the hours of the day."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from standmap.sap.course import DAY, fills_at, nights_between, part_between
from standmap.sap.expected import learned
from standmap.sap.girths import girth_mm
from standmap.sap.night import NightRun
from standmap.sap.records import MOST_NIGHTS
from standmap.sap.sums import summed
from standmap.sap.together import Together, alike, together
from standmap.sap.warmth import day_means_c, night_warmth_c
from standmap.stand.snapshot import Stand
from standmap.stand.tapping import TapHole

if TYPE_CHECKING:
    from standmap.sap.model import SapModel

COURSE_OF_A_DAY = (
    "sap runs most from 13 to 14 h and least at night (Gryazkin et al. 2023); how much it rises and falls is assumed"
)
EMPTIED_BETWEEN = (
    f"a vessel of which nothing was written down for more than {MOST_NIGHTS} days is taken to have been emptied the "
    "day before"
)

Floats = NDArray[np.float64]
WarmthOf = Callable[[date], float | None]


@dataclass(frozen=True, slots=True, eq=False)
class Hanging:
    """A vessel and what runs into it until an hour.

    Attributes
    ----------
    emptied_at, until
        When it was emptied last or hung up, and the hour, in one zone.
    noted
        Whether that is written down; else it is taken to have been a day ago.
    nights
        How many days' runs come until the hour: 1 a full day.
    run
        All that comes, whatever the vessel holds.
    shared
        Of the run's spread, what all holes have in common.
    fills_at
        When it is expected to be full; None where that lies far off.
    middles, covariance
        Of the logarithms of the days' runs, the day that ends with the hour first, shapes (k,) and (k, k).
    """

    hole: TapHole
    emptied_at: datetime
    until: datetime
    noted: bool
    nights: float
    run: NightRun
    shared: float
    fills_at: datetime | None
    middles: Floats
    covariance: Floats

    def overflow_chance(self, vessel_ml: float) -> float:
        """Return how likely a vessel of this size has run over by then."""
        return self.run.overflow_chance(vessel_ml)

    def run_between(self, begins: datetime, ends: datetime) -> NightRun:
        """Return what comes between two moments from its emptying to the hour, the second one later."""
        parts = [
            part_between(max(begins, self.until - DAY * (back + 1)), min(ends, self.until - DAY * back))
            for back in range(len(self.middles))
        ]
        middle, spread = summed(self.middles[None], self.covariance[None], np.array([parts]))
        return NightRun(math.exp(middle[0]), float(spread[0]), self.run.basis, self.run.assumed)


def hanging_at(
    stand: Stand,
    holes: Sequence[TapHole],
    at: datetime,
    vessel_ml: float,
    *,
    usual: time | None = None,
    emptied_at: datetime | None = None,
    model: SapModel | None = None,
    warmth: WarmthOf | None = None,
    run_ml: float | None = None,
) -> tuple[Hanging, ...]:
    """Return what runs into the vessel of each hole until an hour.

    Parameters
    ----------
    at
        The hour, with its zone.
    vessel_ml
        What each vessel holds.
    usual
        The hour at which vessels were hung or emptied where only the day was written down; that of `at` when absent.
    emptied_at
        When all that hung then were emptied, beside what is written down.
    model
        What the stand's records teach where it is at hand; learned anew otherwise.
    warmth
        How warm the night is that ends on a date, °C; what the stand's weather says when absent.
    run_ml
        What a hole gives in each night, as a person says; then nothing else counts.
    """
    if not holes:
        return ()
    usual = at.time() if usual is None else usual
    emptied = [_emptied(stand, hole, at, usual, emptied_at) for hole in holes]
    stretches = [list(nights_between(moment, at)) for moment, _ in emptied]
    ends = [ends_at for ends_at, _ in max(stretches, key=len)]
    parts = np.zeros((len(holes), len(ends)))
    for row, stretch in enumerate(stretches):
        parts[row, : len(stretch)] = [part for _, part in stretch]
    if run_ml is None:
        joint, said = _told(stand, holes, ends, learned(stand) if model is None else model, warmth)
    else:
        joint = alike(run_ml, *parts.shape)
        said = [NightRun(run_ml, 0.0, "as asked for", assumed=False)] * len(holes)
    middles, spreads = summed(joint.middles, joint.covariances, parts)
    _, shared = summed(joint.middles, np.broadcast_to(joint.shared, joint.covariances.shape), parts)
    return tuple(
        Hanging(
            hole=hole,
            emptied_at=moment,
            until=at,
            noted=noted,
            nights=float(parts[row].sum()),
            run=NightRun(math.exp(middles[row]), float(spreads[row]), said[row].basis, said[row].assumed),
            shared=float(min(shared[row], spreads[row])),
            fills_at=_to_the_minute(fills_at(moment, _onward(ends, np.exp(joint.middles[row]).tolist()), vessel_ml)),
            middles=joint.middles[row],
            covariance=joint.covariances[row],
        )
        for row, (hole, (moment, noted)) in enumerate(zip(holes, emptied, strict=True))
    )


def _told(
    stand: Stand, holes: Sequence[TapHole], ends: Sequence[datetime], model: SapModel, warmth: WarmthOf | None
) -> tuple[Together, Sequence[NightRun]]:
    """Return what the holes give in the nights that end so, and what their last night rests on."""
    warmth = weather_of(stand) if warmth is None else warmth
    nights = [(end.date(), warmth(end.date())) for end in ends]
    keys = [hole.tree_key for hole in holes]
    girths = [girth_mm(stand, key, nights[0][0]) for key in keys]
    return together(model, keys, girths, nights), model.night_of_each(keys, girths, *nights[0])


def hung_at(hole: TapHole, at: datetime, usual: time) -> datetime:
    """Return when a vessel was hung up first, in the zone of an hour."""
    return _moment(hole.made_on, hole.made_at, at, usual)


def weather_of(stand: Stand) -> WarmthOf:
    """Return how warm each night was by the stand's weather."""
    means = day_means_c(stand)
    return lambda ends_on: night_warmth_c(means, ends_on)


def _emptied(
    stand: Stand, hole: TapHole, at: datetime, usual: time, emptied_at: datetime | None
) -> tuple[datetime, bool]:
    """Return when a vessel was emptied last or hung up, and whether that is written down."""
    moments = [hung_at(hole, at, usual)]
    moments += [
        _moment(taken.collected_on, taken.collected_at, at, usual) for taken in stand.collections_of.get(hole.key, ())
    ]
    if emptied_at is not None and emptied_at > moments[0]:
        moments.append(emptied_at)
    before = [one for one in moments if one < at]
    if not before or at - max(before) > DAY * MOST_NIGHTS:
        return at - DAY, False
    return max(before), True


def _moment(day: date, given: datetime | None, at: datetime, usual: time) -> datetime:
    """Return when something was done, in the zone of an hour."""
    return datetime.combine(day, usual, at.tzinfo) if given is None else given.astimezone(at.tzinfo)


def _to_the_minute(moment: datetime | None) -> datetime | None:
    return None if moment is None else moment.replace(second=0, microsecond=0)


def _onward(ends: Sequence[datetime], runs_ml: Sequence[float]) -> list[tuple[datetime, float]]:
    """Return nights, the first first, and after the last one some more that are like it."""
    known = [*reversed(list(zip(ends, runs_ml, strict=True)))]
    last_at, last_ml = known[-1]
    return known + [(last_at + DAY * ahead, last_ml) for ahead in range(1, MOST_NIGHTS + 1)]
