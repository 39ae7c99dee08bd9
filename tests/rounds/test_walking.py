"""Ways between places: as short as can be, and never through what is in the way."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely

from standmap.rounds.barriers import OPENING_HALF_WIDTH_M, barriers
from standmap.rounds.ground import Course, Crossing, Ground, NoGo, Ring
from standmap.rounds.walking import walking
from tests.rounds.grounds import strays

BROOK = Course(((0.0, -1000.0), (0.0, 1000.0)))
SQUARE = NoGo((((10.0, -5.0), (20.0, -5.0), (20.0, 5.0), (10.0, 5.0), (10.0, -5.0)),))


def test_with_nothing_in_the_way_every_way_is_straight() -> None:
    ways = walking(((0.0, 0.0), (3.0, 4.0), (0.0, 0.0)), Ground(crossings=(Crossing((1.0, 1.0)),)))
    assert ways.cost_m.tolist() == [[0, 5, 0], [5, 0, 5], [0, 5, 0]]
    assert ways.course(0, 1) == ((0, 0), (3, 4))
    assert ways.course(0, 2) == ((0, 0),)


def test_a_no_go_area_is_walked_round_by_its_corners() -> None:
    ways = walking(((0.0, 0.0), (30.0, 0.0)), Ground(no_go=(SQUARE,)))
    taut = 2 * math.hypot(10, 5) + 10
    assert taut < ways.cost_m[0, 1] < taut + 0.6  # a foot's breadth away from the corners
    assert len(ways.course(0, 1)) == 4
    assert ways.course(1, 0) == ways.course(0, 1)[::-1]


def test_a_stream_is_crossed_where_it_is_nearest_to_its_bridge() -> None:
    ways = walking(((-10.0, 0.0), (10.0, 0.0)), Ground(streams=(BROOK,), crossings=(Crossing((4.0, 60.0)),)))
    (crossing,) = shapely.get_coordinates(
        shapely.LineString(ways.course(0, 1)).intersection(shapely.LineString(BROOK.points))
    )
    assert crossing[1] == pytest.approx(60, abs=OPENING_HALF_WIDTH_M)
    taut = 2 * math.hypot(10, 60 - OPENING_HALF_WIDTH_M)
    assert taut < ways.cost_m[0, 1] < taut + 1.3


def test_a_bridge_far_from_a_stream_opens_nothing() -> None:
    ways = walking(((-10.0, 0.0), (10.0, 0.0)), Ground(streams=(BROOK,), crossings=(Crossing((10.5, 60.0)),)))
    assert ways.cost_m[0, 1] > 2000  # round the end of the brook


def test_a_stream_that_ends_just_short_of_another_leaves_no_way_between() -> None:
    side = Course(((1.5, 100.0), (500.0, 100.0)))  # would let a walker slip between it and the brook
    end = Course(((500.0, 100.0), (500.0, -1000.0)))
    shut = Ground(streams=(BROOK, side, end, Course(((0.0, -1000.0), (500.0, -1000.0)))))
    ways = walking(((100.0, 0.0), (100.0, 200.0)), shut)
    assert ways.cost_m[0, 1] == math.inf


def test_who_stands_where_nobody_can_is_told_why() -> None:
    ways = walking(((15.0, 0.0), (0.0, 7.0), (-5.0, 0.0)), Ground(streams=(BROOK,), no_go=(SQUARE,)))
    assert ways.hindrance == ("in a no-go area", "on a stream", "")


def test_a_clearing_in_a_no_go_area_can_be_walked_but_not_left() -> None:
    outer: Ring = ((0.0, 0.0), (40.0, 0.0), (40.0, 40.0), (0.0, 40.0))
    clearing: Ring = ((10.0, 10.0), (30.0, 10.0), (30.0, 30.0), (10.0, 30.0))
    ways = walking(((12.0, 12.0), (28.0, 28.0), (-5.0, 0.0)), Ground(no_go=(NoGo((outer, clearing)),)))
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
    ground = Ground(streams=(Course(line),), crossings=(Crossing(line[60]),))
    ways = walking(places, ground)
    assert np.isfinite(ways.cost_m).all()
    assert not any(strays(ways.course(i, len(places) - 1), ground) for i in range(len(places) - 1))


def test_a_long_outline_is_made_coarser_but_never_cut() -> None:
    turn = np.linspace(0, 2 * np.pi, 3000, endpoint=False)
    rough = 40 + 3 * np.random.default_rng(1).random(3000)
    ring = tuple((float(x), float(y)) for x, y in zip(rough * np.cos(turn), rough * np.sin(turn), strict=True))
    ground = Ground(no_go=(NoGo((ring,)),))
    assert len(barriers(ground).corners) < 1000
    ways = walking(((-60.0, 0.0), (60.0, 1.0)), ground)
    assert 2 * math.sqrt(60**2 - 43**2) < ways.cost_m[0, 1] < 60 * math.pi
    assert not strays(ways.course(0, 1), ground)
