"""`round` for tapping and closing, for whoever wants it otherwise, and where a tank would stand best."""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from standmap.cli.main import run

TREES = "name,lon,lat,species,girth_mm\n" + "".join(
    f"B{k},{27.6 + (k % 3) * 0.001:.4f},{61.9 + (k // 3) * 0.0004:.4f},Betula pendula,900\n" for k in range(6)
)
PLACES = """<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1">
<wpt lat="61.8998" lon="27.5995"><name>gate</name><type>gate</type></wpt>
<wpt lat="61.9002" lon="27.6010"><name>drum</name><type>tank</type></wpt></gpx>"""


@pytest.fixture
def wood(tmp_path: Path, today: date, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> str:
    assert today == date(2026, 3, 28)
    (tmp_path / "trees.csv").write_text(TREES)
    (tmp_path / "places.gpx").write_text(PLACES)
    (tmp_path / "taps.csv").write_text("tree,date,what\n" + "".join(f"B{k},2026-03-25,tapped\n" for k in range(3)))
    monkeypatch.chdir(tmp_path)
    assert run(["new", "wood.gpkg"]) == 0
    assert run(["bring", "wood.gpkg", "trees.csv", "places.gpx"]) == 0
    assert run(["record", "wood.gpkg", "taps.csv"]) == 0
    assert run(["mark", "wood.gpkg", "B3", "B4", "--season", "2026"]) == 0
    capsys.readouterr()
    return "wood.gpkg"


def answer(capsys: pytest.CaptureFixture[str], *arguments: str) -> dict[str, Any]:
    capsys.readouterr()
    assert run([*arguments, "--json"]) == 0
    found: dict[str, Any] = json.loads(capsys.readouterr().out)
    return found


def test_tapping_goes_to_the_marked_trees_and_asks_at_each(wood: str, capsys: pytest.CaptureFixture[str]) -> None:
    found = answer(capsys, "round", wood, "--for", "tapping", "--out", "walk", "--sets-out", "07:00")
    stops = [stop for trip in found["trips"] for stop in trip["stops"]]
    assert {(stop["tree"], stop["hole"], stop["hole_id"]) for stop in stops} == {("B3", 1, None), ("B4", 1, None)}
    assert stops[0]["todo"][0]["text"] == f"read the tag: {stops[0]['tree']}"
    assert (found["for"], found["sets_out"][:16]) == ("tapping", "2026-03-28T07:00")
    assert {line["what"]: line["count"] for line in found["kit"]}["drill with a full battery"] == 1
    assert run(["round", wood, "--for", "tapping"]) == 0
    shown = capsys.readouterr()
    assert "may I drill this one? yes: " in shown.out
    assert "use a clean, food-grade bit" in shown.err


def test_closing_goes_to_the_open_wounds(wood: str, capsys: pytest.CaptureFixture[str]) -> None:
    found = answer(capsys, "round", wood, "--for", "closing", "--date", "2026-04-12")
    assert sorted(stop["tree"] for trip in found["trips"] for stop in trip["stops"]) == ["B0", "B1", "B2"]
    assert found["walk"] is None
    assert run(["round", wood, "--for", "closing", "--date", "2026-03-01"]) == 1
    assert capsys.readouterr().err.endswith("nothing to close: no wound is open on 2026-03-01\n")


def test_a_walk_that_is_given_out_is_kept_once(wood: str, capsys: pytest.CaptureFixture[str]) -> None:
    first = answer(capsys, "round", wood, "--out", "walk")
    again = answer(capsys, "round", wood, "--out", "walk")
    assert first == again
    assert first["walk"] is not None
    assert first["walk"] in Path("walk/walk.html").read_text()
    steps = answer(capsys, "log", wood)["steps"]
    assert sum("given out" in step["label"] for step in steps) == 1


def test_a_stand_that_another_program_writes_gives_its_walk_out_all_the_same(
    wood: str, capsys: pytest.CaptureFixture[str]
) -> None:
    with closing(sqlite3.connect(wood, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        assert run(["round", wood, "--out", "walk"]) == 0
    assert "the walk is not kept in the stand" in capsys.readouterr().err
    assert Path("walk/walk.pdf").exists()


def test_where_a_tank_would_stand_best(wood: str, capsys: pytest.CaptureFixture[str]) -> None:
    found = answer(capsys, "round", wood, "--where-tank", "--seconds", "1")
    assert {place["place"] for place in found["places"]} == {"gate", "drum"}
    assert found["places"][0]["length_m"] <= found["places"][1]["length_m"]
    assert not Path("walk").exists()


def test_two_collectors_and_a_tank_on_the_way(wood: str, capsys: pytest.CaptureFixture[str]) -> None:
    found = answer(
        capsys, "round", wood, "--from", "gate", "--tank", "drum", "--collector", "Ilse, 9 kg, 06:10", "--collector",
        "Ott, 12 kg", "--sets-out", "06:30", "--contact", "  Aino,   040 ", "--seconds", "2",
    )  # fmt: skip
    assert {trip["who"] for trip in found["trips"]} <= {"Ilse", "Ott"}
    assert all(trip["max_load_kg"] <= {"Ilse": 9, "Ott": 12}[trip["who"]] for trip in found["trips"])
    assert {trip["to"] for trip in found["trips"]} <= {"gate", "drum"}
    assert (found["aim"], found["contact"], found["sets_out"][11:16]) == ("time", "Aino, 040", "06:10")


@pytest.mark.parametrize(
    ("more", "why"),
    [
        (["--for", "picking"], "'picking' is nothing that a walk is for"),
        (["--sets-out", "25:00"], "'25:00' is no time of day"),
        (["--carrying", "3"], "--carrying says what is carried, but not where"),
        (["--together", "B1"], "--together names one tree only"),
        (["--aim", "beauty"], "'beauty' is nothing that a walk can aim at"),
        (["--tank", "barn"], "no place is called 'barn'"),
        (["--barrow", "500"], "a sledge or barrow of 500 kg is out of bounds"),
        (["--seconds", "0"], "a search of 0 s is out of bounds"),
        (
            ["--sets-out", "07:00", "--latest", "07:08", "--first", "B2", "--seconds", "1"],
            "B2 is left out: no time is left for it before the latest finish; choose another tree",
        ),
        (["--collectors", "21"], "21 collectors are out of bounds"),
    ],
)
def test_wishes_that_cannot_be(wood: str, capsys: pytest.CaptureFixture[str], more: list[str], why: str) -> None:
    assert run(["round", wood, "--out", "walk", *more]) == 2
    (line,) = [line for line in capsys.readouterr().err.splitlines() if line.startswith("standmap: ")]
    assert why in line
    assert not Path("walk").exists()


@pytest.mark.parametrize(
    ("more", "why"),
    [
        (["--first", "B5"], "'B5' is no stop of this round; the stops are: B0, B1, B2"),
        (["--last", "b1", "--first", "B1"], "B1 cannot be both first and last"),
        (["--first", "B1", "--not-today", "B1"], "'B1' is no stop of this round"),
        (["--out", "wood.gpkg"], "wood.gpkg: is a file, not a folder; name another folder"),
        (["--out", "trees.csv/walk"], "trees.csv: is a file, not a folder; name another folder"),
        (["--together", "B1,B1"], "--together names one tree only"),
    ],
)
def test_what_cannot_be_is_said_before_anything_is_planned(
    wood: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, more: list[str], why: str
) -> None:
    def too_late(*_: object, **__: object) -> None:
        raise AssertionError("a walk was planned first")

    monkeypatch.setattr("standmap.jobs.round.plan_posed", too_late)
    assert run(["round", wood, *more]) == 2
    assert why in capsys.readouterr().err


def test_a_walk_on_which_every_tree_was_seen_to_says_so(wood: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["round", wood, "--done", "B0,B1,B2"]) == 1
    assert "nothing to collect on 2026-03-28: every tree was seen to" in capsys.readouterr().err
