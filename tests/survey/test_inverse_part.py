"""Entries of a sparse inverse are those of the dense one."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.sparse import csc_matrix, identity

from standmap.survey.inverse_part import inverse_part


@given(st.integers(0, 10_000), st.integers(1, 40), st.floats(0.02, 0.5))
@settings(max_examples=60, deadline=None)
def test_it_is_that_of_the_dense_inverse(seed: int, n: int, filled: float) -> None:
    rng = np.random.default_rng(seed)
    # Many whole numbers: some entries of the factor then come out as exactly 0.
    slopes = np.where(rng.random((2 * n, n)) < filled, rng.integers(-2, 3, (2 * n, n)), 0).astype(float)
    matrix = csc_matrix(slopes.T @ slopes + np.eye(n))
    asked = csc_matrix(abs(slopes).T @ abs(slopes) + np.eye(n))
    part = inverse_part(matrix, asked).toarray()
    dense = np.linalg.inv(matrix.toarray())
    wanted = asked.toarray() != 0
    assert part[wanted] == pytest.approx(dense[wanted], rel=1e-8, abs=1e-10)
    assert not part[~wanted].any()


def test_a_matrix_without_ties_is_turned_over_entry_by_entry() -> None:
    part = inverse_part(csc_matrix(np.diag([2.0, 4.0])), identity(2, format="csc"))
    assert part.toarray() == pytest.approx(np.diag([0.5, 0.25]))
