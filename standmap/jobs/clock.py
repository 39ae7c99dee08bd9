"""Today and now, which tests and demonstrations may set."""

from __future__ import annotations

import os
from datetime import date, datetime, time

from standmap.errors import UserError

TODAY_VARIABLE = "STANDMAP_TODAY"


def today() -> date:
    """Return the day it is, or the one set in STANDMAP_TODAY (YYYY-MM-DD).

    Raises
    ------
    UserError
        If the variable holds no date.
    """
    text = os.environ.get(TODAY_VARIABLE, "")
    if not text:
        return datetime.now().astimezone().date()
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise UserError(f"{TODAY_VARIABLE}: '{text}' is not a date", "write it like 2026-03-28") from None


def now() -> datetime:
    """Return the moment, with this machine's offset; on a set day, this time of that day."""
    moment = datetime.now().astimezone()
    return moment.replace(year=(day := today()).year, month=day.month, day=day.day)


def moment_of(day: date, at: time | None) -> datetime | None:
    """Return a day's time with an offset: its own, or this machine's offset on that day where it has none."""
    if at is None:
        return None
    moment = datetime.combine(day, at)
    return moment if moment.tzinfo else moment.astimezone()
