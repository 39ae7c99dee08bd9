"""Heights between the points of a grid."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.interpolate import RegularGridInterpolator

from standmap.rounds.heights import Heights

GRID = np.array([[1, 2, 4], [3, 5, 9]], np.float32)


def test_between_four_points_the_height_is_bilinear() -> None:
    heights = Heights(100.0, 200.0, 10.0, GRID)
    spots = np.array([[100, 200], [120, 210], [105, 200], [110, 205], [105, 205], [99.9, 205], [120.1, 205]])
    found = heights.at(spots)
    assert found[:5].tolist() == [1, 9, 1.5, 3.5, 2.75]
    assert np.isnan(found[5:]).all()


def test_next_to_an_unknown_point_nothing_is_known() -> None:
    heights = Heights(0.0, 0.0, 1.0, np.array([[1, 2, 3], [1, np.nan, 3], [1, 2, 3]], np.float32))
    assert np.isnan(heights.at(np.array([[0.5, 0.5], [1.5, 1.5]]))).all()


@given(st.lists(st.tuples(st.floats(0, 20), st.floats(0, 30)), min_size=1, max_size=20))
def test_it_agrees_with_a_library(spots: list[tuple[float, float]]) -> None:
    grid = np.random.default_rng(1).uniform(50, 90, (13, 9)).astype(np.float32)
    plain = RegularGridInterpolator((np.arange(13) * 2.5, np.arange(9) * 2.5), grid)
    xy = np.array(spots)
    assert Heights(0.0, 0.0, 2.5, grid).at(xy) == pytest.approx(plain(xy[:, ::-1]), abs=2e-4)


@pytest.mark.parametrize(
    ("east", "cell", "grid"),
    [(0.0, 0.0, GRID), (0.0, -1.0, GRID), (float("nan"), 1.0, GRID), (0.0, 1.0, GRID[:1]), (0.0, 1.0, GRID[:, :1])],
)
def test_what_is_no_grid_is_refused(east: float, cell: float, grid: np.ndarray) -> None:
    with pytest.raises(ValueError, match="heights need"):
        Heights(east, 0.0, cell, grid)
