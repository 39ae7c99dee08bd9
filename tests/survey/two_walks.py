"""Invented second walks through a wood that is known, for tests and benchmarks of matching."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from standmap.stand.walks import FloatArray
from standmap.survey.matching import Positions


@dataclass(frozen=True)
class SecondWalk:
    """New positions, known trees, and for each new one the number of its tree, -1 where it is not known."""

    new: Positions
    known: Positions
    truth: NDArray[np.int64]
    shift: FloatArray


def plain(xy: FloatArray, sigma_m: float) -> Positions:
    """Return positions of which nothing but the place is known."""
    count = len(xy)
    spread = np.tile([sigma_m**2, sigma_m**2, 0.0], (count, 1))
    return Positions(xy, spread, np.full(count, np.nan), [None] * count)


def second_walk(
    rng: np.random.Generator,
    trees: FloatArray,
    sigma_m: float,
    *,
    shared_m: float = 1.5,
    visited: float = 0.6,
    unknown: float = 0.05,
) -> SecondWalk:
    """Return a walk to some of the trees, a few of them not known yet.

    Parameters
    ----------
    sigma_m
        Of an axis of one fused position, without what a walk shares; of the known trees too.
    """
    is_new = rng.random(len(trees)) < unknown
    old = np.flatnonzero(~is_new)
    at = np.flatnonzero(rng.random(len(trees)) < visited)
    shift = rng.normal(0, shared_m, 2)
    known = trees[old] + rng.normal(0, sigma_m, (len(old), 2)) + rng.normal(0, shared_m, 2)
    new = trees[at] + rng.normal(0, sigma_m, (len(at), 2)) + shift
    number = np.full(len(trees), -1, dtype=np.int64)
    number[old] = np.arange(len(old))
    return SecondWalk(plain(new, sigma_m), plain(known, sigma_m), number[at], shift)


def spaced(rng: np.random.Generator, count: int, least_m: float) -> FloatArray:
    """Return trees that keep a distance from each other, shape (count, 2)."""
    found: list[FloatArray] = []
    side = math.sqrt(count) * least_m * 1.6
    while len(found) < count:
        at = rng.uniform(0, side, 2)
        if all(math.dist(at, other) >= least_m for other in found):
            found.append(at)
    return np.array(found)
