"""The command terrain as a person runs it."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path

import pytest

from standmap.cli.main import run
from tests.formats.raster_files import LAT, LON, write_tiff
from tests.jobs.test_terrain import dem


@pytest.fixture
def wood(tmp_path: Path, today: date, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Path:
    assert today == date(2026, 3, 28)
    monkeypatch.chdir(tmp_path)
    (tmp_path / "trees.csv").write_text(f"name,lon,lat\nB1,{LON},{LAT}\nB2,{LON + 0.001},{LAT}\n")
    dem(tmp_path / "dem.tif")
    assert run(["new", "wood.gpkg"]) == 0
    assert run(["bring", "wood.gpkg", "trees.csv"]) == 0
    capsys.readouterr()
    return tmp_path / "wood.gpkg"


@pytest.mark.usefixtures("wood")
def test_heights_are_kept_shown_taken_out_and_brought_back(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["terrain", "wood.gpkg"]) == 1
    assert "keeps no heights of the ground" in capsys.readouterr().err
    assert run(["terrain", "wood.gpkg", "dem.tif"]) == 0
    told = capsys.readouterr()
    first, *rest = told.out.splitlines()
    assert first == "heights of the ground from dem.tif"
    assert rest[0].endswith("cells of 5 m, 100 % known")
    assert rest[1].endswith("a tenth is steeper than 10 %")
    assert rest[2] == "from: not known"
    assert "look whether you may use them" in told.err
    assert run(["terrain", "wood.gpkg", "--remove", "--json"]) == 0
    assert json.loads(capsys.readouterr().out) == {"removed": "dem.tif"}
    assert run(["terrain", "wood.gpkg", "--remove"]) == 1
    assert run(["undo", "wood.gpkg"]) == 0
    capsys.readouterr()
    assert run(["terrain", "wood.gpkg", "--json"]) == 0
    held = json.loads(capsys.readouterr().out)
    assert (held["file"], held["cell_m"], held["known_share"], held["attribution"]) == ("dem.tif", 5.0, 1.0, "")
    assert held["steep_slope"] == pytest.approx(0.1, abs=0.002)


@pytest.mark.usefixtures("wood")
def test_what_is_handed_on_has_no_heights_and_that_is_said(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["export", "wood.gpkg", "--out", "before"]) == 0
    assert capsys.readouterr().err == ""
    assert run(["terrain", "wood.gpkg", "dem.tif"]) == 0
    capsys.readouterr()
    assert run(["export", "wood.gpkg", "--out", "after"]) == 0
    assert "they stay in the stand's own file" in capsys.readouterr().err


@pytest.mark.usefixtures("wood")
def test_what_cannot_be_is_said_in_one_line(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    import numpy as np

    write_tiff(tmp_path / "air.tif", np.zeros((3, 9, 9), np.uint8))
    for arguments, said in (
        (["air.tif"], "holds a picture, not heights"),
        (["dem.tif", "--remove"], "leave the file out"),
        (["dem.tif", "--cell", "1000"], "tell nothing of a wood"),
        (["gone.tif"], "there is no such file"),
    ):
        assert run(["terrain", "wood.gpkg", *arguments]) == 2
        err = capsys.readouterr().err.splitlines()
        assert said in err[-1]
