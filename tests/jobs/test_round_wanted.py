"""What a person may want of a walk: people who differ, tanks, pins, a latest finish, a barrow, to go on from here."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import replace
from datetime import datetime, time
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from standmap.cli.round_answer import round_json
from standmap.errors import NothingToDo, UserError
from standmap.jobs.planned_round import PlannedRound, Purpose
from standmap.jobs.round import RoundOptions, plan_posed, plan_round, pose_round
from standmap.jobs.round_files import sheets, write_round
from standmap.jobs.round_options import FromHere, Walker
from standmap.jobs.round_tanks import where_tank
from standmap.progress import Progress
from standmap.rounds.stop import MaxIterations
from standmap.settings import Settings
from standmap.stand.ground import Line, LineKind, Place, PlaceKind
from standmap.stand.records import Plan
from standmap.stand.snapshot import Stand
from tests.jobs.round_woods import DAY, at, wood

ROW = [(20.0 * i, 10.0 * (i % 3)) for i in range(1, 9)]
SOON = MaxIterations(50)


def names(planned: PlannedRound) -> list[str]:
    return sorted(stop.tree.name for trip in planned.trips for stop in trip.stops)


def test_each_carries_no_more_than_their_own_load_and_begins_where_and_when_they_do() -> None:
    barn = Place("b", "barn", PlaceKind.LANDMARK, at(170, 0))
    stand = wood(*ROW)
    stand = replace(stand, places=(*stand.places, barn))
    two = (Walker("Ilse", 12.0, "barn", time(6, 10)), Walker("Ott", 8.0, None, time(6, 30)))
    planned = plan_round(stand, DAY, RoundOptions(walkers=two, aim="time", run_ml=2000), stop=SOON)
    assert names(planned) == sorted(tree.name for tree in stand.trees)
    assert {trip.who for trip in planned.trips} == {"Ilse", "Ott"}
    assert planned.sets_out is not None
    assert (planned.sets_out.hour, planned.sets_out.minute) == (6, 10)
    for trip in planned.trips:
        assert trip.max_load_kg <= {"Ilse": 12.0, "Ott": 8.0}[trip.who] + 1e-6
        assert trip.sets_out_min >= {"Ilse": 0.0, "Ott": 20.0}[trip.who]
    first = next(trip for trip in planned.trips if trip.who == "Ilse")
    assert first.start == barn
    assert planned.minutes == pytest.approx(max(trip.sets_out_min + trip.minutes for trip in planned.trips))


def test_whoever_has_nothing_to_walk_is_named() -> None:
    two = (Walker("Ilse", 12.0), Walker("Ott", 8.0))
    planned = plan_round(wood((20, 0)), DAY, RoundOptions(walkers=two), stop=SOON)
    (trip,) = planned.trips
    idle = {"Ilse", "Ott"} - {trip.who}
    assert f"{idle.pop()} has nothing to walk: the others do it at less cost" in planned.notes


def test_cans_are_emptied_at_the_tank_that_lies_nearer() -> None:
    tank = Place("k", "far tank", PlaceKind.TANK, at(180, 10))
    stand = wood(*ROW)
    stand = replace(stand, places=(*stand.places, tank))
    options = RoundOptions(start="gate", capacity_kg=10, run_ml=3000, aim="effort")
    one = plan_round(stand, DAY, options, stop=SOON)
    both = plan_round(stand, DAY, replace(options, tanks=("far tank",)), stop=SOON)
    assert both.effort_kg_m < one.effort_kg_m
    assert "far tank" in {trip.end.name for trip in both.trips if trip.end is not None}


def test_first_last_and_together_are_kept() -> None:
    options = RoundOptions(first="B5", last="B6", together=(("B0", "B7"), ("B7", "B3")), capacity_kg=14, run_ml=2000)
    planned = plan_round(wood(*ROW), DAY, options, stop=SOON)
    trips = [[stop.tree.name for stop in trip.stops] for trip in planned.trips]
    assert trips[0][0] == "B5"
    assert trips[-1][-1] == "B6"
    assert any({"B0", "B3", "B7"} <= set(trip) for trip in trips)


def test_before_a_latest_finish_what_would_be_lost_soon_comes_first() -> None:
    stand = wood((60, 0), (-60, 0))
    # Half a day's run, then a whole one until three minutes into the walk.
    hung = datetime(2026, 3, 26, 14, 38).astimezone()
    h0, h1 = (replace(hole, made_on=hung.date(), made_at=hung) for hole in stand.holes)
    soon = replace(stand, holes=(stand.holes[0], h1))
    options = RoundOptions(sets_out=time(7), latest=time(7, 7), run_ml=3000, vessel_ml=4500)
    planned = plan_round(soon, DAY, options, stop=SOON)
    assert names(planned) == ["B1"]
    assert planned.minutes <= 7
    assert planned.left_out == (("B0", "no time is left for it before the latest finish"),)
    assert names(plan_round(replace(stand, holes=(h0, stand.holes[1])), DAY, options, stop=SOON)) == ["B0"]
    later = replace(options, latest=time(8))
    assert names(plan_round(soon, DAY, later, stop=SOON)) == ["B0", "B1"]


def test_a_walk_goes_on_from_where_one_stands_with_what_is_carried() -> None:
    options = RoundOptions(from_here=FromHere("B3", 8.0), done=("B3", "B4"), run_ml=3000)
    planned = plan_round(wood(*ROW), DAY, options, stop=SOON)
    first = planned.trips[0]
    assert first.start is not None
    assert first.start.name == "B3"
    assert first.stops[0].load_kg == pytest.approx(8.0 + 3.0063, abs=0.01)
    assert planned.trips[-1].course[-1] == pytest.approx(planned.start.at)
    assert names(planned) == ["B0", "B1", "B2", "B5", "B6", "B7"]
    with pytest.raises(UserError, match="name one collector"):
        plan_round(wood(*ROW), DAY, replace(options, collectors=2))


def test_full_cans_are_emptied_before_anything_else(tmp_path: Path) -> None:
    stand = wood(*ROW)
    options = RoundOptions(from_here=FromHere("B7", 11.0), done=("B7",), run_ml=3000)
    planned = plan_round(stand, DAY, options, stop=SOON)
    assert (planned.trips[0].stops, planned.trips[0].max_load_kg) == ((), 11.0)
    assert names(planned) == [f"B{n}" for n in range(7)]
    written = write_round(planned, tmp_path, sheets(planned, stand, "wood", "key", Settings()))
    assert sorted(path.name for path in written) == [f"walk.{k}" for k in ("csv", "geojson", "gpx", "html", "pdf")]


def test_a_barrow_keeps_to_its_paths_and_the_way_on_foot_is_reckoned() -> None:
    track = Line("p", "track", LineKind.PATH, (at(0, 0), at(200, 0)))
    stand = wood((50, 12), (100, 25), lines=(track,))
    planned = plan_round(stand, DAY, RoundOptions(barrow_kg=60), stop=SOON)
    (trip,) = planned.trips
    assert trip.length_m == pytest.approx(200, abs=1)
    assert [stop.todo[0].text for stop in sorted(trip.stops, key=lambda s: s.tree.name)] == [
        "leave the sledge or barrow on the path, 12 m off",
        "leave the sledge or barrow on the path, 25 m off",
    ]
    near = plan_round(replace(stand, lines=(track,)), DAY, RoundOptions(barrow_kg=60, handling_min=0.0), stop=SOON)
    assert near.minutes == pytest.approx(200 / 83.9 + 2 * (12 + 25) / 50.4, abs=0.2)
    with pytest.raises(NothingToDo, match="no path that is joined"):
        plan_round(wood((50, 12)), DAY, RoundOptions(barrow_kg=60))


def test_swapped_vessels_are_carried_out_empty_and_home_full() -> None:
    planned = plan_round(wood((50, 0)), DAY, RoundOptions(swap_vessels=True, vessel_kg=0.5, run_ml=2000), stop=SOON)
    (stop,) = planned.trips[0].stops
    assert stop.load_kg == pytest.approx(2 * 1.0021 + 0.5, abs=0.01)
    assert planned.trips[0].effort_kg_m == pytest.approx(50 * 0.5 + 50 * stop.load_kg, rel=0.01)


def test_what_is_carried_out_gets_lighter_from_tree_to_tree() -> None:
    stand = wood(*ROW, tapped=False)
    plans = [Plan(f"p{tree.key}", tree.key, 2026) for tree in stand.trees]
    options = RoundOptions(purpose=Purpose.TAPPING, vessel_kg=0.5)
    planned = plan_round(stand, DAY, options, plans=plans, stop=SOON)
    loads = [stop.load_kg for stop in planned.trips[0].stops]
    assert loads == sorted(loads, reverse=True)
    assert loads[-1] == pytest.approx(2.5)
    assert {stop.key for trip in planned.trips for stop in trip.stops} == {f"{tree.key}/1" for tree in stand.trees}
    assert all(stop.hole is None for trip in planned.trips for stop in trip.stops)


def test_where_a_tank_would_stand_best() -> None:
    near = Place("n", "by the trees", PlaceKind.LANDMARK, at(100, 0))
    far = Place("f", "far off", PlaceKind.LANDMARK, (5.0, 50.0))
    track = Line("p", "track", LineKind.PATH, (at(0, 0), at(-300, 0)))
    stand = wood(*ROW, lines=(track,))
    stand = replace(stand, places=(*stand.places, near, far))
    found = where_tank(stand, DAY, RoundOptions(capacity_kg=10, run_ml=3000), seconds_each=0.5)
    assert [one.place.name for one in found] == [
        "by the trees",
        "gate",
        "the path 'track' ends here",
    ]
    assert found[0].length_m < found[1].length_m < found[2].length_m
    with pytest.raises(NothingToDo, match="no place is drawn"):
        where_tank(replace(stand, places=(far,), lines=()), DAY, RoundOptions())
    with pytest.raises(UserError, match="before a walk begins"):
        where_tank(stand, DAY, RoundOptions(from_here=FromHere("B1")))


class StopAfter(Progress):
    """Wants to stop once it was asked so many times."""

    def __init__(self, times: int) -> None:
        self._left = times

    def at(self, done: float, total: float, what: str) -> None:
        """Nothing is shown."""

    def stop_wanted(self) -> bool:
        """Whether it was asked often enough."""
        self._left -= 1
        return self._left < 0


spot = st.tuples(st.integers(-150, 150), st.integers(-150, 150)).filter(lambda at: at != (0, 0))
wishes = st.builds(
    RoundOptions,
    capacity_kg=st.sampled_from([8.0, 15.0]),
    collectors=st.integers(1, 3),
    aim=st.sampled_from(["time", "effort", "distance"]),
    swap_vessels=st.booleans(),
    purpose=st.sampled_from([Purpose.COLLECTING, Purpose.CLOSING]),
    run_ml=st.sampled_from([1500.0, 3000.0]),
)


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.lists(spot, min_size=1, max_size=9, unique=True), wishes, st.integers(0, 30))
def test_whenever_it_is_stopped_a_walk_is_whole(
    spots: list[tuple[int, int]], options: RoundOptions, asked: int
) -> None:
    stand: Stand = wood(*[(float(x), float(y)) for x, y in spots])
    posed = pose_round(stand, DAY, options)
    planned = plan_posed(posed, progress=StopAfter(asked), stop=MaxIterations(20))
    served = [stop.key for trip in planned.trips for stop in trip.stops]
    assert sorted(served) == sorted(posed.stops)
    assert [s.order for t in planned.trips for s in t.stops] == list(range(1, len(served) + 1))
    assert all(trip.max_load_kg <= options.capacity_kg + 1e-6 for trip in planned.trips)
    assert planned.length_m == pytest.approx(sum(trip.length_m for trip in planned.trips))
    assert planned.effort_kg_m == pytest.approx(sum(trip.effort_kg_m for trip in planned.trips))


def test_files_agree_with_the_answer(tmp_path: Path) -> None:
    planned = plan_round(wood(*ROW), DAY, RoundOptions(capacity_kg=10, collectors=2), stop=SOON)
    told = json.loads(json.dumps(round_json(planned)))
    write_round(planned, tmp_path)
    stops = [(trip["collector"], stop) for trip in told["trips"] for stop in trip["stops"]]
    rows = list(csv.DictReader(io.StringIO((tmp_path / "walk.csv").read_text())))
    assert [row["id"] for row in rows] == [stop["id"] for _, stop in stops]
    for row, (who, stop) in zip(rows, stops, strict=True):
        assert int(row["collector"]) == who
        assert float(row["leg_m"]) == pytest.approx(stop["leg_m"], abs=0.06)
        assert float(row["load_kg"]) == pytest.approx(stop["load_kg"], abs=0.006)
        assert float(row["bearing_true_deg"]) == stop["bearing_true_deg"]
        assert float(row["minutes"]) == stop["minute"]
    features = json.loads((tmp_path / "walk.geojson").read_text())["features"]
    assert [f["properties"]["id"] for f in features if f["properties"]["kind"] == "stop"] == [s["id"] for _, s in stops]
