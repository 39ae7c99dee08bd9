"""A planned round as a person reads it at a terminal."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import compress
from typing import TYPE_CHECKING

from standmap.cli.terminal import note, say, table

if TYPE_CHECKING:
    from standmap.jobs.planned_round import PlannedRound, PlannedTrip, Todo
    from standmap.jobs.round_editing import EditedRound
    from standmap.jobs.round_tanks import Standing

HEADINGS = (
    ("order", "right"),
    ("tree", "left"),
    ("leg", "right"),
    ("true", "right"),
    ("", "left"),
    ("litres", "right"),
    ("load", "right"),
    ("minute", "right"),
)

LITRES = 5
"""The column that only a collecting walk shows."""

LESS = {"time": "longer", "distance": "longer", "effort": "heavier"}
BETTER = {"time": "quicker", "distance": "shorter", "effort": "lighter"}


def show_walking_cautions(planned: PlannedRound | None = None, told: Iterable[str] = ()) -> None:
    """Write the cautions of a walk, its own first.

    Parameters
    ----------
    told
        What was said before.
    """
    from standmap.jobs.cautions import TAPPING, WALKING
    from standmap.jobs.planned_round import Purpose

    before = set(told)
    own = [] if planned is None else [text for text in planned.cautions if text not in before]
    more = TAPPING if planned is not None and planned.purpose is Purpose.TAPPING else ()
    for text in dict.fromkeys((*own, *more, *WALKING)):
        note(f"caution: {text}")


def show_round(planned: PlannedRound, edited: EditedRound | None = None) -> None:
    """Write a round as a table; one ordered by hand with what that costs."""
    from standmap.jobs.planned_round import Purpose

    collecting = planned.purpose is Purpose.COLLECTING
    thing = "tap" if collecting else "hole"
    taps = f"{planned.taps} {thing}{'s' if planned.taps != 1 else ''}"
    count = f"{len(planned.trips)} trip{'s' if len(planned.trips) != 1 else ''}"
    what = "" if collecting else f" {planned.purpose},"
    say(
        f"{planned.day.isoformat()},{what} from {planned.start.name}: {taps}, {count}, "
        f"{planned.length_m:.0f} m, {planned.minutes:.0f} min"
    )
    hours = _hours(planned)
    if hours:
        say(hours)
    say(_how_sure(planned) if edited is None else f"ordered by hand: {edited.cost} against the best found")
    for trip in planned.trips:
        say()
        say(_trip_line(planned, trip))
        shown = [True] * len(HEADINGS)
        shown[LITRES] = collecting
        if not trip.stops:
            say("first of all, what is carried is brought there")
            continue
        table(list(compress(HEADINGS, shown)), (list(compress(cells, shown)) for cells in _rows(trip)))
        _show_todo(trip, common=not collecting)
    if planned.left_out:
        say()
        for name, why in planned.left_out:
            say(f"left out: {name}: {why}")
    if planned.kit:
        say()
        say("to take along:")
        for line in planned.kit:
            counted = "" if line.count is None else f"{line.count} x "
            say(f"  [ ] {counted}{line.what}{f' ({line.note})' if line.note else ''}")
    say()


def _hours(planned: PlannedRound) -> str:
    """Return when the walk sets out, its light, and when it is to be back."""
    from standmap.jobs.round_hours import hour_told

    light = planned.light
    day = planned.day if planned.sets_out is None else planned.sets_out.date()
    told = [
        ("sets out", planned.sets_out),
        ("first light", None if light is None else light.civil_dawn),
        ("sunrise", None if light is None else light.sunrise),
        ("lamp until", None if light is None else light.lamp_until),
        ("back by", planned.back_by),
    ]
    return ", ".join(f"{what} {hour_told(at, day)}" for what, at in told if at is not None)


def _trip_line(planned: PlannedRound, trip: PlannedTrip) -> str:
    shared = any(t.collector != trip.collector for t in planned.trips)
    who = f", {trip.who or f'collector {trip.collector}'}" if shared or trip.who else ""
    start, end = (trip.start or planned.start), (trip.end or trip.start or planned.start)
    way = "" if start.key == end.key == planned.start.key else f", from {start.name} to {end.name}"
    return (
        f"trip {trip.number}{who}{way}: {trip.length_m:.0f} m, {trip.minutes:.0f} min, "
        f"at most {trip.max_load_kg:.1f} kg"
    )


def _rows(trip: PlannedTrip) -> Iterable[tuple[str, ...]]:
    for s in trip.stops:
        yield (
            str(s.order),
            s.tree.name if s.hole_number == 1 else f"{s.tree.name} hole {s.hole_number}",
            f"{s.leg_m:.0f} m",
            f"{round(s.bearing_true_deg) % 360:03d}°",
            "bends" if s.bends else "",
            f"{s.litres:.1f} L",
            f"{s.load_kg:.1f} kg",
            f"{s.minutes:.0f}",
        )


def _show_todo(trip: PlannedTrip, *, common: bool) -> None:
    """Write what is done at every stop once, where `common`, and at each what is not done at all of them."""
    everywhere = [todo for todo in trip.stops[0].todo if all(todo in stop.todo for stop in trip.stops)]
    if everywhere and common:
        say("at each stop:")
        _show_boxes(everywhere)
    for stop in trip.stops:
        own = [todo for todo in stop.todo if todo not in everywhere]
        if own or stop.cautions:
            say(f"{stop.order} {stop.tree.name}:")
            for text in stop.cautions:
                say(f"      mind: {text}")
            _show_boxes(own)


def _show_boxes(todo: Iterable[Todo]) -> None:
    for one in todo:
        say(f"  [ ] {one.text}{f' ({one.source})' if one.source else ''}")


def _how_sure(planned: PlannedRound) -> str:
    if planned.proved:
        sure = f"no {BETTER[planned.aim]} round exists"
    elif planned.gap_percent is not None:
        sure = f"at most {planned.gap_percent:.1f} % {LESS[planned.aim]} than the best possible"
    else:
        sure = f"the best found; a {BETTER[planned.aim]} one may exist"
    again = "the same again with this seed" if planned.repeatable else "another run may order it otherwise"
    return f"{sure}; {again}"


def show_standings(standings: Iterable[Standing]) -> None:
    """Write where a tank or the car would stand best, the best first."""
    table(
        [
            ("place", "left"),
            ("kind", "left"),
            ("taps", "right"),
            ("trips", "right"),
            ("way", "right"),
            ("time", "right"),
            ("carried", "right"),
        ],
        (
            (
                one.place.name,
                str(one.place.kind),
                str(one.taps),
                str(one.trips),
                f"{one.length_m:.0f} m",
                f"{one.minutes:.0f} min",
                f"{one.effort_kg_m:,.0f} kg m",
            )
            for one in standings
        ),
    )
