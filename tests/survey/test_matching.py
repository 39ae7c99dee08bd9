"""Matching new positions to known trees: all together, with what is not sure left to a person."""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from standmap.survey.matching import RETURN, Positions, _chances, _Pairs, match
from tests.survey.two_walks import plain, second_walk, spaced


def known_of(found: object, truth: np.ndarray) -> tuple[int, int, int]:
    """Return how many sure matches are wrong, how many are asked about, and how many there are."""
    matches = found.matches  # type: ignore[attr-defined]
    got = [-1 if m.known is None else m.known for m in matches]
    wrong = sum(m.sure and k != t for m, k, t in zip(matches, got, truth, strict=True))
    return wrong, sum(not m.sure for m in matches), len(matches)


@pytest.mark.parametrize(("least_m", "sigma_m"), [(5.0, 0.6), (8.0, 1.2), (12.0, 2.0)])
def test_sure_matches_are_right_and_few_are_asked_about(least_m: float, sigma_m: float) -> None:
    wrong = asked = total = 0
    for seed in range(5):
        rng = np.random.default_rng([seed, round(least_m)])
        walk = second_walk(rng, spaced(rng, 60, least_m), sigma_m)
        one = known_of(match(walk.new, walk.known, 4.5), walk.truth)
        wrong, asked, total = wrong + one[0], asked + one[1], total + one[2]
    assert wrong <= 0.01 * total
    assert asked < 0.25 * total


@pytest.mark.parametrize("sigma_m", [1.2, 2.4])
def test_in_a_dense_wood_a_person_is_asked(sigma_m: float) -> None:
    wrong = total = 0
    for seed in range(4):
        rng = np.random.default_rng(seed)
        walk = second_walk(rng, spaced(rng, 60, 2.5), sigma_m)
        one = known_of(match(walk.new, walk.known, 4.5), walk.truth)
        wrong, total = wrong + one[0], total + one[2]
        assert one[1] > 0.5 * one[2]
    assert wrong <= 0.01 * total


def test_trees_in_rows_do_not_lure_a_shifted_walk_to_their_neighbours() -> None:
    """Rows 4 m apart, a walk shifted by half of that: either the right trees, or a question."""
    rng = np.random.default_rng(3)
    rows = np.array([(4.0 * i, 4.0 * j) for i in range(7) for j in range(7)])
    new = rows[10:40] + rng.normal(0, 0.4, (30, 2)) + [2.0, 0.3]
    found = match(plain(new, 0.4), plain(rows, 0.4), 4.5)
    assert all(not m.sure or m.known == 10 + i for i, m in enumerate(found.matches))


def test_the_shift_of_the_walk_is_told() -> None:
    rng = np.random.default_rng(8)
    trees = spaced(rng, 60, 8.0)
    new = trees[:40] + rng.normal(0, 0.8, (40, 2)) + [3.0, -1.5]
    found = match(plain(new, 0.8), plain(trees, 0.5), 4.5)
    assert found.shift == pytest.approx((3.0, -1.5), abs=0.6)
    assert [m.known for m in found.matches] == list(range(40))


def test_girth_and_tag_tell_trees_apart_that_the_place_does_not() -> None:
    known = plain(np.array([(0.0, 0.0), (1.5, 0.0)]), 1.0)
    new = plain(np.array([(0.75, 0.0)]), 1.0)
    assert not match(new, known).matches[0].sure
    thick = match(replace(new, girth_mm=np.array([910.0])), replace(known, girth_mm=np.array([620.0, 900.0])))
    assert (thick.matches[0].known, thick.matches[0].chance > 0.9) == (1, True)
    tagged = match(replace(new, names=["b1"]), replace(known, names=["B1", "B2"]))
    assert (tagged.matches[0].known, tagged.matches[0].chance > 0.9) == (0, True)


def test_two_stops_beside_one_tree_are_asked_about_unless_they_are_surely_at_it() -> None:
    new, known = np.array([(0.0, 0.0), (0.5, 0.0)]), np.array([(0.2, 0.0), (3.0, 0.0), (0.0, 3.0), (3.0, 3.0)])
    assert not any(m.sure for m in match(plain(new, 1.0), plain(known, 1.0)).matches)
    wide = np.array([(0.2, 0.0), (60.0, 0.0), (0.0, 60.0), (60.0, 60.0)])
    back = match(plain(new, 0.3), plain(wide, 0.3)).matches
    assert [(m.known, m.sure) for m in back] == [(0, True), (0, True)]


@given(st.lists(st.floats(-3, 6), min_size=1, max_size=7))
@settings(max_examples=60, deadline=None)
def test_chances_at_one_tree_are_those_of_all_ways_to_stop_there(score: list[float]) -> None:
    """With one tree nothing loops back, so that the message passing must be exact: against adding up every way."""
    count, ratio = len(score), np.exp(score)
    at_it, whole = np.zeros(count), 0.0
    for way in product((0, 1), repeat=count):
        weight = float(np.prod(ratio ** np.array(way))) * RETURN ** max(sum(way) - 1, 0)
        whole += weight
        at_it += weight * np.array(way)
    pairs = _Pairs(np.arange(count), np.zeros(count, dtype=np.int64), np.zeros((count, 2)), np.ones((count, 3)))
    each, none = _chances(pairs, np.array(score), count, 1)
    assert each == pytest.approx(at_it / whole, abs=1e-6)
    assert each + none == pytest.approx(1.0)


def test_nothing_known_or_nothing_new() -> None:
    some, none = plain(np.array([(0.0, 0.0)]), 1.0), plain(np.zeros((0, 2)), 1.0)
    assert match(none, some).matches == ()
    (alone,) = match(some, none, 2.0).matches
    assert (alone.known, alone.sure, alone.candidates) == (None, True, ())
    (far,) = match(some, plain(np.array([(500.0, 0.0)]), 1.0), 2.0).matches
    assert (far.known, far.sure) == (None, True)


@given(st.integers(0, 10_000), st.floats(-5000, 5000), st.floats(-5000, 5000))
@settings(max_examples=20, deadline=None)
def test_the_order_and_the_place_of_a_wood_do_not_matter(seed: int, east: float, north: float) -> None:
    rng = np.random.default_rng(seed)
    walk = second_walk(rng, spaced(rng, 15, 5.0), 0.8)
    order = rng.permutation(len(walk.known))
    moved = Positions(
        walk.known.xy[order] + np.array([east, north]), walk.known.covariance, walk.known.girth_mm, walk.known.names
    )
    new = Positions(walk.new.xy + np.array([east, north]), walk.new.covariance, walk.new.girth_mm, walk.new.names)
    one, other = match(walk.new, walk.known, 4.5), match(new, moved, 4.5)
    for a, b in zip(one.matches, other.matches, strict=True):
        assert a.chance == pytest.approx(b.chance, abs=1e-3)
        if a.sure:
            assert b.known is not None or a.known is None
            assert a.known == (None if b.known is None else int(order[b.known]))


@given(st.integers(0, 10_000))
@settings(max_examples=20, deadline=None)
def test_chances_add_up_to_no_more_than_one(seed: int) -> None:
    rng = np.random.default_rng(seed)
    walk = second_walk(rng, spaced(rng, 12, 3.0), 1.5)
    found = match(walk.new, walk.known, 4.5)
    assert all(sum(c.chance for c in m.candidates) <= 1 + 1e-9 for m in found.matches)
    used = [m.known for m in found.matches if m.known is not None]
    assert all(used.count(k) <= 2 for k in used)
