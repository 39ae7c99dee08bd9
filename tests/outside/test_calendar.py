"""Our calendars against RFC 5545: through icalendar, and through a strict second reader made for this.

Source: B. Desruisseaux (ed.), RFC 5545, Internet Calendaring and Scheduling Core Object Specification, 2009; what is
checked stands with its sections in strict_calendar.py. Facts looked up, wording our own. A day without a time has no
zone (3.3.4), and an alarm so long after its begin rings at that hour wherever one is (3.8.6.3).
"""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta, timezone

import icalendar
import pytest
from hypothesis import given
from hypothesis import strategies as st

from standmap.formats.calendar_file import MOST_NAME, REMINDED_AT, Entry, calendar
from standmap.jobs.aftercare import aftercare
from standmap.jobs.aftercare_calendar import aftercare_calendar
from standmap.jobs.language import said_in, spoken
from standmap.stand.snapshot import Stand
from standmap.stand.tapping import Act, Observation, TapHole, Wound
from standmap.stand.tree import Standing, Tree
from tests.outside.strict_calendar import Component, Refused, read_strictly

NOW = datetime(2026, 3, 28, 9, 30, tzinfo=UTC)
TEXT = st.text(st.characters(codec="utf-8", exclude_categories=["Cs", "Cc"]), max_size=400)
ENTRY = st.builds(
    Entry,
    uid=st.uuids().map(lambda key: f"{key}@standmap"),
    day=st.dates(date(2020, 1, 1), date(2050, 12, 30)),
    summary=TEXT,
    description=st.lists(TEXT, max_size=3).map("\n".join),
    position=st.tuples(st.floats(-179, 179), st.floats(-89, 89)),
    place=TEXT,
)


@given(entries=st.lists(ENTRY, min_size=1, max_size=4, unique_by=lambda entry: entry.uid))
def test_two_readers_find_what_was_written(entries: list[Entry]) -> None:
    content = calendar("wood", entries, NOW)
    strict = read_strictly(content)
    assert strict.properties["METHOD"] == ["PUBLISH"]
    other = icalendar.Calendar.from_ical(content).walk("VEVENT")
    for event, beside, entry in zip(strict.inside, other, entries, strict=True):
        summary = " ".join(entry.summary.split())[:MOST_NAME]
        assert (event.one("UID"), str(beside["uid"])) == (entry.uid, entry.uid)
        assert (event.one("DTSTART"), beside.decoded("dtstart")) == (entry.day, entry.day)
        assert event.one("DTEND") == beside.decoded("dtend") == entry.day + timedelta(days=1)  # an end is exclusive
        assert (event.one("SUMMARY"), str(beside["summary"])) == (summary, summary)
        assert (event.one("DESCRIPTION"), str(beside["description"])) == (entry.description, entry.description)
        assert event.one("DTSTAMP") == beside.decoded("dtstamp") == NOW
        assert event.one("GEO") == pytest.approx((entry.position[1], entry.position[0]), abs=6e-7)
        (alarm,) = event.inside
        assert alarm.one("TRIGGER") == REMINDED_AT
        assert alarm.one("ACTION") == "DISPLAY"


@pytest.mark.parametrize("hours", [-11, 0, 5.75, 13])
def test_whatever_the_zone_the_day_stays_and_the_stamp_is_in_utc(hours: float) -> None:
    entry = Entry("k@standmap", date(2026, 4, 3), "B1: plug", "why", (27.6, 61.9), "B1")
    local = NOW.astimezone(timezone(timedelta(hours=hours)))
    event = read_strictly(calendar("wood", [entry], local)).inside[0]
    assert event.one("DTSTAMP") == NOW
    assert event.one("DTSTART") == date(2026, 4, 3)


def test_a_later_writing_is_the_newer_one_of_the_same_entry() -> None:
    entry = Entry("k@standmap", date(2026, 4, 3), "B1: plug", "why", (27.6, 61.9), "B1")
    first, again = (read_strictly(calendar("wood", [entry], now)).inside[0] for now in (NOW, NOW + timedelta(hours=1)))
    assert first.one("UID") == again.one("UID")
    numbers = first.one("SEQUENCE"), again.one("SEQUENCE")
    assert isinstance(numbers[0], int)
    assert isinstance(numbers[1], int)
    assert numbers[0] < numbers[1]


def care_events(stand: Stand, day: date, language: str = "en") -> list[Component]:
    care = aftercare(stand, day, later=True)
    say = said_in(spoken(language))
    return read_strictly(aftercare_calendar("Höhe, 5; \\ wood", care, NOW, say)).inside


@pytest.mark.parametrize("language", ["en", "de"])
def test_a_wound_keeps_its_entry_from_step_to_step(language: str) -> None:
    tree = Tree("t", "B1; the \\ big, one", (27.0, 62.0))
    hole = TapHole("h", "t", 1, Wound.HOLE, date(2026, 3, 20), bit_mm=8.0, depth_mm=20.0)
    stand = Stand(trees=(tree,), holes=(hole,))
    (tube,) = care_events(stand, date(2026, 3, 28), language)
    out = Observation("o", "t", "h", Act.TAKEN_OUT, date(2026, 4, 2))
    (plug,) = care_events(Stand(trees=(tree,), holes=(hole,), observations=(out,)), date(2026, 4, 2), language)
    assert tube.one("UID") == plug.one("UID")
    assert tube.one("SUMMARY") != plug.one("SUMMARY")
    assert (tube.one("DTSTART"), plug.one("DTSTART")) == (date(2026, 4, 3), date(2026, 4, 2))
    assert "10 mm" in str(plug.one("DESCRIPTION"))  # the peg is two millimetres thicker than the bit
    assert tube.one("LOCATION") == tree.name


def test_what_came_to_its_end_is_called_off_and_nothing_reminds_of_it() -> None:
    tree = Tree("t", "B1", (27.0, 62.0))
    hole = TapHole("h", "t", 1, Wound.HOLE, date(2026, 3, 20))
    (asked,) = care_events(Stand(trees=(tree,), holes=(hole,)), date(2026, 3, 28))
    felled = replace(tree, standing=Standing.FELLED, standing_since=date(2026, 3, 30))
    closed = Observation("o", "t", "h", Act.SEEN_CLOSED, date(2026, 7, 1))
    for stand, on in (
        (Stand(trees=(felled,), holes=(hole,)), date(2026, 3, 30)),
        (Stand(trees=(tree,), holes=(hole,), observations=(closed,)), date(2026, 7, 1)),
    ):
        (off,) = care_events(stand, date(2026, 7, 2))
        assert off.one("UID") == asked.one("UID")
        assert (off.one("STATUS"), off.one("DTSTART"), off.inside) == ("CANCELLED", on, [])
        with pytest.raises(ValueError, match="at least one"):
            care_events(stand, date(2027, 8, 1))
    assert "STATUS" not in asked.properties


def test_nothing_due_is_no_calendar_at_fault() -> None:
    with pytest.raises(ValueError, match="at least one"):
        calendar("wood", [], NOW)


GOOD = calendar("wood", [Entry("k@standmap", date(2026, 4, 3), "B1, plug", "why", (27.6, 61.9), "B1")], NOW)


@pytest.mark.parametrize(
    ("found", "instead", "section"),
    [
        (rb"\r\n", b"\n", "3.1"),
        (rb"SUMMARY:", b"SUMMARY:" + b"x" * 80, "3.1"),
        (rb"SUMMARY:", b"SUM MARY:", "3.1"),
        (rb"SUMMARY:", b"SUMMARY:\x07", "3.1"),
        (rb"SUMMARY:", b"SUMMARY:\xff", "3.1.4"),
        (rb"SUMMARY;?:", b"SUMMARY;LANGUAGE=de:", "3.2"),
        (rb"B1\\, plug", b"B1, plug", "3.3.11"),
        (rb"B1\\, plug", rb"B1\\x plug", "3.3.11"),
        (rb"20260403", b"20260230", "3.3.4"),
        (rb"DTSTAMP:(\d+)T(\d+)Z", rb"DTSTAMP:\1T250000Z", "3.3.5"),
        (rb"DTSTAMP:(\d+)T(\d+)Z", rb"DTSTAMP:\1T\2", "3.8.7.2"),
        (rb"PT7H", b"P7H", "3.3.6"),
        (rb"PT7H", b"P", "3.3.6"),
        (rb"SEQUENCE:", b"SEQUENCE:9999999999", "3.3.8"),
        (rb"GEO:[\d.]+", b"GEO:97.0", "3.8.1.6"),
        (rb"20260404", b"20260403", "3.8.2.2"),
        (rb"DTEND;VALUE=DATE:20260404", b"DTEND:20260404T000000Z", "3.8.2.2"),
        (rb"TRANSPARENT", b"CLEAR", "3.8.2.7"),
        (rb"VERSION:2.0", b"VERSION:1.0", "3.7.4"),
        (rb"UID:k@standmap\r\n", b"", "3.6.1"),
        (rb"UID:k@standmap\r\n", b"UID:k@standmap\r\nUID:j\r\n", "3.6.1"),
        (rb"TRANSP:", b"TRANSPORT:", "3.6.1"),
        (rb"ACTION:DISPLAY\r\n", b"", "3.6.6"),
        (rb"(?s)BEGIN:VEVENT.*END:VEVENT\r\n", b"", "3.6"),
        (rb"(?s)(BEGIN:VEVENT.*END:VEVENT\r\n)", rb"\1\1", "3.8.4.7"),
        (rb"END:VALARM\r\n", b"", "3.6"),
        (rb"END:VCALENDAR\r\n", b"", "3.4"),
        (rb"\ABEGIN:VCALENDAR\r\n", b"", "3.4"),
    ],
)
def test_the_strict_reader_is_strict(found: bytes, instead: bytes, section: str) -> None:
    broken, count = re.subn(found, instead, GOOD)
    assert count >= 1
    with pytest.raises(Refused, match=rf"section {re.escape(section)}: "):
        read_strictly(broken)
