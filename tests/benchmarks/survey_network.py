"""Walks, tape and compass adjusted together on real tree positions, with known truth: prints JSON.

Run `python tests/benchmarks/survey_network.py`. Every tree is stopped at for 40 s with noise of sigma 4 m an axis that
is correlated over 60 s, so that a stop is off by sigma * sqrt(g) with g(u) = 2 (u - 1 + exp(-u)) / u², u = 40 / 60
(integral of the correlation); each walk of 100 trees has a shift of 1.5 m an axis besides. Tape is good to 1 % (0.05 m
at least), compass to 2 degrees; each tree is sighted from the nearest of those visited before it, in strips of 10 m.
"Relative" errors are those of the way from a tree to each of its three nearest neighbours, sighted or not. What the
ellipses hold goes together within a wood: its standard error is that over the seeds. Seeds are named; positions are
those of tests/data/stand/ (source and terms there).
"""

from __future__ import annotations

import json
import math
import platform
import resource
import statistics
import time
from dataclasses import replace
from pathlib import Path

import numpy as np

from standmap.stand.sights import North, Sight
from standmap.stand.walks import FloatArray
from standmap.survey.network import Adjusted, adjust
from standmap.survey.one_sight import LEAST_TAPE_SIGMA_M
from standmap.survey.readings import SeenAt, What
from standmap.survey.traverse import loops_of

DATA = Path(__file__).parents[1] / "data" / "stand"
SIGMA_M, CORRELATED_S, STAY_S, SHIFT_M = 4.0, 60.0, 40.0, 1.5
TAPE, COMPASS_DEG = 0.01, 2.0
WALK_OF, STRIP_M, NEIGHBOURS = 100, 10.0, 3
CHI2_95_OF_TWO = -2 * math.log(0.05)


class Wood:
    """Trees in the order in which they were visited, and what was measured."""

    def __init__(self, truth: FloatArray, rng: np.random.Generator, ties: int) -> None:
        strip = (truth[:, 0] // STRIP_M).astype(int)
        along = np.where(strip % 2 == 0, truth[:, 1], -truth[:, 1])
        self.truth = truth[np.lexsort((along, strip))]
        n = len(self.truth)
        u = STAY_S / CORRELATED_S
        own = SIGMA_M * math.sqrt(2 * (u - 1 + math.exp(-u)) / u**2)
        walk = np.arange(n) // WALK_OF
        shift = rng.normal(0, SHIFT_M, (math.ceil(n / WALK_OF), 2))
        self.gps = self.truth + shift[walk] + rng.normal(0, own, (n, 2))
        self.seen = [
            SeenAt(f"g{i:05d}", f"p{i}", (float(x), float(y)), (own**2, own**2, 0.0), f"w{walk[i]}")
            for i, (x, y) in enumerate(self.gps)
        ]
        self.shared_m2 = {f"w{i}": SHIFT_M**2 for i in range(len(shift))}
        self.sights: list[Sight] = []
        for i in range(1, n):
            way = self.truth[:i] - self.truth[i]
            apart = np.hypot(way[:, 0], way[:, 1])
            nearest: list[int] = np.argsort(apart, kind="stable")[:ties].tolist()
            for j in nearest:
                self.sights.append(self._sight(j, i, float(apart[j]), rng))

    def _sight(self, start: int, end: int, apart_m: float, rng: np.random.Generator) -> Sight:
        east, north = self.truth[end] - self.truth[start]
        bearing = math.degrees(math.atan2(east, north)) + rng.normal(0, COMPASS_DEG)
        length = abs(apart_m + rng.normal(0, max(TAPE * apart_m, LEAST_TAPE_SIGMA_M)))
        key = f"s{len(self.sights)}"
        return Sight(key, f"p{start}", f"p{end}", bearing_deg=bearing % 360, north=North.TRUE, distance_m=length)

    def adjusted(self, sights: list[Sight] | None = None) -> Adjusted:
        begun = {s.point: s.xy for s in self.seen}
        return adjust(begun, frozenset(), self.seen, self.sights if sights is None else sights, self.shared_m2)

    def places(self, found: Adjusted) -> FloatArray:
        return np.array([found.points[f"p{i}"].xy for i in range(len(self.truth))])

    def relative_m(self, places: FloatArray) -> float:
        """Return the median error of the ways to the nearest neighbours."""
        from scipy.spatial import KDTree

        _, found = KDTree(self.truth).query(self.truth, k=NEIGHBOURS + 1)
        near = np.asarray(found)[:, 1:]
        off = places - self.truth
        apart = off[near] - off[:, None, :]
        return float(np.median(np.hypot(apart[..., 0], apart[..., 1])))

    def inside(self, found: Adjusted) -> list[bool]:
        """Return whether the stated ellipse of each tree holds it."""
        told: list[bool] = []
        for i, true in enumerate(self.truth):
            point = found.points[f"p{i}"]
            if point.covariance is not None:
                e, n, en = point.covariance
                off = np.array(point.xy) - true
                told.append(bool(off @ np.linalg.solve([[e, en], [en, n]], off) <= CHI2_95_OF_TWO))
        return told


def trees(name: str, most: int | None = None) -> FloatArray:
    """Return tree positions, metres, shape (n, 2); no two at one spot."""
    table = np.loadtxt(DATA / f"{name}.csv", delimiter=",", skiprows=1, usecols=(0, 1))
    return np.unique(table, axis=0)[:most]


def accuracy(name: str, ties: int, seeds: range) -> dict[str, object]:
    """Return errors beside neighbours and the coverage of the ellipses, over several seeds."""
    truth = trees(name)
    relative: list[float] = []
    alone: list[float] = []
    inside: list[float] = []
    for seed in seeds:
        made = Wood(truth, np.random.default_rng(seed), ties)
        found = made.adjusted()
        relative.append(made.relative_m(made.places(found)))
        alone.append(made.relative_m(made.gps))
        inside.append(float(np.mean(made.inside(found))))
    median, gps = statistics.median(relative), statistics.median(alone)
    return {
        "stand": name,
        "trees": len(truth),
        "sights_a_tree": ties,
        "seeds": [seeds.start, seeds.stop - 1],
        "median_relative_error_m": round(median, 3),
        "gps_alone_m": round(gps, 3),
        "times_better": round(gps / median, 1),
        "in_95_ellipse_pct": round(100 * statistics.mean(inside), 1),
        "of_which_standard_error_pct": round(100 * statistics.stdev(inside) / math.sqrt(len(inside)), 1),
    }


def blunders(name: str, ties: int, seeds: range, part: float = 0.03) -> dict[str, object]:
    """Return how many misread bearings and tapes are named, and how many sound readings are blamed."""
    truth = trees(name)
    made_wrong = named = sound = blamed = 0
    harm: list[float] = []
    for seed in seeds:
        rng = np.random.default_rng(seed)
        made = Wood(truth, rng, ties)
        wrong: dict[tuple[str, What], None] = {}
        sights = list(made.sights)
        for at in rng.choice(len(sights), max(1, round(part * len(sights))), replace=False).tolist():
            sight = sights[at]
            if rng.random() < 0.5:
                turn = float(rng.choice([-1, 1]) * rng.uniform(20, 180))
                sights[at] = replace(sight, bearing_deg=((sight.bearing_deg or 0.0) + turn) % 360)
                wrong[sight.key, What.BEARING] = None
            else:
                longer = float(rng.choice([-1, 1]) * rng.uniform(1.0, 10.0))
                sights[at] = replace(sight, distance_m=abs((sight.distance_m or 0.0) + longer))
                wrong[sight.key, What.DISTANCE] = None
        found = made.adjusted(sights)
        told = {(j.reading.id, j.reading.what) for j in found.judged if j.blunder}
        made_wrong += len(wrong)
        named += len(told & wrong.keys())
        sound += len(found.judged) - len(wrong)
        blamed += len(told - wrong.keys())
        harm.append(made.relative_m(made.places(found)))
    return {
        "stand": name,
        "sights_a_tree": ties,
        "seeds": [seeds.start, seeds.stop - 1],
        "wrong_readings": made_wrong,
        "named_pct": round(100 * named / made_wrong, 1),
        "sound_readings_blamed_pct": round(100 * blamed / sound, 2),
        "median_relative_error_m": round(statistics.median(harm), 3),
    }


def speed(count: int = 2000) -> dict[str, object]:
    """Return the time of one adjustment, covariances and loops included, and the memory that it takes."""
    made = Wood(trees("lansing", count), np.random.default_rng(1), 1)
    small = Wood(trees("spruces"), np.random.default_rng(1), 1)
    small.adjusted()  # loads what is loaded once
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    spent: list[float] = []
    cpu: list[float] = []
    for _ in range(3):
        began, worked = time.perf_counter(), time.process_time()
        found = made.adjusted()
        loops_of(made.sights)
        spent.append(time.perf_counter() - began)
        cpu.append(time.process_time() - worked)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return {
        "trees": len(made.truth),
        "observations": len(found.judged),
        "seconds": round(statistics.median(spent), 2),
        "cpu_seconds": round(statistics.median(cpu), 2),
        "memory_more_mb": round((peak - before) / 1024, 1),
        "peak_mb": round(peak / 1024, 1),
    }


def measure(*, quick: bool = False) -> dict[str, object]:
    """Return all figures."""
    if quick:
        return {
            "machine": platform.machine(),
            "speed": speed(500),
            "accuracy": [accuracy("spruces", 2, range(2))],
            "blunders": [blunders("spruces", 2, range(2))],
        }
    return {
        "machine": platform.machine(),
        "speed": speed(),
        "accuracy": [
            accuracy("spruces", 1, range(40)),
            accuracy("spruces", 2, range(40)),
            accuracy("lansing", 2, range(2)),
        ],
        "blunders": [blunders("spruces", 2, range(15)), blunders("spruces", 3, range(15))],
    }


if __name__ == "__main__":
    print(json.dumps(measure(), indent=1))
