"""How much of the wood within reach still carries sap."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from standmap.stem.column import Column, column_of
from standmap.stem.zone import Left, clear_share, zone_ml

BAND = (300.0, 1000.0)
GIRTH, DEPTH = 800.0, 30.0
WHOLE = st.integers(0, 39).map(lambda k: 20.0 * k)


@st.composite
def lefts(draw: st.DrawFn) -> Left:
    """What a hole left, on a grid of 10 mm, so that counting cells is exact."""
    column = Column(draw(st.sampled_from([10.0, 20.0, 40.0])), draw(st.sampled_from([20.0, 60.0])), 400.0)
    return Left(
        draw(WHOLE), 20.0 * draw(st.integers(0, 60)), column, draw(st.sampled_from([0.0, 10.0, 20.0, 30.0, 50.0]))
    )


def counted(found: list[Left]) -> float:
    """Return the share that is clear by looking at the middle of every cell of 10 mm."""
    around, height, deep = np.meshgrid(
        np.arange(5, GIRTH, 10), np.arange(BAND[0] + 5, BAND[1], 10), np.arange(5, DEPTH, 10), indexing="ij"
    )
    taken = np.zeros(around.shape, bool)
    for left in found:
        off = np.abs(around - left.around_mm) % GIRTH
        taken |= (
            (np.minimum(off, GIRTH - off) < left.column.width_mm / 2)
            & (np.abs(height - left.height_mm) < left.column.length_mm / 2)
            & (deep > left.cover_mm)
            & (deep < left.cover_mm + left.column.depth_mm)
        )
    return 1.0 - float(taken.mean())


@given(st.lists(lefts(), max_size=8))
def test_the_share_is_what_counting_cells_gives(found: list[Left]) -> None:
    assert clear_share(GIRTH, BAND, DEPTH, found) == pytest.approx(counted(found), abs=1e-9)


@given(st.lists(lefts(), min_size=1, max_size=6))
def test_more_holes_leave_less_and_more_growth_leaves_more(found: list[Left]) -> None:
    share = clear_share(GIRTH, BAND, DEPTH, found)
    assert 0 <= share <= clear_share(GIRTH, BAND, DEPTH, found[1:]) <= 1
    grown = [Left(one.around_mm, one.height_mm, one.column, one.cover_mm + DEPTH) for one in found]
    assert clear_share(GIRTH, BAND, DEPTH, grown) == 1.0


def test_one_hole_takes_its_column_and_two_at_one_place_take_it_once() -> None:
    column = column_of(10.0, 30.0)
    one = Left(0.0, 650.0, column)
    assert clear_share(GIRTH, BAND, DEPTH, [one]) == pytest.approx(1 - column.volume_ml / zone_ml(GIRTH, BAND, DEPTH))
    assert clear_share(GIRTH, BAND, DEPTH, [one, one]) == clear_share(GIRTH, BAND, DEPTH, [one])


def test_a_column_as_wide_as_the_stem_is_clipped_to_it() -> None:
    ring = Left(10.0, 650.0, Column(DEPTH, 5 * GIRTH, 2000.0))
    assert clear_share(GIRTH, BAND, DEPTH, [ring]) == pytest.approx(0.0, abs=1e-12)


@pytest.mark.parametrize(
    ("girth", "band", "depth"), [(0, BAND, 30), (800, (500, 500), 30), (800, BAND, 0), (math.nan, BAND, 30)]
)
def test_a_zone_that_is_none_is_refused(girth: float, band: tuple[float, float], depth: float) -> None:
    with pytest.raises(ValueError, match="tapping zone"):
        clear_share(girth, band, depth, [])
