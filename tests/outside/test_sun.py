"""The sun over a stand against published times.

Source: the example in the documentation of astral 0.1 (S. Kennedy): London, 2009-04-22, sunrise 05:49:36, sunset
20:09:07, British Summer Time. It was made with an older version and rounded coordinates: a minute is allowed.
"""

from __future__ import annotations

from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from standmap.jobs.round_light import light_of

LONDON = (-0.116, 51.5)
A_MINUTE = timedelta(minutes=1)


def test_sunrise_and_sunset_in_london() -> None:
    zone = ZoneInfo("Europe/London")
    light = light_of(date(2009, 4, 22), LONDON, zone=zone)
    assert light.sunrise is not None
    assert light.sunset is not None
    assert abs(light.sunrise - datetime(2009, 4, 22, 5, 49, 36, tzinfo=zone)) < A_MINUTE
    assert abs(light.sunset - datetime(2009, 4, 22, 20, 9, 7, tzinfo=zone)) < A_MINUTE
