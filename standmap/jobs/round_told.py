"""A solved round in the words of the stand: stops with what to do there, hours, light, kit and cautions."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import timedelta
from typing import TYPE_CHECKING

import numpy as np

from standmap.jobs.planned_round import PlannedRound, PlannedTrip, RoundStop
from standmap.jobs.round_hours import back_by
from standmap.jobs.round_kit import kit_for
from standmap.jobs.round_light import dark_on_the_way, light_of
from standmap.jobs.round_posed import PosedRound
from standmap.jobs.round_stops import LeftOut
from standmap.jobs.round_words import cautions_of, notes_of
from standmap.stand.tree import LonLat

if TYPE_CHECKING:
    from standmap.rounds.round import Round, Visit
    from standmap.survey.frame import WorkingFrame

MOST_GAP_PERCENT = 50.0


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
        gap_percent=None if solved.proved else _gap_worth_telling(solved),
        effort_kg_m=solved.kg_m,
        sets_out=posed.sets_out,
        back_by=late,
        contact=posed.options.contact,
        light=light,
        kit=kit_for(trips, posed, lamp=lamp),
        notes=tuple(notes_of(posed, trips)),
        cautions=tuple(cautions_of(posed, trips, light, back, late)),
    )


def _gap_worth_telling(solved: Round) -> float | None:
    """Return the gap to what is proved; a bound that lies far off says nothing of the walk, and is not told."""
    gap = solved.gap_percent
    return None if gap is None or gap > MOST_GAP_PERCENT else gap


def left_out(posed: PosedRound, solved: Round) -> tuple[LeftOut, ...]:
    """Return every tree that is not walked to, with why."""
    return (*posed.left_out, *((posed.stops[out.key].tree.name, out.why) for out in solved.left_out))


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
    vessel = stop.hanging
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
        full_at=None if vessel is None else vessel.fills_at,
        overflow=None if vessel is None else vessel.overflow_chance(posed.options.vessel_ml),
        vessel_l=0.0 if stop.night is None else stop.night.vessel_ml(posed.options.overflow_chance) / 1000,
    )


def _lonlat(frame: WorkingFrame, course: Sequence[tuple[float, float]]) -> tuple[LonLat, ...]:
    line = np.asarray(course, dtype=np.float64).reshape(-1, 2)
    lon, lat = frame.to_lonlat(line[:, 0], line[:, 1])
    return tuple((float(x), float(y)) for x, y in zip(lon, lat, strict=True))
