"""Reads route instances in TSPLIB's and CVRPLIB's format; those kept in tests/data/ have sources and terms beside them.

The format is that of G. Reinelt, "TSPLIB 95" (its documentation, from memory): head lines `KEY : value`, then sections.
Legs are whole numbers, rounded as the instance's EDGE_WEIGHT_TYPE says; CVRPLIB's EUC_2D is rounded in the same way.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

DATA = Path(__file__).parents[1] / "data"

OPTIMA = {"a280": 2579, "berlin52": 7542, "eil51": 426, "kroA100": 21282}
"""Shortest closed walks as TSPLIB95 lists them (Reinelt 1991)."""

BEST_TRIPS = {"A-n32-k5": 784, "E-n22-k4": 375, "X-n101-k25": 27591}
"""Optimal (the first two, as their files say) or best known costs (CVRPLIB)."""

Floats = NDArray[np.float64]

RULES: dict[str, Callable[[Floats, Floats], Floats]] = {
    "EUC_2D": lambda x, y: np.floor(np.hypot(x, y) + 0.5),
    "CEIL_2D": lambda x, y: np.ceil(np.hypot(x, y)),
    "MAN_2D": lambda x, y: np.floor(np.abs(x) + np.abs(y) + 0.5),
    "MAX_2D": lambda x, y: np.floor(np.maximum(np.abs(x), np.abs(y)) + 0.5),
    "ATT": lambda x, y: np.ceil(np.sqrt((x * x + y * y) / 10)),
}
"""From differences of coordinates to the cost of a leg."""

READ_SECTIONS = {"NODE_COORD_SECTION", "DEMAND_SECTION", "DEPOT_SECTION"}
SHOWN_ONLY = {"DISPLAY_DATA_SECTION"}

FOREIGN_KEYS = {
    "DISTANCE": "a longest trip",
    "SERVICE_TIME": "time at the stops",
    "FIXED_EDGES_SECTION": "legs that have to be walked",
    "EDGE_DATA_SECTION": "legs that are the only ones",
    "TIME_WINDOW_SECTION": "hours at the stops",
    "PICKUP_AND_DELIVERY_SECTION": "pairs of stops",
    "BACKHAUL_SECTION": "an order of stops",
}
"""What the engine's two questions do not know."""

TOLD_IN_COMMENT = re.compile(
    r"(?:optimal|optimum|best)(?:\s+known)?(?:\s+(?:value|solution|cost))?\s*[:=]\s*(\d[\d.]*)", re.IGNORECASE
)


COST_LINE = re.compile(r"^\s*cost\s*:?\s*([\d.]+)", re.IGNORECASE | re.MULTILINE)


@dataclass(frozen=True, eq=False)
class Instance:
    """Whole costs between all places; for trips also what each place but the first asks, and what a vehicle holds.

    Attributes
    ----------
    name
        The file's stem.
    nodes
        Numbers of the places as in the file; the depot comes first.
    cost
        Shape (n, n).
    loads
        Shape (n - 1,), or (0,) for one closed walk.
    capacity
        0 for one closed walk.
    comment
        What the file says of itself.
    """

    name: str
    nodes: tuple[int, ...]
    cost: NDArray[np.int64]
    loads: NDArray[np.int64]
    capacity: int
    comment: str

    @property
    def in_trips(self) -> bool:
        """Whether places ask for something and a vehicle holds only so much."""
        return self.capacity > 0


def read_file(path: Path) -> Instance:
    """Read a TSP or CVRP file.

    Raises
    ------
    ValueError
        If something in it is not understood, or the engine has no such question; the line is named.
    """
    head, rows = _parts(path)
    kind = head.get("TYPE", "CVRP" if "CAPACITY" in head else "TSP").split()[0].upper()
    rule = head.get("EDGE_WEIGHT_TYPE", "EUC_2D").upper()
    if kind not in ("TSP", "CVRP"):
        raise ValueError(f"{path.name}: TYPE {kind} is neither TSP nor CVRP")
    if rule not in RULES:
        raise ValueError(f"{path.name}: EDGE_WEIGHT_TYPE {rule} is none of {', '.join(RULES)}")
    points = {int(row[0]): (row[1], row[2]) for row in rows["NODE_COORD_SECTION"] if len(row) >= 3}
    if not points or len(points) != len(rows["NODE_COORD_SECTION"]):
        raise ValueError(f"{path.name}: every line of NODE_COORD_SECTION needs a number of its own and two coordinates")
    if int(head.get("DIMENSION", len(points))) != len(points):
        raise ValueError(f"{path.name}: DIMENSION {head['DIMENSION']}, but {len(points)} places")
    nodes = list(points)
    loads, capacity = np.zeros(0, dtype=np.int64), 0
    if kind == "CVRP":
        nodes, loads, capacity = _asked(path, head, rows, nodes)
    xy = np.array([points[node] for node in nodes])
    cost = RULES[rule](xy[:, None, 0] - xy[None, :, 0], xy[:, None, 1] - xy[None, :, 1]).astype(np.int64)
    np.fill_diagonal(cost, 0)
    return Instance(path.stem, tuple(nodes), cost, loads, capacity, head.get("COMMENT", ""))


def _parts(path: Path) -> tuple[dict[str, str], dict[str, list[list[float]]]]:
    """Return the head's values and the rows of numbers of each section."""
    head: dict[str, str] = {}
    rows: dict[str, list[list[float]]] = {name: [] for name in READ_SECTIONS | SHOWN_ONLY}
    section = ""
    for number, line in enumerate(path.read_text(encoding="utf-8", errors="replace").splitlines(), start=1):
        words = line.split()
        if not words:
            continue
        if not re.match(r"[A-Za-z]", words[0]):
            if not section:
                raise ValueError(f"{path.name}, line {number}: numbers before any section")
            try:
                rows[section].append([float(word) for word in words])
            except ValueError:
                raise ValueError(f"{path.name}, line {number}: not a row of numbers") from None
            continue
        key, _, value = (part.strip() for part in line.partition(":"))
        if not value and " " in key and not key.endswith("_SECTION"):
            key, _, value = (part.strip() for part in key.partition(" "))
        key = key.upper()
        if key == "EOF":
            break
        if key in FOREIGN_KEYS:
            raise ValueError(f"{path.name}, line {number}: {key}: {FOREIGN_KEYS[key]} cannot be asked of the engine")
        if key.endswith("_SECTION"):
            if key not in rows:
                raise ValueError(f"{path.name}, line {number}: {key} is not understood")
            section = key
        else:
            head[key] = f"{head[key]} {value}" if key in head else value
    return head, rows


def _asked(
    path: Path, head: dict[str, str], rows: dict[str, list[list[float]]], nodes: list[int]
) -> tuple[list[int], NDArray[np.int64], int]:
    """Return the places, the depot first, what the others ask, and what a vehicle holds."""
    asked = {int(row[0]): row[1] for row in rows["DEMAND_SECTION"] if len(row) == 2}
    depots = [int(value) for row in rows["DEPOT_SECTION"] for value in row if value >= 0]
    if len(depots) > 1:
        raise ValueError(f"{path.name}: {len(depots)} depots, the engine knows one")
    depot = depots[0] if depots else nodes[0]
    if "CAPACITY" not in head or depot not in nodes or set(asked) | {depot} != set(nodes):
        raise ValueError(f"{path.name}: CAPACITY, a depot and a demand of every place are needed")
    capacity = int(float(head["CAPACITY"]))
    nodes = [depot, *(node for node in nodes if node != depot)]
    loads = np.array([asked[node] for node in nodes[1:]])
    if (loads != np.rint(loads)).any() or (loads < 0).any() or (loads > capacity).any() or capacity <= 0:
        raise ValueError(f"{path.name}: demands have to be whole numbers between 0 and the capacity")
    return nodes, loads.astype(np.int64), capacity


def best_known(path: Path, instance: Instance) -> float | None:
    """Return the best known cost: from a tour or solution beside the file, its comment or the lists in tests/data/."""
    beside = path.with_name(f"{path.stem}.opt.tour")
    if beside.exists():
        at = {node: place for place, node in enumerate(instance.nodes)}
        return walked(instance.cost, [at[node] for node in _tour(beside)])
    beside = path.with_suffix(".sol")
    if beside.exists() and (
        found := re.search(r"^\s*cost\s*:?\s*([\d.]+)", beside.read_text(), re.IGNORECASE | re.MULTILINE)
    ):
        return float(found[1])
    if found := TOLD_IN_COMMENT.search(instance.comment):
        return float(found[1].rstrip("."))
    with (DATA / ("cvrp" if instance.in_trips else "tsp") / "best_known.csv").open(encoding="utf-8") as file:
        listed = {row["name"]: float(row["cost"]) for row in csv.DictReader(file)}
    return listed.get(path.stem)


def read_instance(folder: str, name: str) -> Instance:
    """Read an instance kept in tests/data/."""
    (path,) = [p for p in (DATA / folder).glob(f"{name}.*") if p.suffix in (".tsp", ".vrp")]
    return read_file(path)


def read_tour(name: str) -> list[int]:
    """Read a published optimal walk, places from 0."""
    return [node - 1 for node in _tour(DATA / "tsp" / f"{name}.opt.tour")]


def _tour(path: Path) -> list[int]:
    words = path.read_text().split("TOUR_SECTION")[1].split()
    return [int(w) for w in words[: words.index("-1")]]


def read_trips(name: str) -> list[list[int]]:
    """Read published trips, places from 1, the depot being 0."""
    lines = (DATA / "cvrp" / f"{name}.sol").read_text().splitlines()
    return [[int(w) for w in line.split(":")[1].split()] for line in lines if line.startswith("Route")]


def walked(cost: NDArray[np.int64], order: list[int]) -> int:
    """Return the cost of a closed walk."""
    return int(sum(cost[a, b] for a, b in zip(order, [*order[1:], order[0]], strict=True)))
