"""The engine of `round` measured: gaps and times, each beside what plain tools give on this machine. Prints JSON."""

from __future__ import annotations

import json
import sys
import time
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from standmap.rounds.closed import ClosedWalk, closed_walk
from standmap.rounds.local import cost_of, nearest_first
from standmap.rounds.savings import cost_of_trips, first_trips
from standmap.rounds.trips import several_trips

sys.path.insert(0, str(Path(__file__).parents[2]))
from tests.outside.route_files import BEST_TRIPS, OPTIMA, read_instance

SEED = 20260328
Matrix = NDArray[np.float64]


def scattered(count: int, side_m: float) -> Matrix:
    """Return distances between a depot in a corner and taps spread over a square, metres."""
    xy = np.random.default_rng(SEED).uniform(0, side_m, (count + 1, 2))
    xy[0] = 0
    away: Matrix = np.hypot(*(xy[:, None] - xy[None]).transpose(2, 0, 1))
    return away


def walks() -> dict[str, object]:
    """Measure one closed walk on published instances, beside always going to the nearest place."""
    found: dict[str, object] = {}
    for name, best in OPTIMA.items():
        cost = read_instance("tsp", name).cost
        started = time.perf_counter()
        walk = closed_walk(cost)
        seconds = time.perf_counter() - started
        plain = cost_of(nearest_first(cost.astype(float)), cost.astype(float))
        found[name] = {
            "cost": walk.cost,
            "best_known": best,
            "gap_percent": round(100 * (walk.cost / best - 1), 3),
            "proved": walk.proved,
            "seconds": round(seconds, 2),
            "nearest_first_gap_percent": round(100 * (plain / best - 1), 1),
        }
    return found


def trips() -> dict[str, object]:
    """Measure several trips on published instances, beside the first trips that the search begins with."""
    found: dict[str, object] = {}
    for name, best in BEST_TRIPS.items():
        instance = read_instance("cvrp", name)
        started = time.perf_counter()
        answer = several_trips(instance.cost, instance.loads, instance.capacity, seed=1)
        seconds = time.perf_counter() - started
        plain = instance.cost.astype(float)
        first = cost_of_trips(first_trips(plain, instance.loads, instance.capacity), plain)
        found[name] = {
            "cost": answer.cost,
            "best_known": best,
            "gap_percent": round(100 * (answer.cost / best - 1), 3),
            "proved": answer.proved,
            "seconds": round(seconds, 2),
            "first_trips_gap_percent": round(100 * (first / best - 1), 1),
        }
    return found


def mornings() -> dict[str, object]:
    """Measure what a wood asks: 200 taps in one walk, and 60 taps at three or four a trip."""
    cost = scattered(200, 400)
    reached: list[tuple[float, float]] = []
    started = time.perf_counter()

    def note(walk: ClosedWalk) -> None:
        reached.append((time.perf_counter() - started, walk.cost))

    walk = closed_walk(cost, on_best=note)
    seconds = time.perf_counter() - started
    small = scattered(60, 250)
    loads = np.random.default_rng(SEED).integers(2700, 4300, 60)
    started_trips = time.perf_counter()
    answer = several_trips(small, loads, 13_000, seed=1)
    return {
        "one_walk_of_200_taps": {
            "length_m": round(walk.cost, 1),
            "proved": walk.proved,
            "seconds_to_best": round(reached[-1][0], 2),
            "seconds": round(seconds, 2),
            "nearest_first_length_m": round(cost_of(nearest_first(cost), cost), 1),
        },
        "60_taps_at_3_or_4_a_trip": {
            "length_m": round(answer.cost, 1),
            "lower_bound_m": None if answer.lower_bound is None else round(answer.lower_bound, 1),
            "proved": answer.proved,
            "seconds": round(time.perf_counter() - started_trips, 2),
            "first_trips_length_m": round(cost_of_trips(first_trips(small, loads, 13_000), small), 1),
        },
    }


def measure() -> dict[str, object]:
    """Return all figures of this file."""
    return {"seed": SEED, "closed_walks": walks(), "several_trips": trips(), "mornings": mornings()}


if __name__ == "__main__":
    print(json.dumps(measure(), indent=2))
