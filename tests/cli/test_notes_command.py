"""Notes and pictures at a terminal: brought in by a stated clock, listed, written out and taken out."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from standmap.cli.main import app
from standmap.errors import UserError
from standmap.jobs.bring_report import ahead_of, zone_of
from tests.jobs.stand_rows import walk_text
from tests.photo_files import photo


@pytest.fixture
def stand(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("STANDMAP_TODAY", "2026-03-28")
    path = tmp_path / "wood.gpkg"
    assert run("new", path)[0] == 0
    return path


def run(*words: object) -> tuple[int, str]:
    done = CliRunner().invoke(app, [str(w) for w in words], catch_exceptions=True)
    return (done.exit_code if not isinstance(done.exception, UserError) else 2), done.stdout


def files(folder: Path) -> list[Path]:
    walk, notes = folder / "walk.gpx", folder / "notes.csv"
    walk.write_text(walk_text(0, 25, 58))
    notes.write_text("time,name,girth_mm\n2026-03-20 07:01:35,B1,842\n2026-03-20 07:02:55,B2,790\n")
    return [notes, walk, photo(folder / "a.jpg", taken="2026:03:20 07:01:40", camera="K")]


def test_a_clock_is_stated_and_pictures_are_listed_written_and_taken_out(stand: Path, tmp_path: Path) -> None:
    code, out = run("bring", stand, *files(tmp_path), "--notes-zone", "+02:00", "--clock-offset", "75s", "--json")
    assert code == 0
    assert [s["format"] for s in json.loads(out)["sources"]] == ["notes", "gpx", "photo"]
    assert [s["tree"] for s in json.loads(out)["sources"][1]["stops"]][:2] == ["B1", "B2"]
    code, out = run("photos", stand, "B1", "--json")
    (held,) = json.loads(out)["photos"]
    assert (held["number"], held["file"], held["taken_at"]) == (1, "a.jpg", "2026-03-20T07:00:25+02:00")
    code, out = run("photos", stand, "B1", "--out", tmp_path / "out", "--json")
    (written,) = json.loads(out)["files"]
    assert Path(written).name == "B1-1.jpg"
    assert Path(written).read_bytes()[:3] == b"\xff\xd8\xff"
    assert run("photos", stand, "B1", "--remove", "1")[0] == 0
    assert run("photos", stand, "B1", "--json") == (1, '{"photos": []}\n')
    assert run("undo", stand)[0] == 0
    assert run("photos", stand, "B1")[0] == 0


def test_a_review_keeps_what_was_said_of_the_clock(stand: Path, tmp_path: Path) -> None:
    review = tmp_path / "review.json"
    assert (
        run("bring", stand, *files(tmp_path), "--notes-zone", "+02:00", "--clock-offset", "75s", "--review", review)[0]
        == 0
    )
    held = json.loads(review.read_text())
    assert (held["notes_zone_s"], held["clock_ahead_s"]) == (7200, 75)
    assert {i["kind"] for i in held["items"]} == {"walk", "stop", "note", "photo"}
    assert run("bring", stand, "--decide", review)[0] == 0
    assert len(json.loads(run("photos", stand, "B1", "--json")[1])["photos"]) == 1


@pytest.mark.parametrize(
    ("text", "seconds"),
    [
        ("75s", 75),
        ("-75", -75),
        ("-2m30s", -150),
        ("1h", 3600),
        ("1 h 00 min 12 s", 3612),
        ("+3d", 259_200),
        ("0.5s", 0.5),
    ],
)
def test_time_spans(text: str, seconds: float) -> None:
    assert ahead_of(text) == seconds


@pytest.mark.parametrize(
    ("text", "seconds"), [("+02:00", 7200), ("-0930", -34_200), ("UTC+5:45", 20_700), ("Z", 0), ("+2", 7200)]
)
def test_zones(text: str, seconds: float) -> None:
    assert zone_of(text) == seconds


@pytest.mark.parametrize("text", ["", "soon", "1x", "--3s", "9" * 400 + "d"])
def test_what_is_no_time_span_is_refused(text: str) -> None:
    with pytest.raises(UserError, match="is not how far a clock is ahead"):
        ahead_of(text)


@pytest.mark.parametrize("text", ["", "Helsinki", "+15:00", "+02:75", "02:00"])
def test_what_is_no_zone_is_refused(text: str) -> None:
    with pytest.raises(UserError, match="is not a time zone"):
        zone_of(text)
