"""Whether a walk came back to a tree that it stopped at before: by both covariances, not by a fixed distance."""

from __future__ import annotations

from itertools import pairwise

import pytest

from standmap.jobs.bring_returns import SURE_RETURN, Returns
from standmap.survey.stops import FoundStop


def stop(x: float, y: float = 0.0, sigma_m: float = 1.0, shared_m2: float = 0.0) -> FoundStop:
    own = sigma_m**2 + shared_m2
    return FoundStop(27.6, 61.9, x, y, 0.0, 60.0, 60, own, own, 0.0, shared_m2)


def row_of(apart_m: float, count: int = 9) -> list[FoundStop]:
    return [stop(apart_m * number) for number in range(count)]


def test_the_same_place_is_the_same_tree_where_trees_stand_far_apart() -> None:
    stops = row_of(12)
    assert Returns(stops).chance(stop(12.0), stops[1]) >= SURE_RETURN
    assert Returns(stops).chance(stops[2], stops[1]) < 0.01


def test_three_metres_off_is_another_tree_by_sharp_stops_and_the_same_one_by_wide_ones() -> None:
    sparse = row_of(15)
    assert Returns(sparse).chance(stop(3, sigma_m=0.3), stop(0, sigma_m=0.3)) < 0.01
    assert Returns(sparse).chance(stop(3, sigma_m=2.0), stop(0, sigma_m=2.0)) > 0.5


def test_in_a_dense_wood_two_wide_stops_may_be_of_neighbours() -> None:
    dense = row_of(2.5)
    assert Returns(dense).chance(stop(1.5, sigma_m=1.5), stop(0, sigma_m=1.5)) < 0.5


def test_what_the_walk_shares_parts_no_two_of_its_stops() -> None:
    stops = row_of(12)
    plain = Returns(stops).chance(stop(1.0), stop(0.0))
    assert Returns(stops).chance(stop(1.0, shared_m2=25.0), stop(0.0, shared_m2=25.0)) == pytest.approx(plain)


def test_the_further_off_the_less_likely() -> None:
    returns = Returns(row_of(10))
    chances = [returns.chance(stop(0.5 * n), stop(0)) for n in range(20)]
    assert all(a > b for a, b in pairwise(chances))


def test_a_walk_of_two_stops_has_its_usual_distance() -> None:
    assert Returns([stop(0), stop(0.2)]).chance(stop(0.2), stop(0)) > 0.5
    assert Returns([stop(0), stop(4)]).chance(stop(4), stop(0)) < 0.5
