"""How good one sight is where it does not tell: by its instruments, its slope, its length."""

from __future__ import annotations

import math

import pytest

from standmap.stand.sights import Sight
from standmap.survey.one_sight import Instruments, sigma_deg, sigma_m


def test_what_a_sight_tells_goes_before_what_is_usual() -> None:
    told = Sight("s", "a", "b", bearing_deg=10, distance_m=20, sigma_deg=0.5, sigma_m=0.3)
    assert Instruments(compass_deg=9, tape_part=0.1).told(told) == told


def test_instruments_fill_in_what_is_not_told() -> None:
    usual = Instruments(compass_deg=4, tape_part=0.02, paces_part=0.1, slope_deg=0)
    taped = usual.told(Sight("s", "a", "b", bearing_deg=10, distance_m=20))
    assert taped.sigma_deg == 4
    assert taped.sigma_m == pytest.approx(0.4)
    paced = usual.told(Sight("s", "a", "b", distance_m=20, given_unit="paces"))
    assert paced.sigma_m == pytest.approx(2.0)
    assert usual.told(Sight("s", "a", "b", distance_m=1)).sigma_m == pytest.approx(0.05)


def test_a_bearing_read_both_ways_is_better_by_the_root_of_two() -> None:
    both = Instruments(compass_deg=4).told(Sight("s", "a", "b", bearing_deg=10, back_bearing_deg=190))
    assert sigma_deg(both) == pytest.approx(4 / math.sqrt(2))


def test_on_a_slope_the_level_length_is_less_sure() -> None:
    level, steep = (Sight("s", "a", "b", distance_m=20, slope_deg=slope) for slope in (0.0, 30.0))
    assert sigma_m(level) == pytest.approx(0.2)
    # 20 m sin 30 degrees times one degree: 0.175 m beside the tape's 0.2 m.
    assert sigma_m(steep) == pytest.approx(math.hypot(0.2, 20 * 0.5 * math.radians(1)))
