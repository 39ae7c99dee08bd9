"""One night's run as a spread."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from standmap.sap.night import NightRun

RUN = NightRun(3000, 0.5, "", assumed=True)


def test_median_mean_most_and_vessel_are_those_of_many_drawn_nights() -> None:
    nights = 3000 * np.exp(0.5 * np.random.default_rng(7).standard_normal(400_000))
    assert RUN.mean_ml == pytest.approx(nights.mean(), rel=0.01)
    assert RUN.most_ml == pytest.approx(np.quantile(nights, 0.9), rel=0.01)
    assert RUN.overflow_chance(4500) == pytest.approx((nights > 4500).mean(), abs=0.005)
    assert RUN.overflow_chance(4500, 0.6) == pytest.approx((nights * 0.6 > 4500).mean(), abs=0.005)


@given(st.floats(0.01, 0.5), st.floats(0.05, 1.5))
def test_a_vessel_of_a_chosen_chance_runs_over_with_that_chance(chance: float, spread: float) -> None:
    run = NightRun(2500, spread, "", assumed=False)
    assert run.overflow_chance(run.vessel_ml(chance)) == pytest.approx(chance, rel=1e-6)


def test_without_a_spread_a_night_is_its_median() -> None:
    sure = NightRun(1000, 0.0, "", assumed=False)
    assert sure.mean_ml == sure.most_ml == 1000
    assert (sure.overflow_chance(999), sure.overflow_chance(1001), sure.overflow_chance(1, 0)) == (1, 0, 0)
    assert math.isclose(sure.vessel_ml(0.1), 1000)


def test_a_part_of_nights_lies_between_none_and_all() -> None:
    with pytest.raises(ValueError, match="between 0 and 1"):
        RUN.quantile_ml(1.0)
