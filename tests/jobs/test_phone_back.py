"""What a phone brought home: taken once, shared out, and asked about where the stand says something else."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import pytest

from standmap.cli.main import run
from standmap.errors import NothingToDo, UserError
from standmap.jobs.given_walk import GivenWalk, give_out, given_walk
from standmap.jobs.phone_back import Keep, propose_back, take_back
from standmap.jobs.planned_round import PlannedRound, Purpose
from standmap.jobs.record import RecordReport
from standmap.jobs.taking_back import undo
from standmap.stand.tapping import Act, Collection, Observation
from standmap.store.stand_file import StandFile
from tests.jobs.test_walked import DAY, NOW, file, planned

__all__ = ["file", "planned"]


@pytest.fixture
def walk(file: StandFile, planned: PlannedRound) -> GivenWalk:
    return give_out(file, given_walk(planned, NOW))


def stop(walk: GivenWalk, number: int, **more: object) -> dict[str, object]:
    given = walk.stops[number]
    at = f"2026-03-28T07:{number:02d}:00+02:00"
    common = {"stop": given.key, "tree": f"B{given.tree_key[1:]}", "hole": given.hole_number, "trip": 1}
    return {**common, "at": at, "what": "done", **more}


def saved(path: Path, walk: GivenWalk, *stops: dict[str, object], totals: tuple[tuple[int, str], ...] = ()) -> Path:
    held: dict[str, Any] = {
        "format": "standmap returns",
        "version": 1,
        "plan": walk.key,
        "page": "1",
        "purpose": str(walk.purpose),
        "day": walk.day.isoformat(),
        "collector": 1,
        "written_at": "2026-03-28T08:00:00+02:00",
        "stops": list(stops),
        "trips": [
            {"trip": trip, "given": given, "unit": "l", "at": "2026-03-28T08:00:00+02:00"} for trip, given in totals
        ],
    }
    path.write_text(json.dumps(held))
    return path


def taken(file: StandFile, path: Path, keep: Keep | None = None) -> RecordReport:
    return take_back(file, propose_back(file, path, NOW), DAY, NOW, keep)


def litres(file: StandFile) -> dict[str, tuple[float, bool]]:
    return {c.hole_key: (c.volume_ml, c.overflowed) for c in file.stand().collections}


def test_litres_are_taken_as_one_step_and_never_twice(file: StandFile, walk: GivenWalk, tmp_path: Path) -> None:
    first = stop(walk, 0, given="2.5", unit="l", note="cloudy")
    path = saved(tmp_path / "r.json", walk, first, stop(walk, 1, given="1", unit="imp_gal", overflowed=True))
    steps = len(file.history())
    report = taken(file, path)
    assert (report.collections, report.cautions) == (2, (report.cautions[0],))  # a gallon is more than a vessel holds
    of = {c.hole_key: c for c in file.stand().collections}
    one, two = (of[walk.stops[k].hole_key or ""] for k in (0, 1))
    assert (one.volume_ml, one.note, one.given, one.overflowed) == (2500, "cloudy", "2.5", False)
    assert (two.volume_ml, two.given_unit, two.overflowed) == (4546.09, "imp_gal", True)
    assert one.collected_at == datetime(2026, 3, 28, 5, 0, tzinfo=UTC)
    assert len(file.history()) == steps + 1
    with pytest.raises(NothingToDo, match="all of it is written down already"):
        taken(file, path)
    # The page saves its file after every stop: a later one holds the earlier entries again.
    later = saved(tmp_path / "r2.json", walk, first, stop(walk, 2, given="3", unit="l"))
    assert (propose_back(file, later, NOW).same, taken(file, later).collections) == (1, 1)
    undo(file, NOW)
    undo(file, NOW)
    assert litres(file) == {}


def test_what_disagrees_is_shown_and_decided(file: StandFile, walk: GivenWalk, tmp_path: Path) -> None:
    key = walk.stops[0].hole_key or ""
    with file.writing("by hand", NOW) as writing:
        writing.insert(Collection("c", key, DAY, None, 2000.0, "2", "l"))
    path = saved(tmp_path / "r.json", walk, stop(walk, 0, given="2.5", unit="l"))
    proposal = propose_back(file, path, NOW)
    name = f"B{walk.stops[0].tree_key[1:]}"
    assert [c.line for c in proposal.conflicts] == [f"{name}, litres of 2026-03-28: here 2 L, on the phone 2.5 L"]
    with pytest.raises(UserError, match=r"1 entry disagrees with the stand, nothing was written; decide with --ours"):
        taken(file, path)
    with pytest.raises(NothingToDo, match="nothing new beside what disagrees"):
        taken(file, path, Keep.OURS)
    assert litres(file) == {key: (2000, False)}
    taken(file, path, Keep.THEIRS)
    assert litres(file) == {key: (2500, False)}
    undo(file, NOW)
    assert litres(file) == {key: (2000, False)}


def test_a_total_is_shared_among_those_not_measured(file: StandFile, walk: GivenWalk, tmp_path: Path) -> None:
    stops = [stop(walk, 0, given="2", unit="l"), *(stop(walk, k) for k in (1, 2, 3))]
    path = saved(tmp_path / "r.json", walk, *stops, totals=((1, "8"),))
    assert taken(file, path).collections == 4
    of = {c.hole_key: c for c in file.stand().collections}
    shares = [of[walk.stops[k].hole_key or ""] for k in (1, 2, 3)]
    assert [c.volume_ml for c in shares] == [2000.0] * 3
    assert len({c.total_key for c in shares}) == 1
    assert shares[0].note == "share of a total of 8 L for trip 1"
    assert of[walk.stops[0].hole_key or ""].total_key is None
    with pytest.raises(NothingToDo):
        taken(file, path)
    more = saved(tmp_path / "r2.json", walk, *stops, stop(walk, 4), totals=((1, "10"),))
    assert [c.ours for c in propose_back(file, more, NOW).conflicts] == []
    assert taken(file, more).collections == 1
    less = saved(tmp_path / "r3.json", walk, *stops, totals=((1, "1"),))
    with pytest.raises(UserError, match=r"total of trip 1 \(1 L\) is less than its trees by themselves \(2 L\)"):
        taken(file, less)


def test_emptied_without_litres_or_total_is_told(file: StandFile, walk: GivenWalk, tmp_path: Path) -> None:
    path = saved(tmp_path / "r.json", walk, stop(walk, 0), stop(walk, 1, given="2", unit="l"))
    report = taken(file, path)
    assert report.collections == 1
    assert "emptied without litres and without a total: B" in report.cautions[0]


def test_what_was_skipped_is_told_and_not_written(file: StandFile, walk: GivenWalk, tmp_path: Path) -> None:
    path = saved(
        tmp_path / "r.json",
        walk,
        stop(walk, 0, what="skipped", reason="not reached", note="water too high"),
        stop(walk, 1, given="2", unit="l"),
    )
    proposal = propose_back(file, path, NOW)
    assert proposal.skipped == (f"B{walk.stops[0].tree_key[1:]}: not reached (water too high)",)
    assert taken(file, path).collections == 1


def test_wounds_are_closed_as_done(file: StandFile, planned: PlannedRound, tmp_path: Path) -> None:
    walk = give_out(file, given_walk(replace(planned, purpose=Purpose.CLOSING), NOW))
    with file.writing("by hand", NOW) as writing:
        other = walk.stops[1]
        out = Observation("o1", other.tree_key, other.hole_key, Act.LEFT_OPEN, DAY)
        writing.insert(out)
    path = saved(
        tmp_path / "r.json",
        walk,
        stop(walk, 0, acts=["taken out", "plugged"], note="wet", tag_read=True),
        stop(walk, 1, acts=["plugged"]),
    )
    proposal = propose_back(file, path, NOW)
    assert [(c.ours, c.theirs) for c in proposal.conflicts] == [("left open on 2026-03-28", "plugged")]
    assert [t.key for t in proposal.changed] == [walk.stops[0].tree_key]
    report = taken(file, path, Keep.THEIRS)
    assert report.acts == 3
    stand = file.stand()
    done = {(o.hole_key, o.what): o.note for o in stand.observations}
    one, two = walk.stops[0].hole_key, walk.stops[1].hole_key
    assert done == {(one, Act.TAKEN_OUT): "wet", (one, Act.PLUGGED): "", (two, Act.PLUGGED): ""}
    assert stand.by_key[walk.stops[0].tree_key].tag_confirmed
    with pytest.raises(NothingToDo):
        taken(file, path)


def test_holes_that_were_made_come_with_their_figures(file: StandFile, planned: PlannedRound, tmp_path: Path) -> None:
    # The same stops, as if their holes were yet to be made.
    trip = planned.trips[0]
    yet = tuple(replace(s, hole=None, key=f"{s.tree.key}-2", hole_number=2) for s in trip.stops)
    plan = replace(planned, purpose=Purpose.TAPPING, trips=(replace(trip, stops=yet),))
    walk = give_out(file, given_walk(plan, NOW))
    made = {"height_mm": 600, "side_deg": 180, "depth_mm": 13, "bit_mm": 10}
    path = saved(tmp_path / "r.json", walk, stop(walk, 0, **made))
    assert taken(file, path).holes == 1
    hole = next(h for h in file.stand().holes if h.number == 2)
    assert (hole.tree_key, hole.height_mm, hole.side_deg, hole.depth_mm, hole.bit_mm, hole.made_on) == (
        *(walk.stops[0].tree_key, 600, 180, 13, 10, DAY),
    )
    with pytest.raises(NothingToDo):
        taken(file, path)
    other = saved(tmp_path / "r2.json", walk, stop(walk, 0, **{**made, "depth_mm": 15}))
    (conflict,) = propose_back(file, other, NOW).conflicts
    assert (conflict.ours, conflict.theirs) == ("depth 13 mm", "depth 15 mm")
    taken(file, other, Keep.THEIRS)
    assert next(h for h in file.stand().holes if h.number == 2).depth_mm == 15


def test_a_walk_of_another_copy_goes_by_names(file: StandFile, planned: PlannedRound, tmp_path: Path) -> None:
    walk = given_walk(planned, NOW)  # never given out here
    path = saved(tmp_path / "r.json", walk, stop(walk, 0, given="2", unit="l"))
    assert any("was not given out from this copy" in c for c in taken(file, path).cautions)
    lost = stop(walk, 1, given="2", unit="l", stop="nobody", tree="Z9")
    with pytest.raises(UserError, match=r"r2.json: no tree is called 'Z9'"):
        propose_back(file, saved(tmp_path / "r2.json", walk, lost), NOW)


def test_the_command_takes_what_a_phone_saved(
    file: StandFile, walk: GivenWalk, tmp_path: Path, today: date, capsys: pytest.CaptureFixture[str]
) -> None:
    assert today == DAY
    path = str(saved(tmp_path / "r.json", walk, stop(walk, 0, given="2.5", unit="l")))
    wood = str(file.path)
    assert run(["record", wood, path, "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert (answer["collections"], answer["same"], answer["conflicts"]) == (1, 0, [])
    assert run(["record", wood, path]) == 1
    capsys.readouterr()
    other = str(saved(tmp_path / "r2.json", walk, stop(walk, 0, given="3", unit="l")))
    assert run(["record", wood, other]) == 2
    assert "here 2.5 L, on the phone 3 L" in capsys.readouterr().err
    assert run(["record", wood, other, "--ours", "--theirs"]) == 2
    assert run(["record", wood, other, "--theirs", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["kept"] == "theirs"
