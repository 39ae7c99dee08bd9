"""Where would a tank or the car stand best? The same walk planned from each place that could be."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from itertools import compress

import numpy as np

from standmap.errors import NothingToDo, UserError
from standmap.jobs.opening import working_frame
from standmap.jobs.positions import xy
from standmap.jobs.round import Solver, plan_posed, pose_round
from standmap.jobs.round_asked import NothingToCollect
from standmap.jobs.round_options import RoundOptions
from standmap.jobs.round_places import candidates
from standmap.messages import Messages, Silence
from standmap.progress import Progress, Unwatched
from standmap.sap.expected import learned
from standmap.stand.ground import Place
from standmap.stand.records import Plan
from standmap.stand.snapshot import Stand

MOST_PLACES = 40
"""Each is planned from by itself; more would take too long."""

SECONDS_EACH = 1.0
"""Longest search from one place, unless said otherwise."""


@dataclass(frozen=True, slots=True)
class Standing:
    """A place where a tank or the car could stand, and what the walk costs from there.

    Attributes
    ----------
    taps
        How many stops are reached from there.
    """

    place: Place
    taps: int
    trips: int
    length_m: float
    minutes: float
    effort_kg_m: float

    def cost(self, aim: str) -> float:
        """Return what is made least."""
        return {"time": self.minutes, "effort": self.effort_kg_m, "distance": self.length_m}[aim]


def where_tank(
    stand: Stand,
    day: date,
    options: RoundOptions,
    *,
    plans: Iterable[Plan] = (),
    seconds_each: float = SECONDS_EACH,
    messages: Messages | None = None,
    progress: Progress | None = None,
    solver: Solver | None = None,
) -> tuple[Standing, ...]:
    """Return the places from which the walk could be made, the best first.

    Places from which more stops are reached come before others; then what the walk aims at counts.

    Parameters
    ----------
    seconds_each
        Longest search from one place.

    Raises
    ------
    UserError
        If an option is out of bounds, or the walk has begun already.
    NothingToDo
        If no place is drawn, none leads to the trees, or there is nothing to do that day.
    """
    from standmap.rounds.stop import MaxSeconds

    if options.from_here is not None:
        raise UserError("where a tank stands is asked before a walk begins", "leave out --from-here")
    messages, watch = messages or Silence(), progress or Unwatched()
    places = _within_reach(stand, candidates(stand))
    if len(places) > MOST_PLACES:
        messages.tell(f"{len(places)} places could be: the first {MOST_PLACES} are looked at")
        places = places[:MOST_PLACES]
    marks, model = tuple(plans), learned(stand)
    found: list[Standing] = []
    for number, place in enumerate(places):
        watch.at(number, len(places), "looking at places")
        if watch.stop_wanted():
            break
        there = replace(stand, places=(*(p for p in stand.places if p.key != place.key), place))
        posed = pose_round(
            there, day, replace(options, start=place.key), messages if number == 0 else None, plans=marks, model=model
        )
        try:
            best = plan_posed(posed, stop=MaxSeconds(seconds_each), progress=watch, solver=solver)
        except NothingToCollect:  # no way leads from there to any of the trees
            continue
        found.append(Standing(place, best.taps, len(best.trips), best.length_m, best.minutes, best.effort_kg_m))
    if not found:
        raise NothingToDo(_why_none(places))
    return tuple(sorted(found, key=lambda one: (-one.taps, one.cost(options.aim))))


def _within_reach(stand: Stand, places: Sequence[Place]) -> tuple[Place, ...]:
    """Return the places that lie near enough to the stand to walk from."""
    frame = working_frame(stand)
    if frame is None or not places:
        return ()
    return tuple(compress(places, np.isfinite(xy(frame, [place.at for place in places])[:, 0])))


def _why_none(places: Sequence[Place]) -> str:
    if not places:
        return "no place is drawn where a tank or the car could stand: draw gates, tanks, landmarks or paths"
    return "from no place that is drawn does a way lead to the trees"
