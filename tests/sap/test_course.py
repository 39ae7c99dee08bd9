"""A day's run over its hours."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from standmap.sap.course import DAY, fills_at, hours_until, nights_between, part_between

NOON = datetime.combine(date(2026, 3, 27), time(12))
moments = st.datetimes(NOON - 30 * DAY, NOON + 30 * DAY)
hours = st.floats(0.0, 24.0)


@given(moments)
def test_a_whole_day_brings_all_of_it_whenever_it_begins(begins: datetime) -> None:
    assert part_between(begins, begins + DAY) == pytest.approx(1.0)
    assert part_between(begins, begins) == 0.0
    assert part_between(begins, begins - DAY) == 0.0


@given(moments, hours, hours)
def test_parts_add_up_and_never_shrink(begins: datetime, first: float, second: float) -> None:
    middle, ends = begins + timedelta(hours=first), begins + timedelta(hours=first + second)
    whole = part_between(begins, ends)
    assert part_between(begins, middle) + part_between(middle, ends) == pytest.approx(whole, abs=1e-9)
    assert -1e-12 <= part_between(begins, middle) <= whole + 1e-12


def test_most_comes_after_noon_and_least_at_night() -> None:
    by_hour = [part_between(NOON.replace(hour=h), NOON.replace(hour=h) + timedelta(hours=1)) for h in range(24)]
    assert by_hour.index(max(by_hour)) == 13
    assert by_hour.index(min(by_hour)) == 1
    assert min(by_hour) > 0
    night = part_between(NOON.replace(hour=20), NOON.replace(hour=6) + DAY)
    assert night < part_between(NOON.replace(hour=10), NOON.replace(hour=16)) / 2


@given(moments, st.floats(0.0, 3.0))
def test_hours_until_a_part_are_those_in_which_it_comes(begins: datetime, part: float) -> None:
    there = begins + timedelta(hours=hours_until(begins, part))
    assert sum(share for _, share in nights_between(begins, there)) == pytest.approx(part, abs=2e-3)


def test_a_stretch_is_told_by_the_days_that_end_with_it() -> None:
    nights = list(nights_between(NOON, NOON.replace(hour=7) + 2 * DAY))
    assert [ends for ends, _ in nights] == [NOON.replace(hour=7) + DAY * k for k in (2, 1)]
    assert nights[0][1] == 1.0
    assert nights[1][1] == pytest.approx(part_between(NOON, NOON.replace(hour=7) + DAY))
    assert list(nights_between(NOON, NOON)) == []


@given(moments, hours, st.floats(100, 9000), st.floats(100, 9000), st.floats(500, 12_000))
def test_a_vessel_is_full_when_as_much_has_come_as_it_holds(
    begins: datetime, first: float, one_ml: float, other_ml: float, vessel_ml: float
) -> None:
    ends = begins + timedelta(hours=first + 0.1)
    nights = [(ends, one_ml), (ends + DAY, other_ml)]
    came = one_ml * part_between(begins, ends)
    full = fills_at(begins, nights, vessel_ml)
    if vessel_ml > came + other_ml:
        assert full is None
        return
    assert full is not None
    if full <= ends:
        assert one_ml * part_between(begins, full) == pytest.approx(vessel_ml, abs=3)
    else:
        assert came + other_ml * part_between(ends, full) == pytest.approx(vessel_ml, abs=3)


def test_nothing_runs_over_where_nothing_runs() -> None:
    assert fills_at(NOON, [(NOON + DAY, 0.0), (NOON + 2 * DAY, 0.0)], 4500) is None
