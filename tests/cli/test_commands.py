"""The commands as a person runs them: exit codes, one clear line for bad input, and the documented JSON shapes."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from standmap.cli.main import run

TREES = """name,lon,lat,species,girth_mm,date,soundness
B1,27.6000,61.9000,Betula pendula,842,2024-09-14,sound
B2,27.6010,61.9000,Betula pendula,900,2024-09-14,sound
B3,27.6020,61.9000,Betula pendula,600,2024-09-14,sound
B4,27.6030,61.9005,Picea abies,900,2024-09-14,sound
B5,27.6040,61.9005,,,,
B6,27.6005,61.9008,Betula pendula,910,2024-09-14,sound
"""
OF_THE_STAND = "B1 Betula pendula"
GATE = """<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1">
<wpt lat="61.8998" lon="27.5995"><name>gate</name><type>gate</type></wpt></gpx>"""
RECORDS = """tree,hole,date,time,what,litres,height_cm,side_deg,depth_mm,bit_mm,note
B6,,2024-03-20,,tapped,,,,,,
B6,,2024-03-24,,plugged,,,,,,
B1,,2026-03-25,17:00,tapped,,90,180,12,10,
B2,,2026-03-25,17:10,tapped,,90,90,12,10,
B1,,2026-03-26,07:00,collected,2.5,,,,,
"""


@pytest.fixture
def folder(tmp_path: Path, today: date, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Go to a folder that holds the sources of a small wood; it is the 28th of March 2026."""
    assert today == date(2026, 3, 28)
    (tmp_path / "trees.csv").write_text(TREES)
    (tmp_path / "gate.gpx").write_text(GATE)
    (tmp_path / "records.csv").write_text(RECORDS)
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.fixture
def wood(folder: Path, capsys: pytest.CaptureFixture[str]) -> Path:
    """Return a stand with trees, a gate and history."""
    assert run(["new", "wood.gpkg"]) == 0
    assert run(["bring", "wood.gpkg", "trees.csv", "gate.gpx"]) == 0
    assert run(["record", "wood.gpkg", "records.csv"]) == 0
    capsys.readouterr()
    return folder / "wood.gpkg"


def answer(capsys: pytest.CaptureFixture[str], *arguments: str) -> dict[str, Any]:
    """Run a command that answers in JSON; nothing else may be on stdout."""
    assert run([*arguments, "--json"]) == 0
    found: dict[str, Any] = json.loads(capsys.readouterr().out)
    return found


@pytest.mark.usefixtures("folder")
def test_bring_answers_in_its_shape(capsys: pytest.CaptureFixture[str]) -> None:
    run(["new", "wood.gpkg"])
    capsys.readouterr()
    found = answer(capsys, "bring", "wood.gpkg", "trees.csv", "gate.gpx")
    nothing: dict[str, object] = {
        "updated": 0, "skipped": [], "stops": [], "waiting": [], "ignored": 0, "walks": [],
    }  # fmt: skip
    assert found == {
        "sources": [
            {"file": "trees.csv", "format": "csv", "read": 6, "added": 6, **nothing},
            {"file": "gate.gpx", "format": "gpx", "read": 1, "added": 1, **nothing},
        ]
    }


def test_judge_answers_in_its_shape(wood: Path, capsys: pytest.CaptureFixture[str]) -> None:
    found = answer(capsys, "judge", wood.name, "--season", "2026")
    assert found["season"] == 2026
    assert found["counts"] == {
        "giving": 2,
        "off limits": 0,
        "unfit": 1,
        "unsure": 1,
        "growing on": 1,
        "resting": 1,
        "ready": 0,
    }
    trees = found["trees"]
    assert isinstance(trees, list)
    assert {t["tree"]: (t["verdict"], t["back_in"]) for t in trees} == {
        "B1": ("giving", 2030),
        "B2": ("giving", 2030),
        "B3": ("growing on", None),
        "B4": ("unfit", None),
        "B5": ("unsure", None),
        "B6": ("resting", 2028),
    }
    for tree in trees:
        assert set(tree) == {"tree", "id", "verdict", "reasons", "cautions", "back_in"}
        assert tree["reasons"]
        assert all(set(r) == {"rule", "text", "source"} and all(r.values()) for r in tree["reasons"])


ROUND_KEYS = {
    "date",
    "for",
    "walk",
    "seed",
    "repeatable",
    "aim",
    "proved",
    "gap_percent",
    "taps",
    "length_m",
    "minutes",
    "effort_kg_m",
    "from",
    "sets_out",
    "back_by",
    "contact",
    "light",
    "trips",
    "left_out",
    "kit",
    "notes",
    "cautions",
}
TRIP_KEYS = {
    "collector",
    "who",
    "from",
    "to",
    "sets_out_min",
    "length_m",
    "minutes",
    "max_load_kg",
    "effort_kg_m",
    "home_m",
    "home_min",
    "stops",
}
STOP_KEYS = {
    "order",
    "tree",
    "id",
    "hole",
    "hole_id",
    "litres",
    "high_l",
    "full_at",
    "overflow",
    "vessel_l",
    "load_kg",
    "leg_m",
    "leg_min",
    "climb_m",
    "bearing_true_deg",
    "bends",
    "minute",
    "todo",
    "cautions",
}


def test_round_answers_in_its_shape_and_writes_its_files(wood: Path, capsys: pytest.CaptureFixture[str]) -> None:
    found = answer(capsys, "round", wood.name, "--date", "2026-03-28", "--out", "walk", "--seed", "5")
    assert set(found) == ROUND_KEYS
    assert (found["date"], found["seed"], found["taps"], found["repeatable"]) == ("2026-03-28", 5, 2, True)
    (trip,) = found["trips"]
    assert set(trip) == TRIP_KEYS
    for stop in trip["stops"]:
        assert set(stop) == STOP_KEYS
        assert 0 <= stop["bearing_true_deg"] < 360
    assert {s["tree"] for s in trip["stops"]} == {"B1", "B2"}
    assert trip["max_load_kg"] == trip["stops"][-1]["load_kg"]
    # The way back is in the trip's length, not in the legs.
    assert trip["length_m"] > sum(s["leg_m"] for s in trip["stops"]) + 20
    assert sorted(p.name for p in Path("walk").iterdir()) == [
        f"walk.{kind}" for kind in ("csv", "geojson", "gpx", "html", "pdf")
    ]
    assert answer(capsys, "round", wood.name, "--date", "2026-03-28", "--out", "walk", "--seed", "5") == found


def test_round_leaves_out_with_a_reason(wood: Path, capsys: pytest.CaptureFixture[str]) -> None:
    run(["record", wood.name, "--tree", "B1", "--what", "collected", "--date", "2026-03-28", "--litres", "3,1"])
    capsys.readouterr()
    found = answer(capsys, "round", wood.name, "--out", "walk", "--trees", "B1,B2,B3")
    assert found["taps"] == 1
    assert found["left_out"] == [
        {"tree": "B1", "why": "collected on 2026-03-28 already"},
        {"tree": "B3", "why": "no open hole on 2026-03-28"},
    ]


def test_a_round_with_nothing_to_collect_says_why(wood: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["round", wood.name, "--date", "2025-03-28", "--out", "walk"]) == 1
    told = capsys.readouterr()
    assert told.out == ""
    assert told.err == "standmap: nothing to collect: no hole is open on 2025-03-28; the last holes are of 2026\n"
    assert not Path("walk").exists()


def test_an_answer_of_no_has_its_json_too(wood: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["round", wood.name, "--date", "2025-03-28", "--out", "walk", "--trees", "B3", "--json"]) == 1
    found = json.loads(capsys.readouterr().out)
    assert (found["taps"], found["trips"]) == (0, [])
    assert found["left_out"] == [{"tree": "B3", "why": "no open hole on 2025-03-28"}]
    assert run(["new", "empty.gpkg"]) == 0
    capsys.readouterr()
    assert run(["export", "empty.gpkg", "--out", "out", "--json"]) == 1
    assert json.loads(capsys.readouterr().out) == {"files": []}


def shell(command: str, cwd: Path) -> subprocess.CompletedProcess[bytes]:
    program = f'"{sys.executable}" -m standmap.cli.main'
    return subprocess.run(["sh", "-c", command.replace("standmap", program)], capture_output=True, cwd=cwd, timeout=60)


def test_json_is_valid_whatever_the_terminal_speaks(wood: Path) -> None:
    assert run(["correct", "re-tag", wood.name, "B1", "Käthe 🌳"]) == 0
    for encoding in ("ascii", "latin-1", "utf-8"):
        done = shell(f"PYTHONIOENCODING={encoding} standmap judge {wood.name} --season 2026 --json", wood.parent)
        assert json.loads(done.stdout)["trees"][0]["tree"] == "Käthe 🌳"
        assert (
            shell(f"PYTHONIOENCODING={encoding} standmap judge {wood.name} --season 2026", wood.parent).returncode == 0
        )


def test_a_reader_that_goes_away_and_a_full_disk_behind_stdout(wood: Path) -> None:
    piped = shell(f"(standmap judge {wood.name}; echo $? >code) | head -1", wood.parent)
    assert piped.stdout.count(b"\n") == 1
    assert (wood.parent / "code").read_text() == "0\n"
    # A reader that has gone before the first line is written.
    gone = shell(f"(sleep 1; standmap judge {wood.name}; echo $? >code) | true", wood.parent)
    assert (wood.parent / "code").read_text() == "0\n"
    assert b"could not be written" not in gone.stderr
    full = shell(f"standmap log {wood.name} >/dev/full", wood.parent)
    assert full.returncode == 2
    assert b"could not be written" in full.stderr
    assert shell(f"standmap log {wood.name} >&-", wood.parent).returncode == 0


def test_paths_that_no_disk_takes_are_bad_input(wood: Path, capsys: pytest.CaptureFixture[str]) -> None:
    long = "x" * 300
    for arguments in (
        ["judge", f"{long}.gpkg"],
        ["new", f"{long}.gpkg"],
        ["bring", wood.name, f"{long}.csv"],
        ["bring", wood.name, "/dev/zero"],
        ["export", wood.name, "--out", long],
        ["round", wood.name, "--out", long],
    ):
        capsys.readouterr()
        assert run(arguments) == 2, arguments
        assert [line for line in capsys.readouterr().err.splitlines() if line.startswith("standmap: ")]


def test_a_heavy_load_is_cautioned_with_its_source(wood: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["round", wood.name, "--out", "walk", "--capacity-kg", "16"]) == 0
    assert "INDG143" not in capsys.readouterr().err
    assert run(["round", wood.name, "--out", "walk", "--capacity-kg", "16.5"]) == 0
    assert "HSE, INDG143" in capsys.readouterr().err
    for load in ("4.9", "40.1", "nan"):
        assert run(["round", wood.name, "--out", "walk", "--capacity-kg", load]) == 2


def test_recording_one_tree(wood: Path, capsys: pytest.CaptureFixture[str]) -> None:
    found = answer(capsys, "record", wood.name, "--tree", "b2", "--what", "collected", "--litres", "3,25")
    assert found == {"lines": 1, "holes": 0, "collections": 1, "acts": 0, "cautions": []}
    assert run(["tree", wood.name, "B2"]) == 0
    assert "3.25 L from hole 1" in capsys.readouterr().out


def test_a_tap_against_the_rules_is_taken_with_a_loud_warning(wood: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["record", wood.name, "--tree", "B6", "--what", "tapped"]) == 0
    told = capsys.readouterr()
    assert told.out == "written down: 1 hole or slit\n"
    assert "WARNING: B6 was not ready in 2026: resting (" in told.err


def test_export_keeps_what_is_there(wood: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["export", wood.name, "--out", "out"]) == 0
    names = ["records.csv", "stand.geojson", "stand.gpx", "trees.csv"]
    assert sorted(p.name for p in Path("out").iterdir()) == names
    Path("out/stand.gpx").write_text("mine")
    assert run(["export", wood.name, "--out", "out"]) == 2
    assert "give --replace" in capsys.readouterr().err
    assert Path("out/stand.gpx").read_text() == "mine"
    assert run(["export", wood.name, "--out", "out", "--replace", "--only", "gpx"]) == 0
    assert Path("out/stand.gpx").read_text() != "mine"


def test_undo_redo_and_the_log(wood: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["undo", wood.name]) == 0
    assert capsys.readouterr().out == "taken back: record records.csv\n"
    assert answer(capsys, "judge", wood.name, "--season", "2026")["counts"]["ready"] == 3
    assert run(["redo", wood.name]) == 0
    assert run(["redo", wood.name]) == 1
    capsys.readouterr()
    kinds = [s["kind"] for s in answer(capsys, "log", wood.name)["steps"]]
    assert kinds == ["edit", "edit", "undo", "redo"]


def test_rules_are_kept_within_their_bounds(wood: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["rules", wood.name, "--set", "return_after_years=2"]) == 2
    assert "3" in capsys.readouterr().err
    assert run(["rules", wood.name, "--set", "return_after_years=5"]) == 0
    capsys.readouterr()
    trees = answer(capsys, "judge", wood.name, "--season", "2026")["trees"]
    assert [t["back_in"] for t in trees if t["tree"] == "B6"] == [2029]
    # Another set for one question only.
    other = answer(capsys, "judge", wood.name, "--season", "2026", "--rules", "finland")
    assert other["counts"]["resting"] == 0


def test_a_measurement_and_a_look_go_to_the_tree_they_belong_to(wood: Path, capsys: pytest.CaptureFixture[str]) -> None:
    name = wood.name
    assert run(["measure", name, "B1", "--girth", "84.2", "--unit", "cm", "--date", "2026-03-01"]) == 0
    assert run(["record", name, "--tree", "B1", "--what", "looked at", "--date", "2026-03-02"]) == 0
    capsys.readouterr()
    assert run(["correct", "move-record", name, "B1", "B6", "--measured", "2026-03-01"]) == 0
    assert "girth 84.2 cm (2026-03-01) went from B1 to B6" in capsys.readouterr().out
    assert run(["correct", "move-record", name, "B1", "B6", "--seen", "2026-03-02"]) == 0
    assert "looked at (2026-03-02) went from B1 to B6" in capsys.readouterr().out
    assert run(["correct", "move-record", name, "B1", "B6"]) == 2
    assert run(["correct", "move-record", name, "B1", "B6", "--measured", "2026-03-01"]) == 2
    told = capsys.readouterr().err
    assert "nothing says which record" in told
    assert "B1 has no measurement of 2026-03-01" in told
    assert run(["tree", name, "B6"]) == 0
    assert "girth 84.2 cm (2026-03-01) moved here from B1" in capsys.readouterr().out


def test_corrections_have_their_commands(wood: Path, capsys: pytest.CaptureFixture[str]) -> None:
    name = wood.name
    for arguments in (
        ["correct", "move-record", name, "B1", "B6", "--season", "2026"],
        ["correct", "re-tag", name, "B5", "K5"],
        ["correct", "merge", name, "K5", "B3"],
        ["correct", "felled", name, "B4", "--date", "2026-01-10"],
        ["correct", "dead", name, "B2"],
        ["correct", "rootstock", name, "B1", "B3"],
        ["correct", "species", name, "B3", "--is", "Betula pubescens"],
        ["correct", "soundness", name, "B3", "--unsound"],
        ["confirm", name, "B3", "--tag"],
    ):
        assert run(arguments) == 0, arguments
    assert run(["confirm", name, "--all"]) == 1
    assert run(["correct", "felled", name, "B1", "--date", "2026-03-29"]) == 2
    told = capsys.readouterr().err
    assert "2026-03-29 is after today" in told


@pytest.mark.parametrize(
    ("arguments", "code", "word"),
    [
        (["judge", "none.gpkg"], 2, "none.gpkg: there is no such file"),
        (["judge", "trees.csv"], 2, "trees.csv: this is not a GeoPackage"),
        (["new", "trees.csv"], 2, "trees.csv: the file is there already"),
        (["bring", "wood.gpkg", "none.csv"], 2, "none.csv: cannot be read"),
        (["judge", "wood.gpkg", "--season", "soon"], 2, "soon"),
        (["judge", "wood.gpkg", "--only", "fine"], 2, "'fine' is no verdict"),
        (["judge", "wood.gpkg", "--rules", "none"], 2, "none"),
        (["round", "wood.gpkg", "--out", "walk", "--date", "28.3.2026"], 2, "'28.3.2026' is not a date"),
        (["round", "wood.gpkg", "--out", "walk", "--from", "barn"], 2, "no place is called 'barn'"),
        (["round", "wood.gpkg", "--out", "walk", "--trees", "B77"], 2, "no tree is called 'B77'"),
        (["round", "wood.gpkg", "--out", "walk", "--trees", ","], 2, "--trees names no tree"),
        (["record", "wood.gpkg"], 2, "nothing says what to record"),
        (["record", "wood.gpkg", "--tree", "B1", "--what", "drunk"], 2, "drunk"),
        (["export", "wood.gpkg", "--out", "out", "--only", "shp"], 2, "'shp' cannot be written"),
        (["undo", "wood.gpkg", "--step", "99"], 2, "step 99"),
        (["tree", "wood.gpkg", "B77"], 2, "no tree is called 'B77'"),
        (["sing"], 2, "sing"),
        (["bring"], 2, "FILE"),
    ],
)
def test_bad_input_is_one_clear_line(
    wood: Path, capsys: pytest.CaptureFixture[str], arguments: list[str], code: int, word: str
) -> None:
    before = wood.read_bytes()
    assert run(arguments) == code
    told = capsys.readouterr()
    assert told.out == ""
    assert told.err.count("\n") == 1
    assert told.err.startswith("standmap: ")
    assert word in told.err
    assert wood.read_bytes() == before


def test_help_and_version_need_nothing(capsys: pytest.CaptureFixture[str]) -> None:
    assert run([]) == 0
    assert "bring" in capsys.readouterr().out
    assert run(["--version"]) == 0
    assert capsys.readouterr().out.startswith("standmap 0")


def test_cautions_stand_where_they_matter(wood: Path, capsys: pytest.CaptureFixture[str]) -> None:
    run(["judge", wood.name])
    assert "permission" in capsys.readouterr().err
    run(["round", wood.name, "--out", "walk"])
    assert "the time you will be back" in capsys.readouterr().err
    run(["record", wood.name, "--tree", "B2", "--what", "tapped"])
    told = capsys.readouterr().err
    assert all(word in told for word in ("food-grade", "drill", "local rules"))


def test_our_own_fault_is_said_as_ours(
    wood: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_: object, **__: object) -> None:
        raise ZeroDivisionError(OF_THE_STAND)

    monkeypatch.setattr("standmap.jobs.judge.judge", broken)
    assert run(["judge", wood.name]) == 3
    told = capsys.readouterr().err
    assert "our mistake" in told
    report = Path(told.rsplit(" ", 1)[1].strip())
    text = report.read_text()
    report.unlink()
    assert "ZeroDivisionError" in text
    assert OF_THE_STAND not in text


def test_ctrl_c_keeps_the_best_whole_round(folder: Path) -> None:
    rows = [
        f"T{i},{27.6 + (i * 7919 % 400) / 20000:.6f},{61.9 + (i * 104729 % 400) / 40000:.6f},Betula pendula,900"
        for i in range(150)
    ]
    Path("many.csv").write_text("name,lon,lat,species,girth_mm\n" + "\n".join(rows) + "\n")
    Path("taps.csv").write_text("tree,date,what\n" + "\n".join(f"T{i},2026-03-25,tapped" for i in range(150)) + "\n")
    assert run(["new", "many.gpkg"]) == 0
    assert run(["bring", "many.gpkg", "many.csv", "gate.gpx"]) == 0
    assert run(["record", "many.gpkg", "taps.csv"]) == 0
    command = [
        sys.executable,
        "-m",
        "standmap.cli.main",
        "round",
        "many.gpkg",
        "--out",
        "walk",
        "--seconds",
        "600",
        "--json",
    ]
    child = subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, cwd=folder, env=os.environ
    )
    time.sleep(4)
    child.send_signal(signal.SIGINT)
    out, _ = child.communicate(timeout=30)
    assert child.returncode == 0
    found = json.loads(out)
    assert found["taps"] == 150
    assert found["repeatable"] is False
    assert Path("walk/walk.gpx").exists()
