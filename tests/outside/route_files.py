"""Reads the published route instances kept in tests/data/; sources and terms stand beside the files."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

DATA = Path(__file__).parents[1] / "data"

OPTIMA = {"a280": 2579, "berlin52": 7542, "eil51": 426, "kroA100": 21282}
"""Shortest closed walks as TSPLIB95 lists them (Reinelt 1991)."""

BEST_TRIPS = {"A-n32-k5": 784, "E-n22-k4": 375, "X-n101-k25": 27591}
"""Optimal (the first two, as their files say) or best known costs (CVRPLIB)."""


@dataclass(frozen=True, eq=False)
class Instance:
    """Whole costs between all places; for trips also what each place but the first asks, and what a vehicle holds."""

    cost: NDArray[np.int64]
    loads: NDArray[np.int64]
    capacity: int


def read_instance(folder: str, name: str) -> Instance:
    """Read an EUC_2D instance; each leg is int(sqrt(dx^2 + dy^2) + 0.5)."""
    (path,) = [p for p in (DATA / folder).glob(f"{name}.*") if p.suffix in (".tsp", ".vrp")]
    points: dict[int, tuple[float, float]] = {}
    loads: dict[int, int] = {}
    capacity = 0
    section = ""
    for line in path.read_text().splitlines():
        words = line.replace(":", " ").split()
        if not words:
            continue
        if words[0].isalpha() or "_" in words[0] or words[0] == "EOF":
            section = words[0]
            if section == "CAPACITY":
                capacity = int(words[1])
            if section == "EDGE_WEIGHT_TYPE":
                assert words[1] == "EUC_2D"
        elif section == "NODE_COORD_SECTION":
            points[int(words[0])] = (float(words[1]), float(words[2]))
        elif section == "DEMAND_SECTION":
            loads[int(words[0])] = int(words[1])
    xy = np.array([points[i] for i in sorted(points)])
    away = np.hypot(xy[:, None, 0] - xy[None, :, 0], xy[:, None, 1] - xy[None, :, 1])
    asked = [loads[i] for i in sorted(loads)]
    assert not asked or asked[0] == 0  # the depot is the first place
    return Instance((away + 0.5).astype(np.int64), np.array(asked[1:], dtype=np.int64), capacity)


def read_tour(name: str) -> list[int]:
    """Read a published optimal walk, places from 0."""
    words = (DATA / "tsp" / f"{name}.opt.tour").read_text().split("TOUR_SECTION")[1].split()
    return [int(w) - 1 for w in words[: words.index("-1")]]


def read_trips(name: str) -> list[list[int]]:
    """Read published trips, places from 1, the depot being 0."""
    lines = (DATA / "cvrp" / f"{name}.sol").read_text().splitlines()
    return [[int(w) for w in line.split(":")[1].split()] for line in lines if line.startswith("Route")]


def walked(cost: NDArray[np.int64], order: list[int]) -> int:
    """Return the cost of a closed walk."""
    return int(sum(cost[a, b] for a, b in zip(order, [*order[1:], order[0]], strict=True)))
