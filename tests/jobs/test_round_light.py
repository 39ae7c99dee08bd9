"""The sun on the day of a walk: at the edges of days and at the poles, too."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from standmap.jobs.round_light import dark_on_the_way, light_of, usual_start

JOENSUU = (29.76, 62.60)


def test_sunrise_and_sunset_are_told_in_the_persons_zone() -> None:
    zone = ZoneInfo("Europe/Helsinki")
    light = light_of(date(2026, 4, 20), JOENSUU, zone=zone)
    assert light.sunrise == datetime(2026, 4, 20, 5, 19, 59, tzinfo=zone)
    assert light.sunset == datetime(2026, 4, 20, 20, 41, 43, tzinfo=zone)
    assert light.civil_dawn is not None
    assert light.civil_dusk is not None
    assert light.civil_dawn < light.sunrise < light.sunset < light.civil_dusk
    assert light.lamp_until is None


def test_a_day_far_from_greenwich_keeps_its_own_sunset() -> None:
    light = light_of(date(2026, 4, 20), (-147.72, 64.84), zone=UTC)
    assert light.sunrise is not None
    assert light.sunset is not None
    assert timedelta(0) < light.sunset - light.sunrise < timedelta(hours=16)
    assert abs(light.sunrise - datetime(2026, 4, 20, 13, 57, 6, tzinfo=UTC)) < timedelta(seconds=1)


def test_a_lamp_is_needed_until_first_light() -> None:
    day, zone = date(2026, 3, 28), ZoneInfo("Europe/Helsinki")
    early, late = datetime(2026, 3, 28, 4, 30, tzinfo=zone), datetime(2026, 3, 28, 9, tzinfo=zone)
    light = light_of(day, JOENSUU, early, late, zone)
    assert light.lamp_until == light.civil_dawn
    assert light_of(day, JOENSUU, late, late, zone).lamp_until is None
    assert dark_on_the_way(JOENSUU, early, late)
    assert dark_on_the_way(JOENSUU, late, late.replace(hour=21))
    assert not dark_on_the_way(JOENSUU, late, late.replace(hour=12))


def test_where_the_sun_does_not_set_no_lamp_is_asked_for_and_where_it_does_not_rise_it_is_for_the_whole_way() -> None:
    north = (27.0, 69.9)
    noon = datetime(2026, 6, 21, 0, 30, tzinfo=UTC)
    summer = light_of(date(2026, 6, 21), north, noon, noon + timedelta(hours=3), UTC)
    assert (summer.civil_dawn, summer.sunrise, summer.sunset, summer.civil_dusk) == (None,) * 4
    assert summer.lamp_until is None
    far_north = (15.6, 78.2)
    out = datetime(2026, 12, 21, 10, tzinfo=UTC)
    winter = light_of(date(2026, 12, 21), far_north, out, out + timedelta(hours=2), UTC)
    assert (winter.civil_dawn, winter.sunrise) == (None, None)
    assert winter.lamp_until == out + timedelta(hours=2)
    assert usual_start(date(2026, 12, 21), winter).hour == 8


@example(date(2020, 7, 22), 124.5, -57.0)  # the sun rose twice on that date of UTC's
@given(
    st.dates(date(2020, 1, 1), date(2035, 12, 31)),
    st.floats(-180, 180),
    st.floats(-65, 65),
)
def test_between_the_polar_circles_every_day_has_its_order(day: date, lon: float, lat: float) -> None:
    light = light_of(day, (lon, lat), zone=UTC)
    assert light.sunrise is not None
    assert light.sunset is not None
    assert light.sunrise < light.sunset
    starts = usual_start(day, light)
    assert timedelta(0) <= starts - light.sunrise <= timedelta(minutes=5)
    assert starts.minute % 5 == 0


@pytest.mark.parametrize("lat", [-90.0, 90.0, 0.0])
def test_poles_and_equator(lat: float) -> None:
    assert light_of(date(2026, 3, 28), (0.0, lat), zone=UTC) is not None
