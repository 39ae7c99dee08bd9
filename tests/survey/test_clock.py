"""The offset of a note-taker's clock: found where the walk proves it, and said to be unsure where it does not."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from standmap.survey.clock import ClockOffset, How, Moment, Timeline, clock_offset, duration_words

EAST_DEG = 27.6


def stops(count: int, seed: int) -> tuple[Timeline, np.random.Generator]:
    """Return a walk of irregular stops along a line."""
    rng = np.random.default_rng(seed)
    time_s, east, stays, fixes = 1.77e9, 0.0, [], []
    for _ in range(count):
        walked, stood = rng.uniform(10, 30), rng.uniform(30, 60)
        fixes += [(time_s, east), (time_s + walked, east + 15)]
        time_s, east = time_s + walked, east + 15
        stays.append((time_s, time_s + stood))
        time_s += stood
        fixes.append((time_s, east))
    t, x = np.array(fixes).T
    walks = np.array([[t[0], t[-1] + 30]])
    return Timeline(np.array(stays), walks, t, x, np.zeros(len(x)), EAST_DEG), rng


def noted(line: Timeline, rng: np.random.Generator, count: int, ahead_s: float, *, zone_told: bool) -> list[Moment]:
    chosen = np.sort(rng.choice(len(line.stays), count, replace=False))
    return [Moment(float(rng.uniform(*line.stays[i])) + ahead_s, zone_told) for i in chosen]


@pytest.mark.parametrize("ahead_s", [3600, -3600, 7200, 3 * 3600, 5.5 * 3600, 5.75 * 3600, -9.5 * 3600])
@pytest.mark.parametrize("zone_told", [True, False])
@pytest.mark.parametrize("seed", range(4))
def test_a_whole_zone_is_found_to_the_second(ahead_s: float, zone_told: bool, seed: int) -> None:
    line, rng = stops(30, seed)
    found = clock_offset(noted(line, rng, 25, ahead_s, zone_told=zone_told), line)
    assert (found.offset_s, found.how, found.in_stops) == (ahead_s, How.STOPS, 25)


@pytest.mark.parametrize("ahead_s", [12.0, -95.0, 3612.0, 2 * 3600 - 40.0])
@pytest.mark.parametrize("seed", range(4))
def test_some_seconds_beside_a_zone_are_found_within_what_is_stated(ahead_s: float, seed: int) -> None:
    line, rng = stops(45, seed)
    found = clock_offset(noted(line, rng, 40, ahead_s, zone_told=False), line)
    assert found.how is How.STOPS
    assert abs(found.offset_s - ahead_s) < max(4 * found.spread_s, 5)


@given(seed=st.integers(0, 10_000), count=st.integers(1, 30), ahead_s=st.sampled_from([0.0, 3600.0, 300.0, -4000.0]))
@settings(max_examples=40, deadline=None)
def test_the_count_told_is_that_of_the_offset_told(seed: int, count: int, ahead_s: float) -> None:
    line, rng = stops(count + 4, seed)
    moments = noted(line, rng, count, ahead_s, zone_told=True)
    found = clock_offset(moments, line)
    assert found.of == count
    assert found.in_stops == sum(
        bool(((line.stays[:, 0] <= m.time_s - found.offset_s) & (m.time_s - found.offset_s <= line.stays[:, 1])).any())
        for m in moments
    )


@pytest.mark.parametrize("ahead_s", [0.0, 300.0, 3600.0, -4000.0])
@pytest.mark.parametrize("count", [3, 6, 12, 30])
def test_what_the_walk_proves_is_right_and_a_right_clock_is_left_alone(ahead_s: float, count: int) -> None:
    found = []
    for seed in range(40):
        line, rng = stops(count + 4, seed)
        found.append(clock_offset(noted(line, rng, count, ahead_s, zone_told=True), line))
    assert all(abs(f.offset_s - ahead_s) < 20 for f in found if f.how is How.STOPS)
    if ahead_s % 3600 == 0:
        assert all(f.offset_s == ahead_s for f in found if f.sure)
        assert sum(f.sure for f in found) >= (38 if ahead_s or count >= 12 else 0)


@pytest.mark.parametrize("ahead_s", [0.0, 90.0, 300.0, -420.0])
def test_one_note_is_asked_about_though_its_clock_names_a_zone(ahead_s: float) -> None:
    for seed in range(40):
        line, rng = stops(25, seed)
        assert not clock_offset(noted(line, rng, 1, ahead_s, zone_told=True), line).sure


@pytest.mark.parametrize("ahead_s", [300.0, -420.0])
@pytest.mark.parametrize("count", [2, 3, 4])
def test_few_notes_of_a_clock_minutes_off_are_hardly_ever_trusted(ahead_s: float, count: int) -> None:
    found = []
    for seed in range(60):
        line, rng = stops(25, seed)
        found.append(clock_offset(noted(line, rng, count, ahead_s, zone_told=True), line))
    assert sum(f.sure and abs(f.offset_s - ahead_s) > 60 for f in found) <= 3


def test_few_notes_of_another_time_are_not_pulled_into_the_walk() -> None:
    line, _ = stops(20, 1)
    begin = float(line.walks[0, 0])
    found = clock_offset([Moment(begin - 5 * 3600 + 40), Moment(begin - 5 * 3600 + 70)], line)
    assert found.how is How.UNSURE
    assert found.offset_s == 0


def test_an_even_walk_cannot_tell_one_stop_from_the_next() -> None:
    begin = 1.77e9
    stays = np.array([(begin + 90 * i, begin + 90 * i + 60) for i in range(40)])
    line = Timeline(stays, np.array([[begin, begin + 3600]]), stays[:, 0], np.zeros(40), np.zeros(40), EAST_DEG)
    moments = [Moment(begin + 90 * i + 30 + 300.0, zone_told=True) for i in range(10, 20)]
    found = clock_offset(moments, line)
    assert found.how in (How.UNSURE, How.TRUSTED)
    assert not found.sure or found.in_stops == 10


def test_places_of_pictures_settle_what_times_alone_do_not() -> None:
    line, rng = stops(30, 3)
    times = rng.uniform(line.time_s[5], line.time_s[-5], 8)
    places = np.interp(times, line.time_s, line.x)
    moments = [
        Moment(float(t) + 2 * 3600 + 75, False, (float(x), 0.0), 3.0) for t, x in zip(times, places, strict=True)
    ]
    found = clock_offset(moments, line)
    assert found.how is How.STOPS
    assert found.offset_s == pytest.approx(2 * 3600 + 75, abs=25)


def test_the_time_of_satellites_in_pictures_comes_first() -> None:
    line, rng = stops(20, 5)
    moments = noted(line, rng, 10, 3600, zone_told=False)
    told = [Moment(m.time_s, False, ahead_s=a) for m, a in zip(moments[:3], (3611.0, 3612.0, 9000.0), strict=True)]
    found = clock_offset([*moments[3:], *told], line)
    assert (found.offset_s, found.how) == (3612.0, How.SATELLITES)


def test_without_walk_or_moments_nothing_is_changed() -> None:
    none = np.zeros((0, 2))
    line = Timeline(none, none, np.zeros(0), np.zeros(0), np.zeros(0))
    assert clock_offset([Moment(1.77e9)], line).offset_s == 0
    assert clock_offset([], stops(3, 0)[0]).words("it") == ""


@pytest.mark.parametrize(
    ("seconds", "words"),
    [(0, "0 s"), (59.6, "1 min 00 s"), (75, "1 min 15 s"), (3612, "1 h 00 min 12 s"), (90_061, "1 d 1 h 01 min")],
)
def test_time_spans_in_words(seconds: float, words: str) -> None:
    assert duration_words(seconds) == words


def test_what_was_found_is_said() -> None:
    assert ClockOffset(3612, 4.2, How.STOPS, 12, 12).words("the notes' clock") == (
        "the notes' clock is 1 h 00 min 12 s ahead: taken off (12 of 12 then fall into stops, good to 4 s)"
    )
    assert "perhaps 1 h 00 min 00 s behind" in ClockOffset(0, 0, How.UNSURE, 1, 9, other_s=-3600.0).words("it")
    assert "only 3 of 9" in ClockOffset(0, 0, How.TRUSTED, 3, 9).words("it")
    assert ClockOffset(0, 0, How.TRUSTED, 9, 9).words("it") == ""
