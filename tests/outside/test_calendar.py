"""Our calendars against RFC 5545, by facts of its text and by a second reader of our own making.

Source: B. Desruisseaux (ed.), RFC 5545, Internet Calendaring and Scheduling Core Object Specification, 2009: sections
3.1 (lines, folding), 3.3.11 (escapes), 3.6.1 and 3.6.6 (what an event and an alarm need), 3.7.3, 3.7.4, 3.8.2.2 (an end
is exclusive), 3.8.7.4 (sequence); facts looked up, wording our own. icalendar is the reader beside it.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta

import icalendar
import pytest
from hypothesis import given
from hypothesis import strategies as st

from standmap.formats.calendar_file import MOST_NAME, Entry, calendar

NOW = datetime(2026, 3, 28, 9, 30, tzinfo=UTC)
TEXT = st.text(st.characters(codec="utf-8", exclude_categories=["Cs", "Cc"]), max_size=400)
ENTRY = st.builds(
    Entry,
    uid=st.uuids().map(lambda key: f"{key}-plugged@standmap"),
    day=st.dates(date(2020, 1, 1), date(2050, 12, 30)),
    summary=TEXT,
    description=st.lists(TEXT, max_size=3).map("\n".join),
    position=st.tuples(st.floats(-179, 179), st.floats(-89, 89)),
    place=TEXT,
)


def unfolded(content: bytes) -> Iterator[str]:
    """Return the lines of a calendar as section 3.1 says, strictly."""
    assert content.endswith(b"\r\n")
    lines = content[:-2].split(b"\r\n")
    assert all(b"\n" not in line and b"\r" not in line for line in lines)
    assert all(len(line) <= 75 for line in lines)
    for line in lines:
        line.decode()  # a fold never parts the octets of one character
    yield from re.sub(rb"\r\n[ \t]", b"", content[:-2]).decode().split("\r\n")


def unescaped(text: str) -> str:
    assert not re.search(r"(?<!\\)(\\\\)*\\[^\\;,nN]", text)
    return re.sub(r"\\(.)", lambda found: "\n" if found[1] in "nN" else found[1], text)


@given(entries=st.lists(ENTRY, min_size=1, max_size=4, unique_by=lambda entry: entry.uid))
def test_every_line_and_component_is_as_the_standard_asks(entries: list[Entry]) -> None:
    content = calendar("wood", entries, NOW)
    lines = list(unfolded(content))
    assert lines[0] == "BEGIN:VCALENDAR"
    assert lines[-1] == "END:VCALENDAR"
    assert lines.count("VERSION:2.0") == 1
    assert sum(line.startswith("PRODID:") for line in lines) == 1
    events = "\n".join(lines).split("BEGIN:VEVENT")[1:]
    assert len(events) == len(entries)
    for event, entry in zip(events, entries, strict=True):
        own = event.split("BEGIN:VALARM")[0]
        for needed in ("UID:", "DTSTAMP:", "DTSTART;VALUE=DATE:", "DTEND;VALUE=DATE:", "SUMMARY:", "SEQUENCE:"):
            assert own.count(f"\n{needed}") == 1
        assert f"\nDTSTART;VALUE=DATE:{entry.day:%Y%m%d}\n" in own
        assert f"\nDTEND;VALUE=DATE:{entry.day + timedelta(days=1):%Y%m%d}\n" in own  # exclusive
        alarm = event.split("BEGIN:VALARM")[1]
        assert "\nACTION:DISPLAY\n" in alarm
        assert "\nDESCRIPTION:" in alarm
        assert "\nTRIGGER:PT7H\n" in alarm
        said = next(line for line in own.split("\n") if line.startswith("DESCRIPTION:"))
        assert unescaped(said.removeprefix("DESCRIPTION:")) == entry.description
    read = icalendar.Calendar.from_ical(content)
    for component, entry in zip(read.walk("VEVENT"), entries, strict=True):
        assert str(component["uid"]) == entry.uid
        assert component.decoded("dtstart") == entry.day
        assert str(component["summary"]) == " ".join(entry.summary.split())[:MOST_NAME]
        assert component.decoded("dtstamp") == NOW


def test_a_later_writing_is_the_newer_one_of_the_same_entry() -> None:
    entry = Entry("k@standmap", date(2026, 4, 3), "B1: plug", "why", (27.6, 61.9), "B1")
    first, again = (
        icalendar.Calendar.from_ical(calendar("wood", [entry], now)).walk("VEVENT")[0]
        for now in (NOW, NOW + timedelta(hours=1))
    )
    assert str(first["uid"]) == str(again["uid"])
    assert first.decoded("sequence") < again.decoded("sequence") < 2**31


def test_nothing_due_is_no_calendar_at_fault() -> None:
    with pytest.raises(ValueError, match="at least one"):
        calendar("wood", [], NOW)
