"""Models of leaf-out over one season of daily means."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from standmap.season.thermal import (
    SEASON_DAYS,
    at_home,
    birch_models,
    chill_days,
    chilling_begins,
    days_of_months,
    degree_days,
    warmth_begins,
)

BEGINS = date(2025, 11, 1)
MEANS = arrays(np.float64, SEASON_DAYS, elements=st.floats(-30, 30))


def steady(cold_c: float, warm_c: float, warm_from: int) -> np.ndarray:
    return np.where(np.arange(SEASON_DAYS) < warm_from, cold_c, warm_c)


def test_a_season_begins_in_november_and_warmth_at_new_year_half_a_year_later_in_the_south() -> None:
    assert chilling_begins(2026, southern=False) == date(2025, 11, 1)
    assert warmth_begins(2026, southern=False) == date(2026, 1, 1)
    assert chilling_begins(2026, southern=True) == date(2026, 5, 1)
    assert warmth_begins(2026, southern=True) == date(2026, 7, 1)


def test_leap_years_count_their_day() -> None:
    assert days_of_months(date(2023, 11, 1), 4) - days_of_months(date(2022, 11, 1), 4) == 1  # 2024 has a 29 February
    assert days_of_months(date(2026, 5, 1), 2) == 61


def test_warmth_before_its_beginning_does_not_count() -> None:
    sums = degree_days(np.array([10.0, 10.0, 7.0, 3.0, 12.0]), 5.0, from_index=2)
    assert sums.tolist() == [0, 0, 2, 2, 9]
    assert chill_days(np.array([4.0, 9.0, 9.1, 5.0]), 9.0).tolist() == [1, 2, 2, 3]


def test_each_model_reaches_leaf_out_on_a_day_that_can_be_worked_out() -> None:
    plain, published, levelling = birch_models()
    spring = steady(-5.0, 12.0, 150)  # 10 above 2 °C, 7 above 5 °C, from 31 March on
    wanted = float(plain.wanted(spring)[0])
    assert plain.leaf_out(spring, BEGINS) == 150 + np.ceil(wanted / 10) - 1
    chill = 150
    heat = 1438 - 261 * np.log(chill)
    assert published.leaf_out(spring, BEGINS) == 150 + np.ceil(heat / 7) - 1
    assert abs((levelling.leaf_out(spring, BEGINS) or 0) - (published.leaf_out(spring, BEGINS) or 0)) <= 1


def test_a_spring_that_never_warms_brings_no_leaves() -> None:
    assert [m.leaf_out(np.full(SEASON_DAYS, 1.0), BEGINS) for m in birch_models()[:1]] == [None]


@given(MEANS, st.floats(0.5, 2.0))
def test_more_wanted_is_never_sooner(mean: np.ndarray, factor: float) -> None:
    for model in birch_models():
        less, more = (replace(model, factor=f).leaf_out(mean, BEGINS) for f in (factor, factor * 1.2))
        if more is not None:
            assert less is not None
            assert less <= more


@given(MEANS)
def test_a_degree_warmer_is_never_later_by_plain_warmth(mean: np.ndarray) -> None:
    plain = birch_models()[0]
    before, after = plain.leaf_out(mean, BEGINS), plain.leaf_out(mean + 1.0, BEGINS)
    if before is not None:
        assert after is not None
        assert after <= before


def test_at_home_the_plain_sum_is_that_of_the_published_days() -> None:
    spring = steady(-5.0, 12.0, 150)
    plain, published, _ = at_home(birch_models(), [(BEGINS, spring)])
    assert plain.leaf_out(spring, BEGINS) == published.leaf_out(spring, BEGINS)
    assert at_home(birch_models(), [])[0].wanted(spring)[0] == pytest.approx(346)
