"""Walks whose truth is known: trees visited in turn, seen through the noise of a receiver.

The noise is first-order Gauss-Markov, equal on both axes, with an echo every two minutes on average: a leap of
8-25 m for 2-12 s. There is a fix a second.
"""

from __future__ import annotations

import csv
import math
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from standmap.stand.walks import Fixes
from standmap.survey.frame import WorkingFrame
from standmap.survey.settings import StopSettings
from standmap.survey.stops import FoundStop, Mark

Array = NDArray[np.float64]
FRAME = WorkingFrame(27.6, 61.9)
CHI2_95_OF_TWO = -2 * math.log(0.05)
START_S = 1_775_000_000.0
STANDS = Path(__file__).parents[1] / "data" / "stand"


@dataclass(frozen=True)
class Truth:
    """The stays of a simulated walk: begin and end in seconds, x and y in metres; columns of shape (trees,)."""

    begin: Array
    end: Array
    x: Array
    y: Array


def invented(rng: np.random.Generator, trees: int, move_m: tuple[float, float]) -> Array:
    """Return places of trees in the order of the walk, shape (trees, 2): on and on, with gentle turns."""
    x, y, heading = 0.0, 0.0, rng.uniform(0, 2 * math.pi)
    places = []
    for _ in range(trees):
        heading += rng.normal(0, 0.8)
        far = rng.uniform(*move_m)
        # Turn back before the walk leaves its wood.
        if math.hypot(x, y) > 1500:
            heading = math.atan2(-y, -x)
        x, y = x + far * math.cos(heading), y + far * math.sin(heading)
        places.append((x, y))
    return np.array(places)


def real(rng: np.random.Generator, name: str, trees: int, least_m: float = 0.0) -> Array:
    """Return places in a mapped stand as a tapper visits them: always the nearest tree not yet visited.

    Parameters
    ----------
    least_m
        Trees nearer than this to the last one are passed by.
    """
    with (STANDS / name).open(encoding="utf-8") as file:
        at = np.unique([(float(row["x_m"]), float(row["y_m"])) for row in csv.DictReader(file)], axis=0)
    left = np.ones(len(at), dtype=bool)
    here = int(rng.integers(len(at)))
    order = [here]
    left[here] = False
    while len(order) < trees:
        away = np.hypot(*(at - at[here]).T)
        possible = left & (away >= least_m)
        if not possible.any():
            break
        here = int(np.where(possible, away, np.inf).argmin())
        order.append(here)
        left[here] = False
    return np.asarray(at[order])


def walk_to(
    rng: np.random.Generator,
    places: Array,
    sigma_m: float,
    time_s: float,
    *,
    stay_s: tuple[float, float] = (40.0, 40.0),
    speed_m_s: tuple[float, float] = (0.8, 1.2),
    every_s: float = 1.0,
    echoes: bool = True,
    told: bool = False,
) -> tuple[Fixes, Truth]:
    """Return the fixes of a walk to these places and the truth about it."""
    at_s, here = 0.0, places[0] - (20.0, 0.0)
    knots = [(at_s, *here)]
    stays = []
    for x, y in places:
        at_s += math.dist(here, (x, y)) / rng.uniform(*speed_m_s)
        stay = rng.uniform(*stay_s)
        stays.append((at_s, at_s + stay, x, y))
        knots += [(at_s, x, y), (at_s + stay, x, y)]
        at_s, here = at_s + stay, (x, y)
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


def walk(
    rng: np.random.Generator,
    sigma_m: float,
    time_s: float,
    *,
    trees: int = 60,
    move_m: tuple[float, float] = (15.0, 40.0),
    stay_s: tuple[float, float] = (40.0, 40.0),
    speed_m_s: tuple[float, float] = (0.8, 1.2),
    echoes: bool = True,
    told: bool = False,
) -> tuple[Fixes, Truth]:
    """Return the fixes of a walk to invented trees and the truth about it."""
    places = invented(rng, trees, move_m)
    return walk_to(rng, places, sigma_m, time_s, stay_s=stay_s, speed_m_s=speed_m_s, echoes=echoes, told=told)


def noted(rng: np.random.Generator, truth: Truth) -> list[Mark]:
    """Return a named note at some moment of the middle half of every stay."""
    at = truth.begin + rng.uniform(0.25, 0.75, len(truth.x)) * (truth.end - truth.begin)
    return [Mark(float(moment), f"B{tree}") for tree, moment in enumerate(at)]


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
    """Return the found stop of each found tree, and how many found stops are false.

    A tree is found when one stop covers at least half of its stay; a stop that covers no stay so is false.
    """
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
    """Return whether an error lies within the stated 95 % ellipse without the shift of the walk.

    Simulated walks have no shift, so with it the ellipses would hold too much and hide what is wrong with them.
    """
    var_e, var_n = (v - StopSettings().walk_drift_m ** 2 for v in (stop.var_e_m2, stop.var_n_m2))
    det = var_e * var_n - stop.cov_en_m2**2
    d2 = (var_n * dx**2 - 2 * stop.cov_en_m2 * dx * dy + var_e * dy**2) / det
    return bool(d2 <= CHI2_95_OF_TWO)
