"""How well second walks are matched to known trees, and how long it takes: `measure()` returns plain data.

Known trees and a walk's stops have independent errors of one axis as their fused positions have them: for stays of 40
s of fixes with the sigma and correlation time named, from the variance of the mean of first-order Gauss-Markov noise.
Each walk shares what that noise leaves in a mean over the whole of it (a minute a stop) and the shift that
`StopSettings` name, which is what matching is told; one wood is walked with no such shift. Six trees in ten are
visited, one in twenty is not known. Beside it: the nearest known tree within twice the error or 3 m, taken one after
another. Seeds are named in each row's key.
"""

from __future__ import annotations

import csv
import json
import math
import time
import tracemalloc
from pathlib import Path

import numpy as np

from standmap.stand.walks import FloatArray
from standmap.survey.matching import match
from standmap.survey.noise import shared_part
from standmap.survey.settings import StopSettings
from tests.survey.two_walks import SecondWalk, plain, second_walk, spaced

VISITED, MINUTE_S = 0.6, 60.0
STANDS = Path(__file__).parents[1] / "data" / "stand"


def fused_sigma_m(sigma_m: float, correlation_s: float, stay_s: float = 40.0) -> float:
    """Return the standard deviation of the mean of a stay: see `survey.stops`."""
    u = stay_s / correlation_s
    return sigma_m * math.sqrt(2 * (u - 1 + math.exp(-u)) / u**2)


def real_trees(name: str, most: int) -> FloatArray:
    """Return positions of a mapped stand, metres, those of its first corner."""
    with (STANDS / name).open(encoding="utf-8") as file:
        at = np.array([(float(row["x_m"]), float(row["y_m"])) for row in csv.DictReader(file)])
    at = np.unique(at, axis=0)
    return at[np.argsort(at.sum(axis=1), kind="stable")[:most]]


def nearest_first(walk: SecondWalk, sigma_m: float) -> int:
    """Return how many stops the nearest-tree rule gives to a wrong tree."""
    wrong = 0
    for xy, truth in zip(walk.new.xy, walk.truth, strict=True):
        apart = np.hypot(*(walk.known.xy - xy).T)
        near = int(apart.argmin())
        got = near if apart[near] <= max(3.0, 2 * sigma_m) else -1
        wrong += got != truth
    return wrong


def score(
    trees: FloatArray, sigma_m: float, correlation_s: float, walks: int, seed: int, truly_m: float | None = None
) -> dict[str, float]:
    """Return in percent of all stops: matched wrongly without asking, asked about, right without asking.

    Parameters
    ----------
    truly_m
        What each walk is off by, where it is another than matching is told.
    """
    own = fused_sigma_m(sigma_m, correlation_s)
    slow = sigma_m * math.sqrt(shared_part(MINUTE_S * VISITED * len(trees) / correlation_s))
    shared_m = math.hypot(slow, StopSettings().walk_drift_m)
    wrong = asked = total = greedy = 0
    for number in range(walks):
        rng = np.random.default_rng([seed, round(10 * sigma_m), round(correlation_s), number])
        walk = second_walk(rng, trees, own, shared_m=shared_m if truly_m is None else truly_m, visited=VISITED)
        found = match(walk.new, walk.known, 2 * shared_m**2)
        for one, truth in zip(found.matches, walk.truth, strict=True):
            total += 1
            asked += not one.sure
            wrong += one.sure and (-1 if one.known is None else one.known) != truth
        greedy += nearest_first(walk, own)
    return {
        "sigma_m": sigma_m,
        "correlation_s": correlation_s,
        "stops": total,
        "wrong_pct": round(100 * wrong / total, 2),
        "asked_pct": round(100 * asked / total, 1),
        "right_unasked_pct": round(100 * (total - asked - wrong) / total, 1),
        "nearest_rule_wrong_pct": round(100 * greedy / total, 1),
    }


def speed(new: int = 5_000, known: int = 100_000) -> dict[str, float]:
    """Return seconds and memory for many stops against many trees, beside a bare search for neighbours."""
    from scipy.spatial import cKDTree

    rng = np.random.default_rng(5)
    trees = rng.uniform(0, math.sqrt(known) * 5, (known, 2))
    at = np.argsort(np.hypot(trees[:, 0], trees[:, 1]), kind="stable")[:new]
    stops = plain(trees[at] + rng.normal(0, 1.5, (new, 2)) + np.array([1.0, -1.0]), 1.5)
    stand = plain(trees, 1.5)
    match(plain(stops.xy[:10], 1.5), stand, 4.5)
    began = time.perf_counter()
    match(stops, stand, 4.5)
    seconds = time.perf_counter() - began
    began = time.perf_counter()
    cKDTree(trees).query(stops.xy)
    bare = time.perf_counter() - began
    tracemalloc.start()
    match(stops, stand, 4.5)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return {
        "new": new,
        "known": known,
        "seconds": round(seconds, 3),
        "bare_neighbours_seconds": round(bare, 3),
        "peak_mb_by_tracemalloc": round(peak / 1e6, 1),
    }


def measure(walks: int = 6, seed: int = 20261126) -> dict[str, object]:
    """Return everything that this benchmark measures."""
    rng = np.random.default_rng(seed)
    woods = {
        "lansing, 150 trees": real_trees("lansing.csv", 150),
        "spruces": real_trees("spruces.csv", 200),
        "invented, 2.5 m and more apart": spaced(rng, 80, 2.5),
        "invented, 5 m and more apart": spaced(rng, 80, 5.0),
        "invented, 8 m and more apart": spaced(rng, 80, 8.0),
        "invented, 15 m and more apart": spaced(rng, 80, 15.0),
    }
    settings = [(s, t) for s in (2.0, 4.0, 8.0) for t in (60.0, 120.0)]
    far = woods["invented, 15 m and more apart"]
    return {
        "seed": seed,
        "matching": {name: [score(trees, s, t, walks, seed) for s, t in settings] for name, trees in woods.items()},
        "walks_without_a_shift_invented_15_m": [score(far, s, t, walks, seed, truly_m=0.0) for s, t in settings],
        "speed": speed(),
    }


if __name__ == "__main__":
    print(json.dumps(measure(), indent=1))
