"""Marks and edits by hand at a terminal: the same jobs, plain options, one clear line for what cannot be."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from standmap.cli.main import run
from standmap.jobs.opening import open_stand
from standmap.stand.ground import AreaKind, LineKind, PlaceKind
from standmap.stand.snapshot import Stand

HERE = "61.9 27.6"


@pytest.fixture
def wood(stand_path: Path, today: date, capsys: pytest.CaptureFixture[str]) -> str:
    """Return a stand of two trees put down by hand: one ready, one of unknown girth."""
    assert today == date(2026, 3, 28)
    wood = str(stand_path)
    assert run(["new", wood]) == 0
    species = ["--species", "Betula pendula"]
    assert run(["add", "tree", wood, "61.9", "27.6", "--name", "B1", "--girth", "84.2", "--unit", "cm", *species]) == 0
    assert run(["add", "tree", wood, "61°54'0\"N 27°36'4\"E", *species]) == 0
    capsys.readouterr()
    return wood


def read(wood: str) -> Stand:
    with open_stand(Path(wood), read_only=True) as opened:
        return opened.stand()


def answer(capsys: pytest.CaptureFixture[str], *arguments: str, code: int = 0) -> dict[str, Any]:
    assert run([*arguments, "--json"]) == code
    found: dict[str, Any] = json.loads(capsys.readouterr().out)
    return found


def test_marking_and_its_totals(wood: str, capsys: pytest.CaptureFixture[str]) -> None:
    said = answer(capsys, "mark", wood, "B1", "T1")
    assert [(t["tree"], t["holes"]) for t in said["trees"]] == [("B1", 1), ("T1", 1)]
    assert said["cautions"] == ["T1 is not ready in 2026: unsure (girth is not recorded)"]
    low, middle, high = (said["totals"].pop(key) for key in ("low_l", "expected_l", "high_l"))
    # One of a usual stem, and one a little thicker.
    assert 0 < low < 2 * 3 < middle < 2 * 3.5 < high
    assert said["totals"] == {
        "trees": 2,
        "taps": 2,
        "expected_basis": "assumed until there are records",
        "spread_basis": "published daily figures for silver birch, until there are records",
    }
    assert run(["mark", wood, "T1", "--off"]) == 0
    assert "marked for 2026: 1 tree, 1 tap" in capsys.readouterr().out
    assert answer(capsys, "mark", wood)["totals"]["trees"] == 1
    assert answer(capsys, "mark", wood, "--season", "2027", code=1)["trees"] == []


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--off"], "nothing says which trees"),
        (["B1", "--off", "--holes", "2"], "--off takes no --holes"),
        (["B1", "--holes", "0"], "0 holes in one stem cannot be meant"),
        (["B9"], "no tree is called 'B9'"),
    ],
)
def test_marks_that_cannot_be(wood: str, capsys: pytest.CaptureFixture[str], arguments: list[str], said: str) -> None:
    assert run(["mark", wood, *arguments]) == 2
    err = capsys.readouterr().err
    assert said in err
    assert err.count("\n") == 1


def test_what_would_make_a_tree_ready(wood: str, capsys: pytest.CaptureFixture[str]) -> None:
    said = answer(capsys, "ready", wood, "T1")
    assert [(a["step"], a["text"]) for a in said["answers"]] == [("measure", "measure its girth at 1.3 m")]
    assert run(["measure", wood, "T1", "--diameter", "10", "--unit", "in"]) == 0
    assert "a girth of 798 mm" in capsys.readouterr().out
    assert answer(capsys, "ready", wood, "T1")["answers"] == []
    assert run(["ready", wood, "T1"]) == 0
    assert capsys.readouterr().out == "T1 is ready in 2026\n"


def test_drawing_the_ground(wood: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["add", "stream", wood, "--point", HERE, "--point", "61.9 27.602", "--name", "brook"]) == 0
    assert run(["add", "place", wood, "61.90004", "27.601", "--kind", "bridge", "--name", "plank"]) == 0
    assert run(["add", "path", wood, "--point", HERE, "--point", "61.901 27.6"]) == 0
    assert run(["add", "fence", wood, "--point", HERE, "--point", "61.901 27.601"]) == 0
    corners = ["--point", "61.89 27.59", "--point", "61.91 27.59", "--point", "61.91 27.61"]
    owned = ["--owner", "Anna", "--from", "2026-01-01", "--until", "2026-12-31", "--limit", "12"]
    assert run(["add", "area", wood, *corners, "--name", "south", *owned]) == 0
    stand = read(wood)
    assert [line.kind for line in stand.lines] == [LineKind.STREAM, LineKind.PATH, LineKind.FENCE]
    assert stand.places[0].kind is PlaceKind.BRIDGE
    assert stand.places[0].at == pytest.approx((27.601, 61.9), abs=1e-6)
    (area,) = stand.areas
    assert (area.kind, area.owner, area.most_trees, area.until_date) == (
        AreaKind.PERMITTED,
        "Anna",
        12,
        date(2026, 12, 31),
    )
    capsys.readouterr()
    assert run(["remove", wood, "plank"]) == 0
    assert capsys.readouterr().out == "removed bridge plank; 'standmap undo' brings it back\n"
    assert run(["undo", wood]) == 0
    assert read(wood) == stand


def test_changing_the_ground(wood: str, capsys: pytest.CaptureFixture[str]) -> None:
    corners = ("61.899 27.599", "61.899 27.602", "61.901 27.602")
    outline = [part for corner in corners for part in ("--point", corner)]
    ends = ["--point", "61.9 27.6", "--point", "61.9004 27.6004"]
    assert run(["add", "path", wood, *ends, "--name", "ridge"]) == 0
    assert run(["add", "area", wood, *outline, "--name", "top", "--owner", "Ada", "--limit", "8"]) == 0
    assert run(["add", "place", wood, HERE, "--kind", "gate", "--name", "red"]) == 0
    capsys.readouterr()
    anew = ["--point", "61.9 27.6", "--point", "61.9 27.6005", "--point", "61.9004 27.6005"]
    assert run(["change", wood, "ridge", *anew, "--kind", "fence", "--name", "edge"]) == 0
    assert capsys.readouterr().out.startswith("changed fence edge (")
    assert run(["change", wood, "top", "--until", "2026-04-30"]) == 0
    assert run(["change", wood, "red", "--point", "61.9001 27.6001", "--note", "locked"]) == 0
    stand = read(wood)
    (line,), (area,), (place,) = stand.lines, stand.areas, stand.places
    assert (line.kind, line.name, len(line.course)) == (LineKind.FENCE, "edge", 3)
    assert (area.owner, area.until_date, area.most_trees) == ("Ada", date(2026, 4, 30), 8)
    assert (place.at, place.note) == ((27.6001, 61.9001), "locked")
    assert run(["change", wood, "top", "--until", "", "--limit", "-1"]) == 0
    (area,) = read(wood).areas
    assert (area.owner, area.until_date, area.most_trees) == ("Ada", None, None)
    capsys.readouterr()
    for arguments, said in (
        (["edge", "--owner", "Ada"], "fence edge is no area"),
        (["edge", "--kind", "gate"], "it cannot become 'gate'"),
        (["red", *ends], "gate red has one point, not 2"),
        (["nothing", "--name", "x"], "no place, line or area is called 'nothing'"),
    ):
        assert run(["change", wood, *arguments]) == 2
        assert said in capsys.readouterr().err
    assert run(["change", wood, "edge", "--name", "edge"]) == 1


def test_moving_a_tree(wood: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["move", wood, "B1", "61.9001", "27.6"]) == 0
    assert read(wood).trees[0].at == (27.6, 61.9001)
    assert run(["move", wood, "B1", "-61.9", "27.6"]) == 2
    assert "km from the stand's centre" in capsys.readouterr().err
    assert run(["move", wood, "B1", "531533", "6863180", "--epsg", "32635"]) == 0
    assert read(wood).trees[0].at == pytest.approx((27.6, 61.9), abs=2e-3)


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["add", "tree", "WOOD", "27.6", "61.9"], "swapped"),
        (["add", "tree", "WOOD", "here"], "'here' is no part of a position"),
        (["add", "tree", "WOOD", "95", "27.6"], "latitude 95 is not within"),
        (["add", "tree", "WOOD", "61.9", "27.6", "--girth", "9", "--unit", "m"], "a girth of 9000 mm"),
        (["add", "tree", "WOOD", "61.9", "27.6", "--girth", "90", "--date", "2026-03-29"], "after today"),
        (["add", "tree", "WOOD", "61.9", "27.6", "--name", "B1"], "another tree is called 'B1'"),
        (["add", "place", "WOOD", "61.9", "27.6", "--kind", "pub"], "'pub' is no kind of place"),
        (["add", "area", "WOOD", "--point", "61.9 27.6"], "one point leads nowhere"),
        (["remove", "WOOD", "B1"], "'B1' is a tree"),
        (["measure", "WOOD", "B1"], "nothing says how thick it is"),
        (["measure", "WOOD", "B1", "--girth", "9", "--diameter", "3"], "a girth and a diameter are given"),
    ],
)
def test_edits_that_cannot_be_write_nothing(
    wood: str, capsys: pytest.CaptureFixture[str], arguments: list[str], said: str
) -> None:
    before = read(wood)
    assert run([wood if a == "WOOD" else a for a in arguments]) == 2
    err = capsys.readouterr().err
    assert said in err
    assert err.count("\n") == 1
    assert read(wood) == before
