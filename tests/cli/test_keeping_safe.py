"""The commands `backup`, `restore` and `settings`, and the report of a mistake of ours."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from standmap.cli import main
from standmap.cli.main import run
from standmap.jobs.own_folders import VARIABLE


@pytest.fixture(autouse=True)
def own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv(VARIABLE, str(tmp_path / "own"))
    monkeypatch.setenv("STANDMAP_TODAY", "2026-03-28")
    monkeypatch.chdir(tmp_path)
    return tmp_path / "own"


@pytest.fixture
def wood(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Path:
    (tmp_path / "trees.csv").write_text("name,lon,lat\nB1,27.6,61.9\n")
    (tmp_path / "more.csv").write_text("name,lon,lat\nB2,27.601,61.9\n")
    assert run(["new", "wood.gpkg"]) == 0
    assert run(["bring", "wood.gpkg", "trees.csv"]) == 0
    capsys.readouterr()
    return tmp_path / "wood.gpkg"


def answer(capsys: pytest.CaptureFixture[str], *arguments: str) -> dict[str, Any]:
    assert run([*arguments, "--json"]) == 0
    found: dict[str, Any] = json.loads(capsys.readouterr().out)
    return found


def trees(capsys: pytest.CaptureFixture[str]) -> list[str]:
    return [t["tree"] for t in answer(capsys, "judge", "wood.gpkg")["trees"]]


def test_backup_and_restore_go_there_and_back(wood: Path, own: Path, capsys: pytest.CaptureFixture[str]) -> None:
    made = answer(capsys, "backup", wood.name)
    assert list(made) == ["folder", "backups"]
    assert list(made["backups"][0]) == ["file", "at", "why", "bytes"]
    assert own in Path(made["folder"]).parents
    assert run(["bring", wood.name, "more.csv"]) == 0
    capsys.readouterr()
    assert trees(capsys) == ["B1", "B2"]
    assert run(["restore", wood.name, "latest"]) == 0
    told = capsys.readouterr().out
    assert "wood.gpkg is again as in wood_2026" in told
    assert "before one was put back" in told
    assert trees(capsys) == ["B1"]
    listed = answer(capsys, "backup", wood.name, "--list")["backups"]
    assert [b["why"] for b in listed] == ["before-restore", "asked"]
    back = answer(capsys, "restore", wood.name, Path(listed[0]["file"]).name)
    assert back["restored"] == listed[0]["file"]
    assert back["before"]["why"] == "before-restore"
    assert trees(capsys) == ["B1", "B2"]


def test_the_list_is_for_reading_too(wood: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["backup", wood.name, "--list"]) == 1
    assert "there is no backup yet" in capsys.readouterr().err
    assert run(["backup", wood.name]) == 0
    assert capsys.readouterr().out.startswith("made wood_20260328T")
    assert run(["backup", wood.name, "--list"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert len(lines) == 3
    assert "asked for" in lines[2]
    assert lines[2].endswith("kB")


def test_a_backup_that_is_none_is_refused(wood: Path, capsys: pytest.CaptureFixture[str]) -> None:
    before = wood.read_bytes()
    assert run(["restore", wood.name, "yesterday"]) == 2
    assert run(["restore", wood.name, "trees.csv"]) == 2
    assert run(["backup", "none.gpkg"]) == 2
    err = capsys.readouterr().err
    assert "'yesterday' is no backup of wood.gpkg" in err
    assert "trees.csv: this is not a GeoPackage" in err
    assert wood.read_bytes() == before


def test_a_synced_folder_is_warned_of(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / ".stfolder").mkdir()
    assert run(["new", "wood.gpkg"]) == 0
    assert run(["backup", "wood.gpkg"]) == 0
    assert "which a cloud service seems to sync" in capsys.readouterr().err


def test_settings_are_shown_and_changed(capsys: pytest.CaptureFixture[str]) -> None:
    assert answer(capsys, "settings")["settings"]["units"] == "metric"
    changed = answer(capsys, "settings", "units=us", "national_grid_epsg=3067", "capacity_kg=12,5")["settings"]
    assert (changed["units"], changed["national_grid_epsg"], changed["capacity_kg"]) == ("us", 3067, 12.5)
    assert answer(capsys, "settings")["settings"] == changed
    assert answer(capsys, "settings", "units=")["settings"]["units"] == "metric"
    assert run(["settings"]) == 0
    told = capsys.readouterr().out
    assert "(changed)" in told
    assert "choose a number from 5 to 40 kg" in told


@pytest.mark.parametrize(
    ("change", "why"),
    [
        ("units=roods", "choose one of: metric, imperial, us"),
        ("colour=green", "no setting is called 'colour'"),
        ("units", "'units' sets nothing"),
        ("text_size_percent=big", "'big' is not a number"),
        ("can_kg=10 ", "choose"),
        ("national_grid_epsg=4326", "is no grid"),
        ("national_grid_epsg=999999", "names nothing"),
    ],
)
def test_what_cannot_be_set_changes_nothing(
    own: Path, change: str, why: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["settings", "look=dark", "capacity_kg=6", change]) == 2
    told = capsys.readouterr()
    assert why in told.err
    assert told.err.count("\n") == 1
    assert not (own / "settings.json").exists()


def test_our_own_mistake_leaves_a_report_without_data(
    own: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def broken(*_arguments: object, **_more: object) -> int:
        raise ZeroDivisionError("Rowan Hollow")

    monkeypatch.setattr(main, "app", broken)
    assert run(["judge", "wood.gpkg"]) == 3
    (report,) = (own / "log").iterdir()
    assert str(report) in capsys.readouterr().err
    text = report.read_text(encoding="utf-8")
    assert "ZeroDivisionError" in text
    assert "standmap/cli/main.py:" in text
    assert "Rowan" not in text
