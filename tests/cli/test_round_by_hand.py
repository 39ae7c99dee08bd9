"""`round` with a first or last tree, or in an order of one's own; `record` with one total for a trip."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from standmap.cli.main import run

TREES = "name,lon,lat,species,girth_mm\n" + "".join(
    f"B{k},{27.6 + (k % 3) * 0.001:.4f},{61.9 + (k // 3) * 0.0004:.4f},Betula pendula,900\n" for k in range(6)
)
GATE = """<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1">
<wpt lat="61.8998" lon="27.5995"><name>gate</name><type>gate</type></wpt></gpx>"""


@pytest.fixture
def wood(tmp_path: Path, today: date, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> str:
    assert today == date(2026, 3, 28)
    (tmp_path / "trees.csv").write_text(TREES)
    (tmp_path / "gate.gpx").write_text(GATE)
    (tmp_path / "taps.csv").write_text("tree,date,what\n" + "".join(f"B{k},2026-03-25,tapped\n" for k in range(6)))
    monkeypatch.chdir(tmp_path)
    assert run(["new", "wood.gpkg"]) == 0
    assert run(["bring", "wood.gpkg", "trees.csv", "gate.gpx"]) == 0
    assert run(["record", "wood.gpkg", "taps.csv"]) == 0
    capsys.readouterr()
    return "wood.gpkg"


def planned(wood: str, capsys: pytest.CaptureFixture[str], *more: str) -> dict[str, Any]:
    assert run(["round", wood, "--out", "walk", "--json", *more]) == 0
    found: dict[str, Any] = json.loads(capsys.readouterr().out)
    return found


def walked(found: dict[str, Any]) -> list[list[str]]:
    return [[stop["tree"] for stop in trip["stops"]] for trip in found["trips"]]


def test_the_first_and_the_last_tree_are_as_asked(wood: str, capsys: pytest.CaptureFixture[str]) -> None:
    best = planned(wood, capsys)
    assert "by_hand" not in best
    stops = walked(best)
    first, last = stops[0][1], stops[-1][1]
    found = planned(wood, capsys, "--first", first, "--last", last)
    assert (walked(found)[0][0], walked(found)[-1][-1]) == (first, last)
    assert found["by_hand"]["more_m"] == pytest.approx(found["length_m"] - best["length_m"], abs=0.02)
    assert found["by_hand"]["too_heavy"] == []
    assert Path("walk/walk.csv").read_text().splitlines()[1].split(",")[3] == first


def test_an_order_of_ones_own(wood: str, capsys: pytest.CaptureFixture[str]) -> None:
    # Three nights since they were tapped: 3 L each.
    best = planned(wood, capsys, "--run-l", "1")
    assert planned(wood, capsys, "--run-l", "1", "--order", "walk/walk.csv") == best | {
        "by_hand": {"more_m": 0.0, "more_min": 0.0, "too_heavy": []}
    }
    Path("order.txt").write_text("B5\nB0\nB3\nB1\nB4\nB2\n")
    assert run(["round", wood, "--out", "mine", "--run-l", "1", "--order", "order.txt"]) == 0
    told = capsys.readouterr()
    assert "ordered by hand: +" in told.out
    assert "caution: trip 1 is 19.0 kg, over the load of 12 kg" in told.err
    rows = [line.split(",") for line in Path("mine/walk.csv").read_text().splitlines()[1:]]
    assert [row[3] for row in rows] == ["B5", "B0", "B3", "B1", "B4", "B2"]


@pytest.mark.parametrize(
    ("more", "why"),
    [
        (["--first", "B77"], "standmap: 'B77' is no stop of this round"),
        (["--order", "none.txt"], "standmap: none.txt: cannot be read"),
        (["--order", "trees.csv", "--last", "B1"], "standmap: --order says already"),
    ],
)
def test_wishes_that_cannot_be(wood: str, capsys: pytest.CaptureFixture[str], more: list[str], why: str) -> None:
    assert run(["round", wood, "--out", "walk", *more]) == 2
    assert [line for line in capsys.readouterr().err.splitlines() if line.startswith(why)]
    assert not Path("walk").exists()


def test_one_total_for_a_trip(wood: str, capsys: pytest.CaptureFixture[str]) -> None:
    Path("returns.csv").write_text(
        "tree,date,what,litres,trip,trip_litres\n"
        + "".join(f"B{k},2026-03-28,collected,,1,{'9' if k == 0 else ''}\n" for k in range(3))
    )
    assert run(["record", wood, "returns.csv", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["collections"] == 3
    assert run(["tree", wood, "B1"]) == 0
    assert "3.00 L from hole 1" in capsys.readouterr().out


def test_a_walk_that_is_only_looked_at_leaves_nothing(wood: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["log", wood, "--json"]) == 0
    before = capsys.readouterr().out
    assert run(["round", wood, "--json"]) == 0
    looked_at = json.loads(capsys.readouterr().out)
    assert run(["log", wood, "--json"]) == 0
    assert capsys.readouterr().out == before
    assert not Path("walk").exists()
    given = planned(wood, capsys)
    assert given["walk"] is not None
    assert looked_at == {**given, "walk": None}
