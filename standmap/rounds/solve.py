"""From a problem to a round."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from standmap.progress import Progress
from standmap.rounds.closed import ClosedWalk, closed_walk
from standmap.rounds.general import plan_general
from standmap.rounds.problem import GRAMS_PER_KG, RoundProblem, Tap, load_g
from standmap.rounds.round import LeftOut, Round, Trip, Visit
from standmap.rounds.stop import StopRule
from standmap.rounds.trips import TripsFound, several_trips
from standmap.rounds.walked import RoundMaker
from standmap.rounds.walking import Walking, walking
from standmap.rounds.watch import Ending

__all__ = ["LeftOut", "Round", "Trip", "Visit", "plan", "same_both_ways", "served"]


def plan(
    problem: RoundProblem,
    *,
    stop: StopRule | None = None,
    seed: int = 0,
    progress: Progress | None = None,
    on_best: Callable[[Round], None] | None = None,
) -> Round:
    """Find a short round.

    Parameters
    ----------
    problem
        What is asked; the order of its taps is of no account.
    stop
        Ends the search sooner than it would end by itself; whenever it does, the round is whole.
    seed
        Of everything in the search that is left to chance.
    progress
        Told how far the search is; asked whether the person wants to stop.
    on_best
        Told of each better round; lengths never increase.

    Notes
    -----
    Where one trip of one collector holds everything, it is a closed walk, see `closed.closed_walk`; otherwise
    see `trips.several_trips`. Loads are counted in whole grams, rounded up.
    """
    if not problem.plain:
        return plan_general(problem, stop=stop, seed=seed, progress=progress, on_best=on_best)
    taps, ways, left_out = served(problem)
    if not same_both_ways(ways):
        return plan_general(problem, stop=stop, seed=seed, progress=progress, on_best=on_best)
    maker = RoundMaker(problem, taps, ways, left_out)
    if not taps:
        return maker.round((), proved=True, repeatable=True, lower_bound_m=0.0, stopped=Ending.PROVED)
    loads = np.array([load_g(tap) for tap in taps], dtype=np.int64)

    def from_walk(found: ClosedWalk) -> Round:
        return maker.round(
            (found.order[1:],),
            proved=found.proved,
            repeatable=found.repeatable,
            lower_bound_m=found.lower_bound,
            stopped=found.stopped,
        )

    def from_trips(found: TripsFound) -> Round:
        return maker.round(
            found.trips,
            proved=found.proved,
            repeatable=found.repeatable,
            lower_bound_m=found.lower_bound,
            stopped=found.stopped,
        )

    if problem.collectors == 1 and loads.sum() <= problem.room_g:
        told = None if on_best is None else lambda walk: on_best(from_walk(walk))
        return from_walk(closed_walk(ways.cost_m, stop=stop, seed=seed, progress=progress, on_best=told))
    shares, room = _shares(loads, problem.room_g, problem.collectors)
    told_trips = None if on_best is None else lambda trips: on_best(from_trips(trips))
    return from_trips(
        several_trips(ways.cost_m, shares, room, stop=stop, seed=seed, progress=progress, on_best=told_trips)
    )


def same_both_ways(ways: Walking) -> bool:
    """Return whether every way is as long as the way back: over slopes the quickest two may differ."""
    return bool(np.allclose(ways.cost_m, ways.cost_m.T, rtol=1e-9, atol=1e-6))


def served(problem: RoundProblem) -> tuple[tuple[Tap, ...], Walking, tuple[LeftOut, ...]]:
    """Return the taps that can be served, the ways between the depot and them, and the rest with the reason."""
    taps = sorted(problem.taps, key=lambda tap: tap.key)
    ways = walking((problem.depot, *(tap.xy for tap in taps)), problem.obstacles, problem.pace)
    served, left_out = [], []
    for place, tap in enumerate(taps, start=1):
        why = _hindrance(problem, tap, ways, place)
        if why:
            left_out.append(LeftOut(tap.key, why))
        else:
            served.append(place)
    return tuple(taps[place - 1] for place in served), ways.part((0, *served)), tuple(left_out)


def _hindrance(problem: RoundProblem, tap: Tap, ways: Walking, place: int) -> str:
    """Return why a tap cannot be served, empty where it can."""
    if load_g(tap) > problem.room_g:
        room_kg = max(problem.room_g, 0) / GRAMS_PER_KG
        return f"{round(tap.load_kg, 2):g} kg is more than one trip holds: {room_kg:g} kg beside the cans"
    if ways.hindrance[0]:
        return f"the gate or tank lies {ways.hindrance[0]}"
    if ways.hindrance[place]:
        return f"it lies {ways.hindrance[place]}"
    if not np.isfinite(ways.cost_m[0, place]):
        return f"no way on foot leads there: {ways.why_cut_off(place)} cuts it off"
    return ""


def _shares(loads: NDArray[np.int64], room: int, collectors: int) -> tuple[NDArray[np.int64], int]:
    """Return loads and a capacity under which every collector gets a trip, where there are enough taps.

    As few trips as the cans allow is the least walking, but it would leave people standing at the gate.
    """
    total = int(loads.sum())
    if total <= room:
        return np.ones_like(loads), -(-len(loads) // collectors)
    if total <= (collectors - 1) * room:
        return loads, min(room, total // collectors + int(loads.max()))
    return loads, room
