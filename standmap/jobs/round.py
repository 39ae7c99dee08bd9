"""Tomorrow's collection walk: which vessels, in which order, with which loads."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import date
from typing import TYPE_CHECKING, Protocol

import numpy as np
from numpy.typing import NDArray

from standmap.jobs.planned_round import PlannedRound, PlannedTrip, RoundStop
from standmap.jobs.round_asked import NothingToCollect, all_left_out
from standmap.jobs.round_options import CAN_KG, CAPACITY_BOUNDS_KG, CAPACITY_KG, RoundOptions
from standmap.jobs.round_posed import PosedRound, pose_round
from standmap.messages import Messages
from standmap.progress import Progress, Unwatched
from standmap.stand.records import Plan
from standmap.stand.snapshot import Stand
from standmap.stand.tree import LonLat

if TYPE_CHECKING:
    from standmap.rounds.problem import RoundProblem
    from standmap.rounds.round import Round
    from standmap.rounds.stop import StopRule
    from standmap.survey.frame import WorkingFrame

__all__ = [
    "CAN_KG",
    "CAPACITY_BOUNDS_KG",
    "CAPACITY_KG",
    "NothingToCollect",
    "PosedRound",
    "RoundOptions",
    "plan_posed",
    "plan_round",
    "planned",
    "pose_round",
]


class Solver(Protocol):
    """What finds a round: `rounds.solve.plan` here, or `solving.solve_apart` in a process of its own."""

    def __call__(
        self,
        problem: RoundProblem,
        *,
        stop: StopRule | None,
        seed: int,
        progress: Progress | None,
        on_best: Callable[[Round], None] | None,
    ) -> Round:
        """Return the best round found; see `rounds.solve.plan`."""


def plan_round(
    stand: Stand,
    day: date,
    options: RoundOptions,
    *,
    stop: StopRule | None = None,
    messages: Messages | None = None,
    progress: Progress | None = None,
    on_best: Callable[[PlannedRound], None] | None = None,
    plans: Iterable[Plan] = (),
) -> PlannedRound:
    """Plan the walk of a day: `pose_round`, then `plan_posed`.

    Raises
    ------
    UserError
        If an option is out of bounds or there is no gate or tank.
    NothingToCollect
        If there is nothing to collect; the reason is said.
    """
    posed = pose_round(stand, day, options, messages, plans=plans)
    return plan_posed(posed, stop=stop, progress=progress, on_best=on_best)


def plan_posed(
    posed: PosedRound,
    *,
    stop: StopRule | None = None,
    progress: Progress | None = None,
    on_best: Callable[[PlannedRound], None] | None = None,
    solver: Solver | None = None,
) -> PlannedRound:
    """Find the round of a posed problem.

    Parameters
    ----------
    stop
        When to be content; the solver's own rule when absent.
    progress
        A wish to stop keeps the best whole round found so far.
    on_best
        Told of each better round while the search goes on.
    solver
        `rounds.solve.plan` when absent.

    Raises
    ------
    NothingToCollect
        If no vessel can be reached and carried.
    """
    from standmap.rounds.solve import plan

    def tell(best: Round) -> None:
        if on_best is not None and best.trips:
            on_best(planned(posed, best))

    search: Solver = plan if solver is None else solver
    solved = search(
        posed.problem,
        stop=stop,
        seed=posed.seed,
        progress=progress or Unwatched(),
        on_best=None if on_best is None else tell,
    )
    if not solved.trips:
        left_out = _left_out(posed, solved)
        raise NothingToCollect(all_left_out(posed.day, left_out, posed.options.purpose), left_out)
    return planned(posed, solved)


def planned(posed: PosedRound, solved: Round) -> PlannedRound:
    """Return a round that has trips, in the words of the stand."""
    return PlannedRound(
        day=posed.day,
        start=posed.start,
        seed=posed.seed,
        repeatable=solved.repeatable,
        proved=solved.proved,
        stopped=solved.stopped,
        length_m=solved.length_m,
        minutes=max(_minutes_of(solved).values()),
        trips=_trips(posed, solved),
        left_out=_left_out(posed, solved),
    )


def _left_out(posed: PosedRound, solved: Round) -> tuple[tuple[str, str], ...]:
    return (*posed.left_out, *((posed.stops[out.key].tree.name, out.why) for out in solved.left_out))


def _trips(posed: PosedRound, solved: Round) -> tuple[PlannedTrip, ...]:
    frame = posed.frame
    trips = []
    order = 0
    for number, trip in enumerate(solved.trips, start=1):
        stops = []
        for visit in trip.visits:
            order += 1
            stop = posed.stops[visit.key]
            tree = stop.tree
            turn = float(frame.convergence_deg(np.asarray([tree.at[0]]), np.asarray([tree.at[1]]))[0])
            bearing = (np.degrees(visit.bearing_rad) + turn) % 360
            stops.append(
                RoundStop(
                    order=order,
                    tree=tree,
                    hole=stop.hole,
                    litres=stop.litres,
                    load_kg=visit.load_kg,
                    leg_m=visit.leg_m,
                    bearing_true_deg=float(bearing),
                    bends=visit.bends,
                    minutes=visit.arrive_min,
                    key=stop.key,
                    hole_number=stop.hole_number,
                    high_l=stop.high_l,
                    todo=stop.todo,
                    cautions=stop.cautions,
                )
            )
        line = np.asarray(trip.course, dtype=np.float64)
        course = _lonlat(frame, line)
        trips.append(
            PlannedTrip(number, trip.collector, trip.length_m, trip.minutes, trip.max_load_kg, tuple(stops), course)
        )
    return tuple(trips)


def _minutes_of(solved: Round) -> dict[int, float]:
    """Return how long each collector is under way."""
    minutes: dict[int, float] = {}
    for trip in solved.trips:
        minutes[trip.collector] = minutes.get(trip.collector, 0.0) + trip.minutes
    return minutes


def _lonlat(frame: WorkingFrame, line: NDArray[np.float64]) -> tuple[LonLat, ...]:
    lon, lat = frame.to_lonlat(line[:, 0], line[:, 1])
    return tuple((float(x), float(y)) for x, y in zip(lon, lat, strict=True))
