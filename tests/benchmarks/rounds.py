"""The engine of `round` measured: gaps and times, each beside what plain tools give on this machine. Prints JSON.

`python tests/benchmarks/rounds.py FILE... --seconds S --seed N --json` runs TSPLIB or CVRPLIB files. Seconds are those
of the whole search, the import of the solvers with the first file; S is the limit. Routes hold the file's numbers, the
depot left out; a closed walk is one route. `--compare` adds OR-Tools and PyVRP alone, in the same seconds each.
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

sys.path.insert(0, str(Path(__file__).parents[2]))
from tests.benchmarks.rounds_beside import BESIDE, Routes, answer
from tests.outside.route_files import DATA, Instance, best_known, read_file

SEED = 20260328
RETURN_S = 0.05
"""Kept back for the way home: the last step of a search looks at the clock before it, not after it."""

KEPT = {
    1.0: ("tsp/eil51.tsp", "tsp/berlin52.tsp", "tsp/kroA100.tsp", "tsp/kroA200.tsp"),
    2.0: ("tsp/a280.tsp", "tsp/lin318.tsp", "tsp/pcb442.tsp", "tsp/rat575.tsp", "tsp/d657.tsp", "tsp/rat783.tsp"),
    10.0: ("cvrp/A-n32-k5.vrp", "cvrp/E-n22-k4.vrp", "cvrp/X-n101-k25.vrp", "cvrp/X-n110-k13.vrp"),
    20.0: ("cvrp/X-n200-k36.vrp", "cvrp/X-n204-k19.vrp"),
}
"""Files of tests/data/ by the seconds they are given."""

Matrix = NDArray[np.float64]


def engine(instance: Instance, seconds: float, seed: int) -> Routes:
    """Return what `round` would walk: the engine as `rounds.solve.plan` asks it."""
    began = time.perf_counter()
    from standmap.rounds.closed import closed_walk
    from standmap.rounds.stop import MaxSeconds
    from standmap.rounds.trips import several_trips

    stop = MaxSeconds(seconds - RETURN_S - (time.perf_counter() - began))
    if instance.in_trips:
        trips = several_trips(instance.cost, instance.loads, instance.capacity, stop=stop, seed=seed).trips
        return [list(trip) for trip in trips]
    return [list(closed_walk(instance.cost, stop=stop, seed=seed).order)]


def measured(path: Path, seconds: float, seed: int, *, compare: bool = False) -> dict[str, Any]:
    """Return one file's answer, see the module; with `compare` those of others too, without their routes."""
    instance = read_file(path)
    ask = partial(answer, instance, best_known(path, instance), seconds=seconds, seed=seed)
    found = ask(engine)
    if compare:
        for name, solver in BESIDE.items():
            other = ask(solver)
            found[name] = {key: other[key] for key in ("cost", "gap_percent", "seconds")}
    return found


def scattered(count: int, side_m: float) -> Matrix:
    """Return distances between a depot in a corner and taps spread over a square, metres."""
    xy = np.random.default_rng(SEED).uniform(0, side_m, (count + 1, 2))
    xy[0] = 0
    away: Matrix = np.hypot(*(xy[:, None] - xy[None]).transpose(2, 0, 1))
    return away


def mornings() -> dict[str, object]:
    """Measure what a wood asks: 200 taps in one walk, and 60 taps at three or four a trip, no time named."""
    from standmap.rounds.closed import ClosedWalk, closed_walk
    from standmap.rounds.local import cost_of, nearest_first
    from standmap.rounds.savings import cost_of_trips, first_trips
    from standmap.rounds.trips import several_trips

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
    trips = several_trips(small, loads, 13_000, seed=1)
    return {
        "one_walk_of_200_taps": {
            "length_m": round(walk.cost, 1),
            "lower_bound_m": None if walk.lower_bound is None else round(walk.lower_bound, 1),
            "proved": walk.proved,
            "seconds_to_best": round(reached[-1][0], 2),
            "seconds": round(seconds, 2),
            "nearest_first_length_m": round(cost_of(nearest_first(cost), cost), 1),
        },
        "60_taps_at_3_or_4_a_trip": {
            "length_m": round(trips.cost, 1),
            "lower_bound_m": None if trips.lower_bound is None else round(trips.lower_bound, 1),
            "proved": trips.proved,
            "seconds": round(time.perf_counter() - started_trips, 2),
            "first_trips_length_m": round(cost_of_trips(first_trips(small, loads, 13_000), small), 1),
        },
    }


def measure() -> dict[str, object]:
    """Return all figures of this file, over the instances kept in tests/data/."""
    found = [
        measured(DATA / name, seconds, 1, compare=True) | {"seconds_given": seconds}
        for seconds, names in KEPT.items()
        for name in names
    ]
    for one in found:
        del one["routes"]
    return {"seed": SEED, "published": found, "mornings": mornings()}


def main(arguments: list[str]) -> None:
    """Run the files named, or all that are kept; print JSON, or a line a file."""
    reader = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    reader.add_argument("files", nargs="*", type=Path, metavar="FILE", help="TSPLIB or CVRPLIB; none: those kept")
    reader.add_argument("--seconds", type=float, default=2.0, metavar="S", help="limit of each search (2)")
    reader.add_argument(
        "--seed", type=int, default=1, metavar="N", help="of everything left to chance that has one (1)"
    )
    reader.add_argument("--compare", action="store_true", help="OR-Tools and PyVRP alone too, in the same seconds")
    reader.add_argument("--json", action="store_true", help="one JSON list on stdout")
    asked = reader.parse_args(arguments)
    if not asked.files:
        print(json.dumps(measure(), indent=2))
        return
    found = []
    for path in asked.files:
        try:
            one = measured(path, asked.seconds, asked.seed, compare=asked.compare)
        except (OSError, ValueError) as error:
            reader.error(str(error))
        found.append(one)
        if not asked.json:
            others = "".join(f"  {name} {one[name]['gap_percent']} %" for name in BESIDE if name in one)
            print(f"{one['name']}: {one['cost']} ({one['gap_percent']} %) in {one['seconds']} s{others}", flush=True)
    if asked.json:
        print(json.dumps(found))


if __name__ == "__main__":
    main(sys.argv[1:])
