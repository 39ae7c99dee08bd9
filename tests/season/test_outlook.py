"""The rest of a season as other years went, the soil, and sap that sours."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest

from standmap.season.daily import Daily
from standmap.season.outlook import outlook, season_means, whole_seasons
from standmap.season.soil import SOIL_DAYS, soil_c, sours
from standmap.season.thermal import SEASON_DAYS

FIRST = date(2020, 1, 1)


def weather(values: np.ndarray, first: date = FIRST) -> Daily:
    return Daily("X", first, values, np.zeros(len(values), bool))


def test_what_is_known_is_the_same_in_every_course_and_the_rest_is_of_other_years() -> None:
    days = (date(2026, 3, 1) - FIRST).days
    found = weather(np.arange(days, dtype=float))
    look = outlook(found, 2026, date(2026, 2, 20), southern=False)
    assert look is not None
    assert not look.guessed
    assert look.known == (date(2026, 2, 20) - date(2025, 11, 1)).days + 1
    assert (look.members[:, : look.known] == season_means(found, 2026, southern=False)[: look.known]).all()
    own = [mean for _, _, mean in whole_seasons(found, 2026, southern=False)]
    assert np.array_equal(look.members[:, look.known :], np.array(own)[:, look.known :])
    assert [season for season, _, _ in whole_seasons(found, 2026, southern=False)] == [2021, 2022, 2023, 2024, 2025]


def test_later_days_than_the_one_asked_about_are_not_looked_at() -> None:
    days = (date(2026, 6, 1) - FIRST).days
    values = np.arange(days, dtype=float)
    changed = values.copy()
    changed[(date(2026, 3, 2) - FIRST).days :] = 99.0
    for one, other in zip(
        outlook(weather(values), 2026, date(2026, 3, 1), southern=False).members,  # type: ignore[union-attr]
        outlook(weather(changed), 2026, date(2026, 3, 1), southern=False).members,  # type: ignore[union-attr]
        strict=True,
    ):
        assert np.array_equal(one, other)


def test_without_another_year_the_spring_is_guessed_to_go_on_and_too_little_is_nothing() -> None:
    first = date(2025, 10, 1)
    values = np.full((date(2026, 3, 1) - first).days, 2.0)
    look = outlook(weather(values, first), 2026, date(2026, 2, 28), southern=False)
    assert look is not None
    assert look.guessed
    assert look.members.shape == (1, SEASON_DAYS)
    assert np.diff(look.members[0, look.known :]) == pytest.approx(0.15)
    assert look.members[0, look.known] > 2.0
    assert outlook(weather(values[:20], date(2026, 2, 1)), 2026, date(2026, 2, 28), southern=False) is None


def test_the_soil_follows_the_last_eleven_days() -> None:
    rising = np.arange(30.0)
    soil = soil_c(rising)
    assert np.isnan(soil[: SOIL_DAYS - 1]).all()
    assert soil[SOIL_DAYS - 1 :].tolist() == pytest.approx((rising[SOIL_DAYS - 1 :] - 5).tolist())
    assert np.isnan(soil_c(np.arange(5.0))).all()


def test_sap_sours_on_the_third_warm_day_in_a_row() -> None:
    days = np.array([11.0, 12.0, 9.0, 11.0, 11.0, 11.0, 14.0])
    assert sours(days) == 5
    assert sours(days, from_index=4) == 6
    assert sours(days[:5]) is None
