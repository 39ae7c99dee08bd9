"""Choosing among trips that were looked at: never worse, sound, and better where the search held the wrong ones."""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import pytest

from standmap.progress import Unwatched
from standmap.rounds.asked import ask
from standmap.rounds.carrying import Carrying
from standmap.rounds.problem import Aim, RoundProblem, Tap
from standmap.rounds.search import Search
from standmap.rounds.seen import best_of_seen
from standmap.rounds.small import best_of_all
from standmap.rounds.walks import Walks
from standmap.rounds.watch import Watch


def wood(count: int, seed: int, aim: Aim) -> RoundProblem:
    rng = np.random.default_rng(seed)
    spots, kg = rng.uniform(-150, 150, (count, 2)), rng.uniform(2.5, 4.4, count)
    taps = tuple(
        Tap(f"t{k}", (float(x), float(y)), float(w), 3.0) for k, ((x, y), w) in enumerate(zip(spots, kg, strict=True))
    )
    return RoundProblem((0.0, 0.0), taps, 12.0, 1.0, speed_m_per_min=50.0, aim=aim, carrying=Carrying())


@pytest.mark.parametrize("aim", [Aim.TIME, Aim.EFFORT])
def test_of_all_trips_seen_the_best_are_chosen(aim: Aim) -> None:
    """Every trip was looked at, and taps are held one a trip: the choice is the best round there is."""
    walks = Walks(ask(wood(7, 3, aim)))
    search = Search(walks, 1e6, 1)
    for size in (1, 2, 3, 4):
        for stops in itertools.permutations(range(7), size):
            walks.trip(stops)
    alone = search.state([[(tap,) for tap in range(7)]])
    chosen = best_of_seen(search, alone, Watch(None, Unwatched()), 1)
    assert chosen.missing == ()
    assert chosen.cost == pytest.approx(search.state(best_of_all(walks, 1e6).plan).cost)
    assert chosen.cost < alone.cost


def test_with_nothing_else_seen_the_round_stays() -> None:
    walks = Walks(ask(wood(6, 4, Aim.TIME)))
    search = Search(walks, 1e6, 1)
    held = search.state([[(0, 1), (2, 3), (4, 5)]])
    assert best_of_seen(search, held, Watch(None, Unwatched()), 1) == held


def test_what_goes_together_stays_together() -> None:
    problem = wood(6, 5, Aim.EFFORT)
    taps = tuple(replace(tap, together="pair" if k in (0, 3) else "") for k, tap in enumerate(problem.taps))
    walks = Walks(ask(replace(problem, taps=taps)))
    search = Search(walks, 1e6, 1)
    for size in (1, 2, 3):
        for stops in itertools.permutations(range(6), size):
            walks.trip(stops)
    held = search.state([[(0, 3), (1,), (2,), (4,), (5,)]])
    chosen = best_of_seen(search, held, Watch(None, Unwatched()), 1)
    assert chosen.cost == pytest.approx(search.state(best_of_all(walks, 1e6).plan).cost)
    assert any({0, 3} <= set(stops) for stops in chosen.trips[0])
