"""Walking costs over mapped ground measured: seconds, and how far the quickest ways are from those of a finer search.

Prints JSON. The ground is invented: 500 x 500 m with two streams, two bridges and a ford, three no-go areas, a hazard,
three paths, and heights every 5 m.
"""

from __future__ import annotations

import argparse
import json
import time

import numpy as np
import shapely
from numpy.typing import NDArray

from standmap.rounds import lattice, way_graph
from standmap.rounds.barriers import barriers
from standmap.rounds.ground import Course, Crossing, Ground, Hazard, NoGo, Xy
from standmap.rounds.heights import Heights
from standmap.rounds.walking import Walking, walking

SEED = 20260328
SIDE_M = 500.0
CELL_M = 5.0
RELIEFS = {"level": None, "gentle": 0.4, "steep": 1.0}
"""Part of the full relief, whose slopes reach about 3 in 5."""


def points(table: NDArray[np.float64]) -> tuple[Xy, ...]:
    """Return the rows of a table as points."""
    return tuple((float(x), float(y)) for x, y in table)


def relief(part: float) -> Heights:
    """Return waves of 440 m with ridges of 155 m on a slope."""
    east = np.arange(-50.0, SIDE_M + 51, CELL_M)
    x, y = np.meshgrid(east, east)
    z = 25 * np.sin(x / 70) * np.cos(y / 90) + 0.08 * x + 10 * np.sin((x + y) / 35)
    return Heights(-50.0, -50.0, CELL_M, (part * z).astype(np.float32))


def mapped(part: float | None) -> Ground:
    """Return the ground."""
    rng = np.random.default_rng(SEED)
    t = np.linspace(0, SIDE_M, 60)
    brook = np.column_stack([t, 250 + 25 * np.sin(t / 40) + rng.normal(0, 1, 60)])
    ditch = np.column_stack([330 + 20 * np.sin(t[:30] / 30), 274 - 0.98 * t[:30]])
    mires = []
    for x, y, size in ((150, 120, 35), (380, 380, 45), (90, 400, 25)):
        turn = np.sort(rng.uniform(0, 2 * np.pi, 14))
        mires.append(NoGo((points(np.column_stack([x + size * np.cos(turn), y + size * np.sin(turn)])),), "mire"))
    paths = ([t, 100 + 30 * np.sin(t / 60)], [120 + 15 * np.sin(t / 50), t], [t, 330 + 0.2 * t])
    return Ground(
        streams=(Course(points(brook), "brook"), Course(points(ditch), "ditch")),
        crossings=(
            Crossing((120.0, 253.5), "planks"),
            Crossing((400.0, 236.4), "log"),
            Crossing((330.0, 120.0), "shallows", ford=True),
        ),
        no_go=tuple(mires),
        hazards=(Hazard((250.0, 150.0), "leaning spruce"),),
        paths=tuple(Course(points(np.column_stack(line)), "ride") for line in paths),
        heights=None if part is None else relief(part),
    )


def stops(count: int, ground: Ground) -> tuple[Xy, ...]:
    """Return places where one can stand."""
    shut = barriers(ground)
    xy = np.random.default_rng(SEED).uniform(0, SIDE_M, (2 * count, 2))
    return points(xy[~shut.touched(shapely.points(xy))][:count])


def finer(places: tuple[Xy, ...], ground: Ground) -> Walking:
    """Return the ways with points at every cell of the heights, and chords looked for from every place."""
    held = lattice.MOST_POINTS, lattice.MOST_PAIRS, way_graph.TAUTER, way_graph.ENOUGH_SPOTS
    lattice.MOST_POINTS, lattice.MOST_PAIRS, way_graph.TAUTER, way_graph.ENOUGH_SPOTS = 10**6, 10**9, 5, len(places)
    try:
        return walking(places, ground)
    finally:
        lattice.MOST_POINTS, lattice.MOST_PAIRS, way_graph.TAUTER, way_graph.ENOUGH_SPOTS = held


def measure(count: int = 200) -> dict[str, object]:
    """Return seconds for the cost matrix of so many stops, and by how much its ways are longer than finer ones."""
    found: dict[str, object] = {"stops": count, "side_m": SIDE_M, "cell_m": CELL_M, "seed": SEED}
    walking(((0.0, 0.0), (9.0, 9.0)), mapped(0.1))  # loads what is loaded late
    for name, part in RELIEFS.items():
        ground = mapped(part)
        places = stops(count, ground)
        started = time.perf_counter()
        ways = walking(places, ground)
        seconds = time.perf_counter() - started
        told: dict[str, object] = {"seconds": round(seconds, 2), "reached": float(np.isfinite(ways.minutes).mean())}
        if ground.heights is not None:
            rise, run = np.gradient(ground.heights.grid_m.astype(float), CELL_M)
            told["steepest_tenth_slope"] = round(float(np.quantile(np.hypot(rise, run), 0.9)), 3)
            best = finer(places, ground).minutes
            apart = np.isfinite(best) & (best > 0)
            longer = 100 * (ways.minutes[apart] / best[apart] - 1)
            told["percent_over_finer"] = {
                "mean": round(float(longer.mean()), 3),
                "p95": round(float(np.quantile(longer, 0.95)), 3),
                "most": round(float(longer.max()), 3),
                "least": round(float(longer.min()), 3),
            }
        found[name] = told
    return found


if __name__ == "__main__":
    parser = argparse.ArgumentParser()
    parser.add_argument("--stops", type=int, default=200)
    print(json.dumps(measure(parser.parse_args().stops), indent=2))
