"""Words and days as people and programs write them, turned into values; anything else is `Unusable`."""

from __future__ import annotations

import re
from datetime import date, datetime, time, timedelta
from enum import StrEnum
from typing import TypeVar

from standmap.formats.faults import Unusable, shown
from standmap.stand.names import LONGEST_NAME

_Kind = TypeVar("_Kind", bound=StrEnum)

_CONTROL = re.compile(r"[\x00-\x1f\x7f-\x9f\u2028\u2029]")
_CONTROL_IN_NOTE = re.compile(r"[\x00-\x08\x0b-\x1f\x7f-\x9f]")
_SURROGATE = re.compile(r"[\ud800-\udfff]")
_YEAR_FIRST = re.compile(r"(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})(?:[T ]\d.*)?")
_YEAR_LAST = re.compile(r"(\d{1,2})([-/.])(\d{1,2})\2(\d{4})")
_CLOCK = re.compile(r"(\d{1,2})[:.](\d{2})(?::(\d{2})(?:[.,](\d{1,6})\d*)?)?\s*(Z|[+-]\d{2}:?\d{2})?")
_LEAP = re.compile(r"(T\d{2}:\d{2}:)60(?!\d)")


def line_of(text: str) -> str:
    """Return text as one trimmed line: control characters become spaces."""
    if text.isprintable():  # nearly every text, and far faster
        return text.strip()
    return _CONTROL.sub(" ", _SURROGATE.sub("\ufffd", text)).strip()


def note_of(text: str) -> str:
    """Return text that may have several lines: breaks become newlines, other control characters spaces."""
    if text.isprintable():
        return text
    return _CONTROL_IN_NOTE.sub(" ", _SURROGATE.sub("\ufffd", text.replace("\r\n", "\n").replace("\r", "\n")))


def name_of(text: str, what: str = "name") -> str | None:
    """Return a name as one line, absent when nothing is left of it.

    Raises
    ------
    Unusable
        If it is longer than `LONGEST_NAME`.
    """
    name = line_of(text)
    if len(name) > LONGEST_NAME:
        raise Unusable(f"{what} has {len(name)} characters, more than {LONGEST_NAME}")
    return name or None


def day_of(text: str, what: str = "date") -> date:
    """Read a day: 2025-04-01, 1.4.2025, or with slashes where day and month cannot be taken for each other.

    Raises
    ------
    Unusable
        If it is no day of the calendar, or could be two.
    """
    cleaned = text.strip()
    try:
        if found := _YEAR_FIRST.fullmatch(cleaned):
            return date(int(found[1]), int(found[2]), int(found[3]))
        if found := _YEAR_LAST.fullmatch(cleaned):
            first, second, year = int(found[1]), int(found[3]), int(found[4])
            if found[2] == "." or first > 12 or first == second:
                return date(year, second, first)
            if second > 12:
                return date(year, first, second)
            raise Unusable(f"{what} '{shown(text)}' could be two days; write it like 2025-04-01")
    except ValueError:
        pass
    raise Unusable(f"{what} '{shown(text)}' is not a day; write it like 2025-04-01")


def clock_of(text: str, what: str = "time") -> time:
    """Read a time of day, 7:30 or 07:30:15, with an offset from UTC where one is given.

    Raises
    ------
    Unusable
        If it is no time of day.
    """
    found = _CLOCK.fullmatch(text.strip())
    if found:
        hours, minutes, seconds, fraction, offset = found.groups()
        written = f"{hours:0>2}:{minutes}:{seconds or '00'}.{(fraction or ''):0<6}{offset or ''}"
        try:
            return time.fromisoformat(written)
        except ValueError:
            pass
    raise Unusable(f"{what} '{shown(text)}' is not a time of day; write it like 07:30")


def moment_of(text: str, what: str) -> datetime:
    """Read an RFC 3339 moment with its offset; a leap second is the second after it.

    Raises
    ------
    Unusable
        If it is no moment, or has no offset from UTC.
    """
    leap = bool(_LEAP.search(text))
    try:
        moment = datetime.fromisoformat(_LEAP.sub(r"\g<1>59", text.strip()))
        if leap:
            moment += timedelta(seconds=1)
    except (ValueError, OverflowError):
        raise Unusable(f"{what} '{shown(text)}' is not a moment like 2025-04-01T07:30:00+03:00") from None
    if moment.tzinfo is None:
        raise Unusable(f"{what} '{shown(text)}' does not say its offset from UTC")
    return moment


def flag_of(text: str, what: str) -> bool:
    """Read yes or no, also as true or false, 1 or 0.

    Raises
    ------
    Unusable
        If it is neither.
    """
    cleaned = text.strip().casefold()
    if cleaned in {"yes", "true", "1", "y"}:
        return True
    if cleaned in {"no", "false", "0", "n"}:
        return False
    raise Unusable(f"{what} '{shown(text)}' is neither yes nor no")


def same_word(text: str) -> str:
    """Return text with case, underscores, hyphens and doubled spaces taken out of the comparison."""
    return " ".join(re.split(r"[\s_-]+", text.strip().casefold()))


def kind_of(kinds: type[_Kind], text: str, what: str, *, but: frozenset[_Kind] = frozenset()) -> _Kind:
    """Return the kind that a text names, whatever its case and whether '_', '-' or a space joins its words.

    Raises
    ------
    Unusable
        If it names none; the reason lists those that exist.
    """
    allowed = [kind for kind in kinds if kind not in but]
    for kind in allowed:
        if same_word(kind.value) == same_word(text):
            return kind
    raise Unusable(f"{what} '{shown(text)}' is none of {', '.join(allowed)}")
