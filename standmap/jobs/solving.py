"""The search for a round in a process of its own, so that nothing else waits for it and it can be ended at once."""

from __future__ import annotations

import multiprocessing
import time
import traceback
from collections.abc import Callable
from dataclasses import replace
from multiprocessing.connection import Connection
from typing import TYPE_CHECKING, Any

from standmap.errors import BugError, UserError
from standmap.progress import Progress, Unwatched

if TYPE_CHECKING:
    from standmap.rounds.problem import RoundProblem
    from standmap.rounds.round import Round
    from standmap.rounds.stop import StopRule

LOOK_UP_S = 0.05
"""How often the wish to stop is asked about while the search is silent."""

PARENT_LOOK_S = 0.5
"""How often the search looks whether anyone still waits for it."""

BEST, AT, DONE, FAILED = "best", "at", "done", "failed"


def solve_apart(
    problem: RoundProblem,
    *,
    stop: StopRule | None = None,
    seed: int = 0,
    progress: Progress | None = None,
    on_best: Callable[[Round], None] | None = None,
) -> Round:
    """Find a short round as `rounds.solve.plan` does, in a process of its own.

    Parameters
    ----------
    stop
        Has to be picklable.
    progress
        A wish to stop ends the process; the best round so far is returned.

    Raises
    ------
    UserError
        If the process ended before it found any round.
    """
    progress = progress or Unwatched()
    context = multiprocessing.get_context("spawn")
    here, there = context.Pipe(duplex=False)
    process = context.Process(target=_search, args=(there, problem, stop, seed), daemon=True, name="round search")
    process.start()
    there.close()
    best: Round | None = None
    try:
        while True:
            if best is not None and progress.stop_wanted():
                return _stopped(best)
            if not here.poll(LOOK_UP_S):
                continue
            kind, *told = _received(here)
            if kind == BEST:
                best = told[0]
                if on_best is not None:
                    on_best(told[0])
            elif kind == AT:
                progress.at(told[0], told[1], told[2])
            elif kind == DONE:
                found: Round = told[0]
                return found
            elif kind == FAILED:
                raise BugError(told[0])
            elif best is not None:
                return _stopped(best)
            else:
                raise UserError(
                    "the search ended without an answer", "plan again; close other programs if memory is short"
                )
    finally:
        here.close()
        process.terminate()
        process.join()
        process.close()


def _stopped(best: Round) -> Round:
    from standmap.rounds.watch import Ending

    return replace(best, proved=False, repeatable=False, stopped=Ending.ASKED)


def _received(here: Connection) -> tuple[Any, ...]:
    try:
        told: tuple[Any, ...] = here.recv()
    except (EOFError, OSError):
        return ("gone",)
    return told


class _Told:
    """Passes progress on, and stops when nobody waits any more."""

    def __init__(self, there: Connection) -> None:
        self._there = there
        self._looked = time.monotonic()
        self._alone = False

    def at(self, done: float, total: float, what: str) -> None:
        self._there.send((AT, done, total, what))

    def stop_wanted(self) -> bool:
        moment = time.monotonic()
        if moment - self._looked >= PARENT_LOOK_S:
            self._looked = moment
            parent = multiprocessing.parent_process()
            self._alone = parent is not None and not parent.is_alive()
        return self._alone


def _search(there: Connection, problem: RoundProblem, stop: StopRule | None, seed: int) -> None:
    """Search and report; runs in the process of its own."""
    import signal

    from standmap.rounds.solve import plan

    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for whoever waits, who then ends this process
    try:
        found = plan(
            problem, stop=stop, seed=seed, progress=_Told(there), on_best=lambda best: there.send((BEST, best))
        )
        there.send((DONE, found))
    except BrokenPipeError:
        return  # nobody waits any more
    except Exception:  # noqa: BLE001 - told to whoever waits, as ours
        there.send((FAILED, traceback.format_exc()))
