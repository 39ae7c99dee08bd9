"""Ways between places: as short as can be, and never through what is in the way."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from standmap.rounds.barriers import OPENING_HALF_WIDTH_M, OPENING_REACH_M, barriers
from standmap.rounds.ground import Ground, NoGo
from standmap.rounds.problem import Obstacles, Ring, Xy
from standmap.rounds.walking import walking

BROOK = ((0.0, -1000.0), (0.0, 1000.0))
SQUARE: Ring = ((10.0, -5.0), (20.0, -5.0), (20.0, 5.0), (10.0, 5.0), (10.0, -5.0))


def length(course: tuple[Xy, ...]) -> float:
    return math.fsum(math.dist(a, b) for a, b in pairwise(course))


def strays(course: tuple[Xy, ...], obstacles: Obstacles) -> bool:
    """Say whether a course crosses a stream away from its bridges or enters a no-go area, by plain geometry."""
    line = shapely.LineString(course)
    for stream in obstacles.streams:
        bed = shapely.LineString(stream)
        bridges = [shapely.Point(b) for b in obstacles.bridges if bed.distance(shapely.Point(b)) <= OPENING_REACH_M]
        feet = shapely.MultiPoint([bed.interpolate(bed.project(b)) for b in bridges])
        for x, y in shapely.get_coordinates(line.intersection(bed)):
            if feet.is_empty or feet.distance(shapely.Point(x, y)) > OPENING_HALF_WIDTH_M + 1e-6:
                return True
    return any(line.relate_pattern(shapely.Polygon(a[0], a[1:]), "T********") for a in obstacles.no_go)


def test_with_nothing_in_the_way_every_way_is_straight() -> None:
    ways = walking(((0.0, 0.0), (3.0, 4.0), (0.0, 0.0)), Obstacles(bridges=((1.0, 1.0),)))
    assert ways.cost_m.tolist() == [[0, 5, 0], [5, 0, 5], [0, 5, 0]]
    assert ways.course(0, 1) == ((0, 0), (3, 4))
    assert ways.course(0, 2) == ((0, 0),)


def test_a_no_go_area_is_walked_round_by_its_corners() -> None:
    ways = walking(((0.0, 0.0), (30.0, 0.0)), Obstacles(no_go=((SQUARE,),)))
    taut = 2 * math.hypot(10, 5) + 10
    assert taut < ways.cost_m[0, 1] < taut + 0.6  # a foot's breadth away from the corners
    assert len(ways.course(0, 1)) == 4
    assert ways.course(1, 0) == ways.course(0, 1)[::-1]


def test_a_stream_is_crossed_where_it_is_nearest_to_its_bridge() -> None:
    ways = walking(((-10.0, 0.0), (10.0, 0.0)), Obstacles(streams=(BROOK,), bridges=((4.0, 60.0),)))
    (crossing,) = shapely.get_coordinates(shapely.LineString(ways.course(0, 1)).intersection(shapely.LineString(BROOK)))
    assert crossing[1] == pytest.approx(60, abs=OPENING_HALF_WIDTH_M)
    taut = 2 * math.hypot(10, 60 - OPENING_HALF_WIDTH_M)
    assert taut < ways.cost_m[0, 1] < taut + 1.3


def test_a_bridge_far_from_a_stream_opens_nothing() -> None:
    ways = walking(((-10.0, 0.0), (10.0, 0.0)), Obstacles(streams=(BROOK,), bridges=((10.5, 60.0),)))
    assert ways.cost_m[0, 1] > 2000  # round the end of the brook


def test_a_stream_that_ends_just_short_of_another_leaves_no_way_between() -> None:
    side = ((1.5, 100.0), (500.0, 100.0))  # would let a walker slip between it and the brook
    end = ((500.0, 100.0), (500.0, -1000.0))
    shut = Obstacles(streams=(BROOK, side, end, ((0.0, -1000.0), (500.0, -1000.0))))
    ways = walking(((100.0, 0.0), (100.0, 200.0)), shut)
    assert ways.cost_m[0, 1] == math.inf


def test_who_stands_where_nobody_can_is_told_why() -> None:
    ways = walking(((15.0, 0.0), (0.0, 7.0), (-5.0, 0.0)), Obstacles(streams=(BROOK,), no_go=((SQUARE,),)))
    assert ways.hindrance == ("in a no-go area", "on a stream", "")


def test_a_clearing_in_a_no_go_area_can_be_walked_but_not_left() -> None:
    outer: Ring = ((0.0, 0.0), (40.0, 0.0), (40.0, 40.0), (0.0, 40.0))
    clearing: Ring = ((10.0, 10.0), (30.0, 10.0), (30.0, 30.0), (10.0, 30.0))
    ways = walking(((12.0, 12.0), (28.0, 28.0), (-5.0, 0.0)), Obstacles(no_go=((outer, clearing),)))
    assert ways.cost_m[0, 1] == pytest.approx(math.hypot(16, 16))
    assert ways.cost_m[0, 2] == math.inf
    with pytest.raises(ValueError, match="no way"):
        ways.course(0, 2)


def test_taps_on_the_very_bank_of_a_winding_stream_are_reached() -> None:
    along = np.linspace(0, 200, 120)
    stream = np.column_stack([along, 8 * np.sin(along / 7)])
    bank = stream[5:-5:9] + np.array([0.0, 0.1])
    places = (*((float(x), float(y)) for x, y in bank), (100.0, -30.0))
    line = tuple((float(x), float(y)) for x, y in stream)
    obstacles = Obstacles(streams=(line,), bridges=(line[60],))
    ways = walking(places, obstacles)
    assert np.isfinite(ways.cost_m).all()
    assert not any(strays(ways.course(i, len(places) - 1), obstacles) for i in range(len(places) - 1))


def test_a_long_outline_is_made_coarser_but_never_cut() -> None:
    turn = np.linspace(0, 2 * np.pi, 3000, endpoint=False)
    rough = 40 + 3 * np.random.default_rng(1).random(3000)
    ring = tuple((float(x), float(y)) for x, y in zip(rough * np.cos(turn), rough * np.sin(turn), strict=True))
    obstacles = Obstacles(no_go=((ring,),))
    assert len(barriers(Ground(no_go=(NoGo((ring,)),))).corners) < 1000
    ways = walking(((-60.0, 0.0), (60.0, 1.0)), obstacles)
    assert 2 * math.sqrt(60**2 - 43**2) < ways.cost_m[0, 1] < 60 * math.pi
    assert not strays(ways.course(0, 1), obstacles)


COORDINATE = st.integers(-50, 50).map(float)
POINT = st.tuples(COORDINATE, COORDINATE)


@st.composite
def obstacles_of(draw: st.DrawFn) -> Obstacles:
    streams = draw(st.lists(st.lists(POINT, min_size=2, max_size=6, unique=True).map(tuple), max_size=2))
    no_go = []
    for x, y in draw(st.lists(POINT, max_size=3)):
        ring = draw(st.lists(st.tuples(st.integers(1, 20), st.integers(0, 11)), min_size=3, max_size=7))
        turned = sorted({step: size for size, step in ring}.items())
        if len(turned) >= 3:
            angles = [(step * math.pi / 6, size) for step, size in turned]
            no_go.append((tuple((x + r * math.cos(a), y + r * math.sin(a)) for a, r in angles),))
    bridges = draw(st.lists(POINT, max_size=3))
    return Obstacles(tuple(streams), tuple(bridges), tuple(no_go))


@settings(max_examples=120, deadline=None)
@given(obstacles_of(), st.lists(POINT, min_size=2, max_size=6))
def test_ways_keep_clear_and_are_measured_right(obstacles: Obstacles, places: list[Xy]) -> None:
    assume(all(shapely.Polygon(a[0]).is_valid for a in obstacles.no_go))
    ways = walking(tuple(places), obstacles)
    cost = ways.cost_m
    assert np.array_equal(cost, cost.T)
    for i, a in enumerate(places):
        for j, b in enumerate(places):
            if np.isfinite(cost[i, j]):
                course = ways.course(i, j)
                assert (course[0], course[-1]) == (a, b)
                assert length(course) == pytest.approx(cost[i, j], abs=1e-9)
                assert cost[i, j] >= math.dist(a, b) - 1e-9
                assert len(course) == 1 or not strays(course, obstacles)
    through = (cost[:, :, None] + cost[None, :, :]).min(axis=1)
    assert (cost <= through + 1e-7).all()
