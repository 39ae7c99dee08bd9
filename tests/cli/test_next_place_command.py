"""`tree` tells where on the stem the next hole has most room."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path

import pytest

from standmap.cli.main import run


def test_the_place_with_most_room(
    tmp_path: Path, today: date, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert today == date(2026, 3, 28)
    monkeypatch.chdir(tmp_path)
    Path("trees.csv").write_text("name,lon,lat,species,girth_mm,date\nB1,27.6,61.9,Betula pendula,800,2025-09-01\n")
    Path("taps.csv").write_text("tree,date,what,height_cm,side_deg\nB1,2021-03-20,tapped,60,90\n")
    assert run(["new", "wood.gpkg"]) == 0
    assert run(["bring", "wood.gpkg", "trees.csv"]) == 0
    assert run(["tree", "wood.gpkg", "B1"]) == 0
    assert "the next hole may go anywhere: none was made before" in capsys.readouterr().out
    assert run(["record", "wood.gpkg", "taps.csv"]) == 0
    capsys.readouterr()
    assert run(["tree", "wood.gpkg", "B1"]) == 0
    assert (
        "most room for the next hole: 1200 mm up, side 270°, 721 mm from the nearest old one" in capsys.readouterr().out
    )
    assert run(["tree", "wood.gpkg", "B1", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    place = told["next_place"]
    assert (place["height_mm"], place["side_deg"], place["clearance_mm"], place["full"]) == (1200, 270.0, 721, False)

    stem = told["stem"]
    assert set(stem) == {"clear_share", "depth_mm", "from_mm", "to_mm", "growth_mm", "unplaced", "left"}
    (left,) = stem["left"]
    assert (left["hole"], left["season"], left["size_noted"], left["buried"], left["cover_mm"]) == (
        1,
        2021,
        False,
        False,
        0,
    )
    assert left["left_ml"] == 259.2  # 220 times a hole as wide and deep as the cautious set lets it be
    assert 0.97 < stem["clear_share"] < 0.99
    assert told["closing"] == [
        {"hole": 1, "season": 2021, "kind": "hole", "seen": None, "expected_by": 2023, "maple_by": 2023}
    ]
    assert run(["record", "wood.gpkg", "--tree", "B1", "--what", "seen open", "--date", "2026-03-27"]) == 0
    capsys.readouterr()
    assert run(["tree", "wood.gpkg", "B1"]) == 0
    shown = capsys.readouterr().out
    assert "hole 1 of 2021: seen open on 2026-03-27; expected to close by autumn 2023" in shown
    assert "Gibbs & Smith 1973" in shown
    assert "doi 10.4236/as.2018.93018" in shown
    assert "growth was not measured: nothing counts as grown over" in shown
    assert "unfit" not in shown
    assert run(["rules", "wood.gpkg", "--set", "unfit_open_after_years=4"]) == 0
    capsys.readouterr()
    assert run(["tree", "wood.gpkg", "B1"]) == 0
    assert "hole 1 of 2021 was still open on 2026-03-27: unfit past 4 years" in capsys.readouterr().out
    assert run(["ready", "wood.gpkg", "B1", "--json"]) == 0
    steps = json.loads(capsys.readouterr().out)["answers"]
    assert ("look", "look again whether hole 1 of 2021 has closed, and note it") in [
        (s["step"], s["text"]) for s in steps
    ]
