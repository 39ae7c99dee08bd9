"""Energy of carrying: values of the formula of Pandolf, Givoni and Goldman (1977), worked out from its printed form.

Source: K. B. Pandolf, B. Givoni, R. F. Goldman, "Predicting energy expenditure with loads while standing or walking
very slowly", J. Appl. Physiol. 43(4), 577-581, 1977; its form as carried by others' source comments; values computed.
"""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from standmap.rounds.carrying import SLOWEST, TESTED_M_PER_S, Carrying, watts


@pytest.mark.parametrize(
    ("body", "load", "speed", "grade", "terrain", "expected"),
    [
        (70, 0, 1.34, 0, 1, 293.54),
        (70, 20, 1.34, 0, 1, 362.10),
        (70, 20, 1.34, 0, 1.2, 410.58),
        (70, 20, 1.34, 10, 1.2, 917.10),
        (80, 25, 1, 0, 1.5, 376.76),
        (70, 30, 0.9, 5, 1.8, 643.93),
    ],
)
def test_watts(body: float, load: float, speed: float, grade: float, terrain: float, expected: float) -> None:
    assert watts(body, load, speed, grade, terrain) == pytest.approx(expected, abs=0.005)


@given(load=st.floats(0, 60), more=st.floats(0, 60), body=st.floats(40, 120))
def test_a_heavier_load_is_never_quicker_and_costs_no_more_energy(load: float, more: float, body: float) -> None:
    carrying = Carrying(body_kg=body)
    slow = carrying.slowdown(load)
    assert 1 <= slow <= SLOWEST
    assert carrying.slowdown(load + more) >= slow - 1e-12
    if slow < SLOWEST:
        free = watts(body, 0, TESTED_M_PER_S, 0, carrying.terrain)
        assert watts(body, load, TESTED_M_PER_S / slow, 0, carrying.terrain) == pytest.approx(free)
