"""`bring FILE OTHER.gpkg`: two copies become one; what only a person can decide is listed, and nothing is written."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import pytest

from standmap.cli.main import run
from tests.jobs.stand_rows import rows

TREES = """name,lon,lat,species,girth_mm
B1,27.6000,61.9000,Betula pendula,842
B2,27.6010,61.9000,Betula pendula,900
B12,27.6020,61.9000,Betula pendula,600
"""


@pytest.fixture
def wood(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Path:
    """Return a stand with a copy beside it; the girth of B12 and the species of B1 differ, and each has news."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("STANDMAP_TODAY", "2026-03-28")
    Path("trees.csv").write_text(TREES)
    assert run(["new", "wood.gpkg"]) == 0
    assert run(["bring", "wood.gpkg", "trees.csv"]) == 0
    shutil.copy("wood.gpkg", "anna.gpkg")
    assert run(["correct", "re-tag", "wood.gpkg", "B12", "B12a"]) == 0
    assert run(["correct", "re-tag", "anna.gpkg", "B12", "B12b"]) == 0
    assert run(["correct", "species", "anna.gpkg", "B2", "--is", "Betula pubescens"]) == 0
    capsys.readouterr()
    return tmp_path / "wood.gpkg"


def merged(capsys: pytest.CaptureFixture[str], *more: str, code: int = 0) -> tuple[str, str]:
    assert run(["bring", "wood.gpkg", "anna.gpkg", *more]) == code
    out, err = capsys.readouterr()
    return out, err


def test_a_conflict_is_listed_and_nothing_is_written(wood: Path, capsys: pytest.CaptureFixture[str]) -> None:
    before = rows(wood)
    out, err = merged(capsys, code=2)
    (line,) = [text for text in out.splitlines() if ": ours " in text]
    assert line.startswith("tree B12a, name: ours B12a (since 2026-03-28 ")
    assert ", theirs B12b (since 2026-03-28 " in line
    assert err == (
        "standmap: anna.gpkg: 1 conflict, nothing was written; decide with --ours or --theirs, "
        "or one by one in the window ('standmap open')\n"
    )
    assert rows(wood) == before


@pytest.mark.parametrize(("option", "name"), [("--ours", "B12a"), ("--theirs", "B12b")])
def test_an_option_decides(wood: Path, capsys: pytest.CaptureFixture[str], option: str, name: str) -> None:
    before = rows(wood)
    out, err = merged(capsys, option)
    assert f"{option[2:]} kept: tree B12a, name" in err
    assert next(line.split() for line in out.splitlines()[1:])[:2] == ["tree", "0"]
    assert run(["tree", "wood.gpkg", name, "--json"]) == 0
    assert run(["tree", "wood.gpkg", "B2", "--json"]) == 0
    assert "Betula pubescens" in capsys.readouterr().out
    merged(capsys, code=1)
    assert run(["undo", "wood.gpkg"]) == 0
    assert capsys.readouterr().out == "taken back: merge anna.gpkg\n"
    assert rows(wood) == before


def test_the_answer_in_json(wood: Path, capsys: pytest.CaptureFixture[str]) -> None:
    before = rows(wood)
    found: dict[str, Any] = json.loads(merged(capsys, "--json", "--dry-run")[0])["merge"]
    assert found["stored"] is False
    assert (found["other"], found["decided"], found["cautions"]) == ("anna.gpkg", None, [])
    assert {"table": "tree", "new": 0, "changed": 1, "deleted": 0, "conflicts": 1} in found["tables"]
    (asked,) = found["conflicts"]
    assert {k: asked[k] for k in ("table", "name", "field", "ours", "theirs")} == {
        "table": "tree",
        "name": "B12a",
        "field": "name",
        "ours": "B12a",
        "theirs": "B12b",
    }
    assert set(asked) == {"id", "table", "name", "field", "ours", "theirs", "ours_at", "theirs_at"}
    assert rows(wood) == before
    assert json.loads(merged(capsys, "--json", code=2)[0])["merge"]["stored"] is False
    stored = json.loads(merged(capsys, "--json", "--theirs")[0])["merge"]
    assert (stored["stored"], stored["decided"]) == (True, "theirs")
    nothing = json.loads(merged(capsys, "--json", code=1)[0])["merge"]
    assert (nothing["tables"], nothing["conflicts"]) == ([], [])


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["anna.gpkg", "trees.csv"], "a copy of a stand is merged by itself"),
        (["anna.gpkg", "--crs", "EPSG:3067"], "takes no --crs"),
        (["anna.gpkg", "--theirs", "--ours"], "--theirs and --ours were both given"),
        (["trees.csv", "--ours"], "--theirs and --ours decide between two copies of a stand"),
        (["wood.gpkg"], "wood.gpkg: this is the stand itself"),
        (["else.gpkg"], "else.gpkg: these are two stands, not copies of one"),
        (["plain.gpkg"], "plain.gpkg: is a GeoPackage or another SQLite file"),
        (["cut.gpkg"], "cut.gpkg: the file is cut short or damaged"),
    ],
)
def test_what_does_not_go_together_is_refused_in_one_line(
    wood: Path, capsys: pytest.CaptureFixture[str], arguments: list[str], said: str
) -> None:
    import sqlite3

    assert run(["new", "else.gpkg"]) == 0
    assert run(["bring", "else.gpkg", "trees.csv"]) == 0
    db = sqlite3.connect("plain.gpkg")
    db.execute("CREATE TABLE x (y)")
    db.commit()
    db.close()
    Path("cut.gpkg").write_bytes(Path("anna.gpkg").read_bytes()[:5000])
    capsys.readouterr()
    before = rows(wood)
    assert run(["bring", "wood.gpkg", *arguments]) == 2
    err = capsys.readouterr().err
    assert err.count("\n") == 1
    assert said in err
    assert rows(wood) == before


def test_without_conflicts_it_is_merged_at_once(wood: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["undo", "anna.gpkg"]) == 0  # the species
    assert run(["undo", "anna.gpkg"]) == 0  # the name
    assert run(["confirm", "anna.gpkg", "B1", "--tag"]) == 0
    capsys.readouterr()
    out, err = merged(capsys)
    assert err == ""
    assert [line.split() for line in out.splitlines()] == [
        ["new", "changed", "deleted", "conflicts"],
        ["tree", "0", "1", "0", "0"],
    ]
    assert wood.exists()
