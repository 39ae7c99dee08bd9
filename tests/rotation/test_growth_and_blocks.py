"""How girth grows by its measurements, and how a stand is cut into parts."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from standmap.rotation.blocks import blocks
from standmap.rotation.growth import growth_mm_per_year
from standmap.rotation.problem import RotationProblem, Stem, faults
from standmap.rotation.without import all_that_may
from standmap.stand.tree import Measurement


def measured(year: int, girth_mm: float | None, diameter_mm: float | None = None) -> Measurement:
    return Measurement(f"m{year}", "t", date(year, 7, 1), girth_mm, diameter_mm, "?", "mm")


def test_growth_is_the_line_through_the_girths() -> None:
    assert growth_mm_per_year([measured(2018, 700), measured(2022, 740)]) == pytest.approx(10, abs=0.01)
    three = [measured(2018, 700), measured(2020, 726), measured(2022, 740)]
    assert growth_mm_per_year(three) == pytest.approx(10, abs=0.01)
    assert growth_mm_per_year([measured(2018, 700), measured(2022, None, 250)]) == pytest.approx(21.3, abs=0.1)


def test_growth_that_was_not_measured_is_not_known() -> None:
    assert growth_mm_per_year([]) is None
    assert growth_mm_per_year([measured(2018, 700)]) is None
    assert growth_mm_per_year([measured(2018, 700), measured(2019, 715)]) is None
    assert growth_mm_per_year([measured(2018, 700), measured(2022, 1400)]) is None
    assert growth_mm_per_year([measured(2018, 700), measured(2022, 690)]) == 0
    undated = Measurement("m", "t", None, 650.0, None, "650", "mm")
    assert growth_mm_per_year([undated, measured(2022, 690)]) is None


@given(xy=st.lists(st.tuples(st.floats(-500, 500), st.floats(-500, 500)), max_size=120), most=st.integers(1, 30))
def test_blocks_are_even_and_the_same_again(xy: list[tuple[float, float]], most: int) -> None:
    at = np.array(xy).reshape(-1, 2)
    cut = blocks(at, most)
    sizes = np.bincount(cut) if len(cut) else np.zeros(0, int)
    assert (sizes >= 1).all()
    assert sizes.max(initial=0) <= most
    if len(sizes) > 1:
        assert sizes.min() * 2 + 2 > most / 2
        assert sizes.max() - sizes.min() <= sizes.max() / 2 + 1
    assert (blocks(at, most) == cut).all()


def test_blocks_lie_together() -> None:
    at = np.array([(x, 0.0) for x in (0, 1, 2, 100, 101, 102)])
    assert blocks(at, 3).tolist() == [0, 0, 0, 1, 1, 1]


def test_without_a_plan_all_that_rested_is_tapped() -> None:
    stems = tuple(Stem(f"t{k}", f"r{k % 4}", 0, (1, 2, 1), 10.0 + k, free_from=k % 2, limits=(0,)) for k in range(5))
    problem = RotationProblem(stems, 3, rest=2, limits=((3, None, 0),))
    tapped = all_that_may(problem)
    assert faults(problem, tapped) == ()
    assert tapped == (("t2", "t4"), ("t1", "t3"), ())
    enough = all_that_may(RotationProblem(stems, 3, rest=2, limits=((None,) * 3,), wanted_l=12.0))
    assert enough[0] == ("t4",)
