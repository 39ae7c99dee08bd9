"""Weather at the command line: what is wrong with it is one line and stores nothing, what is right is counted."""

from __future__ import annotations

import json
from datetime import date, timedelta
from pathlib import Path

import pytest

from standmap.assets import sample_stand
from standmap.cli.main import run
from tests.formats.test_ghcn import access, by_year, dly
from tests.jobs.stand_rows import rows

MARCH = {(date(2026, 3, n), "TMAX"): (50 + n, " ") for n in range(1, 28)}


@pytest.fixture
def wood(stand_path: Path, today: date, capsys: pytest.CaptureFixture[str]) -> Path:
    assert today == date(2026, 3, 28)
    assert run(["new", str(stand_path)]) == 0
    assert run(["bring", str(stand_path), str(sample_stand("alder-brook", "trees.csv"))]) == 0
    capsys.readouterr()
    return stand_path


@pytest.mark.parametrize(
    ("text", "code", "said"),
    [
        ("", 2, "bad.csv: is empty"),
        ("\n\n", 2, "bad.csv: holds nothing but blanks"),
        ("date,tmin,tmax\n", 2, "bad.csv: tells no temperature of any day"),
        ("date,tmin_c,tmax_c\n2026-03-20,1,999.9\n", 2,
         "bad.csv, line 2: a greatest temperature of 999.9 °C is not possible"),
        ("date,tmax\n2026-03-20,68\n", 2, "if it is Fahrenheit, call the column 'tmax_f'"),
        ("date,tmin_c,tmax_c\n2026-03-20,9,1\n", 2, "are the columns exchanged?"),
        ("date,tmin_c,tmax_c\n2025-02-29,1,9\n", 2, "bad.csv, line 2: date '2025-02-29' is not a day"),
        ("date,tmin_c\n2026-03-20,1\n2026-03-20,4\n", 2, "line 3: 2026-03-20 was told already on line 2"),
        ("date,tmin_c\n2026-03-29,1\n", 1, "line 2: 1 day after today"),
        (dly({(date(2026, 3, 1), "TMAX"): (999, " ")}), 2, "line 1: a greatest temperature of 99.9 °C is not possible"),
        (access(MARCH).replace("   51", "41.2"), 2, "'41.2' is not in tenths as the archive's own table is"),
        ("".join(by_year(MARCH, f"FIE{n:08d}") for n in range(30)), 2, "name the one near your wood with --station"),
        ("sign,date\nfrost,2026-03-20\n", 2, "bad.csv, line 2: 'frost' is no sign of the season"),
    ],
)  # fmt: skip
def test_bad_weather_is_one_line_and_stores_nothing(
    stand_path: Path, today: date, capsys: pytest.CaptureFixture[str], text: str, code: int, said: str
) -> None:
    assert today == date(2026, 3, 28)
    bad, good = stand_path.parent / "bad.csv", stand_path.parent / "good.dly"
    bad.write_text(text)
    good.write_text(dly(MARCH))
    assert run(["new", str(stand_path)]) == 0
    capsys.readouterr()
    before = rows(stand_path)
    # What is left out of one file, as days to come are, leaves the other alone; a fault does not.
    for beside in ([], [str(good)]) if code == 2 else ([],):
        assert run(["bring", str(stand_path), *beside, str(bad)]) == code
        told = capsys.readouterr()
        assert told.out == ""
        (line,) = [one for one in told.err.splitlines() if one.startswith("standmap: ")]
        assert line == told.err.splitlines()[-1]
        assert said in line
        assert line.isprintable()
        assert rows(stand_path) == before


@pytest.mark.parametrize("writer", [dly, by_year, access])
def test_weather_is_counted(wood: Path, capsys: pytest.CaptureFixture[str], writer: object) -> None:
    path = wood.parent / "w.dat"
    path.write_text(writer(MARCH))  # type: ignore[operator]
    assert run(["bring", str(wood), str(path), "--json"]) == 0
    (source,) = json.loads(capsys.readouterr().out)["sources"]
    assert (source["format"], source["added"], source["updated"], source["skipped"]) == ("ghcn", 27, 0, [])
    path.write_text(writer({**MARCH, (date(2026, 3, 1), "TMAX"): (70, " ")}))  # type: ignore[operator]
    assert run(["bring", str(wood), str(path)]) == 0
    assert "w.dat (ghcn): read " in (out := capsys.readouterr().out)
    assert "added 0, updated 1" in out


def test_one_station_of_many_and_then_when(wood: Path, capsys: pytest.CaptureFixture[str]) -> None:
    lines = ["station,name,lat,lon,date,tmin_c,tmax_c"]
    for station, lat in (("near", 62.6), ("far", 60.2)):
        day = date(2025, 11, 1)
        while day < date(2026, 3, 28):
            lines.append(f"{station},,{lat},27.2,{day},-5,{3 if day.month == 3 else -1}")
            day += timedelta(days=1)
    path = wood.parent / "w.csv"
    path.write_text("\n".join(lines))
    before = rows(wood)
    assert run(["bring", str(wood), str(path), "--station", "nowhere"]) == 2
    assert "w.csv: holds no station 'nowhere'; there are near, far; name one" in capsys.readouterr().err
    assert rows(wood) == before
    assert run(["bring", str(wood), str(path), "--station", "far"]) == 0
    assert "its spring is another's; look for a nearer station" in capsys.readouterr().err
    assert run(["bring", str(wood), str(path), "--dry-run"]) == 0
    assert run(["when", str(wood), "--weather", str(path), "--station", "near", "--json"]) == 0
    answer = json.loads(capsys.readouterr().out.splitlines()[-1])
    assert answer["station"] == "near"
    assert answer["weather_until"] == "2026-03-27"


def test_weather_and_signs_are_handed_on(wood: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = wood.parent / "w.csv"
    path.write_text("date,tmin_c,tmax_c\n2025-05-01,-1,9\n")
    assert run(["bring", str(wood), str(path)]) == 0
    assert run(["seen", str(wood), "leaf-out", "--on", "2025-05-04"]) == 0
    out = wood.parent / "out"
    assert run(["export", str(wood), "--out", str(out), "--only", "weather", "--only", "signs"]) == 0
    assert sorted(p.name for p in out.iterdir()) == ["signs.csv", "weather.csv"]
    assert (out / "signs.csv").read_text() == "sign,date,note\nleaf-out,2025-05-04,\n"
    capsys.readouterr()


def test_a_review_of_weather_keeps_the_station(wood: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path, review = wood.parent / "w.csv", wood.parent / "review.json"
    path.write_text("station,date,tmin_c\nA,2026-03-20,1\nB,2026-03-20,2\n")
    before = rows(wood)
    assert run(["bring", str(wood), str(path), "--station", "B", "--review", str(review)]) == 0
    assert rows(wood) == before
    assert run(["bring", str(wood), "--decide", str(review)]) == 0
    assert [row[3] for row in rows(wood)["weather"]] == [2.0]
    capsys.readouterr()
