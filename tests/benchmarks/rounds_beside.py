"""General solvers on the same instance in the same seconds, to measure the engine of `round` beside them.

Each imports what it needs within the time that it is given.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Any

import numpy as np

from tests.outside.route_files import Instance

Routes = list[list[int]]
"""For each trip its places, without the depot; for one closed walk all places."""


def or_tools(instance: Instance, seconds: float, seed: int) -> Routes:  # noqa: ARG001 - it has no seed
    """Return what OR-Tools' routing library finds: savings (or cheapest arcs) first, then guided local search."""
    began = time.perf_counter()
    from ortools.constraint_solver import pywrapcp, routing_enums_pb2

    count = len(instance.nodes)
    vehicles = count - 1 if instance.in_trips else 1
    manager = pywrapcp.RoutingIndexManager(count, vehicles, 0)
    model = pywrapcp.RoutingModel(manager)
    model.SetArcCostEvaluatorOfAllVehicles(model.RegisterTransitMatrix(instance.cost.tolist()))
    if instance.in_trips:
        load = model.RegisterUnaryTransitVector([0, *instance.loads.tolist()])
        model.AddDimension(load, 0, instance.capacity, True, "load")
    first = routing_enums_pb2.FirstSolutionStrategy
    search = pywrapcp.DefaultRoutingSearchParameters()
    search.first_solution_strategy = first.SAVINGS if instance.in_trips else first.PATH_CHEAPEST_ARC
    search.local_search_metaheuristic = routing_enums_pb2.LocalSearchMetaheuristic.GUIDED_LOCAL_SEARCH
    search.time_limit.FromMilliseconds(max(1, int(1000 * (seconds - (time.perf_counter() - began)))))
    found = model.SolveWithParameters(search)
    if found is None:
        return []
    routes = []
    for vehicle in range(vehicles):
        at, route = model.Start(vehicle), []
        while not model.IsEnd(at):
            route.append(manager.IndexToNode(at))
            at = found.Value(model.NextVar(at))
        routes.append(route[1:] if instance.in_trips else route)
    return [route for route in routes if route]


def pyvrp_alone(instance: Instance, seconds: float, seed: int) -> Routes:
    """Return what PyVRP finds with everything as it comes."""
    began = time.perf_counter()
    from pyvrp import solve
    from pyvrp.stop import MaxRuntime

    from standmap.rounds.trip_search import as_asked

    in_trips = instance.in_trips
    loads = instance.loads if in_trips else np.zeros(len(instance.nodes) - 1, dtype=np.int64)
    data = as_asked(instance.cost.astype(np.float64), loads, instance.capacity, vehicles=len(loads) if in_trips else 1)
    stop = MaxRuntime(seconds - (time.perf_counter() - began))
    best = solve(data, stop, seed=seed, collect_stats=False, display=False).best
    routes = [[visit.idx + 1 for visit in route if visit.is_client()] for route in best.routes()]
    return routes if in_trips else [[0, *route] for route in routes]


BESIDE: dict[str, Callable[[Instance, float, int], Routes]] = {"or_tools": or_tools, "pyvrp": pyvrp_alone}


def cost_of(instance: Instance, routes: Routes) -> int:
    """Return what routes cost, after a look whether they are whole and light enough.

    Raises
    ------
    ValueError
        If a place is missing, visited twice, or a trip too heavy.
    """
    places = sorted(place for route in routes for place in route)
    if places != list(range(1 if instance.in_trips else 0, len(instance.nodes))):
        raise ValueError(f"{instance.name}: not every place is visited once")
    if not instance.in_trips:
        (route,) = routes
        return int(instance.cost[route, np.roll(route, -1)].sum())
    if any(instance.loads[np.array(route) - 1].sum() > instance.capacity for route in routes):
        raise ValueError(f"{instance.name}: a trip is too heavy")
    return int(sum(instance.cost[[0, *route], [*route, 0]].sum() for route in routes))


def answer(
    instance: Instance, best: float | None, solver: Callable[[Instance, float, int], Routes], seconds: float, seed: int
) -> dict[str, Any]:
    """Return what a solver found, checked, as plain data; routes by the file's numbers, without the depot."""
    began = time.perf_counter()
    routes = solver(instance, seconds, seed)
    spent = time.perf_counter() - began
    cost = cost_of(instance, routes) if routes else None
    gap = None if best is None or not best or cost is None else round(100 * (cost / best - 1), 4)
    return {
        "name": instance.name,
        "cost": cost,
        "best_known": best if best is None or best % 1 else int(best),
        "gap_percent": gap,
        "seconds": round(spent, 3),
        "routes": [[instance.nodes[place] for place in route] for route in routes],
    }
