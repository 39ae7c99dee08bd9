"""A sledge or barrow that keeps to paths, and what is walked from there."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from standmap.rounds.ground import Course, Crossing, Ground
from standmap.rounds.hiking import Pace
from standmap.rounds.walking import walking
from tests.rounds.grounds import POINT, grounds, strays

PACE = Pace(path_m_per_min=80.0, wood_m_per_min=48.0)
RIDE = Course(((0.0, 0.0), (100.0, 0.0), (100.0, 100.0)), "ride")


def test_costs_lead_along_paths_and_feet_tell_the_rest() -> None:
    ways = walking(((0.0, 0.0), (100.0, 100.0), (40.0, 12.0)), Ground(paths=(RIDE,)), PACE, paths_only=True)
    assert ways.minutes[0, 1] == pytest.approx(200 / 80)
    assert ways.cost_m[0] == pytest.approx([0, 200, 40])
    assert ways.course(0, 1)[0] == (0, 0)
    assert (100, 0) in ways.course(0, 1)
    assert [foot.metres for foot in ways.feet] == pytest.approx([0, 0, 12])
    assert ways.feet[2].minutes == pytest.approx(12 / 48)
    assert ways.feet[2].course == ((40, 0), (40, 12))


def test_places_at_one_foot_lie_at_no_distance() -> None:
    ways = walking(((40.0, 12.0), (40.0, -9.0)), Ground(paths=(RIDE,)), PACE, paths_only=True)
    assert ways.cost_m.tolist() == [[0, 0], [0, 0]]
    assert ways.course(0, 1) == ((40, 0),)


def test_feet_lie_on_the_paths_that_are_joined_to_the_start() -> None:
    apart = Course(((0.0, 30.0), (80.0, 30.0)), "other")
    ways = walking(((0.0, 0.0), (40.0, 28.0)), Ground(paths=(RIDE, apart)), PACE, paths_only=True)
    assert ways.feet[1].at == (40, 0)


def test_without_a_path_there_is_no_way() -> None:
    ways = walking(((0.0, 0.0), (40.0, 28.0)), Ground(), PACE, paths_only=True)
    assert ways.minutes[0, 1] == math.inf
    assert ways.why_cut_off(1) == "no path that is joined to the start's leads near it"
    assert ways.feet[1].metres == math.inf


def test_one_goes_on_foot_by_the_bridge_and_what_has_none_is_named() -> None:
    brook = Course(((-50.0, 10.0), (150.0, 10.0), (150.0, 40.0), (-50.0, 40.0), (-50.0, 10.0)), "brook")
    flat = Course(((0.0, 0.0), (100.0, 0.0)))
    ground = Ground(streams=(brook,), paths=(flat,))
    cut = walking(((0.0, 0.0), (40.0, 20.0)), ground, PACE, paths_only=True)
    assert cut.why_cut_off(1) == "the stream 'brook' without a bridge or ford"
    bridged = Ground(streams=(brook,), crossings=(Crossing((70.0, 10.0)),), paths=(flat,))
    ways = walking(((0.0, 0.0), (40.0, 20.0)), bridged, PACE, paths_only=True)
    assert 60 < ways.feet[1].at[0] < 70
    assert not strays(ways.feet[1].course, bridged)


@settings(max_examples=40, deadline=None)
@given(grounds(), st.lists(POINT, min_size=2, max_size=5))
def test_no_way_strays(ground: Ground, places: list[tuple[float, float]]) -> None:
    ways = walking(tuple(places), ground, PACE, paths_only=True)
    assert not ways.minutes.diagonal().any()
    for i, foot in enumerate(ways.feet):
        if places[i] != places[0]:
            assert (foot.metres < math.inf) == bool(np.isfinite(ways.minutes[0, i]))
        assert len(foot.course) < 2 or not strays(foot.course, ground)
        for j in range(len(places)):
            if np.isfinite(ways.minutes[i, j]):
                course = ways.course(i, j)
                assert (course[0], course[-1]) == (foot.at, ways.feet[j].at)
                assert len(course) < 2 or not strays(course, ground)
    through = (ways.minutes[:, :, None] + ways.minutes[None, :, :]).min(axis=1)
    assert (ways.minutes <= through + 1e-9).all()
