"""Returns of a round: by tree, as one total for a trip, put right on the same day, and never twice."""

from __future__ import annotations

from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from standmap.errors import UserError
from standmap.jobs.record import record_file
from standmap.jobs.returns import (
    Return,
    TripTotal,
    Volume,
    WrittenAlreadyError,
    doubt,
    read_litres,
    read_total,
    store_returns,
    written_down,
)
from standmap.jobs.taking_back import undo
from standmap.jobs.trip_totals import shares_ml
from standmap.stand.tapping import TapHole, Wound
from standmap.stand.tree import Tree
from standmap.store.stand_file import StandFile
from standmap.units_shown import System, UnitsShown

NOW = datetime(2026, 3, 28, 7, 30, tzinfo=UTC)
DAY = date(2026, 3, 28)
METRIC = UnitsShown()


@pytest.fixture
def file(stand_file: StandFile) -> StandFile:
    with stand_file.writing("plant", NOW) as writing:
        for k in range(4):
            writing.insert(
                Tree(f"t{k}", f"B{k}", (27.0 + k / 1000, 62.0), "Betula pendula"),
                TapHole(f"h{k}", f"t{k}", 1, Wound.HOLE, date(2026, 3, 25)),
            )
    return stand_file


def litres(text: str) -> Volume:
    return read_litres(text, METRIC)


def rows(file: StandFile) -> list[tuple[str, float, str, str, str]]:
    return [(c.hole_key, c.volume_ml, c.given, c.given_unit, c.note) for c in file.stand().collections]


def test_returns_are_one_step_that_can_be_taken_back(file: StandFile) -> None:
    steps = len(file.history())
    report = store_returns(file, DAY, [Return("h0", litres("2,5"), "cloudy"), Return("h2", litres("3"))], [], DAY, NOW)
    assert (report.collections, report.cautions) == (2, ())
    assert rows(file) == [("h0", 2500, "2.5", "l", "cloudy"), ("h2", 3000, "3", "l", "")]
    assert len(file.history()) == steps + 1
    assert file.history()[-1].label == "returns of 2026-03-28"
    undo(file, NOW)
    assert rows(file) == []


def test_a_total_is_shared_as_was_expected_and_says_so(file: StandFile) -> None:
    total = TripTotal(1, {"h0": 3.0, "h1": 1.0, "h2": 1.0}, read_total("12.5 l", METRIC))
    store_returns(file, DAY, [Return("h3", litres("2"))], [total], DAY, NOW)
    note = "share of a total of 12.5 L for trip 1"
    assert rows(file) == [
        ("h3", 2000, "2", "l", ""),
        ("h0", 7500, "7.5", "l", note),
        ("h1", 2500, "2.5", "l", note),
        ("h2", 2500, "2.5", "l", note),
    ]


def test_the_shares_of_one_total_know_each_other(file: StandFile) -> None:
    totals = [
        TripTotal(1, {"h0": 2.0, "h1": 1.0}, read_total("6", METRIC)),
        TripTotal(2, {"h2": 1.0}, read_total("1", METRIC)),
    ]
    store_returns(file, DAY, [Return("h3", litres("4.5"), overflowed=True)], totals, DAY, NOW)
    of = {c.hole_key: c for c in file.stand().collections}
    assert of["h0"].total_key == of["h1"].total_key
    assert of["h0"].total_key not in {None, of["h2"].total_key}
    assert of["h3"].total_key is None
    assert [key for key, taken in of.items() if taken.overflowed] == ["h3"]


def test_a_gallon_is_said_whose_in_the_note(file: StandFile) -> None:
    imperial = UnitsShown(System.IMPERIAL)
    total = TripTotal(2, {"h0": 1.0, "h1": 1.0}, read_total("1", imperial), "spilt a little")
    store_returns(file, DAY, [], [total], DAY, NOW)
    assert [row[1] for row in rows(file)] == pytest.approx([2273, 2273.09])
    assert {row[4] for row in rows(file)} == {"share of a total of 1 imp gal for trip 2; spilt a little"}


def test_a_second_entry_of_the_day_is_asked_about_and_put_in_place(file: StandFile) -> None:
    store_returns(file, DAY, [Return("h0", litres("2.5"))], [], DAY, NOW)
    assert set(written_down(file.stand(), ["h0", "h1"], DAY)) == {"h0"}
    before = rows(file)
    with pytest.raises(WrittenAlreadyError, match="B0: litres of 2026-03-28 are written down already") as caught:
        store_returns(file, DAY, [Return("h0", litres("2.8")), Return("h1", litres("1"))], [], DAY, NOW)
    assert caught.value.trees == ("B0",)
    assert rows(file) == before
    report = store_returns(
        file, DAY, [Return("h0", litres("2.8")), Return("h1", litres("1"))], [], DAY, NOW, in_place=True
    )
    assert report.cautions == ()
    assert [row[:2] for row in rows(file)] == [("h0", 2800), ("h1", 1000)]
    undo(file, NOW)
    assert rows(file) == before


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("-1", "less than nothing"),
        ("90", "more than 60.0 L"),
        ("lots", "is not a volume"),
        ("", "is not a volume"),
        ("2 gallons", "imperial or US"),
        ("2 kg", "no unit of a volume"),
    ],
)
def test_what_cannot_be_litres(text: str, why: str) -> None:
    with pytest.raises(UserError, match=why):
        litres(text)


def test_what_is_unlikely_is_asked_about() -> None:
    assert doubt(litres("4.5"), 1, METRIC) == ""
    assert doubt(litres("4.6"), 1, METRIC) == "more than one vessel of 4.5 L: a slip?"
    assert doubt(read_total("9.1", METRIC), 2, METRIC) == "more than 2 vessels of 4.5 L: a slip?"
    with pytest.raises(UserError, match=r"more than 200"):
        read_total("201", METRIC)


def test_what_is_refused_writes_nothing(file: StandFile) -> None:
    one = Return("h0", litres("2"))
    for returns, day, why in (
        ([], DAY, "no litres were typed"),
        ([one], date(2026, 3, 29), "is after today"),
        ([Return("gone", litres("2"))], DAY, "no longer in the stand"),
        ([Return("h0", litres("2"), "x" * 10_000)], DAY, "B0: the note has 10000 characters"),
        ([one], date(2026, 3, 24), "B0 has no open hole 1 on 2026-03-24"),
    ):
        with pytest.raises(UserError, match=why):
            store_returns(file, day, returns, [], DAY, NOW)
    with pytest.raises(ValueError, match="two entries"):
        store_returns(file, DAY, [one], [TripTotal(1, {"h0": 1.0}, litres("2"))], DAY, NOW)
    assert rows(file) == []


@given(st.integers(0, 200_000), st.lists(st.floats(0, 5), min_size=1, max_size=12))
def test_shares_add_up_and_none_is_below_nothing(total_ml: int, expected: list[float]) -> None:
    shares = shares_ml(float(total_ml), expected)
    assert sum(shares) == total_ml
    assert min(shares) >= 0
    assert len(shares) == len(expected)


def test_a_table_of_returns_may_give_one_total_a_trip(file: StandFile, tmp_path: Path) -> None:
    path = tmp_path / "returns.csv"
    path.write_text(
        "tree,date,what,litres,trip,trip_litres,note\n"
        "B0,2026-03-28,collected,,1,8,\n"
        "B1,2026-03-28,collected,,1,,ants\n"
        'B2,2026-03-28,collected,,2,"2,5",\n'
        "B3,2026-03-28,collected,1.5,2,,\n"
    )
    report = record_file(file, path, DAY, NOW)
    assert report.collections == 4
    assert rows(file) == [
        ("h0", 4000, "4", "l", "share of a total of 8 L for trip 1"),
        ("h1", 4000, "4", "l", "share of a total of 8 L for trip 1; ants"),
        ("h2", 2500, "2.5", "l", "share of a total of 2,5 L for trip 2"),
        ("h3", 1500, "1.5", "l", ""),
    ]


@pytest.mark.parametrize(
    ("lines", "why"),
    [
        ("B0,collected,,1,", r"returns.csv, line 2: trip 1 of 2026-03-28 has no total; write it in 'trip_litres'"),
        ("B0,collected,,1,8\nB1,collected,,1,9", r"line 2: trip 1 of 2026-03-28 has 2 totals"),
        ("B0,collected,2,1,8", r"line 2: trip_litres go with 'collected', a trip and no litres"),
        ("B0,looked at,,1,8", r"line 2: trip_litres go with 'collected'"),
        ("B0,collected,,,8", r"line 2: litres are missing"),
        ("B0,collected,,1,201", r"line 2: trip_litres 201 is not from 0 to 200"),
        ("B9,collected,,1,8", r"line 2: no tree is called 'B9'"),
    ],
)
def test_totals_at_fault_are_refused(file: StandFile, tmp_path: Path, lines: str, why: str) -> None:
    path = tmp_path / "returns.csv"
    dated = "\n".join(line.replace(",", ",2026-03-28,", 1) for line in lines.split("\n"))
    path.write_text(f"tree,date,what,litres,trip,trip_litres\n{dated}\n")
    with pytest.raises(UserError, match=why):
        record_file(file, path, DAY, NOW)
    assert rows(file) == []
