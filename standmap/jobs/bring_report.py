"""How files are brought in, and what is said of it afterwards."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from datetime import date, datetime

from standmap.errors import NothingToDo, UserError
from standmap.formats.content import Skipped


@dataclass(frozen=True, slots=True)
class ClockStated:
    """What a person says of the clock of notes and pictures.

    Attributes
    ----------
    zone_s
        East of UTC, seconds, of times that name no zone.
    ahead_s
        By how much the clock was ahead.
    """

    zone_s: float | None = None
    ahead_s: float | None = None


_ZONE = re.compile(r"(?:UTC|GMT)?\s*([+-])(\d{1,2})(?::?(\d{2}))?|Z|UTC|GMT", re.IGNORECASE)
_SPAN = re.compile(
    r"([+-]?)\s*(?:(\d+)\s*d)?\s*(?:(\d+)\s*h)?\s*(?:(\d+)\s*m(?:in)?)?\s*(?:(\d+(?:\.\d+)?)\s*s?)?", re.IGNORECASE
)
_MOST_AHEAD_S = 100 * 366 * 86_400.0


def zone_of(text: str) -> float:
    """Return a zone, such as +02:00, as seconds east of UTC.

    Raises
    ------
    UserError
        If it is none.
    """
    found = _ZONE.fullmatch(text.strip())
    if found is not None:
        if found[1] is None:
            return 0.0
        east = int(found[2]) * 3600.0 + int(found[3] or 0) * 60.0
        if east <= 14 * 3600 and int(found[3] or 0) < 60:
            return east if found[1] == "+" else -east
    raise UserError(f"'{text[:40]}' is not a time zone", "write it like +02:00")


def ahead_of(text: str) -> float:
    """Return how far a clock was ahead, such as 75s or -1h02m, in seconds.

    Raises
    ------
    UserError
        If it is no time span.
    """
    found = _SPAN.fullmatch(text.strip())
    if found is not None and any(found.groups()[1:]):
        days, hours, minutes, seconds = (float(part or 0) for part in found.groups()[1:])
        span = days * 86_400 + hours * 3600 + minutes * 60 + seconds
        if span <= _MOST_AHEAD_S:
            return -span if found[1] == "-" else span
    raise UserError(f"'{text[:40]}' is not how far a clock is ahead", "write it like 75s, -2m30s or 1h")


MOST_PACE_M = 2.5
"""Nobody paces longer (common practice, no source)."""


def day_of(text: str, today: date) -> date:
    """Return the day of a log, such as 2026-03-20.

    Raises
    ------
    UserError
        If it is none, or after today.
    """
    try:
        day = date.fromisoformat(text.strip())
    except ValueError:
        raise UserError(f"'{text[:40]}' is not a day", "write it like 2026-03-20") from None
    if day > today:
        raise UserError(f"{day} is after today ({today})", "give the day on which the log was begun")
    return day


def checked_pace_m(pace_m: float) -> float:
    """Return the length of a pace in metres.

    Raises
    ------
    UserError
        If nobody paces so.
    """
    if not 0.2 <= pace_m <= MOST_PACE_M:
        raise UserError(f"a pace of {pace_m:g} m is not possible", f"give it in metres, 0.2 to {MOST_PACE_M:g}")
    return pace_m


@dataclass(frozen=True, slots=True)
class BringOptions:
    """How to bring files in.

    Attributes
    ----------
    crs
        Reference system of x and y columns, such as EPSG:3067.
    anyway
        Take positions that look wrong.
    dry_run
        Say what would happen and write nothing.
    clock
        What is said of the clock of notes and pictures.
    day
        On which a receiver's log begins that does not tell it.
    pace_m
        Metres in one pace, for field sheets that do not tell it.
    station
        Whose weather is read of a file of several stations.
    """

    crs: str | None = None
    anyway: bool = False
    dry_run: bool = False
    clock: ClockStated = ClockStated()
    day: date | None = None
    pace_m: float | None = None
    station: str | None = None


@dataclass(frozen=True, slots=True)
class BroughtStop:
    """A stop of a walk and the tree it belongs to or suggests.

    Attributes
    ----------
    tree
        Its name; None where the stop waits or was left out.
    proposed
        Whether that tree is one that a person has yet to confirm.
    """

    tree: str | None
    lon: float
    lat: float
    from_at: datetime
    to_at: datetime
    fixes: int
    sigma_m: float
    key: str | None = field(default=None, compare=False)
    proposed: bool = False


@dataclass(frozen=True, slots=True)
class LikelyTree:
    """A known tree at which a stop may have been made; `chance` is from 0 to 1."""

    tree: str
    key: str = field(compare=False)
    away_m: float
    chance: float


@dataclass(frozen=True, slots=True)
class WaitingStop:
    """A stop of which nobody has said yet at which tree it was made."""

    where: str
    stop: BroughtStop
    candidates: tuple[LikelyTree, ...]


@dataclass(frozen=True, slots=True)
class OffWalk:
    """A walk that lies clearly off the known trees, metres."""

    name: str
    off_east_m: float
    off_north_m: float


@dataclass(frozen=True, slots=True)
class SourceReport:
    """What became of one file.

    Attributes
    ----------
    read
        Features the file holds.
    added, updated
        Features that became something new, or changed something known. Trees suggested by stops are in `stops`.
    known
        Whether the very same file was brought in before.
    waiting
        Stops that wait to be decided; they are among `skipped` too.
    ignored
        How many stops were left out by choice.
    walks
        Those that lie off the known trees.
    """

    file: str
    format: str
    read: int
    added: int
    updated: int
    skipped: tuple[Skipped, ...] = ()
    stops: tuple[BroughtStop, ...] = ()
    known: bool = False
    waiting: tuple[WaitingStop, ...] = ()
    ignored: int = 0
    walks: tuple[OffWalk, ...] = ()


@dataclass(frozen=True, slots=True)
class BringReport:
    """What became of all the files of one command."""

    sources: tuple[SourceReport, ...]


class NothingToBring(NothingToDo):
    """No file held anything usable; carries the report that says why."""

    def __init__(self, reason: str, report: BringReport) -> None:
        super().__init__(reason)
        self.report = report
