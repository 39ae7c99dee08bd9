"""What a planned walk rests on, and what to mind on it, in words."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta

from standmap.jobs.planned_round import Light, PlannedTrip, Purpose
from standmap.jobs.round_hours import hour_told
from standmap.jobs.round_posed import PosedRound
from standmap.jobs.vessels import COURSE_OF_A_DAY, EMPTIED_BETWEEN

WALKING_SPEED = (
    "walking is reckoned at 5.0 km/h on a path and 3.0 km/h beside it, on slopes by Tobler's hiking function "
    "(NCGIA Technical Report 93-1, 1993)"
)

SLOWED_BY_LOADS = (
    "a load slows the walk as the energy of walking with it says (Pandolf, Givoni and Goldman 1977); that was made for "
    "packs on the back, cans in the hands are harder"
)

CALL_IN = "alone: agree when to call in, about every two hours, and what is done when no call comes"
"""About every two hours: common in forestry work (Tilhill), no public figure was found."""

LONG_DAY_MIN = 480
"""Whoever is on the way for longer is asked whether the walk should be shared: a usual working day, an assumption."""

MOST_NAMED = 3


def notes_of(posed: PosedRound, trips: Sequence[PlannedTrip]) -> Iterator[str]:
    """Yield the assumptions behind the figures of a walk, and who stays at home."""
    yield from posed.notes
    walking = {trip.collector for trip in trips}
    for number, walker in enumerate(posed.options.people, start=1):
        if number not in walking:
            yield f"{walker.name or f'collector {number}'} has nothing to walk: the others do it at less cost"
    if posed.options.purpose is Purpose.COLLECTING:
        yield COURSE_OF_A_DAY
        yield EMPTIED_BETWEEN
    yield f"{posed.options.minutes_at_a_stop:g} min at each stop, and {posed.options.margin_min:g} min of margin"
    yield WALKING_SPEED
    if posed.problem.carrying is not None:
        yield SLOWED_BY_LOADS


def cautions_of(
    posed: PosedRound, trips: Sequence[PlannedTrip], light: Light, back: datetime, late: datetime
) -> Iterator[str]:
    """Yield what to mind on a walk.

    Parameters
    ----------
    back, late
        When the last collector is back, and when somebody begins to look.
    """
    options = posed.options
    yield from posed.cautions
    hour = hour_told(late, posed.sets_out.date())
    if options.contact:
        yield f"back by {hour}: leave this sheet with {options.contact}, who calls for help after that"
    else:
        yield f"back by {hour}: leave the way and this hour with somebody who calls for help after that"
    if len(options.people) == 1:
        yield CALL_IN
    longest = _longest_min(trips)
    if longest > LONG_DAY_MIN:
        yield f"one person is on the way for {longest / 60:.0f} h: share the walk, or name the latest hour to be back"
    if light.lamp_until is not None:
        yield f"it is dark until {light.lamp_until:%H:%M}: lamp on the head, both hands free, less in the cans"
    elif light.civil_dusk is not None and back > light.civil_dusk:
        yield f"it is dark again from {light.civil_dusk:%H:%M}: lamp on the head, both hands free, less in the cans"
    if options.barrow_kg is not None:
        yield "sledge or barrow: keep above it on a slope, hold it back downhill, and load it low"
    if options.wet:
        yield "wet or icy ground: short steps, less in the cans, and turn back where it does not hold"
    yield from _running_over(posed, trips)


def _longest_min(trips: Sequence[PlannedTrip]) -> float:
    """Return how long whoever walks longest is on the way."""
    on_the_way: dict[int, float] = {}
    for trip in trips:
        on_the_way[trip.collector] = on_the_way.get(trip.collector, 0.0) + trip.minutes
    return max(on_the_way.values(), default=0.0)


def _running_over(posed: PosedRound, trips: Sequence[PlannedTrip]) -> Iterator[str]:
    """Yield which vessels are expected to run over before they are reached."""
    everybody = posed.problem.everybody
    over = [
        stop
        for trip in trips
        for stop in trip.stops
        if stop.full_at is not None
        and stop.full_at < posed.sets_out + timedelta(minutes=everybody[trip.collector - 1].sets_out_min + stop.minutes)
    ]
    if over:
        names = list(dict.fromkeys(stop.tree.name for stop in over))
        more = f" and {len(names) - MOST_NAMED} more" if len(names) > MOST_NAMED else ""
        yield f"expected to run over before anybody is there: {', '.join(names[:MOST_NAMED])}{more}"
