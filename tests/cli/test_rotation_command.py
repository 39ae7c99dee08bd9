"""`rotation`: the plan as a table and as JSON, and its first season marked."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path

import pytest

from standmap.cli.main import run

TREES = "name,lon,lat,species,girth_mm,date,soundness\n" + "".join(
    f"B{k},{27.6 + k * 0.0001:.4f},61.9,Betula pendula,900,2025-09-01,sound\n" for k in range(8)
)


def test_a_plan_is_shown_and_its_first_season_marked(
    tmp_path: Path, today: date, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert today == date(2026, 3, 28)
    monkeypatch.chdir(tmp_path)
    Path("trees.csv").write_text(TREES)
    assert run(["new", "wood.gpkg"]) == 0
    assert run(["bring", "wood.gpkg", "trees.csv"]) == 0
    capsys.readouterr()
    assert run(["rotation", "wood.gpkg", "--years", "4", "--mark", "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert (answer["proved"], answer["short"]) == (True, False)
    leanest = answer["leanest_l"]
    assert leanest == min(s["litres"] for s in answer["seasons"])
    assert [len(s["trees"]) for s in answer["seasons"]] == [2, 2, 2, 2]
    assert run(["mark", "wood.gpkg", "--json"]) == 0
    marked = json.loads(capsys.readouterr().out)
    assert {t["tree"] for t in marked["trees"]} == {t["tree"] for t in answer["seasons"][0]["trees"]}
    assert run(["rotation", "wood.gpkg", "--years", "4", "--litres", "200"]) == 0
    shown = capsys.readouterr().out
    assert f"200 L a season cannot be had: the leanest gives {leanest:.0f} L" in shown
    assert "without the rest of 4 years: " in shown
    assert run(["rotation", "wood.gpkg", "--years", "99"]) == 2
    assert "99 seasons are out of bounds; choose 1 to 40" in capsys.readouterr().err
