"""The commands where, distance and backdrop as a person runs them."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from standmap.cli.main import run
from tests.formats.raster_files import LAT, LON, marked_picture, write_tiff


@pytest.fixture
def wood(tmp_path: Path, today: date, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Path:
    assert today == date(2026, 3, 28)
    monkeypatch.chdir(tmp_path)
    trees = "".join(
        f"B{i},{LON + dx},{LAT + dy}\n" for i, (dx, dy) in enumerate([(0, 0), (0.001, 0), (0.001, 0.001)], 1)
    )
    (tmp_path / "trees.csv").write_text(f"name,lon,lat\n{trees}")
    write_tiff(tmp_path / "air.tif", marked_picture(), tags={"TIFFTAG_COPYRIGHT": "Survey Office 2025"})
    assert run(["new", "wood.gpkg"]) == 0
    assert run(["bring", "wood.gpkg", "trees.csv"]) == 0
    capsys.readouterr()
    return tmp_path / "wood.gpkg"


def answer(capsys: pytest.CaptureFixture[str], *arguments: str) -> dict[str, Any]:
    assert run([*arguments, "--json"]) == 0
    held: dict[str, Any] = json.loads(capsys.readouterr().out)
    return held


@pytest.mark.usefixtures("wood")
def test_where_a_tree_is(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["where", "wood.gpkg", "B1", "--grid", "EPSG:3067"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines == [
        "WGS 84  62.600000 N, 29.760000 E",
        "        62° 36′ 00.00″ N, 29° 45′ 36.00″ E",
        "UTM 35 north (EPSG:32635)  641679 E 6944054 N",
        "ETRS89 / TM35FIN(E,N) (EPSG:3067)  641679 E 6944054 N",
        "magnetic north 13.2° east of true (WMM2025, 2026-03-28, ± 0.5°; holds until the end of 2029)",
    ]


@pytest.mark.usefixtures("wood")
def test_where_a_southern_point_is_as_json(capsys: pytest.CaptureFixture[str]) -> None:
    found = answer(capsys, "where", "wood.gpkg", "-33.5", "19", "--date", "2031-01-01")
    assert (found["lat"], found["lon"], found["grid"], found["north"]) == (-33.5, 19.0, None, None)
    assert found["utm"]["code"] == "EPSG:32734"


@pytest.mark.usefixtures("wood")
def test_an_approximate_grid_is_called_so(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["where", "wood.gpkg", "55.95", "-3.19", "--grid", "27700"]) == 0
    assert "caution: EPSG:27700: approximate: within about 2 m" in capsys.readouterr().err


@pytest.mark.usefixtures("wood")
@pytest.mark.parametrize("arguments", [["B9"], ["B1", "--grid", "TM35"], ["B1", "--grid", "4326"], ["99", "10"]])
def test_bad_input_is_one_line(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["where", "wood.gpkg", *arguments]) == 2
    assert capsys.readouterr().err.count("\n") == 1


@pytest.mark.usefixtures("wood")
def test_distances(capsys: pytest.CaptureFixture[str]) -> None:
    found = answer(capsys, "distance", "wood.gpkg", "B1", "B2", "B3")
    # 0.001 degrees of the parallel of 62.6 N and of the meridian: 51.38 m and 111.45 m (geographiclib).
    assert [leg["length_m"] for leg in found["legs"]] == pytest.approx([51.38, 111.45], abs=0.02)
    assert found["legs"][1]["bearing_true_deg"] == 0.0
    assert found["length_m"] == pytest.approx(162.83, abs=0.02)


@pytest.mark.usefixtures("wood")
def test_areas(capsys: pytest.CaptureFixture[str]) -> None:
    found = answer(capsys, "distance", "wood.gpkg", "B1", "B2", "B3", "--area")
    assert found["area_m2"] == pytest.approx(51.38 * 111.45 / 2, rel=1e-3)
    crossing = ["62.60 29.76", "62.61 29.78", "62.60 29.78", "62.61 29.76"]
    assert answer(capsys, "distance", "wood.gpkg", *crossing, "--area")["area_m2"] is None
    assert run(["distance", "wood.gpkg", "B1"]) == 2
    assert "a line needs two points" in capsys.readouterr().err


@pytest.mark.usefixtures("wood")
def test_a_backdrop_is_laid_changed_and_taken_off(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["backdrop", "wood.gpkg"]) == 1
    laid = answer(capsys, "backdrop", "wood.gpkg", "air.tif")
    assert (laid["kind"], laid["attribution"], laid["strength"]) == ("picture", "Survey Office 2025", 0.6)
    assert answer(capsys, "backdrop", "wood.gpkg", "--strength", "0.3")["strength"] == 0.3
    assert answer(capsys, "backdrop", "wood.gpkg", "--attribution", "Me")["attribution"] == "Me"
    assert run(["undo", "wood.gpkg"]) == 0
    capsys.readouterr()
    assert answer(capsys, "backdrop", "wood.gpkg")["attribution"] == "Survey Office 2025"
    assert run(["backdrop", "wood.gpkg", "--off"]) == 0
    assert "took air.tif away" in capsys.readouterr().out
    assert run(["backdrop", "wood.gpkg", "--off"]) == 1


@pytest.mark.usefixtures("wood")
def test_what_can_be_no_backdrop(capsys: pytest.CaptureFixture[str]) -> None:
    for arguments in (["trees.csv"], ["gone.tif"], ["air.tif", "--off"], ["air.tif", "--strength", "7"]):
        assert run(["backdrop", "wood.gpkg", *arguments]) == 2
        assert capsys.readouterr().err.count("\n") == 1


def test_a_picture_of_nobody_asks_whom_it_is_from(wood: Path, capsys: pytest.CaptureFixture[str]) -> None:
    write_tiff(wood.with_name("plain.tif"), marked_picture())
    assert run(["backdrop", "wood.gpkg", "plain.tif"]) == 0
    told = capsys.readouterr()
    assert "from: not known" in told.out
    assert "caution: say whom it is from" in told.err
