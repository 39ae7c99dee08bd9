"""The numbers of a walk sheet's map: round scales, and numbers of stops that do not cover each other."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from standmap.formats.walk_sheet_view import MARK_MM, ROOM_MM, SCALES, MapView, number_places, view_of

WIDE, HIGH = 186.0, 170.0
VIEW = MapView(WIDE, HIGH, 1000, (0.0, 0.0))


@settings(max_examples=100, deadline=None)
@given(st.lists(st.tuples(st.floats(-40_000, 40_000), st.floats(-40_000, 40_000)), min_size=1, max_size=30))
def test_the_largest_round_scale_that_holds_everything_is_taken(points: list[tuple[float, float]]) -> None:
    metres = np.array(points)
    view = view_of(metres, WIDE, HIGH)
    on_paper = view.on_paper(metres)
    assert (on_paper >= ROOM_MM - 1e-6).all()
    assert (on_paper <= np.array([WIDE, HIGH]) - ROOM_MM + 1e-6).all()
    larger = [s for s in SCALES if s < view.scale]
    if larger and view.scale in SCALES:
        spread = np.ptp(metres, axis=0) * 1000 / larger[-1]
        assert (spread > np.array([WIDE, HIGH]) - 2 * ROOM_MM).any()


def test_a_metre_is_as_long_in_both_directions() -> None:
    view = MapView(WIDE, HIGH, 1250, (100.0, 50.0))
    here, east, north = view.on_paper([(100, 50), (225, 50), (100, 175)])
    assert here == pytest.approx((WIDE / 2, HIGH / 2))
    assert east - here == pytest.approx((100, 0))
    assert north - here == pytest.approx((0, 100))


def boxes_of(places: np.ndarray, sizes: np.ndarray) -> np.ndarray:
    return np.column_stack([places - sizes / 2, places + sizes / 2])


def overlapping(boxes: np.ndarray) -> list[tuple[int, int]]:
    low = np.maximum(boxes[:, None, :2], boxes[None, :, :2])
    high = np.minimum(boxes[:, None, 2:], boxes[None, :, 2:])
    both = ((high - low) > 1e-9).all(axis=2)
    return [(i, j) for i, j in zip(*np.nonzero(np.triu(both, 1)), strict=True)]


@pytest.mark.parametrize("seed", range(5))
def test_numbers_of_two_hundred_stops_cover_neither_each_other_nor_a_mark(seed: int) -> None:
    random = np.random.default_rng(seed)
    marks = random.uniform(10, (WIDE - 10, HIGH - 10), (200, 2))
    sizes = np.tile([5.2, 2.9], (200, 1))
    stops = np.column_stack([marks - MARK_MM, marks + MARK_MM])
    places = number_places(marks, sizes, stops, np.zeros((0, 2)), VIEW)
    labels = boxes_of(places, sizes)
    assert overlapping(labels) == []
    both = np.vstack([labels, stops])
    assert [(i, j) for i, j in overlapping(both) if i < 200 <= j] == []
    assert (labels[:, :2] >= 0).all()
    assert (labels[:, 2:] <= (WIDE, HIGH)).all()
    # Most stand right at their marks; none is far.
    away = np.hypot(*(places - marks).T)
    assert np.median(away) < 5
    assert away.max() < 30


def test_a_number_keeps_off_the_line_where_it_can() -> None:
    line = np.column_stack([np.linspace(0, WIDE, 400), np.full(400, 80.0)])
    marks = np.array([[60.0, 80.0]])
    (place,) = number_places(marks, np.array([[4.0, 3.0]]), np.zeros((0, 4)), line, VIEW)
    assert abs(place[1] - 80) > 1.5


def test_where_there_is_no_room_a_number_still_stands_on_the_map() -> None:
    marks = np.tile([[60.0, 80.0]], (400, 1))
    places = number_places(marks, np.tile([5.0, 3.0], (400, 1)), np.zeros((0, 4)), np.zeros((0, 2)), VIEW)
    assert VIEW.holds(places).all()
