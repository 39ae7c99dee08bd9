"""The compass rule and the closure of traverses against a printed example and arithmetic."""

from __future__ import annotations

import pytest

from standmap.survey.traverse import by_compass_rule, closure_of, legs_of

# Ghilani & Wolf, Elementary Surveying, 13th ed., ch. 10 example; bearings and lengths in feet from memory.
AZIMUTHS = [
    126 + 55 / 60 + 17 / 3600,
    178 + 18 / 60 + 58 / 3600,
    15 + 31 / 60 + 54 / 3600,
    284 + 35 / 60 + 20 / 3600,
    206 + 9 / 60 + 41 / 3600,
]
LENGTHS = [647.25, 203.03, 720.35, 610.24, 285.13]


def test_misclosure_of_the_printed_example() -> None:
    """Sums by trigonometry on the legs; the book rounds the misclosure to 0.08 ft and 1 in 31,000."""
    closure = closure_of(legs_of(AZIMUTHS, LENGTHS))
    assert closure.length_m == pytest.approx(2466.00)
    assert closure.off == pytest.approx((0.0268, 0.0754), abs=5e-5)
    assert closure.off_m == pytest.approx(0.0800, abs=5e-5)
    assert closure.one_in == pytest.approx(30806, abs=10)


def test_adjusted_legs_of_the_printed_example() -> None:
    adjusted = by_compass_rule(legs_of(AZIMUTHS, LENGTHS))
    wanted = [(517.444, -388.835), (5.964, -202.949), (192.881, 694.023), (-590.571, 153.690), (-125.717, -255.929)]
    assert [tuple(leg) for leg in adjusted] == [pytest.approx(leg, abs=1.1e-3) for leg in wanted]
    assert adjusted.sum(axis=0) == pytest.approx((0.0, 0.0), abs=1e-9)


def test_a_small_loop_by_arithmetic() -> None:
    closure = closure_of(legs_of([45, 135, 225, 315], [20, 15, 20.3, 15.2]))
    assert closure.off == pytest.approx((-0.353553, -0.070711), abs=1e-6)
    assert closure.off_m == pytest.approx(0.360555, abs=1e-6)
    assert closure.one_in == pytest.approx(195.5, abs=0.05)
