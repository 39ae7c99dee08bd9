"""What a phone brings home from a walk: a JSON text that the page of `phone_page` wrote.

Its shape is told in DEVELOPERS.md. It went through a phone, perhaps through a message, perhaps by copy and paste, so
everything is checked: a text that cannot be true is refused whole, with the stop that is at fault.
"""

from __future__ import annotations

import json
import math
from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import Any, TypeVar

from standmap.errors import UserError
from standmap.formats.faults import Unusable, called, refused, shown, unreadable, within
from standmap.formats.phone_page import RETURNS_FORMAT, RETURNS_VERSION
from standmap.formats.records_csv import MOST_BIT_MM, MOST_DEPTH_MM, MOST_HEIGHT_CM, MOST_LITRES, MOST_TRIP_LITRES
from standmap.formats.texts import line_of, moment_of, note_of
from standmap.stand.tapping import Act
from standmap.units import ML_PER, decimal_number, to_ml

PURPOSES = ("collecting", "tapping", "closing")
REASONS = ("not reached", "not found", "spilled", "not fit", "stuck", "not safe", "no time", "other")
"""Why a stop was skipped, as the page writes it."""

ACTS: Mapping[str, Act] = {str(act): act for act in (Act.TAKEN_OUT, Act.PLUGGED, Act.LEFT_OPEN)}

MOST_BYTES = 20_000_000
MOST_STOPS = 10_000
LONGEST_KEY = 200
LONGEST_NOTE = 2000

_AGAIN = "save the returns file on the phone again, or write the walk down from paper"
_T = TypeVar("_T")


@dataclass(frozen=True, slots=True)
class PhoneVolume:
    """Sap as it was entered: millilitres, and the number and unit (a key of `ML_PER`) as given."""

    ml: float
    given: str
    unit: str


@dataclass(frozen=True, slots=True)
class PhoneEntry:
    """What was entered at one stop.

    Attributes
    ----------
    stop
        Its key in the plan: `RoundStop.key`.
    tree, hole, trip
        As the phone showed them, for messages to people.
    at
        When it was first entered.
    reason
        One of `REASONS` where the stop was skipped, else "".
    volume
        None where the vessel was emptied unmeasured, or nothing was collected there.
    acts
        What was done to the wound, in the order of the work.
    side_deg
        Of the stem, clockwise from true north.
    """

    stop: str
    tree: str
    hole: int
    trip: int
    at: datetime
    reason: str = ""
    volume: PhoneVolume | None = None
    overflowed: bool = False
    note: str = ""
    acts: tuple[Act, ...] = ()
    tag_read: bool = False
    height_mm: float | None = None
    side_deg: float | None = None
    depth_mm: float | None = None
    bit_mm: float | None = None

    @property
    def done(self) -> bool:
        """Whether somebody was there and did what was to be done."""
        return not self.reason


@dataclass(frozen=True, slots=True)
class PhoneTotal:
    """All the sap of one trip together, that of trees measured by themselves included."""

    trip: int
    volume: PhoneVolume
    at: datetime


@dataclass(frozen=True, slots=True)
class PhoneReturns:
    """One phone's account of a walk.

    Attributes
    ----------
    plan_key
        Of the walk as it was given out.
    page
        The edition of the page that wrote it.
    collector
        Who carried the phone, by number.
    entries
        In the order walked.
    """

    plan_key: str
    page: str
    purpose: str
    day: date
    collector: int
    begun_at: datetime | None
    written_at: datetime
    entries: tuple[PhoneEntry, ...]
    totals: tuple[PhoneTotal, ...]


def is_phone_returns(head: bytes) -> bool:
    """Return whether the beginning of a file is that of a returns file."""
    return head.lstrip(b"\xef\xbb\xbf \t\r\n").startswith(b"{") and f'"{RETURNS_FORMAT}"'.encode() in head


def read_phone_returns(path: Path) -> PhoneReturns:
    """Read a returns file.

    Raises
    ------
    UserError
        If it is none, was cut off on the way, or says what cannot be true.
    """
    within(path, MOST_BYTES, "a walk's returns are far smaller")
    try:
        text = path.read_bytes().decode("utf-8-sig")
    except OSError as error:
        raise unreadable(path, error) from None
    except UnicodeDecodeError:
        raise refused(path, "is not UTF-8 text", _AGAIN) from None
    return phone_returns_of(text, called(path))


def phone_returns_of(text: str, where: str = "the text") -> PhoneReturns:
    """Read returns from a text, as when it was copied and pasted; see `read_phone_returns`.

    Parameters
    ----------
    where
        What the text is called in messages.
    """
    try:
        held = json.loads(text)
    except (ValueError, RecursionError):
        raise UserError(f"{where}: is not a whole JSON text; its end may be missing", _AGAIN) from None
    if not isinstance(held, dict) or held.get("format") != RETURNS_FORMAT:
        raise UserError(f"{where}: is not a returns file of a walk", "choose the file that the phone saved")
    version = shown(str(held.get("version")))
    if version != str(RETURNS_VERSION):
        raise UserError(
            f"{where}: is written in layout {version}, and this program reads layout {RETURNS_VERSION}",
            "use the newer program",
        )
    try:
        return _returns(held)
    except Unusable as fault:
        raise UserError(f"{where}: {fault}", _AGAIN) from None


def _returns(held: dict[str, Any]) -> PhoneReturns:
    entries = _each(held, "stops", "stop", _entry)
    totals = _each(held, "trips", "total", _total)
    _once("stop", [entry.stop for entry in entries])
    _once("trip", [str(total.trip) for total in totals])
    return PhoneReturns(
        plan_key=_text(held, "plan", LONGEST_KEY),
        page=_text(held, "page", LONGEST_KEY),
        purpose=_word(held, "purpose", PURPOSES),
        day=_day(held),
        collector=_whole(held, "collector", 1, 1000),
        begun_at=None if held.get("begun_at") is None else _moment(held, "begun_at"),
        written_at=_moment(held, "written_at"),
        entries=entries,
        totals=totals,
    )


def _once(what: str, keys: list[str]) -> None:
    twice = [key for key, times in Counter(keys).items() if times > 1]
    if twice:
        raise Unusable(f"{what} '{shown(twice[0])}' is in it twice")


def _each(held: dict[str, Any], name: str, what: str, read: Callable[[dict[str, Any]], _T]) -> tuple[_T, ...]:
    rows = held.get(name)
    if not isinstance(rows, list) or len(rows) > MOST_STOPS:
        raise Unusable(f"its list '{name}' is missing or too long")
    found = []
    for number, row in enumerate(rows, start=1):
        if not isinstance(row, dict):
            raise Unusable(f"{what} {number} holds nothing")
        try:
            found.append(read(row))
        except Unusable as fault:
            tree = row.get("tree")
            named = f" ({shown(tree)})" if isinstance(tree, str) else ""
            raise Unusable(f"{what} {number}{named}: {fault}") from None
    return tuple(found)


def _entry(row: dict[str, Any]) -> PhoneEntry:
    skipped = _word(row, "what", ("done", "skipped")) == "skipped"
    acts = row.get("acts", [])
    if not isinstance(acts, list) or not all(isinstance(a, str) and a in ACTS for a in acts) or len(acts) > len(ACTS):
        raise Unusable("what was done to the wound cannot be read")
    note = row.get("note", "")
    if not isinstance(note, str) or len(note) > LONGEST_NOTE:
        raise Unusable("its note is no text, or too long")
    return PhoneEntry(
        stop=_text(row, "stop", LONGEST_KEY),
        tree=_text(row, "tree", 1000),
        hole=_whole(row, "hole", 1, 99),
        trip=_whole(row, "trip", 1, MOST_STOPS),
        at=_moment(row, "at"),
        reason=_word(row, "reason", REASONS) if skipped else "",
        volume=None if skipped or "given" not in row else _volume(row, MOST_LITRES),
        overflowed=_flag(row, "overflowed"),
        note=note_of(note).strip(),
        acts=tuple(dict.fromkeys(ACTS[act] for act in acts)),
        tag_read=_flag(row, "tag_read"),
        height_mm=_measure(row, "height_mm", MOST_HEIGHT_CM * 10),
        side_deg=_measure(row, "side_deg", 360.0),
        depth_mm=_measure(row, "depth_mm", MOST_DEPTH_MM),
        bit_mm=_measure(row, "bit_mm", MOST_BIT_MM),
    )


def _total(row: dict[str, Any]) -> PhoneTotal:
    return PhoneTotal(_whole(row, "trip", 1, MOST_STOPS), _volume(row, MOST_TRIP_LITRES), _moment(row, "at"))


def _volume(row: dict[str, Any], most_l: float) -> PhoneVolume:
    given = _text(row, "given", 40)
    unit = _word(row, "unit", tuple(ML_PER))
    try:
        ml = to_ml(decimal_number(given), unit)
    except UserError:
        raise Unusable(f"'{shown(given)}' is not a volume") from None
    # A phone's bounds are in its own unit: half a millilitre is lost where they are turned into it and back.
    if not 0 <= ml <= most_l * 1000 + 0.5:
        raise Unusable(f"{shown(given)} {unit} cannot be: from 0 to {most_l:g} L")
    return PhoneVolume(ml, given, unit)


def _text(row: dict[str, Any], name: str, longest: int) -> str:
    value = row.get(name)
    if not isinstance(value, str) or not value or len(value) > longest:
        raise Unusable(f"'{name}' is missing or too long")
    return line_of(value)


def _word(row: dict[str, Any], name: str, among: tuple[str, ...]) -> str:
    value = row.get(name)
    if not isinstance(value, str) or value not in among:
        raise Unusable(f"'{name}' is none of {', '.join(among)}")
    return value


def _whole(row: dict[str, Any], name: str, least: int, most: int) -> int:
    value = row.get(name)
    if not isinstance(value, int) or isinstance(value, bool) or not least <= value <= most:
        raise Unusable(f"'{name}' is not a whole number from {least} to {most}")
    return value


def _flag(row: dict[str, Any], name: str) -> bool:
    value = row.get(name, False)
    if not isinstance(value, bool):
        raise Unusable(f"'{name}' is neither true nor false")
    return value


def _measure(row: dict[str, Any], name: str, most: float) -> float | None:
    value = row.get(name)
    if value is None:
        return None
    if (
        not isinstance(value, int | float)
        or isinstance(value, bool)
        or not (0 <= value <= most and math.isfinite(value))
    ):
        raise Unusable(f"'{name}' is not a number from 0 to {most:g}")
    return float(value)


def _moment(row: dict[str, Any], name: str) -> datetime:
    return moment_of(_text(row, name, 60), name)


def _day(row: dict[str, Any]) -> date:
    text = _text(row, "day", 20)
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise Unusable(f"'{shown(text)}' is not a day") from None
