"""How a day's run is spread over its hours, and so what part of it comes between two moments.

Sap runs most between 13 and 14 h, falls off late, and runs least or not at all at night (Gryazkin et al. 2023, doi
10.37482/0536-1036-2023-4-180-189, abstract; only these words were read, no hourly figures). The shape is a model of
ours: a wave with one crest a day, nearly dry at its trough. Hours are those of the clock on the wall.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from datetime import datetime, timedelta

MOST_AT_H = 13.5
"""The crest, between the published 13 and 14 h."""

SWING = 0.9
"""How far the rate rises above the day's mean, and falls below it, as a part of that mean: an assumption. At the
trough, 1:30 h, a tenth of the mean still comes."""

DAY_H = 24.0
DAY = timedelta(days=1)

NEAR_H = 1 / 3600


def part_between(begins: datetime, ends: datetime) -> float:
    """Return what part of one day's run comes between two moments on the same clock; 1 a full day, 0 for none."""
    hours = (ends - begins) / timedelta(hours=1)
    return _part(_hour(begins), hours) if hours > 0 else 0.0


def hours_until(begins: datetime, part: float) -> float:
    """Return how many hours after a moment this part of a day's run has come; parts above 1 take more than a day."""
    days, rest = divmod(max(part, 0.0), 1.0)
    hour = _hour(begins)
    least, most = 0.0, DAY_H
    # The part rises with the hours; halving needs no slope.
    while most - least > NEAR_H:
        middle = (least + most) / 2
        if _part(hour, middle) < rest:
            least = middle
        else:
            most = middle
    return days * DAY_H + most * (rest > 0)


def nights_between(begins: datetime, ends: datetime) -> Iterator[tuple[datetime, float]]:
    """Yield the days of 24 h that end with a stretch of time, the last first: when each ends, and its part in it.

    All but the first day have their whole run in the stretch.
    """
    ends_at = ends
    while ends_at > begins:
        yield ends_at, part_between(max(begins, ends_at - DAY), ends_at)
        ends_at -= DAY


def fills_at(begins: datetime, nights: Iterable[tuple[datetime, float]], vessel_ml: float) -> datetime | None:
    """Return when a vessel is full that is hung up empty.

    Parameters
    ----------
    begins
        When it is hung up.
    nights
        When each day of 24 h ends, the first first, and what runs in the whole of it, millilitres.

    Returns
    -------
    datetime or None
        On the same clock; None where all of these do not fill it.
    """
    left_ml = vessel_ml
    for ends_at, run_ml in nights:
        since = max(begins, ends_at - DAY)
        came_ml = run_ml * part_between(since, ends_at)
        if came_ml >= left_ml and run_ml > 0:
            return since + timedelta(hours=hours_until(since, left_ml / run_ml))
        left_ml -= came_ml
    return None


def _hour(moment: datetime) -> float:
    return moment.hour + moment.minute / 60 + (moment.second + moment.microsecond / 1e6) / 3600


def _part(hour: float, hours: float) -> float:
    """Return what part of a day's run comes in so many hours from an hour of the day on."""
    turn = 2 * math.pi / DAY_H
    wave = math.sin(turn * (hour + hours - MOST_AT_H)) - math.sin(turn * (hour - MOST_AT_H))
    return hours / DAY_H + SWING * wave / (2 * math.pi)
