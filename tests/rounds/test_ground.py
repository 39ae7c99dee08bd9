"""Walking over ground as it is mapped: paths, fords, fences, hazards and slopes."""

from __future__ import annotations

import math
from itertools import pairwise

import networkx  # type: ignore[import-untyped]
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from standmap.rounds.barriers import OPENING_HALF_WIDTH_M, barriers
from standmap.rounds.ground import Course, Crossing, Gate, Ground, Hazard, NoGo, Xy
from standmap.rounds.heights import Heights
from standmap.rounds.hiking import Pace, slowness
from standmap.rounds.walking import Walking, walking
from standmap.rounds.way_graph import way_graph
from tests.rounds.grounds import POINT, grounds, hilly, strays

BROOK = Course(((0.0, -300.0), (0.0, 300.0)), "brook")
PACE = Pace(path_m_per_min=80.0, wood_m_per_min=48.0, ford_min=1.5)


def plane(east_slope: float, cell_m: float = 5.0, half_m: float = 300.0) -> Heights:
    east = np.arange(-half_m, half_m + cell_m, cell_m)
    return Heights(-half_m, -half_m, cell_m, np.tile(east * east_slope, (len(east), 1)).astype(np.float32))


def length(course: tuple[Xy, ...]) -> float:
    return math.fsum(math.dist(a, b) for a, b in pairwise(course))


def test_a_path_is_entered_at_the_angle_that_is_quickest() -> None:
    # A stop d off a path enters it d * tan(asin(3/5)) = 0.75 d further on (Snell's law with speeds 3 to 5).
    ride = Ground(paths=(Course(((-200.0, 0.0), (200.0, 0.0))),))
    ways = walking(((-100.0, 20.0), (100.0, 20.0)), ride, PACE)
    best = 2 * math.hypot(20, 15) / 48 + (200 - 30) / 80
    assert best <= ways.minutes[0, 1] + 1e-9
    assert ways.minutes[0, 1] == pytest.approx(best, rel=2e-3)
    assert ways.cost_m[0, 1] == pytest.approx(length(ways.course(0, 1)))
    assert ways.cost_m[0, 1] > 200
    assert len(ways.course(0, 1)) == 4  # onto the path, along it, off it


def test_a_path_that_is_no_help_is_left_alone() -> None:
    ride = Ground(paths=(Course(((-200.0, 90.0), (200.0, 90.0))),))
    ways = walking(((-50.0, 0.0), (50.0, 0.0)), ride, PACE)
    assert ways.minutes[0, 1] == pytest.approx(100 / 48)
    assert ways.course(0, 1) == ((-50.0, 0.0), (50.0, 0.0))


def test_one_turns_from_path_to_path_where_they_cross() -> None:
    cross = Ground(paths=(Course(((-100.3, 0.0), (99.1, 0.0))), Course(((0.0, -97.7), (0.0, 101.9)))))
    ways = walking(((-100.3, 0.0), (0.0, 101.9)), cross, PACE)
    assert ways.minutes[0, 1] == pytest.approx((100.3 + 101.9) / 80, rel=1e-3)


def test_a_ford_takes_its_minutes_and_a_bridge_none() -> None:
    places = ((-30.0, 0.0), (30.0, 0.0))
    ford = Ground(streams=(BROOK,), crossings=(Crossing((0.0, 0.0), "shallows", ford=True),))
    bridge = Ground(streams=(BROOK,), crossings=(Crossing((0.0, 0.0), "planks"),))
    assert walking(places, bridge, PACE).minutes[0, 1] == pytest.approx(60 / 48)
    assert walking(places, ford, PACE).minutes[0, 1] == pytest.approx(60 / 48 + 1.5)
    # A bridge 30 m off is quicker than the ford at hand: 2 * hypot(30, 30 - 2) = 82.1 m, 1.71 min, against 2.75.
    both = Ground(streams=(BROOK,), crossings=(*ford.crossings, Crossing((0.0, 30.0), "planks")))
    ways = walking(places, both, PACE)
    assert ways.minutes[0, 1] < 60 / 48 + 0.6
    assert max(y for _, y in ways.course(0, 1)) > 25


def test_a_path_leads_over_the_bridge_beside_it() -> None:
    # The bridge was mapped 6 m from where the path meets the stream: the path leads over all the same.
    ride = Course(((-100.0, 0.0), (100.0, 0.0)))
    ground = Ground(streams=(BROOK,), crossings=(Crossing((2.0, 6.0), "planks"),), paths=(ride,))
    ways = walking(((-100.0, 0.0), (100.0, 0.0)), ground, PACE)
    assert ways.minutes[0, 1] == pytest.approx(200 / 80)


def test_a_path_over_a_stream_without_a_bridge_does_not_lead_over_it() -> None:
    ride = Course(((-100.0, 0.0), (100.0, 0.0)))
    ways = walking(((-90.0, 0.0), (90.0, 0.0)), Ground(streams=(BROOK,), paths=(ride,)), PACE)
    assert ways.cost_m[0, 1] > 600  # round the end of the brook


def test_a_fence_is_crossed_at_its_gate_and_where_a_path_leads_through() -> None:
    fence = Course(BROOK.points, "north fence")
    places = ((-40.0, 0.0), (40.0, 0.0))
    shut = walking(places, Ground(fences=(fence,)), PACE)
    assert shut.cost_m[0, 1] > 600
    gate = walking(places, Ground(fences=(fence,), gates=(Gate((4.0, 30.0), "top gate"),)), PACE)
    (crossing,) = [p for p, q in pairwise(gate.course(0, 1)) if p[0] <= 0 < q[0]]
    assert abs(crossing[1] - 30) <= OPENING_HALF_WIDTH_M
    ride = walking(places, Ground(fences=(fence,), paths=(Course(((-40.0, 0.0), (40.0, 0.0))),)), PACE)
    assert ride.minutes[0, 1] == pytest.approx(1.0)


def test_a_hazard_is_kept_away_from_and_named() -> None:
    ground = Ground(hazards=(Hazard((0.0, 0.0), "leaning spruce"),))
    ways = walking(((-20.0, 0.0), (20.0, 0.0), (3.0, 0.0)), ground)
    assert len(ways.course(0, 1)) > 2
    assert not strays(ways.course(0, 1), ground)
    assert ways.hindrance == ("", "", "within 5 m of the hazard 'leaning spruce'")
    assert ways.minutes[0, 2] == math.inf


def ring(size: float) -> tuple[Xy, ...]:
    return ((-size, -size), (size, -size), (size, size), (-size, size), (-size, -size))


INNER, OUTER = Course(ring(9), "inner"), Course(ring(19), "outer")
CLEARING = NoGo((ring(30), ring(9)), "mire")


@pytest.mark.parametrize(
    ("ground", "why"),
    [
        (Ground(streams=(INNER,)), "the stream 'inner' without a bridge or ford"),
        (Ground(fences=(Course(ring(9)),)), "a fence without a gate"),
        (Ground(no_go=(CLEARING,)), "the no-go area 'mire'"),
        (
            Ground(streams=(INNER, OUTER)),
            "the stream 'outer' without a bridge or ford and the stream 'inner' without a bridge or ford",
        ),
        (
            Ground(streams=(OUTER,), crossings=(Crossing((0.0, 19.0)),), fences=(INNER,)),
            "the fence 'inner' without a gate",
        ),
    ],
)
def test_what_cuts_a_place_off_is_named(ground: Ground, why: str) -> None:
    ways = walking(((-100.0, 0.0), (0.0, 0.0), (-100.0, 5.0)), ground)
    assert ways.why_cut_off(1) == why
    assert ways.why_cut_off(2) == ""
    assert ways.part((0, 1)).why_cut_off(1) == why


def test_of_two_pieces_that_close_a_ring_together_one_is_named() -> None:
    east, west = (
        Course(((0, -9), (9, -9), (9, 9), (0, 9)), "east"),
        Course(((0, 9), (-9, 9), (-9, -9), (0, -9)), "west"),
    )
    ways = walking(((-100.0, 0.0), (0.0, 0.0)), Ground(streams=(east,), fences=(west,)))
    assert ways.why_cut_off(1) in ("the fence 'west' without a gate", "the stream 'east' without a bridge or ford")


def test_uphill_is_slower_than_downhill_by_the_hiking_function() -> None:
    ways = walking(((-100.0, 0.0), (100.0, 0.0)), Ground(heights=plane(0.2)), PACE)
    assert ways.minutes[0, 1] == pytest.approx(200 / 48 * float(slowness(np.array(0.2))), rel=1e-5)
    assert ways.minutes[1, 0] == pytest.approx(200 / 48 * float(slowness(np.array(-0.2))), rel=1e-5)
    assert ways.climb_m[0, 1] == pytest.approx(40, rel=1e-4)
    assert ways.climb_m[1, 0] == 0
    assert ways.cost_m[0, 1] == pytest.approx(200)


def test_a_slope_too_steep_to_face_is_climbed_aslant() -> None:
    # Straight up at S the rise is won at the speed S * v(S), which is most at S = 1/3.5 = 0.286: steeper does not pay.
    ways = walking(((-60.0, 0.0), (60.0, 0.0)), Ground(heights=plane(0.8)), PACE)
    rise = 0.8 * 120
    least = rise * 3.5 / 48 * float(slowness(np.array(1 / 3.5)))
    assert least * 0.999 <= ways.minutes[0, 1] < 1.05 * least
    assert ways.minutes[0, 1] < 0.8 * 120 / 48 * float(slowness(np.array(0.8)))
    assert ways.cost_m[0, 1] > 250


def test_a_hill_is_walked_round_where_that_is_quicker() -> None:
    east = np.arange(-150.0, 151.0, 5.0)
    x, y = np.meshgrid(east, east)
    hill = Heights(-150.0, -150.0, 5.0, (40 * np.exp(-(x**2 + y**2) / 800)).astype(np.float32))
    ways = walking(((-80.0, 0.0), (80.0, 0.0)), Ground(heights=hill), PACE)
    assert ways.climb_m[0, 1] < 20
    assert max(abs(y) for _, y in ways.course(0, 1)) > 20


def test_unknown_heights_are_taken_for_level() -> None:
    unknown = plane(0.3)
    unknown.grid_m[:] = np.nan
    ways = walking(((-100.0, 0.0), (100.0, 0.0)), Ground(heights=unknown), PACE)
    assert ways.minutes[0, 1] == ways.minutes[1, 0] == pytest.approx(200 / 48)


def minutes_by_networkx(places: tuple[Xy, ...], ground: Ground) -> np.ndarray:
    """Return the minutes between places by a plain Dijkstra over every step of the same graph."""
    graph = way_graph(np.array(places), ground, barriers(ground), PACE)
    plain = networkx.DiGraph()
    plain.add_nodes_from(range(len(places)))
    for steps in (graph.direct, graph.steps):
        for a, b, minutes in zip(steps.start.tolist(), steps.end.tolist(), steps.minutes.tolist(), strict=True):
            if minutes < plain.get_edge_data(a, b, {"weight": math.inf})["weight"]:
                plain.add_edge(a, b, weight=minutes)
    found = np.full((len(places), len(places)), math.inf)
    for start in range(len(places)):
        for end, minutes in networkx.single_source_dijkstra_path_length(plain, start).items():
            if end < len(places):
                found[start, end] = minutes
    return found


@pytest.mark.parametrize("slope", [None, 0.3])
def test_minutes_are_those_of_a_plain_dijkstra_on_the_same_graph(slope: float | None) -> None:
    rng = np.random.default_rng(3)
    places = tuple(sorted((float(x), float(y)) for x, y in rng.uniform(-60, 60, (12, 2))))
    ground = Ground(
        streams=(Course(((-70.0, -8.0), (70.0, 12.0)), "brook"),),
        crossings=(Crossing((20.0, 5.0)), Crossing((-40.0, -4.0), ford=True)),
        no_go=(NoGo((((-30.0, 20.0), (10.0, 25.0), (-5.0, 50.0)),)),),
        paths=(Course(((-60.0, 40.0), (20.0, 5.0), (55.0, -50.0))),),
        heights=None if slope is None else hilly(slope),
    )
    ways = walking(places, ground, PACE)
    assert ways.minutes == pytest.approx(minutes_by_networkx(places, ground), rel=1e-9)


def check(ways: Walking, places: list[Xy], ground: Ground) -> None:
    minutes = ways.minutes
    assert not minutes.diagonal().any()
    for i, a in enumerate(places):
        for j, b in enumerate(places):
            if np.isfinite(minutes[i, j]):
                course = ways.course(i, j)
                assert (course[0], course[-1]) == (a, b)
                assert len(course) == 1 or not strays(course, ground)
                assert length(course) == pytest.approx(ways.cost_m[i, j], abs=1e-6)
                assert ways.climb_m[i, j] >= 0
            else:
                assert ways.cost_m[i, j] == math.inf
                assert ways.hindrance[i] or ways.hindrance[j] or ways.why_cut_off(j, i)
    through = (minutes[:, :, None] + minutes[None, :, :]).min(axis=1)
    assert (minutes <= through + 1e-9).all()
    if ground.heights is None:
        assert np.array_equal(minutes, minutes.T)
        assert np.array_equal(ways.cost_m, ways.cost_m.T)


@settings(max_examples=60, deadline=None)
@given(grounds(), st.lists(POINT, min_size=2, max_size=5))
def test_ways_keep_clear_and_are_measured_right(ground: Ground, places: list[Xy]) -> None:
    check(walking(tuple(places), ground, PACE), places, ground)
