"""A planned round as JSON."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from standmap.jobs.planned_round import Light, PlannedRound, PlannedTrip, Purpose, RoundStop
    from standmap.jobs.round_editing import EditedRound
    from standmap.jobs.round_tanks import Standing


def round_json(planned: PlannedRound, edited: EditedRound | None = None, walk: str | None = None) -> dict[str, object]:
    """Return a round in its documented JSON shape; one ordered by hand says what that costs.

    Parameters
    ----------
    walk
        Key of the walk as it was given out, None where it was not kept.
    """
    answer = _answer(planned, walk)
    if edited is not None:
        answer["by_hand"] = {
            "more_m": round(edited.more_m, 2),
            "more_min": round(edited.more_min, 1),
            "too_heavy": list(edited.too_heavy),
        }
    return answer


def _answer(planned: PlannedRound, walk: str | None) -> dict[str, object]:
    return {
        "date": planned.day.isoformat(),
        "for": str(planned.purpose),
        "walk": walk,
        "seed": planned.seed,
        "repeatable": planned.repeatable,
        "aim": planned.aim,
        "proved": planned.proved,
        "gap_percent": None if planned.gap_percent is None else round(planned.gap_percent, 2),
        "taps": planned.taps,
        "length_m": round(planned.length_m, 2),
        "minutes": round(planned.minutes, 1),
        "effort_kg_m": round(planned.effort_kg_m, 1),
        "from": planned.start.name,
        "sets_out": _moment(planned.sets_out),
        "back_by": _moment(planned.back_by),
        "contact": planned.contact,
        "light": None if planned.light is None else _light(planned.light),
        "trips": [_trip(trip, planned) for trip in planned.trips],
        "left_out": _left_out(planned.left_out),
        "kit": [{"what": line.what, "count": line.count, "note": line.note} for line in planned.kit],
        "notes": list(planned.notes),
        "cautions": list(planned.cautions),
    }


def _trip(trip: PlannedTrip, planned: PlannedRound) -> dict[str, object]:
    return {
        "collector": trip.collector,
        "who": trip.who,
        "from": (trip.start or planned.start).name,
        "to": (trip.end or trip.start or planned.start).name,
        "sets_out_min": round(trip.sets_out_min, 1),
        "length_m": round(trip.length_m, 2),
        "minutes": round(trip.minutes, 1),
        "max_load_kg": round(trip.max_load_kg, 3),
        "effort_kg_m": round(trip.effort_kg_m, 1),
        "home_m": round(trip.home_m, 2),
        "home_min": round(trip.home_min, 1),
        "stops": [_stop(stop) for stop in trip.stops],
    }


def _stop(stop: RoundStop) -> dict[str, object]:
    return {
        "order": stop.order,
        "tree": stop.tree.name,
        "id": stop.tree.key,
        "hole": stop.hole_number,
        "hole_id": None if stop.hole is None else stop.hole.key,
        "litres": round(stop.litres, 3),
        "high_l": round(stop.high_l, 3),
        "full_at": _moment(stop.full_at),
        "overflow": None if stop.overflow is None else round(stop.overflow, 4),
        "vessel_l": round(stop.vessel_l, 3),
        "load_kg": round(stop.load_kg, 3),
        "leg_m": round(stop.leg_m, 2),
        "leg_min": round(stop.leg_min, 1),
        "climb_m": round(stop.climb_m, 1),
        "bearing_true_deg": round(stop.bearing_true_deg, 1) % 360,
        "bends": stop.bends,
        "minute": round(stop.minutes, 1),
        "todo": [{"text": todo.text, "source": todo.source} for todo in stop.todo],
        "cautions": list(stop.cautions),
    }


def _light(light: Light) -> dict[str, str | None]:
    return {
        "civil_dawn": _moment(light.civil_dawn),
        "sunrise": _moment(light.sunrise),
        "sunset": _moment(light.sunset),
        "civil_dusk": _moment(light.civil_dusk),
        "lamp_until": _moment(light.lamp_until),
    }


def _moment(at: datetime | None) -> str | None:
    return None if at is None else at.isoformat(timespec="minutes")


def no_round_json(day: date, purpose: Purpose, seed: int, left_out: Iterable[tuple[str, str]]) -> dict[str, object]:
    """Return the same shape, as far as it goes, for a day on which there is nothing to do."""
    return {
        "date": day.isoformat(),
        "for": str(purpose),
        "seed": seed,
        "repeatable": True,
        "taps": 0,
        "length_m": 0.0,
        "minutes": 0.0,
        "trips": [],
        "left_out": _left_out(left_out),
    }


def _left_out(pairs: Iterable[tuple[str, str]]) -> list[dict[str, str]]:
    return [{"tree": name, "why": why} for name, why in pairs]


def standings_json(day: date, purpose: Purpose, standings: Iterable[Standing]) -> dict[str, object]:
    """Return where a tank or the car would stand best, in its documented JSON shape."""
    return {
        "date": day.isoformat(),
        "for": str(purpose),
        "places": [
            {
                "place": one.place.name,
                "kind": str(one.place.kind),
                "lon": one.place.at[0],
                "lat": one.place.at[1],
                "trips": one.trips,
                "taps": one.taps,
                "length_m": round(one.length_m, 2),
                "minutes": round(one.minutes, 1),
                "effort_kg_m": round(one.effort_kg_m, 1),
            }
            for one in standings
        ],
    }
