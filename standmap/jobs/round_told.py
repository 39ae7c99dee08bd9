"""A solved round in the words of the stand: stops with what to do there, hours, light, kit and cautions."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

import numpy as np

from standmap.jobs.planned_round import Light, PlannedRound, PlannedTrip, Purpose, RoundStop
from standmap.jobs.round_collecting import RUNS_EVENLY, full_at
from standmap.jobs.round_hours import back_by
from standmap.jobs.round_kit import kit_for
from standmap.jobs.round_light import dark_on_the_way, light_of
from standmap.jobs.round_posed import PosedRound
from standmap.jobs.round_stops import LeftOut
from standmap.stand.tree import LonLat

if TYPE_CHECKING:
    from standmap.rounds.round import Round, Visit
    from standmap.survey.frame import WorkingFrame

CALL_IN = "alone: agree when to call in, about every two hours, and what is done when no call comes"
"""About every two hours: common in forestry work (Tilhill), no public figure was found."""


def planned(posed: PosedRound, solved: Round) -> PlannedRound:
    """Return a round that has trips, in the words of the stand."""
    trips = tuple(_trips(posed, solved))
    minutes = max(trip.sets_out_min + trip.minutes for trip in trips)
    back = posed.sets_out + timedelta(minutes=minutes)
    light = light_of(posed.day, posed.start.at, posed.sets_out, back)
    lamp = dark_on_the_way(posed.start.at, posed.sets_out, back) or posed.options.dark
    late = back_by(posed.sets_out, minutes, posed.options.margin_min)
    return PlannedRound(
        day=posed.day,
        start=posed.start,
        seed=posed.seed,
        repeatable=solved.repeatable,
        proved=solved.proved,
        stopped=solved.stopped,
        length_m=solved.length_m,
        minutes=minutes,
        trips=trips,
        left_out=left_out(posed, solved),
        purpose=posed.options.purpose,
        aim=posed.options.aim,
        gap_percent=None if solved.proved else solved.gap_percent,
        effort_kg_m=solved.kg_m,
        sets_out=posed.sets_out,
        back_by=late,
        contact=posed.options.contact,
        light=light,
        kit=kit_for(trips, posed.day, posed.options, posed.rules, posed.stand, lamp=lamp),
        notes=tuple(_notes(posed)),
        cautions=tuple(_cautions(posed, trips, light, back, late)),
    )


def left_out(posed: PosedRound, solved: Round) -> tuple[LeftOut, ...]:
    """Return every tree that is not walked to, with why."""
    return (*posed.left_out, *((posed.stops[out.key].tree.name, out.why) for out in solved.left_out))


def _notes(posed: PosedRound) -> Iterator[str]:
    yield from posed.notes
    if posed.options.purpose is Purpose.COLLECTING:
        yield RUNS_EVENLY
    yield f"{posed.options.minutes_at_a_stop:g} min at each stop, and {posed.options.margin_min:g} min of margin"


def _cautions(
    posed: PosedRound, trips: Sequence[PlannedTrip], light: Light, back: datetime, late: datetime
) -> Iterator[str]:
    yield from posed.cautions
    if posed.options.contact:
        yield f"back by {late:%H:%M}: leave this sheet with {posed.options.contact}, who calls for help after that"
    else:
        yield f"back by {late:%H:%M}: leave the way and this hour with somebody who calls for help after that"
    if len({trip.collector for trip in trips}) == 1 and len(posed.options.people) == 1:
        yield CALL_IN
    if light.lamp_until is not None:
        yield f"it is dark until {light.lamp_until:%H:%M}: lamp on the head, both hands free, less in the cans"
    if light.civil_dusk is not None and back > light.civil_dusk:
        yield f"it is dark again from {light.civil_dusk:%H:%M}"
    if posed.options.barrow_kg is not None:
        yield "sledge or barrow: keep above it on a slope, hold it back downhill, and load it low"
    if posed.options.wet:
        yield "wet or icy ground: short steps, less in the cans, and turn back where it does not hold"


def _trips(posed: PosedRound, solved: Round) -> Iterator[PlannedTrip]:
    people, everybody = posed.options.people, posed.problem.everybody
    order = 0
    for number, trip in enumerate(solved.trips, start=1):
        who = trip.collector - 1
        stops = tuple(_stop(posed, visit, order + place) for place, visit in enumerate(trip.visits, start=1))
        order += len(stops)
        yield PlannedTrip(
            number=number,
            collector=trip.collector,
            length_m=trip.length_m,
            minutes=trip.minutes,
            max_load_kg=trip.max_load_kg,
            stops=stops,
            course=_lonlat(posed.frame, trip.course),
            who=people[who].name,
            start=posed.place_at(trip.start),
            end=posed.place_at(trip.end),
            sets_out_min=everybody[who].sets_out_min + trip.sets_out_min,
            home_m=trip.home_m,
            home_min=trip.home_min,
            home_course=_lonlat(posed.frame, trip.home_course),
            effort_kg_m=trip.kg_m,
        )


def _stop(posed: PosedRound, visit: Visit, order: int) -> RoundStop:
    stop = posed.stops[visit.key]
    lon, lat = np.asarray([stop.tree.at[0]]), np.asarray([stop.tree.at[1]])
    turn = float(posed.frame.convergence_deg(lon, lat)[0])
    return RoundStop(
        order=order,
        tree=stop.tree,
        hole=stop.hole,
        litres=stop.litres,
        load_kg=visit.load_kg,
        leg_m=visit.leg_m,
        bearing_true_deg=float((np.degrees(visit.bearing_rad) + turn) % 360),
        bends=visit.bends,
        minutes=visit.arrive_min,
        key=stop.key,
        hole_number=stop.hole_number,
        high_l=stop.high_l,
        leg_min=visit.leg_min,
        climb_m=visit.climb_m,
        course=_lonlat(posed.frame, visit.course),
        todo=stop.todo,
        cautions=stop.cautions,
        full_at=full_at(posed.stand, stop, posed.sets_out),
    )


def _lonlat(frame: WorkingFrame, course: Sequence[tuple[float, float]]) -> tuple[LonLat, ...]:
    line = np.asarray(course, dtype=np.float64).reshape(-1, 2)
    lon, lat = frame.to_lonlat(line[:, 0], line[:, 1])
    return tuple((float(x), float(y)) for x, y in zip(lon, lat, strict=True))
