"""Batches and boiling at a terminal: their documented JSON, cautions beside, and one clear line for what cannot be."""

from __future__ import annotations

import json
import shutil
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from standmap.cli.main import run

RECORDS = """tree,date,what,litres
A,2026-03-25,tapped,
B,2026-03-25,tapped,
A,2026-03-26,collected,3
B,2026-03-26,collected,2.5
A,2026-03-28,collected,4
"""
BATCH = {
    *("batch", "id", "day", "oldest", "age_days", "litres", "summed_l", "at_least", "trees", "brix", "temperature_c"),
    *("fate", "fate_on", "part_of", "note", "keeping", "doubts"),
}
BOIL = {
    *("sap_l", "sap_kg", "sap_brix", "syrup_brix", "syrup_l", "syrup_kg", "ratio", "water_kg", "rules", "heat_kwh"),
    *("fuel", "hours", "hours_basis", "bottles", "notes", "assumptions", "cautions"),
}


@pytest.fixture(scope="module")
def _two_trees(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("wood")
    wood, records = folder / "wood.gpkg", folder / "records.csv"
    records.write_text(RECORDS)
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("STANDMAP_TODAY", "2026-03-28")
        assert run(["new", str(wood)]) == 0
        for name, lon in (("A", "27.6"), ("B", "27.601")):
            assert run(["add", "tree", str(wood), "61.9", lon, "--name", name]) == 0
        assert run(["record", str(wood), str(records)]) == 0
    return wood


@pytest.fixture
def wood(_two_trees: Path, tmp_path: Path, today: date, capsys: pytest.CaptureFixture[str]) -> str:
    """Return a stand of two trees that were collected from on the 26th, and one again on the 28th of March."""
    assert today == date(2026, 3, 28)
    shutil.copy(_two_trees, tmp_path / "wood.gpkg")
    capsys.readouterr()
    return str(tmp_path / "wood.gpkg")


def answer(capsys: pytest.CaptureFixture[str], *arguments: str) -> dict[str, Any]:
    assert run([*arguments, "--json"]) == 0
    found: dict[str, Any] = json.loads(capsys.readouterr().out)
    return found


def test_a_batch_from_making_to_syrup(wood: str, capsys: pytest.CaptureFixture[str]) -> None:
    made = answer(capsys, "batch", wood, "--new", "26 March", "--day", "2026-03-26", "--brix", "1,4", "--read-at", "12")
    assert set(made) == {"batch", "cautions"}
    batch = made["batch"]
    assert set(batch) == BATCH
    assert (batch["litres"], batch["trees"], batch["brix"]) == (5.5, ["A", "B"], 0.97)
    assert batch["keeping"][0]["level"] == "past"
    assert "Bilek" in batch["keeping"][0]["source"]
    assert any("21 CFR 114" in one["source"] for one in made["cautions"])
    part = answer(capsys, "batch", wood, "--batch", "26 march", "--split", "to drink", "--litres", "1")["batch"]
    assert (part["part_of"], part["litres"]) == ("26 March", 1.0)
    boiled = answer(capsys, "boil", wood, "--batch", "26 March", "--litres-an-hour", "4")
    assert set(boiled) == BOIL
    assert boiled["sap_l"] == pytest.approx(4.5)
    assert boiled["hours"] == pytest.approx(boiled["water_kg"] / 4)
    done = answer(capsys, "batch", wood, "--batch", "26 March", "--fate", "boiled", "--on", "2026-03-27")
    assert (done["batch"]["fate"], done["batch"]["fate_on"], done["batch"]["keeping"]) == ("boiled", "2026-03-27", [])
    assert any("steam" in one["text"] for one in done["cautions"])
    assert [b["batch"] for b in answer(capsys, "batch", wood, "--list")["batches"]] == ["26 March", "to drink"]
    assert answer(capsys, "batch", wood, "--remove", "to drink") == {"removed": "to drink"}
    assert run(["undo", wood]) == 0
    capsys.readouterr()
    assert run(["batch", wood, "--list"]) == 0
    shown = capsys.readouterr()
    assert "boiled on 2026-03-27" in shown.out
    assert "to drink: 2 days old" in shown.err
    assert "caution: never seal sap up" in shown.err


def test_gallons_are_never_unqualified(wood: str, capsys: pytest.CaptureFixture[str]) -> None:
    given = ("--day", "2026-03-26", "--litres", "1.2")
    assert run(["batch", wood, "--new", "x", *given, "--unit", "gal"]) == 2
    assert "imperial or US" in capsys.readouterr().err
    made = answer(capsys, "batch", wood, "--new", "x", *given, "--unit", "us gal")["batch"]
    assert made["litres"] == pytest.approx(1.2 * 3.785411784)
    assert made["note"] == "measured: 1.2 US gal"


def test_boil_shows_its_figures_as_approximations(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["boil", "--litres", "40", "--brix", "0.9"]) == 0
    shown = capsys.readouterr()
    assert "about 0.41 L, 0.55 kg (an approximation" in shown.out
    assert "rule of 87.1 for 66 °Bx: 0.41 L" in shown.out
    assert "29.4 kg of wood" in shown.out
    assert "finish by refractometer" in shown.err
    found = answer(capsys, "boil", "--litres", "40", "--brix", "0.9", "--fuel", "gas", "--pan", "60x40x20cm")
    assert found["fuel"]["fuel"] == "gas"
    assert found["rules"][0]["rule"] == 86.0


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--new", "x", "--day", "2026-03-26", "--brix", "70"], "70 °Bx cannot be sap"),
        (["--new", "x", "--day", "2026-03-26", "--brix", "nan"], "'nan' is not a number"),
        (["--new", "x", "--day", "2026-03-26", "--brix", "-1"], "cannot be sap"),
        (["--new", "x", "--day", "2026-03-26", "--temperature", "999.9"], "999.9 cannot be its temperature"),
        (["--new", "x", "--day", "2026-03-26", "--brix", "1", "--read-at", "999.9"], "write 10 to 30 °C"),
        (["--new", "x", "--day", "2026-03-26", "--read-at", "12"], "--read-at goes with --brix"),
        (["--new", "x", "--day", "2026-03-26", "--litres", "-3"], "is no sap"),
        (["--new", "x", "--day", "2026-03-26", "--litres", "nan"], "is not a volume"),
        (["--new", "x", "--day", "2026-03-26", "--unit", "l"], "--unit goes with --litres"),
        (["--new", "x", "--day", "2026-03-26", "--from", "C"], "no tree is called 'C'"),
        (["--new", "x", "--day", "2026-03-25"], "nothing was collected by 2026-03-25, the first only on 2026-03-26"),
        (["--new", "x", "--day", "2026-04-01"], "after today"),
        (["--new", "x", "--day", "March"], "is not a date"),
        (["--new", "x", "--fate", "boiled"], "go with --batch"),
        (["--batch", "x", "--fate", "boiled"], "no batch is called 'x'"),
        (["--batch", "x", "--fate", "eaten"], "'eaten' is no fate of sap"),
        (["--batch", "x", "--on", "2026-03-26"], "--on goes with --fate"),
        (["--batch", "x", "--split", "y"], "--split goes with --litres alone"),
        (["--batch", "x", "--day", "2026-03-26"], "go with --new"),
        (["--remove", "x"], "no batch is called 'x'"),
        (["--list", "--new", "x"], "nothing says which batch"),
        ([], "nothing says which batch"),
    ],
)
def test_what_cannot_be_is_one_line_and_stores_nothing(
    wood: str, capsys: pytest.CaptureFixture[str], arguments: list[str], said: str
) -> None:
    before = Path(wood).read_bytes()
    assert run(["batch", wood, *arguments]) == 2
    shown = capsys.readouterr()
    assert shown.out == ""
    assert said in shown.err
    assert len(shown.err.strip().splitlines()) == 1
    assert Path(wood).read_bytes() == before


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--litres", "40", "--brix", "70"], "70 °Bx cannot be sap"),
        (["--litres", "40"], "is not stated"),
        (["--brix", "1"], "is not stated"),
        (["--litres", "40", "--brix", "1", "--to", "80"], "syrup of 80 °Bx is out of bounds"),
        (["--litres", "40", "--brix", "1", "--fuel", "peat"], "'peat' is no fuel known here"),
        (["--litres", "40", "--brix", "1", "--efficiency", "150"], "an efficiency of 150 %"),
        (["--litres", "40", "--brix", "1", "--efficiency", "-5"], "is not above 0"),
        (["--litres", "40", "--brix", "1", "--litres-an-hour", "0"], "is not above 0"),
        (["--litres", "40", "--brix", "1", "--pan", "60x40"], "'60x40' is no pan"),
        (["--litres", "40", "--brix", "1", "--pan", "6000x40x20"], "a pan of those measures"),
        (["--litres", "40", "--brix", "1", "--temperature", "999.9"], "cannot be its temperature"),
        (["--batch", "x"], "a batch is in a stand"),
        (["wood.gpkg"], "a batch is in a stand"),
    ],
)
def test_a_boil_that_cannot_be_is_one_line(capsys: pytest.CaptureFixture[str], arguments: list[str], said: str) -> None:
    assert run(["boil", *arguments]) == 2
    shown = capsys.readouterr()
    assert shown.out == ""
    assert said in shown.err
    assert len(shown.err.strip().splitlines()) == 1


def test_an_empty_file_and_400_litres_from_one_hole_are_refused(
    wood: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    empty = tmp_path / "empty.gpkg"
    empty.write_bytes(b"")
    assert run(["batch", str(empty), "--list"]) == 2
    assert len(capsys.readouterr().err.strip().splitlines()) == 1
    assert run(["record", wood, "--tree", "A", "--what", "collected", "--litres", "400"]) == 2
    assert "400" in capsys.readouterr().err
    (tmp_path / "empty.csv").write_text("")
    assert run(["record", wood, str(tmp_path / "empty.csv")]) == 2
    assert len(capsys.readouterr().err.strip().splitlines()) == 1


def test_a_batch_without_sugar_says_so(wood: str, capsys: pytest.CaptureFixture[str]) -> None:
    answer(capsys, "batch", wood, "--new", "x", "--day", "2026-03-26")
    assert run(["boil", wood, "--batch", "x"]) == 2
    assert "or its sugar, is not stated" in capsys.readouterr().err
    assert answer(capsys, "boil", wood, "--batch", "x", "--brix", "1")["sap_l"] == 5.5
