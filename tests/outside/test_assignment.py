"""The assignment of new positions to known trees against trying every way (itertools.permutations) on small cases."""

from __future__ import annotations

from itertools import permutations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from standmap.survey.matching import best_pairs


def tried(score: np.ndarray) -> float:
    """Return the best total score of any one-to-one assignment; a new position without a tree adds nothing."""
    new, known = score.shape
    wide = np.hstack([score, np.zeros((new, new))])
    return max(float(sum(wide[i, j] for i, j in enumerate(way))) for way in permutations(range(known + new), new))


def total(score: np.ndarray, chosen: np.ndarray) -> float:
    return float(sum(score[i, j] for i, j in enumerate(chosen) if j >= 0))


@given(st.integers(1, 4), st.integers(1, 4), st.integers(0, 10_000), st.sampled_from([0.3, 0.7, 1.0]))
@settings(max_examples=60, deadline=None)
def test_it_is_the_best_of_all(new: int, known: int, seed: int, filled: float) -> None:
    rng = np.random.default_rng(seed)
    score = np.where(rng.random((new, known)) < filled, rng.normal(1.0, 3.0, (new, known)), -np.inf)
    i, j = np.nonzero(np.isfinite(score))
    chosen = best_pairs(i, j, score[i, j], new, known)
    kept = [k for k in chosen if k >= 0]
    assert len(kept) == len(set(kept))
    assert total(score, chosen) == pytest.approx(tried(score), abs=1e-9)


@pytest.mark.parametrize("seed", range(5))
def test_large_components_are_solved_as_small_ones_are(seed: int) -> None:
    """Two hundred positions in one component: the sparse solver against SciPy's dense one."""
    from scipy.optimize import linear_sum_assignment

    rng = np.random.default_rng(seed)
    score = rng.normal(0.5, 2.0, (120, 100))
    i, j = np.nonzero(np.isfinite(score))
    chosen = best_pairs(i, j, score[i, j], 120, 100)
    wide = np.hstack([score, np.zeros((120, 120))])
    rows, columns = linear_sum_assignment(-wide)
    assert total(score, chosen) == pytest.approx(float(wide[rows, columns].sum()), abs=1e-6)
