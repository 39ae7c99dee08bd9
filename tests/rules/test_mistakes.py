import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from standmap.rules.ground import Spots
from standmap.rules.mistakes import CHI2_95, alike, alike_among, squared_distance

metres = st.floats(-40, 40)
sigmas = st.sampled_from([0.0, 0.3, 1.0, 4.0, 15.0])


def spots(rows: list[tuple[float, float, float, float, float]]) -> Spots:
    """Rows of x, y, sigma east, sigma north, correlation."""
    x, y, east, north, together = np.array(rows, float).reshape(-1, 5).T
    return Spots(x, y, east**2, north**2, together * east * north)


def test_the_quantile_is_the_tabled_one() -> None:
    # Chi-square, two degrees of freedom, 95 %: 5.991 (any statistical table; from memory).
    assert pytest.approx(5.991, abs=5e-4) == CHI2_95


def test_the_long_axis_reaches_further() -> None:
    # Errors of 3 m east and 1 m north each: 5.991 * 2 * 9 = 10.4 m squared east, 3.46 m squared north.
    at = spots([(0, 0, 3, 1, 0), (10.3, 0, 3, 1, 0), (10.5, 0, 3, 1, 0), (0, 3.4, 3, 1, 0), (0, 3.5, 3, 1, 0)])
    assert alike(at, 0) == [3, 1]


def test_a_correlated_error_turns_the_ellipse() -> None:
    at = spots([(0, 0, 2, 2, 0.9), (4, 4, 2, 2, 0.9), (4, -4, 2, 2, 0.9)])
    assert alike(at, 0) == [1]


def test_two_exact_positions_are_told_apart() -> None:
    at = spots([(0, 0, 0, 0, 0), (0.01, 0, 0, 0, 0), (0, 0, 0, 0, 0)])
    assert alike(at, 0) == [2]


def test_a_covariance_that_cannot_be_is_left_out() -> None:
    at = Spots(*(np.array(v, float) for v in ([0, 3], [0, 0], [1, 1], [1, 1], [5, 5])))
    assert squared_distance(at, np.array([0]), np.array([1]))[0] == pytest.approx(4.5)


@settings(deadline=None)
@given(
    st.lists(st.tuples(metres, metres, sigmas, sigmas, st.sampled_from([-1.0, -0.7, 0.0, 0.99])), max_size=25),
    st.data(),
)
def test_the_index_finds_what_looking_at_every_pair_finds(
    rows: list[tuple[float, float, float, float, float]], data: st.DataObject
) -> None:
    at = spots(rows)
    kept = data.draw(st.lists(st.booleans(), min_size=len(rows), max_size=len(rows)))
    asked = np.flatnonzero(np.array(kept, bool))
    others = np.flatnonzero(~np.array(kept, bool))
    found = dict(alike_among(at, asked, others))
    wanted = {int(row): [i for i in alike(at, int(row)) if i in set(others.tolist())] for row in asked}
    assert found == {row: beside for row, beside in wanted.items() if beside}
