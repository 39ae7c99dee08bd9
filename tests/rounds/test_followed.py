"""Which places of a walk were reached: stays are shared out as well as they can be, a passing counts too."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from standmap.rounds.followed import PASS_M, REACH_M, STRIDE_M, reached, walked_m

NOWHERE = np.zeros((0, 2))
NEVER = np.zeros(0)


def points(*xy: tuple[float, float]) -> np.ndarray:
    return np.array(xy, dtype=np.float64).reshape(-1, 2)


def test_each_place_gets_the_stay_that_leaves_enough_for_the_others() -> None:
    # The first stay is nearest to both places; only one way serves both.
    places, stays = points((0, 0), (10, 0)), points((4, 0), (-8, 0))
    found = reached(places, stays, points((100, 160), (20, 80)), NOWHERE, NEVER)
    assert [reach and reach.from_s for reach in found] == [20, 100]
    assert [reach and round(reach.off_m, 6) for reach in found] == [8, 6]


def test_two_holes_of_one_tree_are_reached_together() -> None:
    found = reached(points((0, 0), (0, 0)), points((1, 0)), points((5, 65)), NOWHERE, NEVER)
    assert found[0] == found[1]
    assert found[0] is not None
    assert found[0].stayed


def test_who_passes_by_was_there_and_who_stays_away_was_not() -> None:
    fixes, times = points((0, PASS_M - 1), (50, 0), (100, PASS_M + 1)), np.array([10.0, 20.0, 30.0])
    found = reached(points((0, 0), (100, 0)), NOWHERE, NOWHERE, fixes, times)
    assert found[0] is not None
    assert (found[0].from_s, found[0].stayed) == (10, False)
    assert found[1] is None


COORDINATE = st.integers(-20, 20).map(float)
PLACES = st.lists(st.tuples(COORDINATE, COORDINATE), min_size=1, max_size=4, unique=True)
STAYS = st.lists(st.tuples(COORDINATE, COORDINATE), max_size=4)


@given(places=PLACES, stays=STAYS)
def test_no_sharing_of_stays_serves_more_places_or_nearer(
    places: list[tuple[float, float]], stays: list[tuple[float, float]]
) -> None:
    found = reached(points(*places), points(*stays), points(*((k, k) for k in range(len(stays)))), NOWHERE, NEVER)
    count = sum(reach is not None for reach in found)
    cost = sum(reach.off_m**2 for reach in found if reach is not None)
    assert len({reach.from_s for reach in found if reach is not None}) == count
    best = (0, 0.0)
    ways: list[int | None] = [*range(len(stays)), *[None] * len(places)]
    for way in itertools.permutations(ways, len(places)):
        away = [math.dist(p, stays[k]) for p, k in zip(places, way, strict=True) if k is not None]
        if all(a <= REACH_M for a in away):
            best = max(best, (len(away), -sum(a * a for a in away)))
    assert count == best[0]
    assert -cost == pytest.approx(best[1])


def test_scatter_is_no_walking() -> None:
    rng = np.random.default_rng(5)
    standing = rng.normal(0, STRIDE_M / 6, (400, 2))
    assert walked_m(standing) < 2 * STRIDE_M
    line = points(*((k, 0) for k in range(301)))
    assert walked_m(line) == pytest.approx(300)
    assert walked_m(NOWHERE) == 0
