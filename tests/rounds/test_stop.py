"""Rules that end a search, and what is said about the end."""

from __future__ import annotations

import math

import pytest

from standmap.progress import Unwatched
from standmap.rounds.stop import FirstOf, MaxIterations, MaxSeconds, NoImprovement, StopRule, seconds_allowed
from standmap.rounds.watch import Ending, Watch


class Asking(Unwatched):
    """A person who wants to stop."""

    def stop_wanted(self) -> bool:
        return True


def test_no_improvement_counts_from_the_last_better_cost() -> None:
    rule = NoImprovement(3)
    said = [rule(cost, 0.0, step) for step, cost in enumerate([9, 9, 8, 8, 8, 8])]
    assert said == [False, False, False, False, False, True]


def test_no_improvement_begins_anew_with_each_search() -> None:
    rule = NoImprovement(2)
    for _ in range(2):
        assert [rule(5.0, 0.0, step) for step in range(3)] == [False, False, True]
    assert not rule(7.0, 0.0, 0)  # a new search may begin with a worse cost


def test_first_of_asks_every_rule() -> None:
    counting = NoImprovement(2)
    rule = FirstOf(MaxIterations(1), counting)
    assert not rule(1.0, 0.0, 0)
    assert rule(1.0, 0.0, 1)
    assert counting(1.0, 0.0, 2)  # it has seen the steps before


@pytest.mark.parametrize(
    ("rule", "ending"),
    [
        (MaxSeconds(0), Ending.TIME),
        (MaxIterations(4), Ending.RULE),
        (FirstOf(MaxSeconds(0), MaxIterations(4)), Ending.RULE),  # it would have ended without the clock too
        (FirstOf(MaxSeconds(0), MaxIterations(9)), Ending.TIME),
    ],
)
def test_an_end_by_the_clock_is_told_from_an_end_by_counting(rule: StopRule, ending: Ending) -> None:
    watch = Watch(rule, Unwatched())
    assert watch.over(1.0, 4)
    assert watch.ending is ending
    assert ending.repeatable is (ending is Ending.RULE)


def test_a_person_comes_before_any_rule() -> None:
    watch = Watch(MaxIterations(0), Asking())
    assert watch.over(1.0, 0)
    assert watch.ending is Ending.ASKED


def test_only_an_end_by_counting_is_forgotten_for_the_next_search() -> None:
    counted, timed = Watch(MaxIterations(3), Unwatched()), Watch(MaxSeconds(0), Unwatched())
    assert counted.over(1.0, 3)
    assert timed.over(1.0, 3)
    counted.begin_search()
    timed.begin_search()
    assert not counted.over(1.0, 0)
    assert timed.over(1.0, 0)


@pytest.mark.parametrize(
    ("rule", "seconds"),
    [
        (None, math.inf),
        (NoImprovement(3), math.inf),
        (MaxSeconds(4), 4),
        (FirstOf(MaxIterations(1), FirstOf(MaxSeconds(9), MaxSeconds(2))), 2),
    ],
)
def test_the_time_that_a_rule_names_is_known_to_the_search(rule: StopRule | None, seconds: float) -> None:
    assert seconds_allowed(rule) == seconds
    left = Watch(rule, Unwatched()).left_s
    assert left == seconds if math.isinf(seconds) else seconds - 1 < left <= seconds
