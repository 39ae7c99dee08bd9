"""Who walks, as a person writes it in one line: a name, a load, where and when this one begins."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import time

from standmap.errors import UserError
from standmap.jobs.round_options import Walker

_TIME = re.compile(r"(\d{1,2}):(\d{2})")
_LOAD = re.compile(r"\d+(?:\.\d+)?\s*(?:kg|lb)", re.IGNORECASE)
_FROM = re.compile(r"from\s+(.+)", re.IGNORECASE)


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


def walker_of(text: str, read_kg: Callable[[str], float] | None = None) -> Walker:
    """Return one collector from words with commas between: a name, "12 kg", "from gate", "06:10", in any order.

    Parameters
    ----------
    read_kg
        Reads a load with its unit; kilograms only when absent.

    Raises
    ------
    UserError
        If a part is said twice, or a load is in a unit that is not known here.
    """
    name: str | None = None
    load: float | None = None
    start: str | None = None
    hour: time | None = None
    for part in filter(None, map(str.strip, text.split(","))):
        again = False
        if _LOAD.fullmatch(part) is not None:
            again, load = load is not None, (read_kg or _kilograms)(part)
        elif (found := _FROM.fullmatch(part)) is not None:
            again, start = start is not None, found[1].strip()
        elif _TIME.fullmatch(part) is not None:
            again, hour = hour is not None, hour_of(part)
        else:
            again, name = name is not None, part
        if again:
            raise UserError(
                f"'{text[:60]}': '{part[:40]}' says something twice",
                "write it like 'Ilse, 12 kg, from gate, 06:10'",
            )
    return Walker(name or "", load, start, hour)


def _kilograms(text: str) -> float:
    number, unit = text[:-2], text[-2:].casefold()
    if unit != "kg":
        raise UserError(f"'{text[:40]}' is not in kilograms", "write it like 12 kg")
    return float(number)
