"""The ground in metres: thinned lines stay near, bridges know their stream, ellipses hold 95 %."""

from __future__ import annotations

from datetime import UTC, datetime

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from standmap.desktop.canvas.camera import Camera
from standmap.desktop.canvas.courses import KEPT_PX, Course, course, direction_near, touches
from standmap.desktop.canvas.ground import Ground, Walked
from standmap.desktop.canvas.spreads import ellipses
from standmap.stand.ground import Area, AreaKind, Line, LineKind, Place, PlaceKind
from standmap.stand.walks import Fixes, Stop, StopState, Walk
from standmap.survey.frame import WorkingFrame

FRAME = WorkingFrame(25.0, 60.0)
STEP = 1e-3


@given(st.integers(0, 2**31), st.floats(0.01, 50))
def test_a_thinned_line_is_nowhere_far_from_the_whole(seed: int, px_per_m: float) -> None:
    xy = np.random.default_rng(seed).normal(0, 3, (300, 2)).cumsum(axis=0)
    thinned = Course(xy).seen_at(px_per_m)
    away = shapely.hausdorff_distance(shapely.linestrings(xy), shapely.linestrings(thinned), densify=0.2)
    assert away * px_per_m <= KEPT_PX * 1.01
    assert len(thinned) <= len(xy)
    assert (thinned[0] == xy[0]).all()
    assert (thinned[-1] == xy[-1]).all()


def test_what_the_frame_does_not_reach_is_left_out() -> None:
    found = course([(0, 0)] * 3, lambda _: np.array([(0.0, 0.0), (np.nan, np.nan), (3.0, 4.0)]))
    assert found is not None
    assert found.xy.tolist() == [[0, 0], [3, 4]]
    assert course([(0, 0)], lambda _: np.array([[np.nan, np.nan]])) is None


def test_boxes_touch_or_not() -> None:
    assert touches((0, 0, 1, 1), (1, 1, 2, 2))
    assert not touches((0, 0, 1, 1), (1.1, 0, 2, 2))


def test_a_bridge_lies_across_the_nearest_stretch_of_its_stream() -> None:
    bend = Course(np.array([[0.0, 0.0], [100.0, 0.0], [100.0, 100.0]]))
    assert direction_near([bend], 50, 3) == pytest.approx(90)
    assert direction_near([bend], 97, 50) == pytest.approx(0)
    assert direction_near([], 0, 0) is None


def test_rows_of_a_stand_become_ground_and_names() -> None:
    ring = ((25.0, 60.0), (25.0 + STEP, 60.0), (25.0 + STEP, 60.0 + STEP), (25.0, 60.0))
    ground = Ground.of(
        [Place("p", "gate", PlaceKind.GATE, (25.0, 60.0)), Place("q", "far", PlaceKind.TANK, (-70.0, 10.0))],
        [Line("l", "brook", LineKind.STREAM, ((25.0, 60.0), (25.0 + STEP, 60.0)))],
        [Area("a", "mire", AreaKind.NO_GO, (ring,))],
        FRAME,
    )
    assert (len(ground.streams), len(ground.areas), len(ground.places)) == (1, 1, 1)
    camera = Camera(width=400, height=300).fitted(ground.xy())
    assert {label.text for label in ground.labels(camera)} == {"gate", "mire"}
    assert [label.text for label in ground.labels(camera.zoomed(0.001))] == []


def test_walks_break_where_the_receiver_was_off_and_judged_stops_are_gone() -> None:
    n = 6
    fixes = Fixes(
        np.linspace(25.0, 25.0 + 5 * STEP, n), np.full(n, 60.0), np.arange(n, dtype=float), np.full(n, np.nan),
        np.full(n, np.nan), np.array([0, 0, 0, 1, 1, 2], np.int32),
    )  # fmt: skip
    at = datetime(2026, 3, 28, tzinfo=UTC)
    stops = [
        Stop(f"s{i}", "w", (25.0, 60.0), at, at, 5, 1.0, 1.0, 0.0, None, state) for i, state in enumerate(StopState)
    ]
    walked = Walked.of([Walk("w", "", fixes)], stops, FRAME)
    assert [len(piece.xy) for piece in walked.walks] == [3, 2]
    assert walked.stops is not None
    assert len(walked.stops) == 1


def test_an_ellipse_holds_95_percent_of_what_its_covariance_scatters() -> None:
    covariance = np.array([[9.0, 3.0], [3.0, 4.0]])
    outline = ellipses(np.array([[10.0, 20.0]]), np.array([[9.0, 4.0, 3.0]]))[0]
    drawn = np.random.default_rng(3).multivariate_normal((10, 20), covariance, 40_000)
    inside = shapely.contains_xy(shapely.Polygon(outline), drawn[:, 0], drawn[:, 1]).mean()
    # A polygon of 32 corners holds 0.6 % less ground than its ellipse.
    assert inside == pytest.approx(0.95, abs=0.005)


def test_an_ellipse_without_width_is_a_line() -> None:
    outline = ellipses(np.array([[0.0, 0.0]]), np.array([[0.0, 4.0, np.nan]]))[0]
    assert np.abs(outline[:, 0]).max() == 0
    assert np.abs(outline[:, 1]).max() == pytest.approx(2 * 2.4477, abs=1e-3)
