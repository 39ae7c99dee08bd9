"""A course of vertices: where a position meets it, and what is put where."""

from __future__ import annotations

import pytest

from standmap.desktop.pages.survey.course import Course
from standmap.desktop.pages.survey.drafts import read_day, read_limit, read_points
from standmap.errors import UserError

SQUARE = [(0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 10.0)]


def test_a_position_on_a_stretch_is_before_its_end() -> None:
    course = Course(SQUARE)
    assert course.between_at((5, 0.5), 1) == 1
    assert course.between_at((9.5, 5), 1) == 2
    assert course.between_at((5, 5), 1) is None
    assert course.between_at((0, 5), 1) is None  # an open line has no last side
    assert Course(SQUARE, closed=True).between_at((0, 5), 1) == 4


def test_the_nearest_vertex_is_taken_hold_of() -> None:
    course = Course(SQUARE)
    assert course.vertex_at((9.4, 0.2), 1) == 1
    assert course.vertex_at((5, 5), 1) is None
    assert Course().vertex_at((0, 0), 1) is None


def test_a_place_has_one_vertex() -> None:
    course = Course(most=1)
    course.add((1, 1))
    course.add((2, 2))
    assert course.points == [(2, 2)]
    course.take_back()
    course.take_back()
    assert course.points == []


def test_typed_points_name_the_line_at_fault() -> None:
    assert read_points("60.1699 24.9384\n\n60.17 24.94") == ((24.9384, 60.1699), (24.94, 60.17))
    with pytest.raises(UserError, match=r"^line 2: "):
        read_points("60.1699 24.9384\n99 24.9384")


@pytest.mark.parametrize("text", ["-1", "1.5", "many", "9" * 5000, "100001", "٣"])
def test_what_is_no_limit_is_said(text: str) -> None:
    with pytest.raises(UserError, match="no number of trees"):
        read_limit(text)


def test_limits_and_days_may_be_left_out() -> None:
    assert (read_limit(" "), read_limit("0"), read_day("")) == (None, 0, None)
    with pytest.raises(UserError):
        read_day("2026-02-30")
