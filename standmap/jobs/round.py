"""Tomorrow's collection walk: which vessels, in which order, with which loads."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import date
from typing import TYPE_CHECKING, Protocol

from standmap.jobs.planned_round import PlannedRound
from standmap.jobs.round_asked import NothingToCollect, all_left_out
from standmap.jobs.round_options import CAN_KG, CAPACITY_BOUNDS_KG, CAPACITY_KG, RoundOptions
from standmap.jobs.round_posed import PosedRound, pose_round
from standmap.jobs.round_told import left_out, planned
from standmap.messages import Messages
from standmap.progress import Progress, Unwatched
from standmap.stand.records import Plan
from standmap.stand.snapshot import Stand

if TYPE_CHECKING:
    from standmap.rounds.problem import RoundProblem
    from standmap.rounds.round import Round
    from standmap.rounds.stop import StopRule

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
        gone = left_out(posed, solved)
        raise NothingToCollect(all_left_out(posed.day, gone, posed.options.purpose), gone)
    return planned(posed, solved)
