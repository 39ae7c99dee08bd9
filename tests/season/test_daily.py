"""Daily means of one station without holes."""

from __future__ import annotations

import math
from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from standmap.season.daily import SHORT_GAP_DAYS, Daily, daily
from standmap.stand.records import Weather, day_mean_c
from tests.season.springs import rows_of

FIRST = date(2024, 1, 1)


def apart(a: tuple[float, float], b: tuple[float, float]) -> float:
    return math.hypot(a[0] - b[0], a[1] - b[1]) * 1000


def one(values: list[float | None], station: str = "X") -> Daily | None:
    rows = [Weather(str(n), FIRST + timedelta(days=n), None, v, None, station=station) for n, v in enumerate(values)]
    return daily(rows, {}, None, apart)


def test_a_mean_is_told_or_lies_between_the_least_and_the_greatest() -> None:
    assert day_mean_c(-4.0, 1.5, 8.0) == 1.5
    assert day_mean_c(-4.0, None, 8.0) == 2.0
    assert day_mean_c(-4.0, None, None) is None


def test_a_short_gap_is_bridged_and_marked() -> None:
    found = one([0.0, None, None, 3.0, 4.0])
    assert found is not None
    assert found.mean_c.tolist() == pytest.approx([0, 1, 2, 3, 4])
    assert found.filled.tolist() == [False, True, True, False, False]
    assert found.filled_between(FIRST, FIRST + timedelta(days=2)) == 2


def test_a_long_gap_takes_the_mean_of_those_days_in_other_years() -> None:
    first, days = date(2022, 1, 1), 365 * 3
    rows = list(rows_of(first, np.where(np.arange(days) < 365, 2.0, 6.0)))
    gap = {date(2024, 3, 1) + timedelta(days=n) for n in range(SHORT_GAP_DAYS + 1)}
    found = daily([r for r in rows if r.day not in gap], {}, None, apart)
    assert found is not None
    assert found.between(min(gap), max(gap)).tolist() == pytest.approx([4.0] * len(gap))  # of 2022 and 2023


def test_a_long_gap_without_other_years_stays_unknown() -> None:
    found = one([1.0, *[None] * (SHORT_GAP_DAYS + 1), 2.0])
    assert found is not None
    assert np.isnan(found.mean_c[1:-1]).all()
    assert np.isnan(found.between(FIRST - timedelta(days=3), FIRST)[:3]).all()


def test_of_several_stations_the_near_and_well_known_one_is_taken() -> None:
    near, far = rows_of(FIRST, np.zeros(300), "near"), rows_of(FIRST, np.ones(350), "far")
    places = {"near": (0.0, 0.02), "far": (0.0, 90.0)}
    chosen = daily([*near, *far], places, (0.0, 0.0), apart)
    assert chosen is not None
    assert chosen.station == "near"
    assert chosen.away_km == pytest.approx(0.02)
    asked = daily([*near, *far], places, (0.0, 0.0), apart, station="far")
    assert asked is not None
    assert asked.station == "far"
    assert daily([*near, *far], places, (0.0, 0.0), apart, station="none") is None


def test_without_a_temperature_there_is_nothing() -> None:
    assert daily([Weather("k", FIRST, None, None, 3.0, rain_mm=2.0)], {}, None, apart) is None


@given(st.lists(st.one_of(st.none(), st.floats(-40, 40)), min_size=1, max_size=40))
def test_what_was_measured_is_never_changed(values: list[float | None]) -> None:
    found = one(values)
    if found is None:
        assert all(v is None for v in values)
        return
    start = (found.first - FIRST).days
    for n, value in enumerate(found.mean_c):
        told = values[start + n]
        assert found.filled[n] == (told is None)
        if told is not None:
            assert value == told
