"""The command about the coming night."""

from __future__ import annotations

import json
from datetime import date, datetime
from pathlib import Path

import pytest

from standmap.cli.main import run
from standmap.jobs.keys import new_key
from standmap.stand.tapping import Collection, TapHole, Wound
from standmap.stand.tree import Measurement, Tree
from standmap.store.stand_file import StandFile

NOW = datetime(2026, 3, 27, 12).astimezone()


@pytest.fixture
def stand(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    monkeypatch.setenv("STANDMAP_TODAY", "2026-03-27")
    path = tmp_path / "wood.gpkg"
    with StandFile.create(path) as file, file.writing("plant", NOW) as writing:
        for k in range(3):
            writing.insert(Tree(f"t{k}", f"B{k}", (27.6 + k * 1e-4, 61.9), species="Betula pendula"))
            writing.insert(Measurement(f"m{k}", f"t{k}", date(2026, 1, 5), 900.0, None, "900", "mm"))
            made = datetime(2026, 3, 20 + 3 * k, 7).astimezone()
            writing.insert(TapHole(f"h{k}", f"t{k}", 1, Wound.HOLE, made.date(), made))
        for day in range(21, 28):
            at = datetime(2026, 3, day, 7).astimezone()
            writing.insert(Collection(new_key(), "h0", at.date(), at, 2400.0 + 50 * day, "", "l"))
    return str(path)


def test_a_night_in_words(stand: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["tonight", stand, "--until", "07:00", "--warm", "6"]) == 0
    said = capsys.readouterr()
    assert "from 2026-03-27 until 2026-03-28 07:00, 6.0 °C (as asked for)" in said.out
    assert "3 holes: " in said.out
    assert "7 recorded nights of this stand" in said.out
    assert "runs over 4.5 L" in said.out
    rows = [line.split() for line in said.out.splitlines() if line.startswith("B")]
    assert [row[:3] for row in rows] == [["B0", "1", "1.0"], ["B1", "1", "5.0"], ["B2", "1", "2.0"]]
    assert "hang a vessel of" in said.out
    assert "caution: sap keeps a day or a few in the cold" in said.err


def test_a_night_in_json(stand: str, capsys: pytest.CaptureFixture[str]) -> None:
    asked = ["tonight", stand, "--until", "07:00", "--emptied", "07:30", "--vessel", "3", "--chance", "20", "--json"]
    assert run(asked) == 0
    answer = json.loads(capsys.readouterr().out)
    assert list(answer) == [
        "date",
        "until",
        "warmth_c",
        "warmth",
        "vessel_l",
        "chance",
        "holes",
        "total",
        "larger",
        "evening",
        "cans",
        "basis",
        "assumed",
        "left_out",
        "notes",
        "cautions",
    ]
    assert (answer["vessel_l"], answer["chance"], answer["assumed"]) == (3.0, 0.2, False)
    assert answer["until"].startswith("2026-03-28T07:00")
    for hole in answer["holes"]:
        assert hole["waits_l"] <= 3.0
        assert hole["emptied_at"].startswith("2026-03-27T07:30")
        assert hole["median_l"] < hole["most_l"]
        assert (hole["overflow"] > 0.2) == (hole["vessel_l"] > 3.0)
    assert sum(one["count"] for one in answer["larger"]) == sum(h["overflow"] > 0.2 for h in answer["holes"])
    assert answer["total"]["most_l"] <= 9.0
    assert run(asked) == 0
    assert json.loads(capsys.readouterr().out) == answer


def test_past_seasons(stand: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["tonight", stand, "--check"]) == 0
    assert "7 collections of single holes" in capsys.readouterr().out
    assert run(["tonight", stand, "--check", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert (found["collections"], found["seasons"][0]["season"], found["seasons"][0]["run_over"]) == (7, 2026, 0)
    assert 0 <= found["inside_50"] <= found["inside_90"] <= 1


def test_a_night_and_past_seasons_are_drawn(stand: str, capsys: pytest.CaptureFixture[str]) -> None:
    folder = Path(stand).parent
    assert run(["tonight", stand, "--warm", "6", "--plot", str(folder / "night.svg")]) == 0
    assert str(folder / "night.svg") in capsys.readouterr().err
    drawn = (folder / "night.svg").read_text()
    assert all(text in drawn for text in ("B0", "B1", "B2", "4.5 L", "runs over"))
    assert run(["tonight", stand, "--check", "--plot", str(folder / "past.pdf")]) == 0
    assert (folder / "past.pdf").read_bytes().startswith(b"%PDF")
    assert run(["tonight", stand, "--plot", str(folder / "night.gif")]) == 2
    assert not (folder / "night.gif").exists()


@pytest.mark.parametrize(
    ("asked", "code", "said"),
    [
        (["--warm", "999.9"], 2, "a night of 999.9 °C is out of bounds; choose -20 to 30 °C"),
        (["--until", "2026-03-20 07:00"], 2, "2026-03-20 07:00 is before 2026-03-27"),
        (["--vessel", "0"], 2, "a vessel of 0 L is out of bounds"),
        (["--vessel", "nan"], 2, "a vessel of nan L is out of bounds"),
        (["--chance", "nan"], 2, "a chance of nan % is out of bounds"),
        (["--until", "late"], 2, "'late' is no hour"),
        (["--date", "2026-01-10"], 1, "no hole is open on 2026-01-10"),
    ],
)
def test_bad_input_is_one_line(
    stand: str, asked: list[str], code: int, said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["tonight", stand, *asked]) == code
    err = capsys.readouterr().err.strip().splitlines()
    assert len(err) == 1
    assert said in err[0]
