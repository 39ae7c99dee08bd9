"""Loops among sights and how they close."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from standmap.stand.sights import North, Sight
from standmap.survey.traverse import by_compass_rule, closure_of, loops_of


def sight(key: str, a: str, b: str, bearing: float, length: float) -> Sight:
    return Sight(key, a, b, bearing_deg=bearing, north=North.TRUE, distance_m=length)


SQUARE = [
    sight("1", "a", "b", 0, 10),
    sight("2", "b", "c", 90, 10),
    sight("3", "d", "c", 0, 10),
    sight("4", "d", "a", 270, 10.5),
]


def test_a_loop_is_found_whichever_way_its_sights_were_read() -> None:
    (loop,) = loops_of(SQUARE)
    assert set(loop.points) == {"a", "b", "c", "d"}
    assert {s.key for s in loop.sights} == {"1", "2", "3", "4"}
    assert loop.closure.off_m == pytest.approx(0.5)
    assert loop.closure.length_m == pytest.approx(40.5)
    assert 0.1 < loop.sigma_m < 1.5


def test_a_sight_read_twice_is_a_loop_of_two() -> None:
    (loop,) = loops_of([SQUARE[0], sight("9", "b", "a", 180, 10.2)])
    assert loop.closure.off_m == pytest.approx(0.2)


def test_lines_that_never_come_back_are_no_loop() -> None:
    assert loops_of(SQUARE[:3]) == ()
    assert loops_of([*SQUARE[:3], Sight("5", "d", "a", distance_m=10)]) == ()


@given(st.lists(st.tuples(st.floats(-50, 50), st.floats(-50, 50)), min_size=2, max_size=12))
def test_the_compass_rule_closes_every_traverse(legs: list[tuple[float, float]]) -> None:
    table = np.array(legs)
    closure = closure_of(by_compass_rule(table))
    assert closure.off_m == pytest.approx(0.0, abs=1e-9)
    shift = by_compass_rule(table) - table
    total = float(np.hypot(table[:, 0], table[:, 1]).sum())
    if total > 1e-6:
        share = np.hypot(table[:, 0], table[:, 1]) / total
        assert np.hypot(shift[:, 0], shift[:, 1]) == pytest.approx(share * math.hypot(*table.sum(axis=0)), abs=1e-9)
