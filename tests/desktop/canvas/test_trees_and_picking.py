"""Looks of trees, and which tree is under the pointer, inside a line, or next."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from standmap.desktop.canvas.camera import Camera
from standmap.desktop.canvas.detail import Detail, detail
from standmap.desktop.canvas.picking import next_tree, trees_at, trees_inside
from standmap.desktop.canvas.trees import FAR_LOOKS, full_radius_px, look_of
from standmap.rules.columns import CODES
from standmap.rules.judgement import Verdict
from tests.desktop.canvas.trees_for_tests import some_trees

VIEW = Camera(50, 50, 10, 0, 1000, 1000)
FULL = Detail(1.0, 0.0, names=True)
spots = st.lists(st.tuples(st.floats(0, 100), st.floats(0, 100)), min_size=1, max_size=30)


@given(st.sampled_from(CODES), st.floats(200, 2500), st.floats(0, 1), st.booleans())
def test_a_look_says_what_the_tree_is(verdict: Verdict, girth_mm: float, rest: float, faded: bool) -> None:
    trees = some_trees([(0, 0)], [verdict], girth_mm).recoloured(
        np.array([CODES.index(verdict)], np.uint8), np.array([rest if verdict is Verdict.RESTING else np.nan])
    )
    trees = trees.with_faded(np.array([faded]))
    look = look_of(int(trees.looks[0]))
    assert (look.verdict, look.faded, look.chosen) == (verdict, faded, False)
    assert look.size == pytest.approx(float(trees.sizes[0]), abs=0.5 / 7 + 1e-9)
    assert look.rest == pytest.approx(rest if verdict is Verdict.RESTING else 0.0, abs=0.5 / 8 + 1e-9)
    from_afar = look_of(int(FAR_LOOKS[trees.looks[0]]))
    assert (from_afar.verdict, from_afar.faded, from_afar.rest) == (verdict, faded, 0.0)


def test_small_dials_are_drawn_over_large_ones_and_faded_ones_below_all() -> None:
    trees = some_trees([(0, 0)] * 3)
    trees = type(trees)(trees.keys, trees.names, trees.xy, np.array([500.0, 1500.0, 500.0]), trees.codes, trees.rest)
    looks = trees.with_faded(np.array([False, False, True])).looks
    assert looks[2] < looks[1] < looks[0]


def test_a_girth_that_is_not_known_has_a_size_of_its_own() -> None:
    trees = some_trees([(0, 0)], girth_mm=np.nan)
    assert full_radius_px(float(trees.sizes[0])) == pytest.approx(7.0)
    assert full_radius_px(float(some_trees([(0, 0)], girth_mm=300).sizes[0])) == 5.0
    assert full_radius_px(float(some_trees([(0, 0)], girth_mm=9000).sizes[0])) == 12.0


@given(spots, st.floats(0, 1000), st.floats(0, 1000))
def test_the_nearest_dial_under_the_pointer_is_found(xy: list[tuple[float, float]], px: float, py: float) -> None:
    trees = some_trees(xy)
    away = np.hypot(*(VIEW.to_screen(trees.xy) - (px, py)).T)
    found = next(iter(trees_at(trees, VIEW, FULL, px, py)), None)
    radius = full_radius_px(float(trees.sizes[0])) + 1
    if found is None:
        assert away.min() > radius - 1e-6
    else:
        assert away[found] == pytest.approx(away.min())
        assert away[found] <= radius + 1e-6


def test_a_dot_from_afar_can_still_be_taken_hold_of() -> None:
    trees = some_trees([(50, 50)])
    far = detail(1.0, 0.1)
    assert trees_at(trees, VIEW, far, 504, 500) == [0]
    assert trees_at(trees, VIEW, far, 507, 500) == []


@given(spots)
def test_a_line_round_trees_holds_those_inside(xy: list[tuple[float, float]]) -> None:
    trees = some_trees(xy)
    found = trees_inside(trees, VIEW, np.array([[200.0, 300], [800, 300], [800, 700], [200, 700]]))
    at = VIEW.to_screen(trees.xy)
    clearly_in = np.flatnonzero(((at > (200.001, 300.001)) & (at < (799.999, 699.999))).all(axis=1))
    clearly_out = np.flatnonzero(((at < (199.999, 299.999)) | (at > (800.001, 700.001))).any(axis=1))
    assert set(clearly_in.tolist()) <= set(found)
    assert not set(clearly_out.tolist()) & set(found)
    assert found == sorted(found)


def test_a_line_that_crosses_itself_and_one_that_is_no_area() -> None:
    trees = some_trees([(45, 50), (55, 50), (50, 58)])
    bow = np.array([[400.0, 400], [600, 600], [600, 400], [400, 600]])
    assert trees_inside(trees, VIEW, bow) == [0, 1]
    assert trees_inside(trees, VIEW, np.array([[400.0, 400], [600, 600]])) == []
    assert trees_inside(trees, VIEW, np.array([[400.0, 400], [600, 600], [400, 400]])) == []


def test_steps_go_to_the_next_tree_on_the_screen_however_the_map_is_turned() -> None:
    trees = some_trees([(50, 50), (55, 50), (50, 55), (45, 50), (50, 45), (90, 50)])
    middle = VIEW.point_to_screen(50, 50)
    steps = [(1, 0), (0, -1), (-1, 0), (0, 1)]
    assert [next_tree(trees, VIEW, middle, *s, 0) for s in steps] == [1, 2, 3, 4]
    turned = VIEW.turned(90)
    assert [next_tree(trees, turned, turned.point_to_screen(50, 50), *s, 0) for s in steps] == [4, 1, 2, 3]
    assert next_tree(trees, VIEW, VIEW.point_to_screen(55, 50), 1, 0, 1) == 5
    assert next_tree(trees, VIEW, VIEW.point_to_screen(90, 50), 1, 0, 5) is None


def test_a_row_of_trees_is_walked_along() -> None:
    trees = some_trees([(10.0 + 5 * i, 50.0 + 0.3 * (i % 2)) for i in range(12)] + [(12.0, 53.0)])
    row: int | None = 0
    walked = []
    while row is not None:
        walked.append(row)
        row = next_tree(trees, VIEW, VIEW.point_to_screen(*trees.xy[row].tolist()), 1, 0, row)
    assert walked == list(range(12))
