"""What is asked of a walk at the terminal, as values: hours, people with their loads, where one stands."""

from __future__ import annotations

import re
from datetime import time
from typing import TYPE_CHECKING

from standmap.errors import UserError

if TYPE_CHECKING:
    from standmap.jobs.round_options import FromHere, Walker

_TIME = re.compile(r"(\d{1,2}):(\d{2})")
_LOAD = re.compile(r"(\d+(?:\.\d+)?)\s*kg", re.IGNORECASE)
_FROM = re.compile(r"from\s+(.+)", re.IGNORECASE)
_PAIR = re.compile(r"\s*(-?\d+(?:\.\d+)?)\s*,\s*(-?\d+(?:\.\d+)?)\s*")


def names_of(groups: list[str] | None) -> tuple[str, ...]:
    """Return names given with commas between, over one or more options."""
    return tuple(name.strip() for group in groups or [] for name in group.split(",") if name.strip())


def hour_of(text: str | None) -> time | None:
    """Return a time of day.

    Raises
    ------
    UserError
        If the text is none.
    """
    if text is None:
        return None
    found = _TIME.fullmatch(text.strip())
    if found is None or int(found[1]) > 23 or int(found[2]) > 59:
        raise UserError(f"'{text[:40]}' is no time of day", "write it like 06:10")
    return time(int(found[1]), int(found[2]))


def walker_of(text: str) -> Walker:
    """Return one collector from words with commas between: a name, "12 kg", "from gate", "06:10", in any order.

    Raises
    ------
    UserError
        If a part is said twice.
    """
    from standmap.jobs.round_options import Walker

    name: str | None = None
    load: float | None = None
    start: str | None = None
    hour: time | None = None
    for part in filter(None, map(str.strip, text.split(","))):
        again = False
        if (found := _LOAD.fullmatch(part)) is not None:
            again, load = load is not None, float(found[1])
        elif (found := _FROM.fullmatch(part)) is not None:
            again, start = start is not None, found[1].strip()
        elif _TIME.fullmatch(part) is not None:
            again, hour = hour is not None, hour_of(part)
        else:
            again, name = name is not None, part
        if again:
            raise UserError(
                f"--collector '{text[:60]}': '{part[:40]}' says something twice",
                "write it like 'Ilse, 12 kg, from gate, 06:10'",
            )
    return Walker(name or "", load, start, hour)


def from_here_of(text: str | None, carrying_kg: float | None) -> FromHere | None:
    """Return where a walk stands: a tree, or latitude and longitude with a comma between.

    Raises
    ------
    UserError
        If a load is carried from nowhere, or the position is none.
    """
    from standmap.jobs.round_options import FromHere

    if text is None:
        if carrying_kg is not None:
            raise UserError("--carrying says what is carried, but not where", "name the place with --from-here")
        return None
    pair = _PAIR.fullmatch(text)
    at: str | tuple[float, float] = text.strip()
    if pair is not None:
        lat, lon = float(pair[1]), float(pair[2])
        if not (abs(lat) <= 90 and abs(lon) <= 180):
            raise UserError(f"'{text[:40]}' is no position", "write latitude, then longitude, such as 61.9012,27.6034")
        at = (lon, lat)
    if not at:
        raise UserError("--from-here names no place", "name a tree, or latitude and longitude")
    return FromHere(at, carrying_kg or 0.0)
