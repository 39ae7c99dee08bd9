"""A sledge or barrow keeps to paths: where it is left, and how far one goes on from there on foot."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace

from standmap.jobs.planned_round import Todo
from standmap.jobs.round_stops import PRACTICE, AskedStop, LeftOut
from standmap.rounds.ground import Ground, Xy
from standmap.rounds.hiking import Pace
from standmap.rounds.walking import walking

NO_PATH = "no path that is joined to where the walk starts leads near it, for a sledge or barrow"

THERE_AND_BACK = 2


def by_barrow(
    stops: Mapping[str, AskedStop], spots: Mapping[str, Xy], depot: Xy, ground: Ground, pace: Pace
) -> tuple[dict[str, AskedStop], tuple[LeftOut, ...]]:
    """Return the stops that a sledge or barrow serves, with the way on foot in them, and those that it cannot reach.

    Parameters
    ----------
    spots
        Where the stops are, by their keys, metres in the frame of the ground.
    """
    feet = walking((depot, *(spots[key] for key in stops)), ground, pace, paths_only=True).feet[1:]
    served: dict[str, AskedStop] = {}
    gone: list[LeftOut] = []
    for (key, stop), foot in zip(stops.items(), feet, strict=True):
        if not math.isfinite(foot.minutes):
            gone.append((stop.tree.name, NO_PATH))
            continue
        leave = Todo(f"leave the sledge or barrow on the path, {foot.metres:.0f} m off", PRACTICE)
        served[key] = replace(stop, on_foot_min=THERE_AND_BACK * foot.minutes, todo=(leave, *stop.todo))
    return served, tuple(gone)
