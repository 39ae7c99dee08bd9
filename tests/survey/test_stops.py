"""Stops in walks whose truth is known, in walks without sense, and in walks told another way."""

from __future__ import annotations

import math
from dataclasses import dataclass, fields, replace
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from standmap.stand.walks import Fixes
from standmap.survey.frame import WorkingFrame
from standmap.survey.settings import StopSettings
from standmap.survey.stops import FoundStop, Mark, find_stops
from tests.survey import simulated_walks as simulated

FRAME = WorkingFrame(27.6, 61.9)


def track(t: Any, x: Any, y: Any, sigma_m: Any = np.nan, frame: WorkingFrame = FRAME) -> Fixes:
    t, x, y = (np.asarray(v, dtype=float) for v in (t, x, y))
    lon, lat = frame.to_lonlat(x, y)
    sigma = np.broadcast_to(np.asarray(sigma_m, dtype=float), t.shape).copy()
    return Fixes(lon, lat, t, sigma, np.full(len(t), np.nan), np.zeros(len(t), dtype=np.int32))


def taken(fixes: Fixes, rows: Any) -> Fixes:
    return Fixes(*(getattr(fixes, f.name)[rows] for f in fields(Fixes)))


def places(stops: list[FoundStop]) -> np.ndarray:
    return np.array([(s.x, s.y, s.from_s, s.to_s) for s in stops]).reshape(-1, 4)


def stroll(seed: int = 1, sigma_m: float = 3.0, time_s: float = 60.0, trees: int = 8) -> tuple[Fixes, Any]:
    fixes, truth = simulated.walk(np.random.default_rng(seed), sigma_m, time_s, trees=trees, echoes=False)
    return fixes, truth


@dataclass
class Score:
    """Counts over some walks."""

    trees: int = 0
    found: int = 0
    false: int = 0
    held: int = 0
    square_m2: float = 0.0
    plain_m2: float = 0.0

    def add(self, fixes: Fixes, truth: Any, stops: list[FoundStop]) -> None:
        hits, false = simulated.matched(stops, truth)
        self.trees, self.found, self.false = self.trees + len(truth.x), self.found + len(hits), self.false + false
        for tree, stop in hits.items():
            dx, dy = stop.x - truth.x[tree], stop.y - truth.y[tree]
            self.held += simulated.in_ellipse(stop, dx, dy)
            self.square_m2 += dx**2 + dy**2
            during = (fixes.time_s >= truth.begin[tree]) & (fixes.time_s <= truth.end[tree])
            x, y = FRAME.to_xy(fixes.lon[during], fixes.lat[during])
            self.plain_m2 += (x.mean() - truth.x[tree]) ** 2 + (y.mean() - truth.y[tree]) ** 2


def scored(walks: int, sigma_m: float, time_s: float, **kind: Any) -> Score:
    score = Score()
    for number in range(walks):
        fixes, truth = simulated.walk(np.random.default_rng([11, number]), sigma_m, time_s, **kind)
        score.add(fixes, truth, find_stops(fixes, FRAME))
    return score


@pytest.mark.parametrize("time_s", [10.0, 30.0, 100.0, 300.0])
def test_most_stops_are_found_and_few_are_false(time_s: float) -> None:
    score = scored(5, 4.0, time_s, told=True)
    assert score.found >= 0.97 * score.trees
    assert score.false <= 0.02 * score.trees
    assert score.square_m2 <= 1.1**2 * score.plain_m2
    assert 0.87 * score.found <= score.held <= 0.995 * score.found


def test_long_stays_are_seldom_split() -> None:
    score = scored(4, 4.0, 60.0, stay_s=(25.0, 120.0), speed_m_s=(0.6, 1.4))
    assert score.found >= 0.96 * score.trees
    assert score.false <= 0.03 * score.trees


def test_short_moves_are_told_apart_where_the_noise_is_slow() -> None:
    score = scored(4, 4.0, 120.0, move_m=(8.0, 9.0))
    assert score.found >= 0.96 * score.trees
    assert score.false <= 0.02 * score.trees


@pytest.mark.parametrize("time_s", [10.0, 60.0, 300.0])
def test_notes_tell_apart_what_the_track_cannot(time_s: float) -> None:
    with_notes, without = Score(), Score()
    for number in range(3):
        rng = np.random.default_rng([12, number])
        fixes, truth = simulated.walk(rng, 4.0, time_s, move_m=(2.0, 4.0), trees=40)
        with_notes.add(fixes, truth, find_stops(fixes, FRAME, marks=simulated.noted(rng, truth)))
        without.add(fixes, truth, find_stops(fixes, FRAME))
    assert without.found < 0.8 * without.trees
    assert with_notes.found >= 0.95 * with_notes.trees
    assert with_notes.false <= 0.05 * with_notes.trees


def still(seconds_: int = 120) -> Fixes:
    t = np.arange(0, float(seconds_))
    return track(t, 0 * t, 0 * t)


def test_two_names_make_two_stops_and_one_name_one() -> None:
    assert len(find_stops(still(), FRAME, marks=[Mark(20.0, "B1"), Mark(90.0, "B1")])) == 1
    one, two = find_stops(still(), FRAME, marks=[Mark(20.0, "B1"), Mark(90.0, "B2")])
    assert one.to_s < two.from_s
    assert (one.marked, two.marked) == ((0,), (1,))


def test_a_nameless_note_may_share_a_stop() -> None:
    (stop,) = find_stops(still(), FRAME, marks=[Mark(60.0), Mark(20.0, "B1"), Mark(90.0)])
    assert stop.marked == (0, 1, 2)


def test_a_note_makes_a_stop_of_a_halt_that_is_too_short() -> None:
    t = np.arange(0, 100.0)
    x = np.interp(t, [0, 45, 57, 100], [0, 54, 54, 106])
    assert find_stops(track(t, x, 0 * t), FRAME) == []
    (stop,) = find_stops(track(t, x, 0 * t), FRAME, marks=[Mark(51.0, "B1")])
    assert stop.x == pytest.approx(54, abs=3)
    assert stop.from_s <= 51 <= stop.to_s


@pytest.mark.parametrize("at", [-1e4, 1e5, math.nan, math.inf])
def test_a_note_outside_the_track_changes_nothing(at: float) -> None:
    fixes, _ = stroll()
    assert find_stops(fixes, FRAME, marks=[Mark(at, "B1")]) == find_stops(fixes, FRAME)


@settings(max_examples=30, deadline=None)
@given(st.lists(st.tuples(st.floats(0, 700), st.sampled_from([None, "B1", "B2", "B3"])), max_size=12), st.randoms())
def test_notes_hold_whatever_they_say(said: list[tuple[float, str | None]], shuffle: Any) -> None:
    fixes, _truth = stroll(trees=6)
    start = float(fixes.time_s[0])
    marks = [Mark(start + at, tree) for at, tree in said]
    stops = find_stops(fixes, FRAME, marks=marks)
    for before, after in pairwise(stops):
        assert before.to_s < after.from_s
    held = [place for stop in stops for place in stop.marked]
    assert len(held) == len(set(held))
    mixed = list(marks)
    shuffle.shuffle(mixed)
    again = find_stops(fixes, FRAME, marks=mixed)
    assert places(again).tolist() == places(stops).tolist()


def test_the_shared_part_is_within_the_whole() -> None:
    for time_s in (10.0, 300.0):
        fixes, _ = stroll(time_s=time_s)
        for stop in find_stops(fixes, FRAME):
            assert 0 < stop.shared_m2 < min(stop.var_e_m2, stop.var_n_m2)


def test_more_noise_is_stated_as_less_certain() -> None:
    quiet, _ = stroll(sigma_m=2.0)
    wild = replace(quiet, sigma_m=np.full(len(quiet), 9.0))
    assert min(s.sigma_m for s in find_stops(wild, FRAME)) > max(s.sigma_m for s in find_stops(quiet, FRAME))


def test_logging_more_often_does_not_make_a_stay_more_certain() -> None:
    t = np.arange(0, 60, 0.2)
    rng = np.random.default_rng(3)
    fixes = track(t, simulated.gauss_markov(rng, t, 2.0, 60.0), simulated.gauss_markov(rng, t, 2.0, 60.0))
    (often,) = find_stops(fixes, FRAME)
    (seldom,) = find_stops(taken(fixes, slice(None, None, 10)), FRAME)
    assert often.fix_count == 300
    assert seldom.fix_count == 30
    assert often.sigma_m == pytest.approx(seldom.sigma_m, rel=0.1)


def test_a_stay_is_never_better_than_the_drift_of_the_whole_walk() -> None:
    t = np.arange(0, 36_000, 5.0)
    rng = np.random.default_rng(4)
    (stop,) = find_stops(track(t, rng.normal(0, 1, len(t)), rng.normal(0, 1, len(t)), 1.0), FRAME)
    assert stop.sigma_m >= StopSettings().walk_drift_m


def test_told_accuracy_weighs_the_fixes() -> None:
    t = np.arange(0, 60.0)
    poor = t % 2 == 1
    x = np.where(poor, 6.0, 0.0)
    (equal,) = find_stops(track(t, x, 0 * t), FRAME)
    (weighed,) = find_stops(track(t, x, 0 * t, np.where(poor, 30.0, 2.0)), FRAME)
    assert abs(weighed.x) < 0.5 < abs(equal.x)


def test_untold_accuracy_among_told_ones_is_no_obstacle() -> None:
    fixes, truth = stroll()
    mixed = replace(fixes, sigma_m=np.where(np.arange(len(fixes)) % 3 == 0, np.nan, 3.0))
    odd = replace(fixes, sigma_m=np.where(np.arange(len(fixes)) % 3 == 0, -1.0, 3.0))
    assert len(find_stops(mixed, FRAME)) == len(truth.x)
    assert places(find_stops(mixed, FRAME)).tolist() == places(find_stops(odd, FRAME)).tolist()


@pytest.mark.parametrize("count", [0, 1, 2])
def test_one_or_two_fixes_are_no_stop(count: int) -> None:
    assert find_stops(track(np.arange(count) * 30.0, np.zeros(count), np.zeros(count)), FRAME) == []


def test_all_in_one_place_is_one_stop() -> None:
    t = np.arange(0, 900.0)
    (stop,) = find_stops(track(t, np.full(900, 12.0), np.full(900, -7.0)), FRAME)
    assert (stop.x, stop.y) == pytest.approx((12.0, -7.0), abs=1e-6)
    assert (stop.from_s, stop.to_s, stop.fix_count) == (0.0, 899.0, 900)


def test_a_walk_without_a_halt_has_no_stop() -> None:
    t = np.arange(0, 600.0)
    rng = np.random.default_rng(5)
    fixes = track(t, 1.1 * t + rng.normal(0, 0.5, 600), 40 * np.sin(t / 60) + rng.normal(0, 0.5, 600))
    assert find_stops(fixes, FRAME) == []


def test_no_times_no_stops() -> None:
    fixes, _ = stroll()
    assert find_stops(replace(fixes, time_s=np.full(len(fixes), np.nan)), FRAME) == []
    same = replace(fixes, time_s=np.full(len(fixes), 1.7e9))
    assert find_stops(same, FRAME) == []


def test_shorter_than_the_shortest_stay_is_no_stop() -> None:
    t = np.arange(0, 100.0)
    x = np.interp(t, [0, 40, 70, 100], [0, 48, 48, 84])
    assert len(find_stops(track(t, x, 0 * t), FRAME)) == 1
    assert find_stops(track(t, x, 0 * t), FRAME, StopSettings(least_stay_s=45)) == []


def test_drift_while_standing_is_one_stop() -> None:
    t = np.arange(0, 300.0)
    x = np.interp(t, [0, 60, 240, 300], [-60, 0, 5, 65])
    (stop,) = find_stops(track(t, x, 0 * t), FRAME)
    assert stop.x == pytest.approx(2.5, abs=1)
    assert stop.from_s == pytest.approx(60, abs=6)
    assert stop.to_s == pytest.approx(240, abs=6)


def test_an_echo_during_a_stay_neither_splits_nor_moves_it() -> None:
    t = np.arange(0, 240.0)
    x = np.interp(t, [0, 60, 140, 240], [-60, 0, 0, 100])
    rng = np.random.default_rng(6)
    x, y = x + simulated.gauss_markov(rng, t, 1.0, 60.0), simulated.gauss_markov(rng, t, 1.0, 60.0)
    plain = find_stops(track(t, x, y), FRAME)
    y[90:102] += 20.0
    (hit,) = find_stops(track(t, x, y), FRAME)
    assert len(plain) == 1
    assert math.hypot(hit.x - plain[0].x, hit.y - plain[0].y) < 1
    assert hit.fix_count <= plain[0].fix_count - 10


def test_a_long_silence_ends_a_stay_and_a_short_one_does_not() -> None:
    t = np.arange(0, 200.0)
    fixes = track(t, 0 * t, 0 * t)
    assert len(find_stops(taken(fixes, (t < 80) | (t > 120)), FRAME)) == 1
    assert len(find_stops(taken(fixes, (t < 60) | (t > 160)), FRAME)) == 2


def test_uneven_logging_finds_the_same_trees() -> None:
    fixes, truth = stroll()
    rng = np.random.default_rng(7)
    thinned = taken(fixes, np.sort(rng.choice(len(fixes), len(fixes) // 2, replace=False)))
    found, false = simulated.matched(find_stops(thinned, FRAME), truth)
    assert (len(found), false) == (len(truth.x), 0)


def test_order_and_exact_duplicates_do_not_matter() -> None:
    fixes, _ = stroll()
    rows = np.concatenate([np.arange(len(fixes)), np.arange(0, len(fixes), 5)])
    shuffled = taken(fixes, np.random.default_rng(8).permutation(rows))
    assert find_stops(shuffled, FRAME) == find_stops(fixes, FRAME)
    assert find_stops(fixes, FRAME) == find_stops(fixes, FRAME)


def test_a_fix_far_away_or_not_a_number_is_left_out() -> None:
    fixes, _ = stroll()
    lon, lat, time_s = fixes.lon.copy(), fixes.lat.copy(), fixes.time_s.copy()
    lon[5], lat[50], time_s[90], lon[120] = 0.0, np.nan, np.inf, 400.0
    spoilt = find_stops(replace(fixes, lon=lon, lat=lat, time_s=time_s), FRAME)
    without = find_stops(taken(fixes, np.setdiff1d(np.arange(len(fixes)), [5, 50, 90, 120])), FRAME)
    assert spoilt == without


@settings(max_examples=20, deadline=None)
@given(st.integers(0, 99), st.integers(-(10**9), 10**9).map(lambda ms: ms / 1000))
def test_a_shift_in_time_shifts_the_stops(seed: int, shift_s: float) -> None:
    fixes, _ = stroll(seed, trees=5)
    before = places(find_stops(fixes, FRAME))
    after = places(find_stops(replace(fixes, time_s=fixes.time_s + shift_s), FRAME))
    assert len(before) > 0
    np.testing.assert_allclose(after - before, np.tile([0, 0, shift_s, shift_s], (len(before), 1)), atol=1e-5)


@settings(max_examples=20, deadline=None)
@given(st.integers(0, 99), st.floats(-180, 180), st.floats(-75, 75))
def test_the_same_walk_elsewhere_has_the_same_stops(seed: int, lon0: float, lat0: float) -> None:
    fixes, _ = stroll(seed, trees=5)
    x, y = FRAME.to_xy(fixes.lon, fixes.lat)
    elsewhere = WorkingFrame(lon0, lat0)
    moved = track(fixes.time_s, x, y, frame=elsewhere)
    np.testing.assert_allclose(places(find_stops(moved, elsewhere)), places(find_stops(fixes, FRAME)), atol=0.01)


numbers = st.floats(width=64)
near = st.floats(-300, 300)
seconds = st.integers(0, 400).map(float) | st.floats(0, 4000)


@settings(deadline=None)
@given(st.lists(st.tuples(st.just(27.6) | numbers, st.just(61.9) | numbers, seconds | numbers, numbers), max_size=40))
def test_any_fixes_are_borne(rows: list[tuple[float, float, float, float]]) -> None:
    lon, lat, t, sigma = (np.array(c, dtype=float) for c in (zip(*rows, strict=True) if rows else ([], [], [], [])))
    stops = find_stops(Fixes(lon, lat, t, sigma, np.zeros(len(t)), np.zeros(len(t), dtype=np.int32)), FRAME)
    sound(stops, t)


@settings(deadline=None)
@given(st.lists(st.tuples(near, near, seconds), max_size=60), st.sampled_from([None, 2.0]))
def test_stops_are_in_order_and_share_no_moment(rows: list[tuple[float, float, float]], sigma: float | None) -> None:
    x, y, t = (np.array(c, dtype=float) for c in (zip(*rows, strict=True) if rows else ([], [], [])))
    sound(find_stops(track(t, x, y, sigma if sigma is not None else np.nan), FRAME), t)


def sound(stops: list[FoundStop], t: np.ndarray) -> None:
    last = -math.inf
    for stop in stops:
        assert last < stop.from_s < stop.to_s
        last = stop.to_s
        assert stop.from_s in t
        assert stop.to_s in t
        assert stop.to_s - stop.from_s >= StopSettings().least_stay_s - 0.001
        assert 3 <= stop.fix_count <= len(t)
        assert stop.var_e_m2 > 0
        assert stop.var_n_m2 > 0
        assert stop.cov_en_m2**2 <= stop.var_e_m2 * stop.var_n_m2
        assert all(map(math.isfinite, (stop.lon, stop.lat, stop.x, stop.y, stop.sigma_m)))


@pytest.mark.parametrize("one", fields(StopSettings), ids=lambda one: one.name)
def test_every_assumption_is_labelled_bounded_and_refused_beyond(one: Any) -> None:
    assert one.metadata["label"]
    assert one.metadata["help"].endswith(".")
    assert one.metadata["least"] <= one.default <= one.metadata["most"]
    for beyond in (one.metadata["least"] - 1, one.metadata["most"] + 1, math.nan):
        with pytest.raises(ValueError, match=one.name):
            StopSettings(**{one.name: beyond})


@pytest.mark.parametrize("seed", [11, 12, 13])
def test_notes_hold_near_trees_apart_even_where_the_error_changes_fast(seed: int) -> None:
    rng = np.random.default_rng([771, seed])
    fixes, truth = simulated.walk_to(rng, simulated.invented(rng, 60, (3.0, 3.0)), 4.0, 10.0)
    found, false = simulated.matched(find_stops(fixes, FRAME, marks=simulated.noted(rng, truth)), truth)
    assert len(found) >= 58
    assert false <= 2


def test_told_accuracy_keeps_the_ellipses_right_for_fast_and_slow_errors() -> None:
    for time_s in (10.0, 60.0, 300.0):
        held = []
        for seed in range(4):
            fixes, truth = simulated.walk(np.random.default_rng([772, seed]), 4.0, time_s, told=True)
            for tree, stop in simulated.matched(find_stops(fixes, FRAME), truth)[0].items():
                held.append(simulated.in_ellipse(stop, stop.x - truth.x[tree], stop.y - truth.y[tree]))
        assert 0.88 <= np.mean(held) <= 0.99
