"""`when` and `seen` at a terminal."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from datetime import date, timedelta
from pathlib import Path

import pytest

from standmap.cli.main import run
from tests.season.springs import year_round

FIRST = date(2016, 1, 1)
TODAY = "2026-03-28"


@pytest.fixture
def wood(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("STANDMAP_TODAY", TODAY)
    monkeypatch.chdir(tmp_path)
    assert run(["new", "wood.gpkg"]) == 0
    return tmp_path / "wood.gpkg"


def weather(path: Path, until: str = TODAY) -> Path:
    means = year_round(FIRST, (date.fromisoformat(until) - FIRST).days + 1, seed=11)
    rows = [f"X,{FIRST + timedelta(days=n)},{v - 3:.1f},{v + 3:.1f}" for n, v in enumerate(means)]
    path.write_text("\n".join(["station,date,tmin_c,tmax_c", *rows]) + "\n")
    return path


def answer(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str, str]:
    capsys.readouterr()
    code = run(list(arguments))
    out, err = capsys.readouterr()
    return code, out, err


def test_weather_is_brought_in_the_season_told_and_drawn(wood: Path, capsys: pytest.CaptureFixture[str]) -> None:
    table = weather(wood.parent / "w.csv")
    code, out, err = answer(capsys, "when", "wood.gpkg", "--weather", str(table), "--plot", "season.svg")
    assert code == 0
    assert "season 2026: " in out
    assert "first day to tap" in out
    assert "Menzel 1997" in out
    assert "buds and trees say more" in err
    drawn = (wood.parent / "season.svg").read_text()
    assert all(text in drawn for text in ("first day", "last day", "leaf-out", "2026"))
    code, out, _ = answer(capsys, "when", "wood.gpkg", "--weather", str(table), "--json")
    told = json.loads(out)
    assert told["weather_until"] == TODAY
    assert len(told["models"]) == 3
    assert told["first"]["early"] < told["first"]["likely"] < told["first"]["late"]


def test_json_is_all_that_stands_on_stdout(wood: Path, capsys: pytest.CaptureFixture[str]) -> None:
    answer(capsys, "when", "wood.gpkg", "--weather", str(weather(wood.parent / "w.csv")))
    code, out, _ = answer(capsys, "when", "wood.gpkg", "--json")
    assert code == 0
    assert json.loads(out)["season"] == 2026


@pytest.mark.usefixtures("wood")
def test_without_weather_and_days_the_answer_is_no(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, err = answer(capsys, "when", "wood.gpkg", "--json")
    assert code == 1
    assert json.loads(out)["phase"] == "not known"
    assert "bring one or note the other" in err


@pytest.mark.usefixtures("wood")
def test_signs_are_noted_listed_and_taken_out(capsys: pytest.CaptureFixture[str]) -> None:
    assert answer(capsys, "seen", "wood.gpkg", "leaf-out", "--on", "2025-04-20")[:2] == (
        0,
        "noted: leaf-out on 2025-04-20\n",
    )
    code, out, _ = answer(capsys, "seen", "wood.gpkg", "--json")
    assert (code, json.loads(out)) == (0, {"signs": [{"what": "leaf-out", "on": "2025-04-20", "note": ""}]})
    assert answer(capsys, "seen", "wood.gpkg", "leaf-out", "--on", "2025-04-20", "--remove")[0] == 0
    assert answer(capsys, "seen", "wood.gpkg")[0] == 1
    code, _, err = answer(capsys, "seen", "wood.gpkg", "leaf out", "--on", "2025-12-20")
    assert (code, err.count("\n")) == (2, 1)


def test_a_plot_of_another_kind_is_refused_before_anything_is_written(
    wood: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    answer(capsys, "when", "wood.gpkg", "--weather", str(weather(wood.parent / "w.csv")))
    code, _, err = answer(capsys, "when", "wood.gpkg", "--plot", "season.gif")
    assert code == 2
    assert "name a file that ends in" in err
    assert not (wood.parent / "season.gif").exists()


def test_a_plot_that_is_refused_brings_no_weather_in(wood: Path, capsys: pytest.CaptureFixture[str]) -> None:
    before = wood.read_bytes()
    table = weather(wood.parent / "w.csv")
    assert answer(capsys, "when", "wood.gpkg", "--weather", str(table), "--plot", "season.gif")[0] == 2
    assert wood.read_bytes() == before


@pytest.mark.parametrize(
    ("rows", "why"),
    [
        ("date,tmin_c,tmax_c\n2026-03-01,1,999.9\n", "999.9 °C is not possible"),
        ("date,tmin_c,tmax_c\n2026-03-01,9,1\n", "is above the greatest"),
        ("date,tmin_c,tmax_c\n2026-02-30,1,2\n", "line 2"),
        ("date,tmin,tmax\n2026-03-01,60,85\n", "Fahrenheit"),
        ("", "is empty"),
    ],
)
def test_weather_that_cannot_be_is_one_line_and_stores_nothing(
    wood: Path, capsys: pytest.CaptureFixture[str], rows: str, why: str
) -> None:
    bad = wood.parent / "bad.csv"
    bad.write_text(rows)
    before = wood.read_bytes()
    code, out, err = answer(capsys, "when", "wood.gpkg", "--weather", str(bad))
    assert (code, out, err.count("\n")) == (2, "", 1)
    assert why in err
    assert "bad.csv" in err
    assert wood.read_bytes() == before


def test_when_needs_no_window_and_draws_without_one() -> None:
    code = "import sys, standmap.jobs.season_files, standmap.formats.season_plot as p; import matplotlib; "
    code += "print(sorted(m for m in sys.modules if 'PySide' in m or m.endswith('pyplot')))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, env=dict(os.environ))
    assert done.stdout.strip() == "[]"
