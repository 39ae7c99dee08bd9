"""Time notes: told from a list of trees by their times, and read like one otherwise."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta, timezone
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from standmap.errors import UserError
from standmap.formats import door
from standmap.formats.notes_csv import read_notes_csv
from standmap.stand.tree import Soundness

MOMENT = datetime(2026, 3, 20, 5, 10, 30, tzinfo=UTC).timestamp()


def written(folder: Path, text: str, encoding: str = "utf-8") -> Path:
    path = folder / "notes.csv"
    path.write_text(text, encoding=encoding)
    return path


@pytest.mark.parametrize(
    ("header", "row", "zone_told"),
    [
        ("time", "2026-03-20T05:10:30Z", True),
        ("Time", "2026-03-20T07:10:30+02:00", True),
        ("timestamp", "2026-03-20 05:10:30", False),
        ("date;time", "20.3.2026;5:10:30", False),
        ("date;time", "2026-03-20;05.10:30", False),
        ("day;clock", "2026-03-20;05:10:30", False),
        ("date", "20.03.2026 05:10:30", False),
        ("utc", "2026-03-20 05:10:30", True),
        ("time", "2026-03-20T07:10:30.000+02:00", True),
    ],
)
def test_a_moment_is_read_however_it_is_written(tmp_path: Path, header: str, row: str, zone_told: bool) -> None:
    path = written(tmp_path, f"{header};tag;girth_cm\n{row};B7;84,2\n")
    found = door.read(path)
    assert found.format == "notes"
    (note,) = found.notes
    assert (note.time_s, note.zone_told) == (MOMENT, zone_told)
    assert note.tree.name == "B7"
    assert note.tree.measurements[0].girth_mm == pytest.approx(842)
    assert note.tree.measurements[0].measured_on == date(2026, 3, 20)


def test_everything_of_a_tree_can_be_noted(tmp_path: Path) -> None:
    path = written(
        tmp_path, "time,species,soundness,dbh_cm,note\n2026-03-20T05:10:30Z,silver birch,sound,25,leans\n,,,,empty\n"
    )
    found = door.read(path)
    (note,) = found.notes
    tree = note.tree
    assert (tree.name, tree.species, tree.soundness, tree.note) == (None, "silver birch", Soundness.SOUND, "leans")
    assert tree.measurements[0].diameter_mm == 250
    assert [(s.where, s.why) for s in found.skipped] == [("line 3", "tells no time")]
    assert found.read == 2


def test_a_day_that_is_not_repeated_goes_on_below(tmp_path: Path) -> None:
    found = door.read(written(tmp_path, "date,time,name\n2026-03-20,05:10:30,B1\n,05:11:30,B2\n,6:00,B3\n"))
    assert [n.time_s - MOMENT for n in found.notes] == [0, 60, 2970]


@pytest.mark.parametrize(
    "text",
    [
        "name,girth_mm,date\nB7,842,2026-03-20\n",
        "name,lon,lat,time\nB7,27.6,61.9,2026-03-20T05:10:30Z\n",
        "id,name,girth_mm,date\nx1,B7,842,2026-03-20T05:10:30\n",
        "name,x,y,time\nB7,1,2,05:10:30\n",
    ],
)
def test_a_list_of_trees_stays_one(tmp_path: Path, text: str) -> None:
    path = written(tmp_path, text)
    assert door.read(path, crs="EPSG:3067").format == "csv"


@pytest.mark.parametrize(
    ("rows", "why"),
    [
        ("25:10:30,B1", "not a time of day"),
        ("noon,B1", "no time of day"),
        ("2026-02-30 05:10:30,B1", "not a day"),
        ("3/4/2026 05:10,B1", "two days"),
        ("2026-03-20 05:10:30,B1,9", "3 cells"),
    ],
)
def test_a_row_that_cannot_be_used_is_told_with_its_line(tmp_path: Path, rows: str, why: str) -> None:
    found = read_notes_csv(written(tmp_path, f"time,name\n2026-03-20 05:10:30,B0\n{rows}\n"))
    assert [n.where for n in found.notes] == ["line 2"]
    assert found.skipped[0].where == "line 3"
    assert why in found.skipped[0].why


def test_a_time_of_day_without_any_day_is_told(tmp_path: Path) -> None:
    found = door.read(written(tmp_path, "time,name\n05:10:30,B0\n"))
    assert "add a column date" in found.skipped[0].why


def test_two_columns_of_one_name_are_refused(tmp_path: Path) -> None:
    with pytest.raises(UserError, match=r"notes\.csv: two columns are called 'time'"):
        read_notes_csv(written(tmp_path, "time,time,name\n2026-03-20 05:10:30,05:10:30,B0\n"))


moments = st.floats(6e8, 3.7e9).map(lambda s: datetime.fromtimestamp(s, UTC))
zones = st.one_of(st.none(), st.integers(-12 * 4, 14 * 4).map(lambda q: timezone(timedelta(minutes=15 * q))))


@given(moment=moments, zone=zones, name=st.from_regex(r"[A-Z]{1,3}[0-9]{1,4}", fullmatch=True))
def test_any_moment_comes_back(
    tmp_path_factory: pytest.TempPathFactory, moment: datetime, zone: timezone | None, name: str
) -> None:
    whole = moment.replace(microsecond=0, tzinfo=zone)
    path = written(tmp_path_factory.mktemp("n"), f"time,name\n{whole.isoformat()},{name}\n")
    (note,) = door.read(path).notes
    assert note.time_s == (whole if zone else whole.replace(tzinfo=UTC)).timestamp()
    assert note.zone_told is (zone is not None)
    assert note.tree.name == name


@given(text=st.text(st.characters(codec="utf-8", exclude_characters="\0"), max_size=200))
def test_any_text_is_read_or_refused_in_one_line(tmp_path_factory: pytest.TempPathFactory, text: str) -> None:
    path = written(tmp_path_factory.mktemp("n"), f"time,name\n{text}\n")
    refusal = ""
    try:
        found = read_notes_csv(path)
        assert found.read == len(found.notes) + len(found.skipped)
    except UserError as error:
        refusal = str(error)
    assert not refusal or (refusal.startswith("notes.csv") and "\n" not in refusal)
