"""A problem that makes no sense is refused where it is made."""

from __future__ import annotations

import math
from typing import Any

import pytest

from standmap.rounds.ground import Course, Crossing, NoGo
from standmap.rounds.problem import RoundProblem, Tap, load_g


def problem(**more: Any) -> RoundProblem:
    given: dict[str, Any] = {
        "depot": (0.0, 0.0),
        "taps": (Tap("a", (1.0, 2.0), 3.0, 1.0),),
        "capacity_kg": 15.0,
        "can_kg": 1.0,
        "speed_m_per_min": 50.0,
    }
    return RoundProblem(**(given | more))


@pytest.mark.parametrize(
    "more",
    [
        {"capacity_kg": 0.0},
        {"capacity_kg": math.inf},
        {"can_kg": -1.0},
        {"speed_m_per_min": 0.0},
        {"collectors": 0},
        {"depot": (math.nan, 0.0)},
        {"taps": (Tap("a", (0.0, 0.0), 1.0, 1.0), Tap("a", (1.0, 0.0), 1.0, 1.0))},
    ],
)
def test_numbers_out_of_range_are_refused(more: dict[str, Any]) -> None:
    with pytest.raises(ValueError, match=r"must|finite|share"):
        problem(**more)


@pytest.mark.parametrize(("xy", "load", "service"), [((0.0, math.inf), 1, 1), ((0, 0), -1, 1), ((0, 0), 1, math.nan)])
def test_a_tap_that_makes_no_sense_is_refused(xy: tuple[float, float], load: float, service: float) -> None:
    with pytest.raises(ValueError, match="'a'"):
        Tap("a", xy, load, service)


def test_what_is_mapped_needs_enough_points() -> None:
    with pytest.raises(ValueError, match="two different points"):
        Course(((0.0, 0.0), (0.0, 0.0)))
    with pytest.raises(ValueError, match="three different points"):
        NoGo((((0.0, 0.0), (1.0, 1.0), (0.0, 0.0)),))
    with pytest.raises(ValueError, match="outline"):
        NoGo(())
    with pytest.raises(ValueError, match="not finite"):
        Crossing((math.nan, 0.0))


def test_grams_are_rounded_so_that_nobody_is_overloaded() -> None:
    assert load_g(Tap("a", (0, 0), 3.0001, 0)) == 3001
    assert load_g(Tap("a", (0, 0), 0.1 + 0.2, 0)) == 300  # the dust of floating point is no gram
    assert problem(capacity_kg=15.0009, can_kg=2.3).room_g == 12700
    assert problem(capacity_kg=1.0, can_kg=2.0).room_g < 0
