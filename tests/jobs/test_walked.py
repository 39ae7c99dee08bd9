"""A walk that was given out, and the walk that was walked, side by side."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from standmap.errors import UserError
from standmap.jobs.given_walk import GivenWalk, give_out, given_walk, walks_given_out
from standmap.jobs.planned_round import PlannedRound, Purpose
from standmap.jobs.round import RoundOptions, plan_round
from standmap.jobs.taking_back import undo
from standmap.jobs.walked import WalkedRound, walked_beside_plan
from standmap.messages import Collected
from standmap.stand.ground import Place, PlaceKind
from standmap.stand.tapping import Collection, TapHole, Wound
from standmap.stand.tree import LonLat, Tree
from standmap.store.stand_file import StandFile
from tests.survey.simulated_walks import gauss_markov

DAY = date(2026, 3, 28)
NOW = datetime(2026, 3, 28, 7, 30, tzinfo=UTC)
EAST, NORTH = 1.9e-5, 8.98e-6  # about a metre at 61.9 N
AT = [(20, 5), (45, 15), (70, 0), (60, -30), (30, -25)]


@pytest.fixture
def file(stand_file: StandFile) -> StandFile:
    with stand_file.writing("plant", NOW) as writing:
        writing.set_setting("working_frame", {"lon0": 27.6, "lat0": 61.9})
        writing.insert(Place("g", "gate", PlaceKind.GATE, (27.6, 61.9)))
        for k, (x, y) in enumerate(AT):
            writing.insert(
                Tree(f"t{k}", f"B{k}", (27.6 + x * EAST, 61.9 + y * NORTH)),
                TapHole(f"h{k}", f"t{k}", 1, Wound.HOLE, date(2026, 3, 27)),
            )
    return stand_file


@pytest.fixture
def planned(file: StandFile) -> PlannedRound:
    return plan_round(file.stand(), DAY, RoundOptions(capacity_kg=40, run_ml=2000))


def track(path: Path, places: list[LonLat], *, stay_s: int = 60, day: date = DAY, times: bool = True) -> Path:
    """Write a walk from the gate past these places and back, at about 1 m/s, seen by a receiver of 1.5 m."""
    rng = np.random.default_rng(11)
    way = [(27.6, 61.9), *places, (27.6, 61.9)]
    points: list[LonLat] = []
    for a, b in pairwise(way):
        metres = int(np.hypot((b[0] - a[0]) / EAST, (b[1] - a[1]) / NORTH)) + 1
        points += [(a[0] + (b[0] - a[0]) * s / metres, a[1] + (b[1] - a[1]) * s / metres) for s in range(metres)]
        points += [b] * (stay_s if b != way[0] else 0)
    t = np.arange(len(points), dtype=np.float64)
    off_e, off_n = gauss_markov(rng, t, 1.5, 60.0), gauss_markov(rng, t, 1.5, 60.0)
    began = datetime(day.year, day.month, day.day, 4, 40, tzinfo=UTC)
    rows = []
    for k, (lon, lat) in enumerate(points):
        time = f"<time>{(began + timedelta(seconds=k)).isoformat()}</time>" if times else ""
        rows.append(f'<trkpt lon="{lon + off_e[k] * EAST:.7f}" lat="{lat + off_n[k] * NORTH:.7f}">{time}</trkpt>')
    path.write_text(
        '<gpx version="1.1" creator="t" xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>'
        + "".join(rows)
        + "</trkseg></trk></gpx>"
    )
    return path


def held(file: StandFile, given: GivenWalk, path: Path, **more: object) -> WalkedRound:
    return walked_beside_plan(file.stand(), given, path, **more)  # type: ignore[arg-type]


def test_a_walk_given_out_is_kept_once_and_can_be_taken_back(file: StandFile, planned: PlannedRound) -> None:
    given = give_out(file, given_walk(planned, NOW))
    assert walks_given_out(file) == (given,)
    assert [stop.key for stop in given.stops] == [stop.key for trip in planned.trips for stop in trip.stops]
    assert given.length_m == pytest.approx(planned.length_m, abs=1e-3)
    assert given.trips[0].course == planned.trips[0].course
    steps = len(file.history())
    again = give_out(file, given_walk(planned, NOW + timedelta(hours=1)))
    assert (again.key, len(file.history())) == (given.key, steps)
    other = give_out(file, given_walk(replace(planned, purpose=Purpose.CLOSING), NOW + timedelta(hours=2)))
    assert [walk.key for walk in walks_given_out(file, DAY)] == [other.key, given.key]
    assert walks_given_out(file, date(2026, 3, 29)) == ()
    undo(file, NOW)
    assert walks_given_out(file) == (given,)


def test_a_kept_walk_that_cannot_be_read_says_so(file: StandFile, planned: PlannedRound) -> None:
    from standmap.stand.records import PlannedWalk

    give_out(file, given_walk(planned, NOW))
    (row,) = file.rows(PlannedWalk)
    with file.writing("spoil", NOW) as writing:
        writing.change(row, content='{"trips": 3}')
    with pytest.raises(UserError, match=r"walk kept of 2026-03-28 cannot be read .*; plan the day again"):
        walks_given_out(file)


def test_a_walk_as_planned(file: StandFile, planned: PlannedRound, tmp_path: Path) -> None:
    given = given_walk(planned, NOW)
    order = [stop.at for stop in given.stops]
    with file.writing("collect", NOW) as writing:
        writing.insert(Collection("c", given.stops[0].hole_key or "", DAY, None, 2500.0, "2.5", "l"))
    found = held(file, given, track(tmp_path / "morning.gpx", order))
    assert [stop.walked_order for stop in found.stops] == [1, 2, 3, 4, 5]
    assert all(stop.stayed for stop in found.stops)
    assert found.swapped == 0
    assert found.walked_m == pytest.approx(found.planned_m, rel=0.15)
    assert found.brought_l == 2.5
    assert found.expected_l == pytest.approx(10)
    for stop, leg in zip(found.stops, planned.trips[0].stops, strict=True):
        before = [s for s in planned.trips[0].stops if s.order <= leg.order]
        true_s = sum(int(s.leg_m) + 1 for s in before) + 60 * (len(before) - 1)
        assert stop.walked_min == pytest.approx(true_s / 60, abs=0.5)


def test_another_order_and_a_tree_left_out(file: StandFile, planned: PlannedRound, tmp_path: Path) -> None:
    given = given_walk(planned, NOW)
    order = [stop.at for stop in given.stops]
    swapped = [order[1], order[0], *order[3:]]
    found = held(file, given, track(tmp_path / "morning.gpx", swapped))
    assert [stop.walked_order for stop in found.stops] == [2, 1, None, 3, 4]
    assert [stop.name for stop in found.missed] == [found.stops[2].name]
    assert found.swapped == 1
    assert found.brought_l is None


def test_what_cannot_be_held_against_a_plan(file: StandFile, planned: PlannedRound, tmp_path: Path) -> None:
    given = given_walk(planned, NOW)
    order = [stop.at for stop in given.stops]
    with pytest.raises(UserError, match=r"no.gpx: its track has no times; export"):
        held(file, given, track(tmp_path / "no.gpx", order, times=False))
    elsewhere = track(tmp_path / "far.gpx", order)
    elsewhere.write_text(elsewhere.read_text().replace('lon="27.', 'lon="47.'))
    with pytest.raises(UserError, match=r"far.gpx: the walk is nowhere near this stand"):
        held(file, given, elsewhere)
    with pytest.raises(UserError, match=r"has no collector 3; it has 1"):
        held(file, given, track(tmp_path / "m.gpx", order), collector=3)
    away = track(tmp_path / "beside.gpx", order)
    away.write_text(away.read_text().replace('lon="27.60', 'lon="27.61'))
    with pytest.raises(UserError, match=r"comes to none of the 5 stops of 2026-03-28; name the walk of that day"):
        held(file, given, away)


def test_a_walk_of_another_day_is_asked_about(file: StandFile, planned: PlannedRound, tmp_path: Path) -> None:
    given = given_walk(planned, NOW)
    heard = Collected()
    path = track(tmp_path / "late.gpx", [stop.at for stop in given.stops], day=date(2026, 3, 30))
    held(file, given, path, messages=heard)
    assert heard.cautions == ["late.gpx was walked on 2026-03-30, the plan is of 2026-03-28: the right one?"]
