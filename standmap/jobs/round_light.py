"""The sun over the stand on the day of a walk: first light, sunrise, sunset, last light, and whether a lamp is needed.

Times are those of the astral library (Meeus after NOAA's tables): a minute or so off, and more where a hill stands in
the sun's way.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from typing import TYPE_CHECKING

from standmap.jobs.planned_round import Light
from standmap.stand.tree import LonLat

if TYPE_CHECKING:
    from astral import Observer

CIVIL_DEG = 6.0
"""In civil twilight, with the sun at most so far below the horizon, one sees to work outdoors without a lamp."""

DAY_MIN = 1440
TWO_DAYS = timedelta(hours=49)
"""No two events that are two days apart are farther from each other, but near the poles."""

HALF_DAY = timedelta(hours=12)
ROUNDED_MIN = 5

WITHOUT_SUNRISE = time(8)
"""When a walk sets out on a day without a sunrise, where nobody said when: an assumption."""


def light_of(
    day: date, at: LonLat, sets_out: datetime | None = None, back: datetime | None = None, zone: tzinfo | None = None
) -> Light:
    """Return the sun of a day.

    Parameters
    ----------
    at
        The stand.
    sets_out, back
        When the walk begins and ends, with their zone; without them no lamp is asked for.
    zone
        In which times are told; this machine's when absent.

    Returns
    -------
    Light
        Of the solar day whose noon falls on that date at the stand, whatever the zone. What does not happen that day,
        near the poles, is None.
    """
    from astral import Observer
    from astral.sun import dawn, dusk, sunrise, sunset

    observer = Observer(at[1], at[0])
    noon = _noon(day, at)

    def near_noon(event: Callable[..., datetime], before: bool) -> datetime | None:
        first, last = (noon - HALF_DAY, noon) if before else (noon, noon + HALF_DAY)
        missed = []
        for other in (day, day - timedelta(days=1), day + timedelta(days=1)):
            try:
                found = event(observer, date=other, tzinfo=UTC)
            except ValueError:  # the sun stays above or below that day
                continue
            if first <= found <= last:
                return found.astimezone(zone).replace(microsecond=0)
            missed.append(found)
        # Of two events on one date of UTC's, just after its midnight and just before the next, one is told. The other
        # lies in the middle between those of the day before and the day after, to a second or two.
        earlier = max((found for found in missed if found < first), default=None)
        later = min((found for found in missed if found > last), default=None)
        if earlier is None or later is None or later - earlier > TWO_DAYS:
            return None
        return (earlier + (later - earlier) / 2).astimezone(zone).replace(microsecond=0)

    light = Light(
        civil_dawn=near_noon(dawn, before=True),
        sunrise=near_noon(sunrise, before=True),
        sunset=near_noon(sunset, before=False),
        civil_dusk=near_noon(dusk, before=False),
    )
    if sets_out is None or not _is_dark(observer, sets_out):
        return light
    until = light.civil_dawn if light.civil_dawn is not None and light.civil_dawn > sets_out else back
    return Light(light.civil_dawn, light.sunrise, light.sunset, light.civil_dusk, until)


def dark_on_the_way(at: LonLat, sets_out: datetime, back: datetime) -> bool:
    """Return whether a walk begins or ends in the dark, so that a lamp goes along."""
    from astral import Observer

    observer = Observer(at[1], at[0])
    return _is_dark(observer, sets_out) or _is_dark(observer, back)


def usual_start(day: date, light: Light) -> datetime:
    """Return when a walk sets out where nobody said: at sunrise, rounded up to five minutes."""
    if light.sunrise is None:
        return datetime.combine(day, WITHOUT_SUNRISE).astimezone()
    sunrise = light.sunrise
    minutes = sunrise.hour * 60 + sunrise.minute + (1 if sunrise.second else 0)
    rounded = math.ceil(minutes / ROUNDED_MIN) * ROUNDED_MIN
    return sunrise.replace(hour=0, minute=0, second=0) + timedelta(minutes=rounded)


def _noon(day: date, at: LonLat) -> datetime:
    """Return noon by the sun's mean time at the stand."""
    return datetime.combine(day, time(12), UTC) - timedelta(minutes=at[0] / 360 * DAY_MIN)


def _is_dark(observer: Observer, moment: datetime) -> bool:
    from astral.sun import elevation

    return elevation(observer, moment.astimezone(UTC)) < -CIVIL_DEG
