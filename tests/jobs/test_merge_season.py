"""Two copies of a stand with weather, signs of the season and batches: told once, filled up, and agreed on."""

from __future__ import annotations

import shutil
from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from standmap.jobs.bring import BringOptions, bring
from standmap.jobs.signs import note_sign
from standmap.stand.records import SeasonSign, Source, Weather
from standmap.stand.tapping import Batch
from tests.jobs.two_copies import NOW, agree, edit, merged, planted, proposed, put, things

TODAY = date(2026, 5, 28)
LATER = datetime(2026, 5, 28, 7, 30, tzinfo=UTC)


@pytest.fixture
def copies(tmp_path: Path) -> tuple[Path, Path]:
    ours = planted(tmp_path)
    theirs = tmp_path / "copy.gpkg"
    shutil.copy(ours, theirs)
    return ours, theirs


def brought(stand: Path, text: str) -> None:
    from standmap.store.stand_file import StandFile

    source = stand.parent / f"{stand.stem}.csv"
    source.write_text(text)
    with StandFile.open(stand) as file:
        bring(file, [source], BringOptions(), LATER)


def weather_of(stand: Path) -> list[tuple[object, ...]]:
    rows = things(stand, Weather).values()
    return sorted((w.station, w.day.isoformat(), w.least_c, w.most_c, w.rain_mm) for w in rows)


def test_the_same_file_in_both_is_there_once(copies: tuple[Path, Path]) -> None:
    text = "station,date,tmin_c,tmax_c\n" + "".join(f"A,2026-03-{n},0,{n}\n" for n in range(10, 28))
    for stand in copies:
        brought(stand, text)
    report = merged(*copies)
    assert len(things(copies[0], Weather)) == 18
    assert report.cautions == ()
    agree(copies[1], copies[0])


def test_each_copy_brings_days_of_its_own(copies: tuple[Path, Path]) -> None:
    ours, theirs = copies
    brought(ours, "station,date,tmin_c,tmax_c\nA,2026-03-26,0,6\nA,2026-03-27,0,7\n")
    brought(theirs, "station,date,rain_mm,tmax_c\nA,2026-03-27,2,7\nB,2026-03-27,1,5\n")
    merged(ours, theirs)
    assert weather_of(ours) == [
        ("A", "2026-03-26", 0.0, 6.0, None),
        ("A", "2026-03-27", 0.0, 7.0, 2.0),
        ("B", "2026-03-27", None, 5.0, 1.0),
    ]
    assert all(w.source_key in things(ours, Source) for w in things(ours, Weather).values())
    agree(theirs, ours)


def test_a_sign_that_both_noted_is_one(copies: tuple[Path, Path]) -> None:
    from standmap.store.stand_file import StandFile

    for stand, remark in zip(copies, ("", "by the gate"), strict=True):
        with StandFile.open(stand) as file:
            note_sign(file, "leaf-out", date(2026, 5, 4), TODAY, LATER, remark=remark)
    edit(copies[1], put(SeasonSign("s2", "first sap", date(2026, 3, 20))))
    merged(*copies)
    signs = sorted((s.what, s.seen_on, s.note) for s in things(copies[0], SeasonSign).values())
    assert signs == [("first sap", date(2026, 3, 20), ""), ("leaf-out", date(2026, 5, 4), "by the gate")]
    agree(copies[1], copies[0])


def test_batches_of_both_stay_apart(copies: tuple[Path, Path]) -> None:
    edit(copies[0], put(Batch("b1", "Friday", date(2026, 3, 27), "", 9000.0)))
    edit(copies[1], put(Batch("b2", "Friday", date(2026, 3, 27), "", 4000.0)))
    report = merged(*copies)
    assert report.cautions == (
        "the name 'Friday' is taken 2 times now (batch): give one another name, or merge the two",
    )
    assert sorted(b.volume_ml or 0 for b in things(copies[0], Batch).values()) == [4000.0, 9000.0]
    agree(copies[1], copies[0])


def test_a_day_that_both_tell_anew_is_asked_about(copies: tuple[Path, Path]) -> None:
    ours, theirs = copies
    edit(ours, put(Weather("w1", date(2026, 3, 20), 0.0, None, 5.0, station="A")), at=NOW)
    shutil.copy(ours, theirs)
    brought(ours, "station,date,tmax_c\nA,2026-03-20,6\n")
    brought(theirs, "station,date,tmax_c\nA,2026-03-20,7\n")
    (asked,) = proposed(ours, theirs).conflicts
    assert (asked.table, asked.name, asked.field) == ("weather", "A, 2026-03-20", "highest temperature")
