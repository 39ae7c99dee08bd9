"""Tape and compass at a terminal."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path

import pytest

from standmap.cli.main import run
from standmap.jobs.opening import open_stand


@pytest.fixture
def wood(stand_path: Path, today: date, capsys: pytest.CaptureFixture[str]) -> str:
    """Return a stand of one tree, A."""
    assert today == date(2026, 3, 28)
    wood = str(stand_path)
    assert run(["new", wood]) == 0
    assert run(["add", "tree", wood, "61.9", "27.6", "--name", "A"]) == 0
    capsys.readouterr()
    return wood


def test_a_sight_is_written_listed_and_removed(wood: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["sight", wood, "A", "B7", "--bearing", "231", "--back", "52", "--distance", "12.5m"]) == 0
    out = capsys.readouterr()
    assert "added B7 at 61.89" in out.out
    assert "magnetic north" in out.err
    assert run(["sight", wood, "A", "B8", "--toward", "B7", "--along", "4m", "--offset", "-2m", "--true"]) == 0
    capsys.readouterr()
    assert run(["sight", wood, "--list", "--json"]) == 0
    first, second = json.loads(capsys.readouterr().out)["sights"]
    assert (first["from"], first["to"], first["bearing_deg"], first["distance_m"]) == ("A", "B7", 231.0, 12.5)
    assert (first["north"], first["measured_on"]) == ("magnetic", "2026-03-28")
    assert first["declination_deg"] == pytest.approx(11.4, abs=1.0)
    assert (second["toward"], second["along_m"], second["offset_m"]) == ("B7", 4.0, -2.0)
    assert run(["sight", wood, "--list"]) == 0
    assert "toward B7, 4 m along, 2 m left" in capsys.readouterr().out
    assert run(["sight", wood, "--remove", "1", "--remove", second["id"]]) == 0
    assert run(["sight", wood, "--list", "--json"]) == 1
    assert run(["undo", wood]) == 0
    capsys.readouterr()
    assert run(["sight", wood, "--list", "--json"]) == 0
    assert len(json.loads(capsys.readouterr().out)["sights"]) == 2


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["A"], "name both"),
        (["A", "B", "--bearing", "370"], "bearing 370 is not from 0 to 360"),
        (["A", "B", "--distance", "-5m", "--bearing", "3"], "distance -5m is negative"),
        (["A", "B", "--distance", "20 paces", "--bearing", "3"], "it is not said how long one is"),
        (["A", "B", "--bearing", "3"], "does not tell where B is"),
        (["X", "Y", "--bearing", "3", "--distance", "5m"], "hangs on nothing"),
        (["A", "B", "--bearing", "3", "--distance", "5m", "--date", "2026-04-01"], "after today"),
        (["--remove", "4"], "there is no sight '4'"),
    ],
)
def test_what_cannot_be_is_one_line(
    wood: str, capsys: pytest.CaptureFixture[str], arguments: list[str], said: str
) -> None:
    assert run(["sight", wood, *arguments]) == 2
    err = capsys.readouterr().err
    assert said in err
    assert len(err.strip().splitlines()) == 1
    with open_stand(Path(wood)) as opened:
        assert len(opened.stand().trees) == 1


def test_paces_and_a_station(wood: str, capsys: pytest.CaptureFixture[str]) -> None:
    sight = ["sight", wood, "A", "S1", "--bearing", "N45E", "--distance", "20 paces", "--pace", "0.75m", "--station"]
    assert run(sight) == 0
    assert "added station S1" in capsys.readouterr().out
    with open_stand(Path(wood)) as opened:
        assert [p.name for p in opened.stand().places] == ["S1"]


def test_what_looks_wrong_needs_a_word(wood: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["sight", wood, "A", "B", "--bearing", "0", "--distance", "5m"]) == 0
    again = ["sight", wood, "A", "B", "--bearing", "180", "--distance", "60m"]
    assert run(again) == 2
    assert "misses B as it is known" in capsys.readouterr().err
    assert run([*again, "--sure"]) == 0


def test_a_field_sheet_by_bring(wood: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    sheet = tmp_path / "sheet.csv"
    sheet.write_text("from,to,bearing,distance (m)\nA,B1,10,5\nA,B2,370,5\n")
    assert run(["bring", wood, str(sheet), "--json"]) == 0
    (source,) = json.loads(capsys.readouterr().out)["sources"]
    assert (source["format"], source["read"], source["added"]) == ("field sheet", 2, 1)
    assert source["skipped"][0]["where"] == "line 3"
    assert run(["bring", wood, str(sheet), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["sources"][0]["added"] == 0
