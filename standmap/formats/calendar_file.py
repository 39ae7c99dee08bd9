"""Days on which something is to be done, as a calendar that any calendar program reads: iCalendar, RFC 5545."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

PRODUCT = "-//standmap//standmap//EN"

REMINDED_AT = timedelta(hours=7)
"""A whole day's entry reminds at this hour of its day, wherever one is: its time has no zone (RFC 5545, 3.3.5)."""

MOST_NAME = 200
"""Characters of a summary; the whole text stands in the description."""


_BEGAN = 1_735_689_600
"""Seconds of 2025-01-01 UTC: sequences count from there, so that they stay within 32 bits for long."""


@dataclass(frozen=True, slots=True)
class Entry:
    """One thing to do on one day.

    Attributes
    ----------
    uid
        The same whenever the same thing is written again: then a calendar changes its entry and adds none.
    position
        Longitude and latitude in degrees.
    off
        Whether it is called off: a calendar that holds it strikes it out, and nothing reminds of it.
    """

    uid: str
    day: date
    summary: str
    description: str
    position: tuple[float, float]
    place: str
    off: bool = False


def calendar(name: str, entries: Iterable[Entry], now: datetime) -> bytes:
    """Return a calendar of whole days, each with a reminder on its morning.

    Parameters
    ----------
    name
        What the calendar is called.
    now
        When it is written, with an offset.

    Raises
    ------
    ValueError
        If there is no entry: a calendar holds at least one (RFC 5545, 3.6).
    """
    from icalendar import Alarm, Calendar, Event
    from icalendar.prop import vInline, vText

    listed = tuple(entries)
    if not listed:
        raise ValueError("a calendar holds at least one entry")
    made = Calendar()
    made.add("prodid", PRODUCT)
    made.add("version", "2.0")
    made.add("method", "PUBLISH")
    made.add("x-wr-calname", vText(_line(name)))  # a value of no stated kind is a text (RFC 5545, 3.8.8.2)
    stamp = now.astimezone(UTC).replace(microsecond=0)
    for entry in listed:
        event = Event()
        event.add("uid", entry.uid)
        event.add("dtstamp", stamp)
        # A later writing of the same entry is the newer one (RFC 5545, 3.8.7.4).
        event.add("sequence", int(stamp.timestamp()) - _BEGAN)
        event.add("dtstart", entry.day)
        event.add("dtend", entry.day + timedelta(days=1))
        event.add("summary", _line(entry.summary)[:MOST_NAME])
        event.add("description", entry.description)
        event.add("location", _line(entry.place))
        # A float has no exponent (RFC 5545, 3.3.7).
        event["geo"] = vInline(f"{entry.position[1]:.6f};{entry.position[0]:.6f}")
        event.add("transp", "TRANSPARENT")  # such a day is not taken up by it
        if entry.off:
            event.add("status", "CANCELLED")
            made.add_component(event)
            continue
        alarm = Alarm()
        alarm.add("action", "DISPLAY")
        alarm.add("description", _line(entry.summary)[:MOST_NAME])
        alarm.add("trigger", REMINDED_AT)
        event.add_component(alarm)
        made.add_component(event)
    return bytes(made.to_ical())


def _line(text: str) -> str:
    return " ".join(text.split())
