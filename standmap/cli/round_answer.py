"""A planned round as JSON and as a table."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from typing import TYPE_CHECKING

from standmap.cli.terminal import note, say, table

if TYPE_CHECKING:
    from standmap.jobs.planned_round import PlannedRound
    from standmap.jobs.round_editing import EditedRound


def show_walking_cautions() -> None:
    """Write the cautions of the walk."""
    from standmap.jobs.cautions import WALKING

    for text in WALKING:
        note(f"caution: {text}")


def round_json(planned: PlannedRound, edited: EditedRound | None = None) -> dict[str, object]:
    """Return a round in its documented JSON shape; one ordered by hand says what that costs."""
    answer = _answer(planned)
    if edited is not None:
        answer["by_hand"] = {
            "more_m": round(edited.more_m, 2),
            "more_min": round(edited.more_min, 1),
            "too_heavy": list(edited.too_heavy),
        }
    return answer


def _answer(planned: PlannedRound) -> dict[str, object]:
    return {
        "date": planned.day.isoformat(),
        "seed": planned.seed,
        "repeatable": planned.repeatable,
        "taps": planned.taps,
        "length_m": round(planned.length_m, 2),
        "minutes": round(planned.minutes, 1),
        "trips": [
            {
                "collector": t.collector,
                "length_m": round(t.length_m, 2),
                "minutes": round(t.minutes, 1),
                "max_load_kg": round(t.max_load_kg, 3),
                "stops": [
                    {
                        "tree": s.tree.name,
                        "id": s.tree.key,
                        "litres": round(s.litres, 3),
                        "load_kg": round(s.load_kg, 3),
                        "leg_m": round(s.leg_m, 2),
                        "bearing_true_deg": round(s.bearing_true_deg, 1) % 360,
                    }
                    for s in t.stops
                ],
            }
            for t in planned.trips
        ],
        "left_out": _left_out(planned.left_out),
    }


def no_round_json(day: date, seed: int, left_out: Iterable[tuple[str, str]]) -> dict[str, object]:
    """Return the same shape for a day on which there is nothing to collect."""
    return {
        "date": day.isoformat(),
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


def show_round(planned: PlannedRound, edited: EditedRound | None = None) -> None:
    """Write a round as a table; one ordered by hand with what that costs."""
    taps = f"{planned.taps} tap{'s' if planned.taps != 1 else ''}"
    count = f"{len(planned.trips)} trip{'s' if len(planned.trips) != 1 else ''}"
    say(
        f"{planned.day.isoformat()}, from {planned.start.name}: {taps}, {count}, "
        f"{planned.length_m:.0f} m, {planned.minutes:.0f} min"
    )
    say(_how_sure(planned) if edited is None else f"ordered by hand: {edited.cost} against the best found")
    for trip in planned.trips:
        say()
        who = f", collector {trip.collector}" if any(t.collector != trip.collector for t in planned.trips) else ""
        say(
            f"trip {trip.number}{who}: {trip.length_m:.0f} m, {trip.minutes:.0f} min, at most {trip.max_load_kg:.1f} kg"
        )
        table(
            [
                ("order", "right"),
                ("tree", "left"),
                ("leg", "right"),
                ("true", "right"),
                ("", "left"),
                ("litres", "right"),
                ("load", "right"),
                ("minute", "right"),
            ],
            (
                (
                    str(s.order),
                    s.tree.name if s.hole_number == 1 else f"{s.tree.name} hole {s.hole_number}",
                    f"{s.leg_m:.0f} m",
                    f"{round(s.bearing_true_deg) % 360:03d}°",
                    "bends" if s.bends else "",
                    f"{s.litres:.1f} L",
                    f"{s.load_kg:.1f} kg",
                    f"{s.minutes:.0f}",
                )
                for s in trip.stops
            ),
        )
    if planned.left_out:
        say()
        for name, why in planned.left_out:
            say(f"left out: {name}: {why}")
    say()


def _how_sure(planned: PlannedRound) -> str:
    shortest = "no shorter round exists" if planned.proved else "the best found; a shorter one may exist"
    again = "the same again with this seed" if planned.repeatable else "another run may order it otherwise"
    return f"{shortest}; {again}"
