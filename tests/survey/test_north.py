"""Magnetic north: what is said of it, for which days, and where a compass has no answer."""

from __future__ import annotations

from datetime import date

import pytest

from standmap.errors import UserError
from standmap.survey.north import Declination, declination, footing, wording

JOENSUU = (29.76, 62.6)


def turned(deg: float, *, weak: bool = False) -> Declination:
    return Declination(deg, 0.4, date(2026, 4, 1), "WMM2025", 2025, 2030, weak)


@pytest.mark.parametrize(
    ("deg", "text"),
    [
        (7.3, "magnetic north 7.3° east of true"),
        (-0.42, "magnetic north 0.4° west of true"),
        (0.04, "magnetic north is true north"),
        (-0.04, "magnetic north is true north"),
    ],
)
def test_wording(deg: float, text: str) -> None:
    assert wording(turned(deg)) == text


def test_bearings_go_there_and_back() -> None:
    found = turned(13.0)
    assert found.to_magnetic_deg(5.0) == pytest.approx(352.0)
    assert found.to_true_deg(352.0) == pytest.approx(5.0)


def test_the_day_counts() -> None:
    first, later = declination(*JOENSUU, date(2026, 3, 28)), declination(*JOENSUU, date(2029, 3, 28))
    assert 0.2 < later.deg - first.deg < 1.0


@pytest.mark.parametrize("year", [2010, 2014, 2015, 2019, 2020, 2024, 2025, 2029])
def test_each_year_has_its_own_edition(year: int) -> None:
    found = declination(*JOENSUU, date(year, 12, 31))
    assert found.from_year <= year < found.until_year
    assert found.model == f"WMM{found.from_year}"
    assert 9 < found.deg < 14


def test_editions_meet() -> None:
    for year in (2015, 2020, 2025):
        before, after = declination(*JOENSUU, date(year - 1, 12, 31)), declination(*JOENSUU, date(year, 1, 1))
        assert before.deg == pytest.approx(after.deg, abs=0.3)
        assert before.model != after.model


@pytest.mark.parametrize("day", [date(2009, 12, 31), date(2030, 1, 1)])
def test_outside_the_editions_there_is_no_answer(day: date) -> None:
    with pytest.raises(
        UserError, match=f"not known for {day.isoformat()}.*from 2010 to the end of 2029.*true bearings"
    ):
        declination(*JOENSUU, day)


def test_near_a_magnetic_pole_a_compass_shows_nothing() -> None:
    with pytest.raises(UserError, match="magnetic pole"):
        declination(139.0, 86.0, date(2026, 4, 1))


def test_farther_from_it_the_needle_is_weak() -> None:
    found = declination(-100.0, 75.0, date(2026, 4, 1))
    assert found.weak
    assert footing(found).endswith("a compass is weak here")
    assert found.within_deg > declination(*JOENSUU, date(2026, 4, 1)).within_deg


def test_footing_names_model_day_error_and_end() -> None:
    assert footing(turned(7.3)) == "WMM2025, 2026-04-01, ± 0.4°; holds until the end of 2029"


@pytest.mark.parametrize(("lon", "lat"), [(181.0, 0.0), (0.0, 91.0), (float("nan"), 0.0)])
def test_no_position_on_earth(lon: float, lat: float) -> None:
    with pytest.raises(ValueError, match="no position on Earth"):
        declination(lon, lat, date(2026, 4, 1))
