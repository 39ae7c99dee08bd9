from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime, time, timedelta, timezone
from pathlib import Path

import pytest

from standmap.errors import UserError
from standmap.formats.records_csv import FoundRecord, read_records_csv, typed_record, write_records_csv
from standmap.stand.snapshot import Stand
from standmap.stand.tapping import Act, Collection, Observation, TapHole, Wound
from standmap.stand.tree import Standing, Tree

MakeFile = Callable[..., Path]


@pytest.fixture
def file(tmp_path: Path) -> MakeFile:
    def made(content: str | bytes, name: str = "some.file") -> Path:
        path = tmp_path / name
        path.write_bytes(content.encode("utf-8") if isinstance(content, str) else content)
        return path

    return made


HEADER = "tree,hole,date,time,what,litres,height_cm,side_deg,depth_mm,bit_mm,note\n"


def test_a_table_of_returns(file: MakeFile) -> None:
    found = read_records_csv(
        file(
            HEADER + "A 1,,2025-04-01,7:30,tapped,,80,180,35,10,south side\n"
            "A 1,1,2.4.2025,,collected,3.1,,,,,\n"
            "'=A2,,2025-04-02,,looked_at,,,,,,\n"
        )
    )
    assert found.records == (
        FoundRecord(
            2,
            "A 1",
            None,
            date(2025, 4, 1),
            time(7, 30),
            "tapped",
            height_mm=800.0,
            side_deg=180.0,
            depth_mm=35.0,
            bit_mm=10.0,
            note="south side",
        ),
        FoundRecord(3, "A 1", "1", date(2025, 4, 2), None, "collected", volume_ml=3100.0, given="3.1"),
        FoundRecord(4, "=A2", None, date(2025, 4, 2), None, "looked at"),
    )


def test_only_tree_date_and_what_are_needed(file: MakeFile) -> None:
    content = "Tree;Date;What;Litres;weather\nA;2025-04-02;COLLECTED;3,1;rain\n".encode("utf-16")
    found = read_records_csv(file(content))
    assert found.records == (FoundRecord(2, "A", None, date(2025, 4, 2), None, "collected", 3100.0, "3,1"),)
    assert found.told == (
        "the text is UTF-16",
        "columns are separated by a semicolon",
        "columns not used: weather",
    )


@pytest.mark.parametrize(
    "what", ["tapped", "slit", "taken out", "taken_out", "Taken-Out", "plugged", "left_open", "trimmed", "looked at"]
)
def test_words_for_what_was_done(file: MakeFile, what: str) -> None:
    (record,) = read_records_csv(file(f"tree,date,what\nA,2025-04-01,{what}\n")).records
    assert record.what == what.lower().replace("_", " ").replace("-", " ")


@pytest.mark.parametrize(
    ("text", "at"),
    [
        ("07:30", time(7, 30)),
        ("7.30", time(7, 30)),
        ("07:30:15.25", time(7, 30, 15, 250_000)),
        ("07:30Z", time(7, 30, tzinfo=UTC)),
        ("07:30+03:00", time(7, 30, tzinfo=timezone(timedelta(hours=3)))),
    ],
)
def test_times_of_day(file: MakeFile, text: str, at: time) -> None:
    (record,) = read_records_csv(file(f"tree,date,time,what\nA,2025-04-01,{text},trimmed\n")).records
    assert record.at == at
    assert record.at.utcoffset() == at.utcoffset()


@pytest.mark.parametrize(
    ("row", "why"),
    [
        (",,2025-04-01,,tapped,,,,,,", "no tree is named"),
        ("A,,,,tapped,,,,,,", "there is no date"),
        ("A,,03/04/2025,,tapped,,,,,,", "could be two days"),
        ("A,,2025-04-01,25:00,tapped,,,,,,", "time '25:00' is not a time of day"),
        ("A,,2025-04-01,,sung to,,,,,,", "what 'sung to' is none of tapped, slit, collected, taken out"),
        ("A,,2025-04-01,,,,,,,,", "what '' is none of"),
        ("A,,2025-04-01,,collected,,,,,,", "litres are missing"),
        ("A,,2025-04-01,,collected,-1,,,,,", "litres -1 is not from 0 to 60"),
        ("A,,2025-04-01,,collected,61,,,,,", "litres 61 is not from 0 to 60"),
        ("A,,2025-04-01,,collected,much,,,,,", "litres 'much' is not a number"),
        ("A,,2025-04-01,,plugged,2,,,,,", "litres go with 'collected', not with 'plugged'"),
        ("A,,2025-04-01,,tapped,,301,,,,", "height_cm 301 is not from 0 to 300"),
        ("A,,2025-04-01,,tapped,,,360,,,", "side_deg 360 is not from 0 and below 360"),
        ("A,,2025-04-01,,tapped,,,-1,,,", "side_deg -1"),
        ("A,,2025-04-01,,tapped,,,,0,,", "depth_mm 0 is not above 0 to 100"),
        ("A,,2025-04-01,,tapped,,,,101,,", "depth_mm 101"),
        ("A,,2025-04-01,,tapped,,,,,0,", "bit_mm 0 is not above 0 to 50"),
        ("A,,2025-04-01,,tapped,,,,,51,", "bit_mm 51"),
        ("A,,2025-04-01,,collected,3,1,,,,,x", "12 cells, but the header names 11"),
    ],
)
def test_one_row_at_fault_refuses_the_table(file: MakeFile, row: str, why: str) -> None:
    with pytest.raises(UserError) as refusal:
        read_records_csv(file(f"{HEADER}B,,2025-04-01,,tapped,,,,,,\n{row}\n", "returns.csv"))
    text = str(refusal.value)
    assert text.startswith(f"returns.csv, line 3: {why}") or (text.startswith("returns.csv, line 3: ") and why in text)
    assert text.endswith("; mend the table and give it again; nothing was written")
    assert "more line" not in text
    assert text.isprintable()


@pytest.mark.parametrize(
    "value", ["litres,0", "litres,60", "height_cm,0", "height_cm,300", "side_deg,0", "side_deg,359.9"]
)
def test_bounds_themselves(file: MakeFile, value: str) -> None:
    name, number = value.split(",")
    what = "collected" if name == "litres" else "tapped"
    content = f"tree,date,what,{name}\nA,2025-04-01,{what},{number}\n"
    assert len(read_records_csv(file(content)).records) == 1


def test_all_rows_at_fault_are_counted(file: MakeFile) -> None:
    with pytest.raises(UserError, match=r"^r\.csv, line 2: no tree is named \(and 2 more lines are at fault\); "):
        read_records_csv(file("tree,date,what\n,x,y\nA,x,tapped\nB,2025-04-01,y\nC,2025-04-01,tapped\n", "r.csv"))
    with pytest.raises(UserError, match=r"\(and 1 more line is at fault\)"):
        read_records_csv(file("tree,date,what\n,x,y\nA,x,tapped\n"))


@pytest.mark.parametrize(
    ("content", "what"),
    [
        ("tree,what\nA,tapped\n", ": has no column date; the columns are tree, hole, date"),
        ("hole,note\n1,x\n", ": has no column tree and no column date and no column what"),
        ("tree,date,what,Litres,litres\nA,2025-04-01,tapped,,\n", ": two columns are called 'litres'"),
        ("nothing,here\n1,2\n", ", line 1: was read as a table, but 'nothing,here' names no column"),
        ("tree\nA\n", ", line 1: has one column only"),
        ('tree,date,what\n"A,2025-04-01,tapped\n', ", line 2: a quote is opened here and never closed"),
        ("", ": is empty"),
    ],
)
def test_what_is_no_table_of_returns(file: MakeFile, content: str, what: str) -> None:
    with pytest.raises(UserError) as refusal:
        read_records_csv(file(content))
    assert str(refusal.value).startswith(f"some.file{what}")


def test_what_is_typed_is_checked_as_a_row_is() -> None:
    row = {"tree": "A", "date": "2025-04-02", "what": "collected", "litres": "3,1"}
    assert typed_record(row) == FoundRecord(0, "A", None, date(2025, 4, 2), None, "collected", 3100.0, "3,1")
    with pytest.raises(UserError, match="litres 61 is not from 0 to 60"):
        typed_record({**row, "litres": "61"})


def test_returns_are_written_in_an_order_in_which_they_can_be_read(file: MakeFile) -> None:
    day = date(2025, 4, 2)
    stand = Stand(
        trees=(Tree("k1", "A", (29.0, 62.0)), Tree("k2", "a", (29.1, 62.0)), Tree("k3", "=B", (29.2, 62.0))),
        holes=(
            TapHole("h1", "k1", 1, Wound.HOLE, date(2025, 4, 1), datetime(2025, 4, 1, 23, tzinfo=UTC)),
            TapHole("h3", "k3", 2, Wound.SLIT, day, datetime(2025, 4, 1, 23, tzinfo=UTC), 801.5, 12.5),
        ),
        collections=(
            Collection("c1", "h1", day, None, 3100.0, "3,1", "l"),
            Collection("c2", "h3", day, None, 946.352946, "0.25", "us_gal"),
        ),
        observations=(
            Observation("o1", "k1", "h1", Act.TAKEN_OUT, day),
            Observation("o2", "k3", None, Act.LOOKED_AT, day),
            Observation("o3", "k3", None, Act.FELLED, day),
        ),
    )
    records = read_records_csv(file(write_records_csv(stand))).records
    assert [(r.tree, r.hole, r.what, r.given) for r in records] == [
        ("k1", "1", "tapped", None),  # two trees are called A
        ("=B", "2", "slit", None),
        ("k1", "1", "collected", "3,1"),
        ("=B", "2", "collected", "0.946352946"),
        ("k1", "1", "taken out", None),
        ("=B", None, "looked at", None),
    ]
    assert records[0].at == time(23, tzinfo=UTC)
    assert records[1].at is None  # its moment falls on the day before
    assert (records[1].height_mm, records[1].side_deg) == (801.5, 12.5)
    assert records[3].volume_ml == 946.352946


def test_trees_that_cannot_go_by_their_name_go_by_their_id(file: MakeFile) -> None:
    trees = (
        Tree("k1", "", (29.0, 62.0)),
        Tree("k2", "n" * 200, (29.0, 62.0)),
        Tree("k3", " B ", (29.0, 62.0)),
        Tree("k4", "k1", (29.0, 62.0)),
        Tree("k5", "C", (29.0, 62.0), standing=Standing.MERGED, merged_into="k1"),
    )
    holes = tuple(TapHole(f"h{t.key}", t.key, 1, Wound.HOLE, date(2025, 4, 1)) for t in trees)
    records = read_records_csv(file(write_records_csv(Stand(trees=trees, holes=holes)))).records
    assert [record.tree for record in records] == ["k1", "k2", "k3", "k4"]
