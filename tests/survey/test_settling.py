"""A position taken by standing still: as sure as it says, and aware that the person has walked off."""

from __future__ import annotations

import math

import numpy as np
import pytest
from numpy.typing import NDArray

from standmap.survey.settings import StopSettings
from standmap.survey.settling import CONFIDENCE_95, Settled, settle, shared_part

Floats = NDArray[np.float64]


def noise(rng: np.random.Generator, n: int, sigma_m: float, time_s: float) -> Floats:
    """Return first-order Gauss-Markov noise, one fix a second, shape (n, 2)."""
    keep = math.exp(-1 / time_s)
    found = np.zeros((n, 2))
    found[0] = rng.normal(size=2) * sigma_m
    for i in range(1, n):
        found[i] = keep * found[i - 1] + rng.normal(size=2) * sigma_m * math.sqrt(1 - keep**2)
    return found


def settled(xy: Floats, sigma_m: float = 4.0, wanted_m: float = 8.0) -> Settled:
    t = np.arange(len(xy), dtype=float)
    found = settle(t, xy[:, 0], xy[:, 1], np.full(len(xy), sigma_m), wanted_m)
    assert found is not None
    return found


def test_two_fixes_are_too_few() -> None:
    two = np.zeros(2)
    assert settle(np.arange(2.0), two, two, two + 2, 5.0) is None


@pytest.mark.parametrize("time_s", [10.0, 30.0, 60.0, 120.0])
def test_the_ellipse_holds_the_truth_about_as_often_as_it_says(time_s: float) -> None:
    rng = np.random.default_rng(11)
    inside = 0
    for _ in range(300):
        shared = rng.normal(size=2) * StopSettings().walk_drift_m
        found = settled(noise(rng, 60, 4.0, time_s) + shared)
        covariance = np.array([[found.var_e_m2, found.cov_en_m2], [found.cov_en_m2, found.var_n_m2]])
        at = np.array([found.x, found.y])
        inside += bool(at @ np.linalg.solve(covariance, at) <= CONFIDENCE_95**2)
    assert inside / 300 >= 0.90


def test_many_fixes_of_one_moment_are_worth_few() -> None:
    rng = np.random.default_rng(2)
    slow = settled(noise(rng, 40, 4.0, 60.0))
    assert slow.fix_count == 40
    assert slow.worth < 2


def test_standing_on_makes_it_surer_as_was_expected() -> None:
    rng = np.random.default_rng(4)
    track = noise(rng, 900, 2.0, 20.0)
    early = settled(track[:30], 2.0, 5.0)
    assert early.wait_s is not None
    assert early.wait_s > 0
    late = settled(track[: 30 + round(early.wait_s)], 2.0, 5.0)
    assert late.radius_95_m < early.radius_95_m
    assert late.radius_95_m == pytest.approx(5.0, rel=0.15)


def test_what_drift_forbids_is_never_promised() -> None:
    found = settled(noise(np.random.default_rng(5), 30, 2.0, 20.0), 2.0, 1.0)
    assert found.wait_s is None
    assert found.best_m > CONFIDENCE_95 * StopSettings().walk_drift_m


def test_enough_is_enough() -> None:
    assert settled(noise(np.random.default_rng(6), 60, 2.0, 10.0), 2.0, 50.0).wait_s == 0


def test_an_echo_hardly_moves_it() -> None:
    track = noise(np.random.default_rng(7), 60, 2.0, 10.0)
    clean = settled(track, 2.0)
    track[20:24] += 60.0
    echoed = settled(track, 2.0)
    assert math.hypot(echoed.x - clean.x, echoed.y - clean.y) < 1.5
    assert not echoed.walked_off


@pytest.mark.parametrize("sigma_m", [1.0, 2.0, 4.0])
def test_walking_off_is_noticed_and_leaves_the_position(sigma_m: float) -> None:
    rng = np.random.default_rng(8)
    for _ in range(20):
        track = noise(rng, 100, sigma_m, 30.0)
        stood = settled(track[:60], sigma_m)
        assert not stood.walked_off
        track[60:, 0] += np.arange(40)
        found = settled(track, sigma_m)
        assert found.walked_off
        assert math.hypot(found.x - stood.x, found.y - stood.y) < 2 * sigma_m + 1


def test_the_shared_part_falls_from_one_to_nothing() -> None:
    parts = [shared_part(t, 60.0) for t in (0.0, 0.01, 1.0, 60.0, 600.0, 6000.0)]
    assert parts[0] == 1.0
    assert parts == sorted(parts, reverse=True)
    assert parts[-1] < 0.021
    assert shared_part(0.0599, 60.0) == pytest.approx(shared_part(0.0601, 60.0), abs=2e-6)
