"""How well stops are found in simulated walks, and how long it takes: prints JSON.

Run `python tests/benchmarks/stops.py`. A walk is 60 trees with moves of 15-40 m at 0.8-1.2 m/s and stays of
40 s, one fix a second. Its noise is first-order Gauss-Markov, equal on both axes, with an echo every two minutes
on average: a leap of 8-25 m for 2-12 s. A tree counts as found when one found stop covers at least half of its
stay; a found stop that covers no stay so is false. Position errors are two-dimensional (radial) root mean
squares, beside the plain mean of all fixes of the same trees' true stays. `in_ellipse_pct` says how often the
stated 95 % ellipse held the tree: with the accuracy told by the receiver (here: rightly), and untold.
"""

from __future__ import annotations

import json
import math
import platform
import time
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from standmap.stand.walks import Fixes
from standmap.survey.frame import WorkingFrame
from standmap.survey.stops import FoundStop, find_stops

Array = NDArray[np.float64]
FRAME = WorkingFrame(27.6, 61.9)
CHI2_95_OF_TWO = -2 * math.log(0.05)
START_S = 1_775_000_000.0


@dataclass(frozen=True)
class Truth:
    """The stays of a simulated walk: begin and end in seconds, x and y in metres; columns of shape (trees,)."""

    begin: Array
    end: Array
    x: Array
    y: Array


def walk(
    rng: np.random.Generator,
    sigma_m: float,
    time_s: float,
    *,
    trees: int = 60,
    stay_s: tuple[float, float] = (40.0, 40.0),
    move_m: tuple[float, float] = (15.0, 40.0),
    speed_m_s: tuple[float, float] = (0.8, 1.2),
    every_s: float = 1.0,
    echoes: bool = True,
    told: bool = False,
) -> tuple[Fixes, Truth]:
    """Return the fixes of an invented walk and the truth about it."""
    at_s, x, y, heading = 0.0, 0.0, 0.0, rng.uniform(0, 2 * math.pi)
    knots = [(at_s, x, y)]
    stays = []
    for _ in range(trees):
        heading += rng.normal(0, 0.8)
        far = rng.uniform(*move_m)
        # Turn back before the walk leaves its wood.
        if math.hypot(x, y) > 1500:
            heading = math.atan2(-y, -x)
        x, y = x + far * math.cos(heading), y + far * math.sin(heading)
        at_s += far / rng.uniform(*speed_m_s)
        stay = rng.uniform(*stay_s)
        stays.append((at_s, at_s + stay, x, y))
        knots += [(at_s, x, y), (at_s + stay, x, y)]
        at_s += stay
    t = np.arange(0.0, at_s + 20.0, every_s)
    k = np.array(knots)
    px = np.interp(t, k[:, 0], k[:, 1]) + gauss_markov(rng, t, sigma_m, time_s)
    py = np.interp(t, k[:, 0], k[:, 2]) + gauss_markov(rng, t, sigma_m, time_s)
    if echoes:
        for begin in np.cumsum(rng.exponential(120.0, int(at_s / 40) + 3)):
            hit = (t >= begin) & (t < begin + rng.uniform(2, 12))
            way, far = rng.uniform(0, 2 * math.pi), rng.uniform(8, 25)
            px[hit] += far * math.cos(way)
            py[hit] += far * math.sin(way)
    lon, lat = FRAME.to_lonlat(px, py)
    nothing = np.full(len(t), np.nan)
    sigma = np.full(len(t), sigma_m if told else np.nan)
    fixes = Fixes(lon, lat, START_S + t, sigma, nothing, np.zeros(len(t), dtype=np.int32))
    s = np.array(stays)
    return fixes, Truth(START_S + s[:, 0], START_S + s[:, 1], s[:, 2], s[:, 3])


def gauss_markov(rng: np.random.Generator, t: Array, sigma_m: float, time_s: float) -> Array:
    """Return first-order Gauss-Markov noise at ascending times."""
    kept = np.exp(-np.diff(t, prepend=t[0] - 1e9) / time_s)
    shocks = rng.normal(0.0, 1.0, len(t)) * sigma_m * np.sqrt(1 - kept**2)
    noise = np.empty(len(t))
    now = 0.0
    for i in range(len(t)):
        now = kept[i] * now + shocks[i]
        noise[i] = now
    return noise


def matched(found: list[FoundStop], truth: Truth) -> tuple[dict[int, FoundStop], int]:
    """Return the found stop of each found tree, and how many found stops are false."""
    hits: dict[int, FoundStop] = {}
    false = 0
    for stop in found:
        shared = np.minimum(stop.to_s, truth.end) - np.maximum(stop.from_s, truth.begin)
        tree = int(shared.argmax())
        if tree not in hits and shared[tree] >= 0.5 * (truth.end[tree] - truth.begin[tree]):
            hits[tree] = stop
        else:
            false += 1
    return hits, false


def in_ellipse(stop: FoundStop, dx: float, dy: float) -> bool:
    """Return whether an error lies within the stated 95 % ellipse."""
    det = stop.var_e_m2 * stop.var_n_m2 - stop.cov_en_m2**2
    d2 = (stop.var_n_m2 * dx**2 - 2 * stop.cov_en_m2 * dx * dy + stop.var_e_m2 * dy**2) / det
    return bool(d2 <= CHI2_95_OF_TWO)


def score(sigma_m: float, time_s: float, walks: int, seed: int, **kind: object) -> dict[str, float]:
    """Return found and false in percent, root mean square errors and how often the ellipses hold."""
    trees = hits = false = 0
    held = {True: 0, False: 0}
    ours, plain = [], []
    for number in range(walks):
        for told in (True, False):
            rng = np.random.default_rng([seed, round(10 * sigma_m), round(time_s), number])
            fixes, truth = walk(rng, sigma_m, time_s, told=told, **kind)  # type: ignore[arg-type]
            found, wrong = matched(find_stops(fixes, FRAME), truth)
            for tree, stop in found.items():
                dx, dy = stop.x - truth.x[tree], stop.y - truth.y[tree]
                held[told] += in_ellipse(stop, dx, dy)
                if not told:
                    during = (fixes.time_s >= truth.begin[tree]) & (fixes.time_s <= truth.end[tree])
                    mx, my = FRAME.to_xy(fixes.lon[during], fixes.lat[during])
                    ours.append(dx**2 + dy**2)
                    plain.append((mx.mean() - truth.x[tree]) ** 2 + (my.mean() - truth.y[tree]) ** 2)
            if not told:
                trees, hits, false = trees + len(truth.x), hits + len(found), false + wrong
    return {
        "sigma_m": sigma_m,
        "correlation_s": time_s,
        "found_pct": round(100 * hits / trees, 2),
        "false_pct": round(100 * false / max(1, hits + false), 2),
        "rms_m": round(math.sqrt(np.mean(ours)), 2) if ours else math.nan,
        "plain_mean_rms_m": round(math.sqrt(np.mean(plain)), 2) if plain else math.nan,
        "in_ellipse_pct_told": round(100 * held[True] / max(1, hits), 1),
        "in_ellipse_pct_untold": round(100 * held[False] / max(1, hits), 1),
    }


def speed() -> dict[str, float]:
    """Return the seconds for 50,000 fixes, beside a bare projection of the same fixes to metres."""
    fixes, _ = walk(np.random.default_rng(7), 4.0, 60.0, trees=740)
    many = slice(0, 50_000)
    fixes = Fixes(
        *(getattr(fixes, name)[many] for name in ("lon", "lat", "time_s", "sigma_m", "elevation_m", "segment"))
    )
    FRAME.to_xy(fixes.lon, fixes.lat)
    began = time.perf_counter()
    FRAME.to_xy(fixes.lon, fixes.lat)
    bare = time.perf_counter() - began
    began = time.perf_counter()
    stops = find_stops(fixes, FRAME)
    return {
        "fixes": len(fixes),
        "stops": len(stops),
        "seconds": round(time.perf_counter() - began, 3),
        "bare_projection_seconds": round(bare, 3),
    }


def measure(walks: int = 12, seed: int = 20260328) -> dict[str, object]:
    """Return everything that this benchmark measures."""
    grid = [score(s, t, walks, seed) for s in (2.0, 4.0, 8.0) for t in (10.0, 30.0, 60.0, 100.0, 300.0)]
    calm = [score(4.0, t, walks, seed, echoes=False) for t in (30.0, 100.0, 300.0)]
    mixed = [score(4.0, t, walks, seed, stay_s=(25.0, 120.0), speed_m_s=(0.6, 1.4)) for t in (30.0, 100.0, 300.0)]
    return {
        "trees_a_row": 60 * walks,
        "machine": f"{platform.machine()}, Python {platform.python_version()}",
        "stays_of_40_s": grid,
        "stays_of_40_s_without_echoes": calm,
        "stays_of_25_to_120_s": mixed,
        "speed": speed(),
    }


if __name__ == "__main__":
    print(json.dumps(measure(), indent=1))
