"""The morning's round as a job: which holes, what to expect, where to start, what lies in the way."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime
from itertools import pairwise

import pytest
import shapely

from standmap.errors import NothingToDo, UserError
from standmap.jobs.bring import BringOptions, bring
from standmap.jobs.round import RoundOptions, plan_round
from standmap.messages import Collected
from standmap.sap.expected import DEFAULT_RUN_ML, SAP_KG_PER_L, expected_runs
from standmap.stand.ground import Area, AreaKind, Line, LineKind, Place, PlaceKind
from standmap.stand.snapshot import Stand
from standmap.stand.tapping import Act, Collection, Observation, TapHole, Wound
from standmap.stand.tree import Tree
from standmap.survey.frame import true_azimuth, true_distance

DAY = date(2026, 3, 28)
NOW = datetime(2026, 3, 28, 7, 30, tzinfo=UTC)
EAST = 1.9e-5  # about a metre of longitude at 61.9 N
NORTH = 8.98e-6  # about a metre of latitude


def wood(*offsets: tuple[float, float], **more: object) -> Stand:
    """Return a stand of tapped trees at metres east and north of the gate."""
    trees = tuple(Tree(f"t{i}", f"B{i}", (27.6 + x * EAST, 61.9 + y * NORTH)) for i, (x, y) in enumerate(offsets))
    holes = tuple(TapHole(f"h{i}", t.key, 1, Wound.HOLE, date(2026, 3, 27)) for i, t in enumerate(trees))
    gate = Place("g", "gate", PlaceKind.GATE, (27.6, 61.9))
    settings = {"working_frame": {"lon0": 27.6, "lat0": 61.9}}
    stand = Stand(trees=trees, holes=holes, places=(gate,), settings=settings)
    return replace(stand, **more)  # type: ignore[arg-type]


def test_legs_are_true_distances_and_bearings() -> None:
    stand = wood((100, 0), (100, 80))
    planned = plan_round(stand, DAY, RoundOptions())
    (trip,) = planned.trips
    places = [planned.start.at, *[s.tree.at for s in trip.stops]]
    for stop, (a, b) in zip(trip.stops, pairwise(places), strict=True):
        assert stop.leg_m == pytest.approx(true_distance(a, b), abs=0.001)
        assert stop.bearing_true_deg == pytest.approx(true_azimuth(a, b) % 360, abs=0.01)
    way_back = true_distance(places[-1], places[0])
    assert trip.length_m == pytest.approx(sum(s.leg_m for s in trip.stops) + way_back, abs=0.01)
    assert trip.course[0] == pytest.approx(planned.start.at)
    assert trip.course[-1] == pytest.approx(planned.start.at)
    assert planned.proved
    assert planned.repeatable


def test_loads_grow_and_stay_within_what_is_carried() -> None:
    stand = wood(*[(20.0 * i, 10.0 * (i % 3)) for i in range(1, 12)])
    planned = plan_round(stand, DAY, RoundOptions(capacity_kg=10, can_kg=0.5, run_ml=2500))
    assert len(planned.trips) > 1
    assert sorted(s.tree.name for t in planned.trips for s in t.stops) == sorted(t.name for t in stand.trees)
    for trip in planned.trips:
        loads = [0.5, *[s.load_kg for s in trip.stops]]
        assert [b - a for a, b in pairwise(loads)] == pytest.approx([2.5 * SAP_KG_PER_L] * len(trip.stops), abs=0.002)
        assert trip.max_load_kg == loads[-1] <= 10
    assert [s.order for t in planned.trips for s in t.stops] == list(range(1, 12))


def test_collectors_share_the_trips() -> None:
    stand = wood(*[(20.0 * i, 10.0 * (i % 3)) for i in range(1, 12)])
    planned = plan_round(stand, DAY, RoundOptions(capacity_kg=10, collectors=2))
    assert {t.collector for t in planned.trips} == {1, 2}


def test_a_stream_is_crossed_at_its_bridge_and_a_no_go_walked_round() -> None:
    stream = Line("s", "brook", LineKind.STREAM, tuple((27.6 + 50 * EAST, 61.9 + y * NORTH) for y in (-300, 300)))
    bridge = Place("b", "planks", PlaceKind.BRIDGE, (27.6 + 50 * EAST, 61.9 + 60 * NORTH))
    corners = [(70, -20), (90, -20), (90, 20), (70, 20), (70, -20)]
    ring = tuple((27.6 + x * EAST, 61.9 + y * NORTH) for x, y in corners)
    no_go = Area("n", "bog", AreaKind.NO_GO, (ring,))
    stand = wood((110, 0))
    stand = replace(stand, lines=(stream,), areas=(no_go,), places=(*stand.places, bridge))
    (trip,) = plan_round(stand, DAY, RoundOptions()).trips
    course = shapely.LineString(trip.course)
    assert not course.crosses(shapely.Polygon(ring))
    crossing = course.intersection(shapely.LineString(stream.course))
    assert crossing.distance(shapely.Point(bridge.at)) < 5 * EAST
    assert trip.stops[0].bends
    assert trip.length_m > 2 * 130


def test_a_tree_that_cannot_be_reached_is_left_out_with_the_reason() -> None:
    stream = Line("s", "brook", LineKind.STREAM, tuple((27.6 + 50 * EAST, 61.9 + y * NORTH) for y in (-300, 300)))
    ring = tuple(
        (27.6 + x * EAST, 61.9 + y * NORTH) for x, y in [(-40, -10), (-20, -10), (-20, 10), (-40, 10), (-40, -10)]
    )
    stand = wood((20, 0), (-30, 0), lines=(stream,), areas=(Area("n", "bog", AreaKind.NO_GO, (ring,)),))
    planned = plan_round(stand, DAY, RoundOptions())
    assert [s.tree.name for t in planned.trips for s in t.stops] == ["B0"]
    assert [name for name, _ in planned.left_out] == ["B1"]


def test_a_load_that_nobody_may_carry_is_left_out() -> None:
    stand = wood((20, 0))
    with pytest.raises(NothingToDo, match="nothing to collect on 2026-03-28: B0: "):
        plan_round(stand, DAY, RoundOptions(capacity_kg=5, can_kg=1, run_ml=4500))


def test_each_open_hole_is_a_stop_and_closed_ones_are_none() -> None:
    stand = wood((20, 0), (40, 0), (60, 0))
    second = TapHole("x", "t0", 2, Wound.SLIT, date(2026, 3, 26))
    old = TapHole("y", "t1", 1, Wound.HOLE, date(2025, 3, 26))
    out = Observation("o", "t2", "h2", Act.TAKEN_OUT, date(2026, 3, 27))
    stand = replace(stand, holes=(*stand.holes, second, old), observations=(out,))
    planned = plan_round(stand, DAY, RoundOptions())
    assert sorted((s.tree.name, s.key) for t in planned.trips for s in t.stops) == [
        ("B0", "h0"),
        ("B0", "x"),
        ("B1", "h1"),
    ]


def test_expected_litres_follow_the_records_and_never_pass_the_vessel() -> None:
    stand = wood((20, 0), (40, 0))
    assert expected_runs(stand, ["t0"])["t0"].volume_ml == pytest.approx(DEFAULT_RUN_ML)
    said = Collected()
    plan_round(stand, DAY, RoundOptions(), messages=said)
    assert said.told == ["3 L a hole and night is assumed until there are records"]
    rows = [(date(2026, 3, 28), 5000), (date(2026, 3, 29), 6000)]
    taken = tuple(Collection(f"c{i}", "h0", on, None, ml, "", "l") for i, (on, ml) in enumerate(rows))
    stand = replace(stand, collections=taken)
    runs = expected_runs(stand, ["t0", "t1"])
    assert runs["t0"].volume_ml > runs["t1"].volume_ml > DEFAULT_RUN_ML
    planned = plan_round(stand, date(2026, 3, 30), RoundOptions(vessel_ml=3200))
    litres = {s.tree.name: s.litres for t in planned.trips for s in t.stops}
    assert litres["B0"] == 3.2
    assert litres["B1"] == 3.2, "three nights without a collection"
    later = replace(stand, holes=(stand.holes[0], replace(stand.holes[1], made_on=date(2026, 3, 29))))
    planned = plan_round(later, date(2026, 3, 30), RoundOptions(vessel_ml=6000))
    (b1,) = (s for t in planned.trips for s in t.stops if s.tree.name == "B1")
    assert DEFAULT_RUN_ML / 1000 < b1.litres < 6


def test_rounds_start_at_the_tank_unless_told_otherwise() -> None:
    stand = wood((20, 0))
    tank = Place("k", "drum", PlaceKind.TANK, (27.6 + 10 * EAST, 61.9))
    stand = replace(stand, places=(*stand.places, tank))
    assert plan_round(stand, DAY, RoundOptions()).start == tank
    assert plan_round(stand, DAY, RoundOptions(start="GATE")).start.key == "g"
    with pytest.raises(UserError, match="no gate or tank"):
        plan_round(replace(stand, places=()), DAY, RoundOptions())


def test_a_gate_out_of_reach_is_told() -> None:
    far = Place("f", "far gate", PlaceKind.GATE, (5.0, 50.0))
    with pytest.raises(UserError, match="'far gate' is too far"):
        plan_round(wood((20, 0), places=(far,)), DAY, RoundOptions())


@pytest.mark.parametrize(
    "options",
    [
        {"capacity_kg": 4.0},
        {"capacity_kg": 41.0},
        {"can_kg": 15.0},
        {"can_kg": -1.0},
        {"collectors": 0},
        {"run_ml": 0.0},
        {"run_ml": float("nan")},
        {"vessel_ml": -1.0},
    ],
)
def test_options_out_of_bounds_are_refused(options: dict[str, float]) -> None:
    with pytest.raises(UserError):
        plan_round(wood((20, 0)), DAY, RoundOptions(**options))  # type: ignore[arg-type]


def test_a_stand_without_holes_says_so(stand_file) -> None:  # type: ignore[no-untyped-def]
    path = stand_file.path.with_name("gate.gpx")
    path.write_text('<gpx version="1.1"><wpt lat="61.9" lon="27.6"><name>gate</name><type>gate</type></wpt></gpx>')
    bring(stand_file, [path], BringOptions(), NOW)
    with pytest.raises(NothingToDo, match="no hole was ever recorded"):
        plan_round(stand_file.stand(), DAY, RoundOptions())
