"""Trees as pixels: each where it stands, whole, and in the colours of its verdict."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from PySide6.QtCore import QPointF
from PySide6.QtGui import QImage, QPainter

from standmap.desktop.canvas.camera import Camera
from standmap.desktop.canvas.detail import Detail, detail
from standmap.desktop.canvas.dials import dial_icon, paint_dial
from standmap.desktop.canvas.raster import draw_trees, drawn_at_once, placing
from standmap.desktop.canvas.sprites import SpriteBook
from standmap.desktop.canvas.trees import full_radius_px
from standmap.desktop.theme import DARK, FADED, HIGH_CONTRAST, LIGHT, Theme
from standmap.rules.judgement import Verdict
from tests.desktop.canvas.trees_for_tests import some_trees

VIEW = Camera(0, 0, 10, 0, 200, 100)
FULL = Detail(1.0, 0.0, names=True)

pytestmark = pytest.mark.usefixtures("qapp")


def alpha(pixels: np.ndarray) -> np.ndarray:
    return pixels >> 24


@pytest.mark.parametrize("dpr", [1.0, 1.5, 2.0])
@pytest.mark.parametrize("turn", [0.0, 30.0])
def test_each_dial_lies_where_its_tree_stands(dpr: float, turn: float) -> None:
    trees = some_trees([(0, 0), (-6, 3), (7, -2)])
    camera = VIEW.turned(turn)
    picture = drawn_at_once(trees, camera, SpriteBook(LIGHT, FULL, dpr))
    green = (picture.pixels & 0xFFFFFF) == int(str(LIGHT.fills[Verdict.READY])[1:], 16)
    half = int(14 * dpr)
    for x, y in (camera.to_screen(trees.xy) * dpr + picture.beyond).tolist():
        down, right = np.nonzero(green[int(y) - half : int(y) + half, int(x) - half : int(x) + half])
        # A sprite is set on whole pixels: half a one off at most along each axis.
        assert (down.mean() + 0.5, right.mean() + 0.5) == pytest.approx((y % 1 + half, x % 1 + half), abs=0.55)


def test_a_sprite_is_the_dial_that_the_painter_draws() -> None:
    for theme in (LIGHT, DARK, HIGH_CONTRAST):
        for verdict in Verdict:
            trees = some_trees([(0, 0)], [verdict], 400 + 1200 * 3 / 7)
            book = SpriteBook(theme, FULL, 2.0)
            drawn = drawn_at_once(trees, Camera(0.25 / 10, -0.25 / 10, 10, 0, 50, 50), book)
            side = 2 * book.reach + 1
            wanted = QImage(side, side, QImage.Format.Format_ARGB32_Premultiplied)
            wanted.fill(0)
            painter = QPainter(wanted)
            painter.scale(2, 2)
            radius = full_radius_px(float(trees.sizes[0]))
            middle = QPointF((book.reach + 0.5) / 2, (book.reach + 0.5) / 2)
            paint_dial(painter, middle, radius, verdict, theme, 0.5)
            painter.end()
            pixels = np.frombuffer(wanted.constBits(), np.uint32).reshape(side, side)
            down, right = np.nonzero(alpha(drawn.pixels))
            top, left = int(down.min()), int(right.min())
            ours = drawn.pixels[top : int(down.max()) + 1, left : int(right.max()) + 1]
            down, right = np.nonzero(alpha(pixels))
            assert (ours == pixels[down.min() : down.max() + 1, right.min() : right.max() + 1]).all(), (
                theme.name,
                verdict,
            )


def test_verdicts_differ_in_shape_alone() -> None:
    """Without colour: the dark and light of two dials differ, whatever their fill."""
    grey: dict[Verdict, np.ndarray] = {}
    for verdict in Verdict:
        image = dial_icon(verdict, 20, LIGHT, 2.0).toImage().convertToFormat(QImage.Format.Format_ARGB32)
        pixels = np.frombuffer(image.constBits(), np.uint8).reshape(40, 40, 4)
        ink = np.array([int(LIGHT.ink[i : i + 2], 16) for i in (5, 3, 1)])
        grey[verdict] = (np.abs(pixels[..., :3].astype(int) - ink).max(axis=2) < 40) & (pixels[..., 3] > 128)
    for one, other in [(a, b) for a in Verdict for b in Verdict if a < b]:
        assert (grey[one] ^ grey[other]).sum() >= 20, (one, other)


def test_faded_trees_keep_their_colour_at_two_fifths() -> None:
    trees = some_trees([(0, 0)])
    book = SpriteBook(LIGHT, FULL, 1.0)
    full = drawn_at_once(trees, VIEW, book)
    faded = drawn_at_once(trees.with_faded(np.array([True])), VIEW, book)
    assert alpha(full.pixels).max() == 255
    assert alpha(faded.pixels).max() == round(255 * FADED)
    assert ((alpha(full.pixels) > 2) == (alpha(faded.pixels) > 0)).mean() > 0.999


@pytest.mark.parametrize("px_per_m", [0.01, 0.3, 1.0, 3.0, 10.0])
def test_slow_and_at_once_give_the_same_picture_at_any_distance(px_per_m: float) -> None:
    rng = np.random.default_rng(2)
    trees = some_trees(
        [(float(x), float(y)) for x, y in rng.uniform(-40, 40, (800, 2))], list(Verdict) * 114 + [Verdict.READY] * 2
    )
    camera = Camera(0, 0, px_per_m, 20, 300, 200)
    level = detail(trees.spacing_m, px_per_m)
    steps = list(draw_trees(trees, camera, SpriteBook(DARK, level, 1.0), 0.0))
    assert all(step is None for step in steps[:-1])
    assert steps[-1] is not None
    assert (steps[-1].pixels == drawn_at_once(trees, camera, SpriteBook(DARK, level, 1.0)).pixels).all()
    assert alpha(steps[-1].pixels).any()


def test_no_trees_in_sight_is_an_empty_picture() -> None:
    for trees in (some_trees([]), some_trees([(1e5, 1e5)]), some_trees([(float("nan"), 0.0)])):
        assert not drawn_at_once(trees, VIEW, SpriteBook(LIGHT, FULL, 1.0)).pixels.any()


def test_a_picture_serves_while_it_is_only_pushed_by_whole_pixels() -> None:
    trees = some_trees([(0, 0)])
    *_, picture = draw_trees(trees, VIEW, SpriteBook(LIGHT, FULL, 2.0), 50.0)
    assert picture is not None
    assert picture.serves(VIEW, 2.0)
    assert picture.serves(VIEW.panned(-40, 12.5), 2.0)
    for view, dpr in [(VIEW.panned(0.3, 0), 2.0), (VIEW.panned(200, 0), 2.0), (VIEW, 1.0), (VIEW.zoomed(1.1), 2.0),
                      (VIEW.turned(1), 2.0), (VIEW.resized(300, 100), 2.0)]:  # fmt: skip
        assert not picture.serves(view, dpr)


def test_a_moved_picture_lies_where_a_fresh_one_would() -> None:
    xy = np.array([[3.0, 2.0], [-5.0, 1.0], [0.0, 0.0]])
    for shown in (
        VIEW.panned(13, -7),
        VIEW.zoomed(1.4, (20, 30)),
        VIEW.turned(25),
        VIEW.zoomed(0.5).turned(300).panned(5, 5),
    ):
        moved = placing(VIEW, shown, 1.0)
        for (fx, fy), (tx, ty) in zip(VIEW.to_screen(xy).tolist(), shown.to_screen(xy).tolist(), strict=True):
            at = moved.map(QPointF(fx, fy))
            assert (at.x(), at.y()) == pytest.approx((tx, ty), abs=0.51)


def test_icons_have_the_size_asked_for() -> None:
    for dpr in (1.0, 1.5, 2.0):
        icon = dial_icon(Verdict.RESTING, 16, LIGHT, dpr, 0.25)
        assert icon.deviceIndependentSize().toTuple() == (16.0, 16.0)
        assert icon.devicePixelRatio() == dpr


def _orange(theme: Theme, rest: float) -> int:
    image = dial_icon(Verdict.RESTING, 40, theme, 1.0, rest).toImage().convertToFormat(QImage.Format.Format_RGB32)
    pixels = np.frombuffer(image.constBits(), np.uint32).reshape(40, 40) & 0xFFFFFF
    return int((pixels == int(theme.rest_ring[1:], 16)).sum())


@pytest.mark.parametrize("theme", [LIGHT, DARK, HIGH_CONTRAST])
def test_the_ring_fills_as_the_rest_goes_by_from_the_top_clockwise(theme: Theme) -> None:
    filled = [_orange(theme, part / 8) for part in range(9)]
    assert filled[0] == 0
    assert all(a < b for a, b in pairwise(filled[:8]))
    image = dial_icon(Verdict.RESTING, 40, theme, 1.0, 0.25).toImage()
    assert image.pixelColor(28, 12).name().upper() == theme.rest_ring
    assert image.pixelColor(12, 12).name().upper() != theme.rest_ring
