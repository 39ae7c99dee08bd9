"""How true a map becomes that is made of walks, tapes and compasses: prints one JSON object.

Run `python tests/benchmarks/survey.py [--quick]`; `tests/survey/simulated_walks.py` says how walks are simulated. A
tree counts as found when one found stop covers at least half of its stay; a found stop that covers no stay so is
false. Errors are two-dimensional (radial) root mean squares; those of the plain mean and the plain median are of all
fixes of the true stays of the same trees, which only a simulation knows. `in_ellipse_pct` says how often the stated
95 % ellipse held the tree, with the accuracy told by the receiver (here: rightly) and untold. Each walk is drawn from
the numbers [SEED, sigma in decimetres, correlation time, kind, walk]; settings were chosen on other walks, drawn from
`CHOSEN_ON`. No walk has a shift beside what its slow noise leaves, so the shift that is stated
(`StopSettings.walk_drift_m`) is taken out of the ellipses first. `within_reach` says what ellipses could hold at
best, were all stays known: see there. `--quick` takes one walk a row, and the least of matching and network.
"""

from __future__ import annotations

import json
import math
import platform
import resource
import sys
import time
import tracemalloc
import zlib
from collections.abc import Callable
from pathlib import Path

import numpy as np

sys.path[:0] = [str(Path(__file__).parents[2])]  # run as a script, it finds what tests share

from standmap.stand.walks import Fixes  # noqa: E402
from standmap.survey.noise import Noise, shared_part  # noqa: E402
from standmap.survey.stops import find_stops  # noqa: E402
from tests.survey.simulated_walks import (  # noqa: E402
    FRAME,
    Array,
    in_ellipse,
    invented,
    matched,
    noted,
    real,
    walk,
    walk_to,
)

SEED = 20261126
CHOSEN_ON = 771
TIMES_S = (10.0, 30.0, 60.0, 120.0, 300.0)
Places = Callable[[np.random.Generator], Array]


def score(
    name: str,
    places: Places,
    sigma_m: float,
    time_s: float,
    walks: int,
    *,
    stay_s: tuple[float, float] = (40.0, 40.0),
    speed_m_s: tuple[float, float] = (0.8, 1.2),
    marks: bool = False,
    both: bool = True,
) -> dict[str, float | str]:
    """Return found and false in percent, root mean square errors and how often the ellipses hold."""
    trees = hits = false = 0
    held, seen = {True: 0, False: 0}, {True: 0, False: 0}
    errors: dict[str, list[float]] = {"": [], "plain_mean_": [], "plain_median_": []}
    for number in range(walks):
        for told in (True, False) if both else (False,):
            rng = np.random.default_rng([SEED, round(10 * sigma_m), round(time_s), zlib.crc32(name.encode()), number])
            fixes, truth = walk_to(rng, places(rng), sigma_m, time_s, stay_s=stay_s, speed_m_s=speed_m_s, told=told)
            known = noted(rng, truth) if marks else []
            found, wrong = matched(find_stops(fixes, FRAME, marks=known), truth)
            seen[told] += len(found)
            for tree, stop in found.items():
                held[told] += in_ellipse(stop, stop.x - truth.x[tree], stop.y - truth.y[tree])
            if told:
                continue
            trees, hits, false = trees + len(truth.x), hits + len(found), false + wrong
            for tree, stop in found.items():
                during = (fixes.time_s >= truth.begin[tree]) & (fixes.time_s <= truth.end[tree])
                xy = np.stack(FRAME.to_xy(fixes.lon[during], fixes.lat[during]), axis=1)
                at = np.array([truth.x[tree], truth.y[tree]])
                errors[""].append(math.dist((stop.x, stop.y), at) ** 2)
                errors["plain_mean_"].append(math.dist(xy.mean(axis=0), at) ** 2)
                errors["plain_median_"].append(math.dist(np.median(xy, axis=0), at) ** 2)
    row: dict[str, float | str] = {
        "walks_to": name,
        "sigma_m": sigma_m,
        "correlation_s": time_s,
        "trees": trees,
        "found_pct": round(100 * hits / trees, 2),
        "false_pct": round(100 * false / max(1, hits + false), 2),
    }
    row |= {f"{kind}rms_m": round(math.sqrt(np.mean(e)), 2) if e else math.nan for kind, e in errors.items()}
    if both:
        row["in_ellipse_pct_told"] = round(100 * held[True] / max(1, seen[True]), 1)
    row["in_ellipse_pct_untold"] = round(100 * held[False] / max(1, seen[False]), 1)
    return row


def spaced(least_m: float, most_m: float) -> Places:
    """Return invented trees with moves between two lengths."""
    return lambda rng: invented(rng, 60, (least_m, most_m))


def standing(name: str, least_m: float = 0.0) -> Places:
    """Return trees of a mapped stand, the next one at least so far."""
    return lambda rng: real(rng, name, 60, least_m)


def stops(walks: int) -> dict[str, object]:
    """Return how well stops are found, by noise, wood and time stood."""
    far, far_real, near_real = spaced(15.0, 40.0), standing("lansing.csv", 15.0), standing("lansing.csv", 8.0)
    uneven = [
        score("invented, uneven stays", far, 4.0, t, walks, stay_s=(25.0, 120.0), speed_m_s=(0.6, 1.4)) for t in TIMES_S
    ]
    return {
        "invented_15_to_40_m": [score("invented 15-40 m", far, s, t, walks) for s in (2.0, 4.0, 8.0) for t in TIMES_S],
        "lansing_at_least_15_m": [score("lansing, 15 m or more", far_real, 4.0, t, walks) for t in TIMES_S],
        "lansing_at_least_8_m": [score("lansing, 8 m or more", near_real, 4.0, t, walks) for t in (120.0, 300.0)],
        "stays_of_25_to_120_s": uneven,
        "as_the_trees_stand": [
            {"notes": notes, **score(name, standing(name), 4.0, t, walks, marks=notes, both=notes)}
            for name in ("lansing.csv", "spruces.csv")
            for t in (10.0, 30.0, 60.0, 300.0)
            for notes in (False, True)
        ],
    }


def over_moves(walks: int) -> list[dict[str, float | str | bool]]:
    """Return what is found over the way from tree to tree, with and without a note at each tree."""
    return [
        {"move_m": m, "notes": notes, **score("moves", spaced(m, m), 4.0, t, walks, marks=notes, both=False)}
        for t in (10.0, 60.0, 300.0)
        for m in (2.0, 3.0, 4.0, 6.0, 8.0, 10.0, 12.0, 15.0, 20.0, 30.0)
        for notes in (False, True)
    ]


def over_stays(walks: int) -> list[dict[str, float]]:
    """Return the error over the time stood at each tree, for one visit and for the mean of visits on two days."""
    rows = []
    for stay in (20.0, 40.0, 80.0, 160.0, 320.0):
        once, twice = [], []
        for number in range(walks):
            rng = np.random.default_rng([SEED, round(stay), number])
            places = invented(rng, 30, (20.0, 40.0))
            days = []
            for _day in range(2):
                fixes, truth = walk_to(rng, places, 4.0, 60.0, stay_s=(stay, stay))
                days.append(matched(find_stops(fixes, FRAME), truth)[0])
            for tree in days[0].keys() & days[1].keys():
                off = [np.array([d[tree].x, d[tree].y]) - places[tree] for d in days]
                once += [float(o @ o) for o in off]
                twice.append(float(sum(off) @ sum(off)) / 4)
        rows.append(
            {
                "stay_s": stay,
                "once_rms_m": round(math.sqrt(np.mean(once)), 2),
                "two_days_rms_m": round(math.sqrt(np.mean(twice)), 2),
            }
        )
    return rows


def within_reach(walks: int = 30, stays: int = 60, stay_s: float = 40.0) -> list[dict[str, float]]:
    """Return what ellipses hold at best where no accuracy is told: stays known, no echoes, Bayes' rule.

    Every sigma from 1 to 16 m and every correlation time from 5 to 450 s is held to be as likely as another (evenly by
    their logarithms), and the noise within the stays is all there is to learn from; the circle holds 95 % over all.
    """
    t = np.arange(0.0, stay_s, 3.0)
    n = len(t)
    within = np.linalg.svd(np.eye(n) - 1 / n)[0][:, : n - 1].T  # what a stay shows, whatever its place is

    def shown(sigma_m: float, time_s: float) -> Array:
        return np.asarray(within @ (sigma_m**2 * np.exp(-abs(t[:, None] - t) / time_s)) @ within.T)

    grid = [(s, c) for s in np.geomspace(1, 16, 40) for c in np.geomspace(5, 450, 24)]
    inverse = np.array([np.linalg.inv(shown(s, c)) for s, c in grid])
    logs = np.array([np.linalg.slogdet(shown(s, c))[1] for s, c in grid])
    variance = np.array([s**2 * shared_part(stay_s / c) for s, c in grid])
    rows = []
    for sigma_m in (2.0, 4.0, 8.0):
        for time_s in TIMES_S:
            rng = np.random.default_rng([SEED, round(10 * sigma_m), round(time_s)])
            root, held = np.linalg.cholesky(shown(sigma_m, time_s)), []
            for _walk in range(walks):
                seen = root @ rng.normal(size=(n - 1, 2 * stays))
                log = -(np.einsum("hij,ij->h", inverse, seen @ seen.T) + 2 * stays * logs) / 2
                chance = np.exp(log - log.max())
                noise = Noise(
                    1.0, 1.0, tuple((p, v, 1e9) for p, v in zip(chance / chance.sum(), variance, strict=True))
                )
                stated, _ = noise.of_mean(stay_s)
                held.append(1 - 0.05 ** (stated / (sigma_m**2 * shared_part(stay_s / time_s))))
            rows.append({"sigma_m": sigma_m, "correlation_s": time_s, "pct": round(100 * float(np.mean(held)), 1)})
    return rows


def speed() -> dict[str, float]:
    """Return the seconds and the peak memory of 50,000 fixes, beside a bare projection of them to metres."""
    fixes, _ = walk(np.random.default_rng(7), 4.0, 60.0, trees=740)
    many = slice(0, 50_000)
    names = ("lon", "lat", "time_s", "sigma_m", "elevation_m", "segment")
    fixes = Fixes(*(getattr(fixes, name)[many] for name in names))
    FRAME.to_xy(fixes.lon, fixes.lat)
    began = time.perf_counter()
    FRAME.to_xy(fixes.lon, fixes.lat)
    bare = time.perf_counter() - began
    began, worked = time.perf_counter(), time.process_time()
    found = find_stops(fixes, FRAME)
    seconds, cpu = time.perf_counter() - began, time.process_time() - worked
    tracemalloc.start()
    find_stops(fixes, FRAME)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return {
        "fixes": len(fixes),
        "stops": len(found),
        "seconds": round(seconds, 3),
        "cpu_seconds": round(cpu, 3),
        "bare_projection_seconds": round(bare, 3),
        "peak_mb_by_tracemalloc": round(peak / 2**20, 1),
    }


def measure(*, quick: bool = False) -> dict[str, object]:
    """Return everything that this benchmark measures."""
    from tests.benchmarks import survey_matching, survey_network

    walks = 1 if quick else 6
    return {
        "machine": f"{platform.machine()}, Python {platform.python_version()}",
        "seed": SEED,
        "settings_chosen_on_seed": CHOSEN_ON,
        "walks_a_row": walks,
        "stops": stops(walks),
        "over_moves_with_and_without_notes": over_moves(max(1, walks // 2)),
        "over_stays": over_stays(walks),
        "ellipses_hold_at_best_untold": within_reach(3 if quick else 30),
        "speed": speed(),
        "matching": survey_matching.measure(1 if quick else 6, SEED),
        "network": survey_network.measure(quick=quick),
        "peak_mb_of_the_process_by_getrusage": round(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024, 1),
    }


if __name__ == "__main__":
    print(json.dumps(measure(quick="--quick" in sys.argv[1:]), indent=1))
