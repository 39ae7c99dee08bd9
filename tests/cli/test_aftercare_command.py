"""`standmap aftercare` as a person runs it, through a whole year of recording what it asks for."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from standmap.cli.main import run

TREES = """name,lon,lat,species,girth_mm,date,soundness
B1,27.6000,61.9000,Betula pendula,842,2024-09-14,sound
B2,27.6010,61.9000,Betula pendula,900,2024-09-14,sound
B3,27.6020,61.9000,Betula pendula,900,2024-09-14,sound
"""
RECORDS = """tree,hole,date,time,what,litres,height_cm,side_deg,depth_mm,bit_mm,note
B3,,2024-03-25,,tapped,,,,,,
B1,,2026-03-20,,tapped,,,,,,
B2,,2026-03-25,,slit,,,,,,
"""


@pytest.fixture
def wood(tmp_path: Path, today: date, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> str:
    """Return a stand with a hole and a slit of this season, and a hole of 2024 that nobody noted as closed."""
    assert today == date(2026, 3, 28)
    monkeypatch.chdir(tmp_path)
    Path("trees.csv").write_text(TREES)
    Path("records.csv").write_text(RECORDS)
    assert run(["new", "wood.gpkg"]) == 0
    assert run(["bring", "wood.gpkg", "trees.csv"]) == 0
    assert run(["record", "wood.gpkg", "records.csv"]) == 0
    capsys.readouterr()
    return "wood.gpkg"


def answer(capsys: pytest.CaptureFixture[str], *arguments: str, code: int = 0) -> dict[str, Any]:
    assert run(["aftercare", *arguments, "--json"]) == code
    found: dict[str, Any] = json.loads(capsys.readouterr().out)
    return found


def test_the_answer_in_its_shape(wood: str, capsys: pytest.CaptureFixture[str]) -> None:
    before = Path(wood).read_bytes()
    found = answer(capsys, wood, "--all")
    assert (found["date"], found["rules"]) == ("2026-03-28", "cautious")
    assert [(d["tree"], d["hole"], d["season"], d["what"], d["due_on"], d["overdue"]) for d in found["due"]] == [
        ("B3", 1, 2024, "plugged", "2024-04-08", True),
        ("B1", 1, 2026, "taken out", "2026-04-03", False),
        ("B2", 1, 2026, "taken out", "2026-04-08", False),
    ]
    for due in found["due"]:
        assert set(due) == {"tree", "id", "hole", "season", "what", "due_on", "overdue", "why", "rule", "source", "peg"}
        assert (due["peg"] is not None) is (due["what"] == "plugged")
        assert all(isinstance(due[name], str) and due[name] for name in ("id", "why", "rule", "source"))
    assert found["counts"] == {"taken out": 2, "plugged": 1}
    assert Path(wood).read_bytes() == before

    due_now = answer(capsys, wood)
    assert due_now["due"] == found["due"][:1]
    assert due_now["counts"] == {"plugged": 1}


def test_a_person_reads_a_table_with_reasons_sources_and_cautions(
    wood: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["aftercare", wood, "--date", "2026-04-04"]) == 0
    told = capsys.readouterr()
    assert told.out.splitlines()[0] == "2026-04-04, cautious set"
    assert told.out.splitlines()[1] == "taken out 1  plugged 1"
    assert "hole 1 of 2026  taken out  2026-04-03  overdue 1 d" in told.out
    assert "never noted as closed: look, then record 'plugged', 'left open' or 'taken out'" in told.out
    assert "taken out: cautious set · assumption" in told.out
    assert "caution: mind the knife" in told.err
    assert "caution: work with both feet on the ground" in told.err

    assert run(["aftercare", wood, "--date", "2026-04-03", "--all"]) == 0
    out = capsys.readouterr().out
    assert "2026-04-03  today" in out
    assert "2026-04-08  in 5 d" in out


def test_recording_what_is_asked_moves_every_wound_on_to_its_end(
    wood: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    asked: dict[str, list[str]] = {}
    listed = answer(capsys, wood, "--all")
    for _ in range(20):
        if not listed["due"]:
            break
        due = listed["due"][0]
        day = max(listed["date"], due["due_on"])
        monkeypatch.setenv("STANDMAP_TODAY", day)
        asked.setdefault(due["tree"], []).append(due["what"])
        assert run(["record", wood, "--tree", due["tree"], "--what", due["what"], "--hole", str(due["hole"])]) == 0
        capsys.readouterr()
        assert run(["aftercare", wood, "--all", "--json"]) in (0, 1)
        listed = json.loads(capsys.readouterr().out)
    assert asked == {
        "B1": ["taken out", "plugged", "trimmed", "looked at"],
        "B2": ["taken out", "left open", "looked at"],
        "B3": ["plugged", "trimmed", "looked at"],
    }
    assert run(["aftercare", wood]) == 1
    assert "every wound of a standing tree is closed and was looked at" in capsys.readouterr().err


def test_taken_out_with_its_day_in_an_earlier_season_is_an_answer_too(
    wood: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["record", wood, "--tree", "B3", "--what", "taken out", "--date", "2024-04-10"]) == 0
    capsys.readouterr()
    (due,) = answer(capsys, wood)["due"]
    assert (due["tree"], due["what"], due["due_on"]) == ("B3", "plugged", "2024-04-10")
    assert "out since 2024-04-10" in due["why"]


def test_nothing_due_says_why(wood: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["correct", "felled", wood, "B3"]) == 0
    capsys.readouterr()
    assert run(["aftercare", wood]) == 1
    told = capsys.readouterr()
    assert told.out == ""
    assert told.err == (
        "standmap: wood.gpkg: nothing is due on 2026-03-28: the next is 'taken out' at B1 on 2026-04-03 "
        "(--all lists what is due later)\n"
    )
    assert answer(capsys, wood, code=1) == {"date": "2026-03-28", "rules": "cautious", "due": [], "counts": {}}


def test_a_day_that_is_none_is_refused(wood: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["aftercare", wood, "--date", "28.3."]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert told.err == "standmap: '28.3.' is not a date; write it like 2026-03-28\n"


def test_what_is_done_is_written_down_by_naming_the_trees(wood: str, capsys: pytest.CaptureFixture[str]) -> None:
    found = answer(capsys, wood, "--done", "B3", "--done", "B1", "--all")
    done = {(d["tree"], d["what"]) for d in found["due"]}
    assert done == {("B3", "trimmed"), ("B1", "plugged"), ("B2", "taken out")}
    assert run(["log", wood, "--json"]) == 0
    steps = json.loads(capsys.readouterr().out)["steps"]
    assert steps[-1]["label"] == "plugged, taken out: B3, B1"


def test_nothing_due_at_a_named_tree_is_said_and_nothing_is_written(
    wood: str, capsys: pytest.CaptureFixture[str]
) -> None:
    before = Path(wood).read_bytes()
    assert run(["aftercare", wood, "--done", "B2"]) == 1
    assert "B2: nothing is due on 2026-03-28" in capsys.readouterr().err
    assert Path(wood).read_bytes() == before


def test_what_is_due_goes_into_a_calendar(wood: str, capsys: pytest.CaptureFixture[str]) -> None:
    import icalendar

    assert run(["aftercare", wood, "--calendar", "care.ics"]) == 0
    assert "care.ics: 3 entries; brought in again, they change and do not double" in capsys.readouterr().err
    events = icalendar.Calendar.from_ical(Path("care.ics").read_bytes()).walk("VEVENT")
    told = {str(e["summary"]): e.decoded("dtstart") for e in events}
    assert told == {
        "B3: plug the hole": date(2026, 3, 28),  # overdue: on the day of the answer
        "B1: take the tube out": date(2026, 4, 3),
        "B2: take the tube out": date(2026, 4, 8),
    }
    assert "was due on 2024-04-08" in str(events[0]["description"])
    uids = {str(e["uid"]) for e in events}
    assert run(["aftercare", wood, "--calendar", "care.ics", "--date", "2026-04-01"]) == 0
    again = icalendar.Calendar.from_ical(Path("care.ics").read_bytes()).walk("VEVENT")
    assert {str(e["uid"]) for e in again} == uids


def test_what_is_due_goes_on_paper(wood: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["aftercare", wood, "--pdf", "care.pdf", "--paper", "letter", "--json"]) == 0
    assert len(json.loads(capsys.readouterr().out)["due"]) == 1
    assert Path("care.pdf").read_bytes().startswith(b"%PDF")
    for wrong, told in (
        (["--paper", "A4"], "--paper goes with --pdf"),
        (["--seen", "open"], "--seen goes with --done"),
    ):
        assert run(["aftercare", wood, *wrong]) == 2
        assert told in capsys.readouterr().err
    assert run(["aftercare", wood, "--pdf", "other.pdf", "--paper", "A9"]) == 2
    assert not Path("other.pdf").exists()


def test_what_a_look_saw_is_written_with_what_was_done(
    wood: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["aftercare", wood, "--done", "B3", "--seen", "open"]) == 2
    assert "no look is due at B3" in capsys.readouterr().err
    assert run(["record", wood, "--tree", "B3", "--what", "left open", "--date", "2024-04-10"]) == 0
    assert run(["aftercare", wood, "--done", "B3", "--seen", "half"]) == 2
    assert "'half' is not what a look can tell" in capsys.readouterr().err
    found = answer(capsys, wood, "--done", "B3", "--seen", "open", "--all")
    again = next(d for d in found["due"] if d["tree"] == "B3")
    assert (again["what"], again["due_on"]) == ("looked at", "2026-09-01")
    monkeypatch.setenv("STANDMAP_TODAY", "2026-09-05")
    found = answer(capsys, wood, "--done", "B3", "--seen", "closed", "--all")
    assert "B3" not in {d["tree"] for d in found["due"]}
