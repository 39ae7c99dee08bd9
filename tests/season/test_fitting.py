"""Models taught by a stand's own leaf-out days."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from standmap.season.fitting import (
    DEFAULT_COUNTS_AS,
    UNTAUGHT_MISS_DAYS,
    OwnYear,
    mean_error_days,
    rms,
    shrunk_mean,
    shrunk_miss,
    spread_days,
    taught,
)
from standmap.season.thermal import birch_models
from tests.season.springs import season_of_series, year_round

FIRST = date(1990, 1, 1)
SERIES = year_round(FIRST, 366 * 34, seed=5)


def years(factor: float, count: int, noise: float = 0.0, which: int = 0, seed: int = 1) -> list[OwnYear]:
    model = replace(birch_models()[which], factor=factor)
    rng = np.random.default_rng(seed)
    found = []
    for season in range(1992, 1992 + count):
        begins, mean = season_of_series(FIRST, SERIES, season)
        index = model.leaf_out(mean, begins)
        assert index is not None
        found.append(OwnYear(begins, mean, index + round(float(rng.normal(0, noise)))))
    return found


def test_with_two_years_the_defaults_stay() -> None:
    model = birch_models()[0]
    found = taught(model, years(1.4, 2))
    assert (found.model, found.error_days, found.miss_days) == (model, None, UNTAUGHT_MISS_DAYS)
    assert mean_error_days(years(1.4, 2)) is None


@pytest.mark.parametrize("which", [0, 1, 2])
def test_from_three_years_on_what_is_wanted_is_recovered_as_told(which: int) -> None:
    """Each year teaches ln(reached / wanted), n years count n / (n + k); a day overshoots what is wanted a little."""
    for count in (3, 10, 28):
        found = taught(birch_models()[which], years(1.3, count, which=which))
        full = math.log(found.model.factor) * (count + DEFAULT_COUNTS_AS) / count
        assert full == pytest.approx(math.log(1.3), abs=0.06)
    assert found.model.factor == pytest.approx(1.3, rel=0.07)


def test_a_fit_beats_the_mean_day_where_the_model_holds() -> None:
    own = years(1.2, 20, noise=2.0, seed=3)
    found, mean = taught(birch_models()[0], own), mean_error_days(own)
    assert found.error_days is not None
    assert mean is not None
    assert found.error_days < 0.75 * mean
    assert 1.0 < found.error_days < 4.5  # about the two days that were added


def test_few_years_are_drawn_towards_the_default() -> None:
    assert shrunk_mean([4.0], 1.0) == pytest.approx((4 + 2 * 1) / 3)
    assert shrunk_mean([], 1.0) == 1.0
    assert shrunk_miss([], 6.0) == pytest.approx(6.0)
    assert shrunk_miss([0.0] * 98, 6.0) == pytest.approx(6.0 * math.sqrt(2 / 100))
    assert rms([3.0, -4.0]) == pytest.approx(math.sqrt(12.5))


@given(st.lists(st.floats(0, 250), min_size=1, max_size=20), st.floats(0.5, 15))
def test_a_spread_of_days_is_ordered_and_about_its_members(members: list[float], sigma: float) -> None:
    early, likely, late = spread_days(members, sigma)
    assert early < likely < late
    assert min(members) - 3 * sigma < early
    assert late < max(members) + 3 * sigma


def test_the_spread_of_one_day_is_that_of_a_normal_error() -> None:
    early, likely, late = spread_days([100.0], 4.0)
    assert (early, likely, late) == pytest.approx((100 - 1.645 * 4, 100, 100 + 1.645 * 4), abs=0.05)
