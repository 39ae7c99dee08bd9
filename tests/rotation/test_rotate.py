"""Rotations: as good as trying every way, never against rest or an owner's limit, whole whenever they are stopped."""

from __future__ import annotations

import itertools
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from standmap.progress import Unwatched
from standmap.rotation.alike import groups_of, shared_out
from standmap.rotation.problem import RotationProblem, Stem, Want, faults, litres_of, worth
from standmap.rotation.solve import rotate

SEASONS = 4


@st.composite
def problems(draw: st.DrawFn, most_stems: int = 4, seasons: int = SEASONS) -> RotationProblem:
    count = draw(st.integers(0, most_stems))
    stems = tuple(
        Stem(
            key=f"t{k}",
            root=f"r{draw(st.integers(0, most_stems))}",
            block=draw(st.integers(0, 1)),
            holes=tuple(draw(st.lists(st.integers(0, 2), min_size=seasons, max_size=seasons))),
            hole_l=draw(st.sampled_from([0.0, 20.0, 35.5])),
            free_from=draw(st.integers(0, 2)),
            limits=tuple(draw(st.sets(st.integers(0, 1)))),
        )
        for k in range(count)
    )
    limit = st.lists(st.none() | st.integers(0, 2), min_size=seasons, max_size=seasons).map(tuple)
    return RotationProblem(
        stems,
        seasons,
        rest=draw(st.integers(1, 3)),
        limits=(draw(limit), draw(limit)),
        wanted_l=draw(st.none() | st.sampled_from([30.0, 60.0])),
        want=draw(st.sampled_from(Want)),
        block_cost_l=draw(st.sampled_from([0.0, 15.0])),
        hole_cost_l=draw(st.sampled_from([0.01, 1.0])),
    )


class Stopped(Unwatched):
    """Wants to stop before anything was looked for."""

    def stop_wanted(self) -> bool:
        return True


def best_by_trying(problem: RotationProblem) -> float:
    """Return the most that any rotation is worth, from trying every one."""
    ways = [
        [when for n in range(problem.seasons + 1) for when in itertools.combinations(range(problem.seasons), n)]
        for _ in problem.stems
    ]
    best = -math.inf
    for choice in itertools.product(*ways):
        tapped = [
            tuple(stem.key for stem, when in zip(problem.stems, choice, strict=True) if season in when)
            for season in range(problem.seasons)
        ]
        if not faults(problem, tapped):
            best = max(best, worth(problem, tapped))
    return best


@given(problem=problems(most_stems=3, seasons=3))
@settings(deadline=None, max_examples=60)
def test_no_rotation_of_a_small_stand_is_better(problem: RotationProblem) -> None:
    found = rotate(problem)
    assert faults(problem, found.tapped) == ()
    assert found.proved
    best = best_by_trying(problem)
    assert found.worth_l == pytest.approx(best, abs=1e-6)
    assert found.worth_l == pytest.approx(worth(problem, found.tapped))
    at_once = rotate(problem, progress=Stopped())
    assert faults(problem, at_once.tapped) == ()
    assert at_once.worth_l - 1e-6 <= best <= at_once.bound_l + 1e-6


@given(problem=problems(most_stems=12, seasons=6), seconds=st.sampled_from([0.0, 10.0]))
@settings(deadline=None, max_examples=60)
def test_rest_and_limits_always_hold(problem: RotationProblem, seconds: float) -> None:
    found = rotate(problem, seconds=seconds)
    assert faults(problem, found.tapped) == ()
    assert found.bound_l >= found.worth_l - 1e-6
    assert found.gap_percent >= 0


def test_an_even_rotation_feeds_the_leanest_season() -> None:
    stems = tuple(Stem(f"t{k}", f"r{k}", 0, (1,) * 4, 30.0) for k in range(4))
    even = rotate(RotationProblem(stems, 4, rest=4))
    assert litres_of(RotationProblem(stems, 4, rest=4), even.tapped) == (30.0,) * 4
    most = rotate(RotationProblem(stems, 4, rest=4, want=Want.MOST))
    assert most.worth_l == even.worth_l == pytest.approx(120 - 0.04)


def test_growing_stems_are_kept_for_the_year_in_which_they_take_more() -> None:
    grows = Stem("t", "r", 0, (1, 2, 2), 20.0)
    found = rotate(RotationProblem((grows,), 3, rest=3, want=Want.MOST))
    assert found.tapped[0] == ()
    assert sum(len(keys) for keys in found.tapped) == 1


def test_only_what_is_wanted_is_tapped() -> None:
    stems = tuple(Stem(f"t{k}", f"r{k}", 0, (1,), 30.0) for k in range(5))
    found = rotate(RotationProblem(stems, 1, rest=1, wanted_l=60.0))
    assert len(found.tapped[0]) == 2


def test_walking_to_one_part_is_better_than_to_two() -> None:
    stems = tuple(Stem(f"t{k}", f"r{k}", k % 2, (1, 1), 30.0) for k in range(4))
    spread = rotate(RotationProblem(stems, 2, rest=2, block_cost_l=20.0))
    blocks = [{int(key[1]) % 2 for key in keys} for keys in spread.tapped]
    assert all(len(block) == 1 for block in blocks)


def test_stems_of_one_root_rest_together() -> None:
    stems = (Stem("a", "r", 0, (1, 1), 30.0), Stem("b", "r", 0, (1, 1), 40.0))
    found = rotate(RotationProblem(stems, 2, rest=2, want=Want.MOST))
    assert sorted(found.tapped) == [(), ("b",)]


def test_alike_stems_take_turns() -> None:
    stems = tuple(Stem(f"t{k}", f"r{k}", 0, (1,) * 6, 30.0) for k in range(3))
    (group,) = groups_of(RotationProblem(stems, 6, rest=3))
    turns = shared_out(group, (1, 2, 0, 1, 2, 0), rest=3)
    assert turns == (("t0",), ("t1", "t2"), (), ("t0",), ("t1", "t2"), ())
    with pytest.raises(ValueError, match="3 stems are asked for in season 1, 2 have rested"):
        shared_out(group, (1, 3, 0, 0, 0, 0), rest=3)


def test_stopped_before_it_begins_the_trees_take_turns() -> None:
    stems = tuple(Stem(f"t{k}", f"r{k // 2}", 0, (1,) * 8, 30.0) for k in range(32))
    problem = RotationProblem(stems, 8, rest=4)
    found = rotate(problem, progress=Stopped())
    assert faults(problem, found.tapped) == ()
    assert litres_of(problem, found.tapped) == (120.0,) * 8, "sixteen roots, four a year"
    assert found.gap_percent < 60


class Impatient:
    def __init__(self) -> None:
        self.told: list[str] = []

    def at(self, done: float, total: float, what: str) -> None:
        assert done <= total or not total
        self.told.append(what)

    def stop_wanted(self) -> bool:
        return len(self.told) > 2


def test_stopped_early_it_is_sound_and_says_so() -> None:
    stems = tuple(
        Stem(f"t{k}", f"r{k}", k % 13, tuple(1 + (k * s) % 2 for s in range(12)), 20.0 + k * 7 % 31) for k in range(300)
    )
    problem = RotationProblem(stems, 12, rest=4, block_cost_l=11.0)
    watch = Impatient()
    found = rotate(problem, progress=watch)
    assert found.stopped
    assert not found.proved
    assert faults(problem, found.tapped) == ()
    assert found.bound_l > found.worth_l
    assert all("choosing the trees" in told for told in watch.told)


@pytest.mark.parametrize(
    ("change", "why"),
    [
        ({"rest": 0}, "rest of at least one"),
        ({"wanted_l": -1.0}, "wanted_l"),
        ({"block_cost_l": math.inf}, "block_cost_l"),
        ({"seasons": 3}, "in every season"),
        ({"limits": ((1,),)}, "every limit"),
        ({"stems": (Stem("a", "r", 0, (1, 1), 1.0, limits=(0,)),)}, "limit that is not there"),
    ],
)
def test_what_cannot_be_asked(change: dict[str, object], why: str) -> None:
    given = {"stems": (Stem("a", "r", 0, (1, 1), 1.0),), "seasons": 2, "rest": 1}
    with pytest.raises(ValueError, match=why):
        RotationProblem(**{**given, **change})  # type: ignore[arg-type]
