"""`standmap adjust`: shows and writes nothing, accepts as one step, leaves out and takes back in."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest

from standmap.cli.main import run
from standmap.stand.sights import Sight
from standmap.store.stand_file import StandFile
from tests.jobs.adjust_rows import wood
from tests.jobs.stand_rows import rows


@pytest.fixture
def path(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("STANDMAP_CONFIG_DIR", str(tmp_path / "settings"))
    wood(tmp_path / "wood.gpkg", bearing_deg=40.0)
    return tmp_path / "wood.gpkg"


def answer(capsys: pytest.CaptureFixture[str], *more: str) -> dict[str, Any]:
    assert run(["adjust", "wood.gpkg", "--json", *more]) == 0
    found = json.loads(capsys.readouterr().out)
    assert isinstance(found, dict)
    return found


def test_it_shows_and_writes_nothing(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    before = rows(path)
    assert run(["adjust", "wood.gpkg"]) == 0
    out = capsys.readouterr().out
    assert "disagrees: the bearing from B4 to B7 (" in out
    assert "morning: no shift of its own shows" in out
    assert out.splitlines()[-1] == "would move 9 positions; nothing is written: --accept writes it"
    assert rows(path) == before


@pytest.mark.usefixtures("path")
def test_its_json_has_its_shape(capsys: pytest.CaptureFixture[str]) -> None:
    found = answer(capsys)
    assert set(found) == {
        "accepted", "misfit", "spare", "points", "readings", "walks", "disagreeing", "left_out", "loops", "loose",
    }  # fmt: skip
    assert found["accepted"] is False
    assert [p["name"] for p in found["points"]] == [f"B{n}" for n in range(1, 10)]
    assert set(found["points"][0]) == {
        "name", "id", "kind", "pinned", "before", "at", "moves_m", "covariance_m2", "beside",
    }  # fmt: skip
    assert set(found["points"][0]["beside"]) == {"id", "sigma_m"}
    assert set(found["readings"][0]) == {"id", "what", "points", "checked", "sigmas", "weight"}
    assert all(0 <= r["checked"] <= 1 for r in found["readings"])
    assert set(found["walks"][0]) == {"name", "id", "off_east_m", "off_north_m"}
    assert set(found["disagreeing"][0]) == {"id", "what", "points", "off", "sigmas", "weight", "text"}
    assert set(found["loops"][0]) == {"points", "off_m", "length_m", "sigma_m", "gross", "text"}


def test_lengths_are_told_in_the_units_that_are_set(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    run(["settings", "units=imperial"])
    capsys.readouterr()
    assert run(["adjust", str(path)]) == 0
    out = capsys.readouterr().out
    assert " ft" in out
    assert not re.search(r"\d m\b", out)


@pytest.mark.usefixtures("path")
def test_what_a_compass_is_good_to_can_be_set(capsys: pytest.CaptureFixture[str]) -> None:
    def weakest() -> float:
        return max(float(p["beside"]["sigma_m"]) for p in answer(capsys)["points"])

    usual = weakest()
    run(["settings", "compass_deg=8", "tape_percent=5"])
    capsys.readouterr()
    assert weakest() > 1.5 * usual


def test_accepted_it_is_one_step_and_then_there_is_nothing_to_do(
    path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    wrong = answer(capsys)["disagreeing"][0]["id"]
    before = rows(path)
    found = answer(capsys, "--leave-out", wrong, "--accept")
    assert found["accepted"] is True
    assert found["disagreeing"] == []
    with StandFile.open(path) as file:
        assert [s.key for s in file.rows(Sight) if not s.used] == [wrong]
    assert run(["adjust", "wood.gpkg", "--accept"]) == 1
    assert run(["undo", "wood.gpkg"]) == 0
    assert rows(path) == before


def test_what_was_left_out_is_taken_back_in(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    wrong = answer(capsys)["disagreeing"][0]["id"]
    answer(capsys, "--leave-out", wrong, "--accept")
    assert [o["id"] for o in answer(capsys)["left_out"]] == [wrong]
    assert run(["adjust", "wood.gpkg", "--take-in", wrong, "--accept"]) == 2
    capsys.readouterr()
    assert answer(capsys, "--take-in", wrong)["left_out"] == []
    with StandFile.open(path) as file:
        assert all(s.used for s in file.rows(Sight))


def test_an_unknown_observation_is_refused_in_one_line(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    before = rows(path)
    assert run(["adjust", "wood.gpkg", "--leave-out", "nonsense", "--accept"]) == 2
    assert capsys.readouterr().err.count("\n") == 1
    assert rows(path) == before


def test_a_stand_without_measurements_answers_no(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    assert run(["new", "empty.gpkg"]) == 0
    assert run(["adjust", "empty.gpkg"]) == 1
    assert "nothing was measured" in capsys.readouterr().err
