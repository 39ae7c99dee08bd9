"""Sums of runs, held against drawn ones."""

from __future__ import annotations

import math

import numpy as np
import pytest

from standmap.sap.sums import summed, total_of

CHANCE = np.random.default_rng(7)


def test_a_sum_of_one_run_is_that_run() -> None:
    middle, spread = summed(np.array([[8.0]]), np.array([[[0.49]]]), np.array([[1.0]]))
    assert (middle[0], spread[0]) == pytest.approx((8.0, 0.7))
    middle, spread = summed(np.array([[8.0]]), np.array([[[0.49]]]), np.array([[0.5]]))
    assert (middle[0], spread[0]) == pytest.approx((8.0 + math.log(0.5), 0.7))


def test_runs_that_are_one_and_the_same_add_up_without_evening_out() -> None:
    middle, spread = summed(np.full((1, 3), 8.0), np.full((1, 3, 3), 0.25), np.ones((1, 3)))
    assert (middle[0], spread[0]) == pytest.approx((8.0 + math.log(3), 0.5))


@pytest.mark.parametrize(("own", "shared"), [(0.5, 0.0), (0.4, 0.3), (0.3, 0.6)])
def test_a_sum_of_nights_is_about_what_is_drawn(own: float, shared: float) -> None:
    middles, parts = np.array([7.6, 8.1, 8.3]), np.array([0.4, 1.0, 1.0])
    covariance = np.full((3, 3), shared**2) + np.diag(np.full(3, own**2))
    drawn = CHANCE.multivariate_normal(middles, covariance, 60_000)
    sums = (parts * np.exp(drawn)).sum(axis=1)
    middle, spread = summed(middles[None], covariance[None], parts[None])
    assert math.exp(middle[0] + spread[0] ** 2 / 2) == pytest.approx(sums.mean(), rel=0.02)
    assert math.exp(middle[0]) == pytest.approx(np.median(sums), rel=0.03)
    assert math.exp(middle[0] + 1.2816 * spread[0]) == pytest.approx(np.quantile(sums, 0.9), rel=0.03)


def test_what_all_holes_share_does_not_even_out() -> None:
    many = 50
    args = np.full(many, 8.0), np.full(many, 0.6)
    alone = total_of(*args, np.zeros(many), np.full(many, np.inf))
    alike = total_of(*args, np.full(many, 0.6), np.full(many, np.inf))
    assert alike.most_ml / alike.median_ml == pytest.approx(math.exp(1.2816 * 0.6), rel=0.06)
    assert alone.most_ml / alone.median_ml < 1.15
    assert alone.median_ml == pytest.approx(many * math.exp(8.0 + 0.18), rel=0.03), "the mean of many"
    assert alone.low_ml < alone.median_ml < alone.most_ml


def test_no_vessel_brings_more_than_it_holds_and_draws_are_the_same_twice() -> None:
    args = np.array([8.0, 9.0]), np.array([0.8, 0.8]), np.array([0.5, 0.5]), np.array([2000.0, 3000.0])
    assert total_of(*args).most_ml == 5000.0
    assert total_of(*args) == total_of(*args)
    assert total_of(*args, seed=2) != total_of(*args)
    nothing = np.zeros(0)
    assert total_of(nothing, nothing, nothing, nothing).most_ml == 0.0


def test_what_is_certain_is_certain() -> None:
    one = total_of(np.log([2000.0, 3000.0]), np.zeros(2), np.zeros(2), np.full(2, 2500.0))
    assert (one.low_ml, one.median_ml, one.most_ml) == pytest.approx((4500, 4500, 4500))
