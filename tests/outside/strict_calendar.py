"""A strict second reader of calendars: what it does not know it refuses, each time by the section of the standard.

Source: B. Desruisseaux (ed.), RFC 5545, Internet Calendaring and Scheduling Core Object Specification, 2009; grammar
and rules read there, wording and code our own. It knows what a calendar of whole days with alarms is made of, no more.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta

NAME = "[A-Za-z0-9-]+"
PARAMETER = rf';({NAME})=("[^"\x00-\x08\x0a-\x1f\x7f]*"|[^";:,\x00-\x08\x0a-\x1f\x7f]*)'
LINE = re.compile(rf"({NAME})((?:{PARAMETER})*):([^\x00-\x08\x0a-\x1f\x7f]*)")
DURATION = re.compile(r"([+-])?P(?:(\d+)W|(?:(\d+)D)?(?:T(?=\d)(?:(\d+)H)?(?:(\d+)M)?(?:(\d+)S)?)?)")
LARGEST = 2**31 - 1

ONCE = {"VCALENDAR": {"PRODID", "VERSION"}, "VEVENT": {"UID", "DTSTAMP"}, "VALARM": {"ACTION", "TRIGGER"}}
AT_MOST_ONCE = {
    "VCALENDAR": {"METHOD", "CALSCALE"},
    "VEVENT": {
        *("DTSTART", "DTEND", "DURATION", "SUMMARY", "DESCRIPTION", "LOCATION", "GEO", "STATUS", "TRANSP", "SEQUENCE"),
        *("CLASS", "CREATED", "LAST-MODIFIED", "PRIORITY", "URL", "RECURRENCE-ID"),
    },
    "VALARM": {"DESCRIPTION", "DURATION", "REPEAT"},
}
SECTION = {"VCALENDAR": "3.6", "VEVENT": "3.6.1", "VALARM": "3.6.6"}
INSIDE = {"VCALENDAR": {"VEVENT"}, "VEVENT": {"VALARM"}, "VALARM": set[str]()}
TEXTS = {"PRODID", "UID", "SUMMARY", "DESCRIPTION", "LOCATION"}
WORDS = {
    "VERSION": ("3.7.4", {"2.0"}),
    "CALSCALE": ("3.7.1", {"GREGORIAN"}),
    "TRANSP": ("3.8.2.7", {"OPAQUE", "TRANSPARENT"}),
    "STATUS": ("3.8.1.11", {"TENTATIVE", "CONFIRMED", "CANCELLED"}),
    "ACTION": ("3.8.6.1", {"DISPLAY", "AUDIO", "EMAIL"}),
}

Value = str | int | date | datetime | timedelta | tuple[float, float]


class Refused(Exception):  # noqa: N818 - it is the answer
    """What is at fault, by its section."""

    def __init__(self, section: str, what: str) -> None:
        super().__init__(f"section {section}: {what}")


@dataclass
class Component:
    """A part of a calendar with its properties and what lies in it."""

    name: str
    properties: dict[str, list[Value]] = field(default_factory=dict)
    inside: list[Component] = field(default_factory=list)

    def one(self, name: str) -> Value:
        (value,) = self.properties[name]
        return value


def read_strictly(content: bytes) -> Component:
    """Return the one calendar of a stream."""
    stack: list[Component] = []
    done: Component | None = None
    for name, parameters, value in _lines(content):
        if done is not None:
            raise Refused("3.4", "something after the calendar's end")
        if name == "BEGIN":
            if value not in SECTION or (stack and value not in INSIDE[stack[-1].name]):
                raise Refused("3.6", f"{value} cannot begin here")
            if not stack and value != "VCALENDAR":
                raise Refused("3.4", "a stream begins with a calendar")
            stack.append(Component(value))
        elif name == "END":
            if not stack or stack[-1].name != value:
                raise Refused("3.6", f"{value} ends and was not begun")
            ended = stack.pop()
            _check(ended)
            if stack:
                stack[-1].inside.append(ended)
            else:
                done = ended
        elif not stack:
            raise Refused("3.4", f"{name} outside any calendar")
        else:
            stack[-1].properties.setdefault(name, []).append(_value(stack[-1].name, name, parameters, value))
    if done is None:
        raise Refused("3.4", "the calendar has no end")
    return done


def _lines(content: bytes) -> Iterator[tuple[str, dict[str, str], str]]:
    if not content.endswith(b"\r\n"):
        raise Refused("3.1", "the last line has no end")
    raw = content[:-2].split(b"\r\n")
    for line in raw:
        if b"\r" in line or b"\n" in line:
            raise Refused("3.1", "a line ends with less than CR LF")
        if len(line) > 75:
            raise Refused("3.1", "a line of more than 75 octets")
        try:
            line.decode()
        except UnicodeDecodeError:
            raise Refused("3.1.4", "a line that is no UTF-8") from None
    for unfolded in re.sub(rb"\r\n[ \t]", b"", content[:-2]).decode().split("\r\n"):
        found = LINE.fullmatch(unfolded)
        if found is None:
            raise Refused("3.1", f"{unfolded[:40]!r} is no content line")
        parameters = {one[1].upper(): one[2].strip('"') for one in re.finditer(PARAMETER, found[2])}
        yield found[1].upper(), parameters, found[5]


def _value(owner: str, name: str, parameters: dict[str, str], text: str) -> Value:
    if name.startswith("X-"):
        return _text(text)
    if name not in ONCE[owner] | AT_MOST_ONCE[owner]:
        raise Refused(SECTION[owner], f"{name} is unknown in {owner}")
    if parameters and name not in ("DTSTART", "DTEND", "TRIGGER"):
        raise Refused("3.2", f"{name} with {', '.join(parameters)}")
    if name in TEXTS:
        return _text(text)
    if name in WORDS:
        section, words = WORDS[name]
        if text not in words:
            raise Refused(section, f"{name} is {text!r}")
        return text
    match name:
        case "DTSTART" | "DTEND":
            kind = parameters.get("VALUE", "DATE-TIME")
            return _date(text) if kind == "DATE" else _moment(text)
        case "DTSTAMP" | "CREATED" | "LAST-MODIFIED":
            if not text.endswith("Z"):
                raise Refused("3.8.7.2", f"{name} is not in UTC")
            return _moment(text)
        case "TRIGGER" | "DURATION":
            return _duration(text)
        case "SEQUENCE" | "REPEAT" | "PRIORITY":
            if not re.fullmatch(r"\d+", text) or int(text) > LARGEST:
                raise Refused("3.3.8", f"{name} is {text!r}")
            return int(text)
        case "GEO":
            return _geo(text)
        case "METHOD":
            if not re.fullmatch(NAME, text):
                raise Refused("3.7.2", f"METHOD is {text!r}")
            return text
        case _:
            return _text(text)


def _text(text: str) -> str:
    if not re.fullmatch(r"(?:[^\\;,]|\\[\\;,nN])*", text):
        raise Refused("3.3.11", f"{text[:40]!r} is not escaped")
    return re.sub(r"\\(.)", lambda found: "\n" if found[1] in "nN" else found[1], text)


def _date(text: str) -> date:
    if not re.fullmatch(r"\d{8}", text):
        raise Refused("3.3.4", f"{text!r} is no date")
    try:
        return datetime.strptime(text, "%Y%m%d").replace(tzinfo=UTC).date()
    except ValueError:
        raise Refused("3.3.4", f"{text!r} is no day of a calendar") from None


def _moment(text: str) -> datetime:
    if not re.fullmatch(r"\d{8}T([01]\d|2[0-3])[0-5]\d([0-5]\d|60)Z?", text):
        raise Refused("3.3.5", f"{text!r} is no moment")
    day, clock = _date(text[:8]), text[9:15]
    made = datetime(day.year, day.month, day.day, int(clock[:2]), int(clock[2:4]), min(int(clock[4:]), 59))  # noqa: DTZ001
    return made.replace(tzinfo=UTC) if text.endswith("Z") else made


def _duration(text: str) -> timedelta:
    found = DURATION.fullmatch(text)
    if found is None or not any(found.groups()[1:]):
        raise Refused("3.3.6", f"{text!r} is no duration")
    weeks, days, hours, minutes, seconds = (int(part or 0) for part in found.groups()[1:])
    length = timedelta(weeks=weeks, days=days, hours=hours, minutes=minutes, seconds=seconds)
    return -length if found[1] == "-" else length


def _geo(text: str) -> tuple[float, float]:
    found = re.fullmatch(r"([+-]?\d+(?:\.\d+)?);([+-]?\d+(?:\.\d+)?)", text)
    if found is None or abs(float(found[1])) > 90 or abs(float(found[2])) > 180:
        raise Refused("3.8.1.6", f"{text!r} is no latitude and longitude")
    return float(found[1]), float(found[2])


def _check(part: Component) -> None:
    section = SECTION[part.name]
    for name in ONCE[part.name]:
        if len(part.properties.get(name, ())) != 1:
            raise Refused(section, f"{name} is not there once")
    for name in AT_MOST_ONCE[part.name]:
        if len(part.properties.get(name, ())) > 1:
            raise Refused(section, f"{name} is there more than once")
    if part.name == "VCALENDAR":
        if not part.inside:
            raise Refused("3.6", "a calendar without a component")
        uids = Counter(event.one("UID") for event in part.inside)
        if max(uids.values()) > 1:
            raise Refused("3.8.4.7", "two events have one UID")
        if "METHOD" not in part.properties and any("DTSTART" not in event.properties for event in part.inside):
            raise Refused("3.6.1", "DTSTART is not there")
    if part.name == "VEVENT" and "DTEND" in part.properties:
        _check_end(part)
    if part.name == "VALARM":
        if part.one("ACTION") == "DISPLAY" and "DESCRIPTION" not in part.properties:
            raise Refused("3.6.6", "DESCRIPTION is not there")
        if ("DURATION" in part.properties) != ("REPEAT" in part.properties):
            raise Refused("3.6.6", "DURATION and REPEAT go together")


def _check_end(event: Component) -> None:
    if "DURATION" in event.properties or "DTSTART" not in event.properties:
        raise Refused("3.6.1", "DTEND goes with DTSTART, and not with DURATION")
    begins, ends = event.one("DTSTART"), event.one("DTEND")
    if type(begins) is not type(ends):
        raise Refused("3.8.2.2", "DTEND is of another kind than DTSTART")
    assert isinstance(begins, date)
    assert isinstance(ends, date)
    if ends <= begins:
        raise Refused("3.8.2.2", "DTEND is not later than DTSTART")
