"""Doubtful positions, and trees that stand closer than trees do."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from standmap.survey.checks import close_pairs, doubt
from standmap.survey.frame import WorkingFrame

CENTRE = (27.6, 61.9)
FRAME = WorkingFrame(*CENTRE)


def of(points: list[tuple[float, float]], centre: tuple[float, float] | None = CENTRE) -> list[str | None]:
    lon, lat = np.array(points).T
    return doubt(lon, lat, centre)


@pytest.mark.parametrize(
    ("point", "words"),
    [
        ((float("nan"), 61.9), "not a number"),
        ((27.6, float("inf")), "not a number"),
        ((27.6, 95.0), "not on Earth"),
        ((-181.0, 61.9), "not on Earth"),
        ((0.0, 0.0), "latitude 0, longitude 0"),
        ((0.000005, -0.000005), "latitude 0, longitude 0"),
        ((61.9, 27.6), "swapped"),
        ((27.6, 62.5), "66.7 km from the stand's centre (more than 10 km)"),
        ((-27.6, 61.9), "from the stand's centre"),
    ],
)
def test_each_doubt_is_told_in_its_own_words(point: tuple[float, float], words: str) -> None:
    good, bad = of([CENTRE, point])
    assert good is None
    assert bad is not None
    assert words in bad


def test_the_limit_is_ten_kilometres_from_a_stand() -> None:
    lon, lat = FRAME.to_lonlat(np.array([0.0, 0.0, 9_900.0, -10_200.0]), np.array([9_900.0, 10_200.0, 0.0, 0.0]))
    assert [reason is None for reason in doubt(lon, lat, CENTRE)] == [True, False, True, False]


def test_the_limit_is_fifty_kilometres_from_the_files_own_middle_while_the_stand_is_empty() -> None:
    lon, lat = FRAME.to_lonlat(np.array([0.0, 10.0, 20.0, 0.0, 0.0]), np.array([0.0, 0.0, 5.0, 49_000.0, 52_000.0]))
    reasons = doubt(lon, lat, None)
    assert reasons[:4] == [None] * 4
    assert reasons[4] is not None
    assert "the middle of the file's positions (more than 50 km)" in reasons[4]


def test_swapped_points_are_told_from_the_file_alone() -> None:
    reasons = of([CENTRE, (27.61, 61.9), (27.62, 61.9), (61.9, 27.61)], None)
    assert reasons[:3] == [None] * 3
    assert reasons[3] is not None
    assert "swapped" in reasons[3]


def test_a_swap_that_is_off_the_earth_is_still_told_as_a_swap() -> None:
    (reason,) = of([(64.8, -147.7)], (-147.7, 64.8))
    assert reason is not None
    assert "swapped" in reason


def test_a_wood_where_latitude_equals_longitude_is_no_swap() -> None:
    assert of([(45.001, 45.0), (45.0, 45.001)], (45.0, 45.0)) == [None, None]


def test_a_stand_across_the_antimeridian_is_one_place() -> None:
    assert of([(-179.999, 66.0), (179.999, 66.0)], (179.9995, 66.0)) == [None, None]
    assert of([(-179.999, 66.0), (179.999, 66.0)], None) == [None, None]


@given(
    hnp.arrays(float, st.tuples(st.integers(0, 30), st.just(2)), elements=st.floats(width=64)),
    st.none() | st.just(CENTRE),
)
def test_any_numbers_are_answered_one_by_one(table: np.ndarray, centre: tuple[float, float] | None) -> None:
    reasons = doubt(table[:, 0], table[:, 1], centre)
    assert len(reasons) == len(table)
    for (lon, lat), reason in zip(table, reasons, strict=True):
        if not (abs(lon) <= 180 and abs(lat) <= 90):
            assert reason


spots = hnp.arrays(float, st.tuples(st.integers(0, 25), st.just(2)), elements=st.integers(-8, 8).map(lambda v: v / 4))


@given(spots)
def test_whoever_has_a_close_neighbour_is_in_a_pair_and_no_one_else(xy: np.ndarray) -> None:
    pairs = close_pairs(xy, 0.5)
    apart = np.hypot(*(xy[:, None, :] - xy[None, :, :]).transpose(2, 0, 1)) if len(xy) else np.zeros((0, 0))
    np.fill_diagonal(apart, np.inf)
    assert {i for pair in pairs for i in pair} == set(np.flatnonzero((apart <= 0.5).any(axis=1)).tolist())
    assert all(i < j and apart[i, j] <= 0.5 for i, j in pairs)
    assert pairs == sorted(set(pairs))


def test_of_trees_in_one_spot_the_first_is_named() -> None:
    assert close_pairs(np.array([[1.0, 1.0], [0.0, 0.0], [1.0, 1.0], [1.0, 1.0]])) == [(0, 2), (2, 3)]
