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
    place = json.loads(capsys.readouterr().out)["next_place"]
    assert (place["height_mm"], place["side_deg"], place["clearance_mm"], place["full"]) == (1200, 270.0, 721, False)
