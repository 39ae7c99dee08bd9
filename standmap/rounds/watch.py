"""One clock and one listener for a whole search, and how the search came to its end."""

from __future__ import annotations

import math
from enum import StrEnum
from time import perf_counter

from standmap.progress import Progress
from standmap.rounds.stop import StopRule, seconds_allowed


class Ending(StrEnum):
    """Why a search ended."""

    PROVED = "proved"
    """Nothing shorter exists."""
    SETTLED = "settled"
    """Its own steps had brought nothing better for long enough."""
    RULE = "rule"
    """The caller's rule said so, whatever the clock."""
    TIME = "time"
    """The caller's rule said so because of the clock."""
    ASKED = "asked"
    """The person asked for it."""
    BY_HAND = "by hand"
    """There was none: a person gave the order."""

    @property
    def repeatable(self) -> bool:
        """Whether the same search would end at the same step again."""
        return self not in (Ending.TIME, Ending.ASKED)


class Watch:
    """Asks between steps whether to go on and remembers the answer that ended the search.

    Parameters
    ----------
    stop
        The caller's rule, if any.
    progress
        Told how far the work is; asked whether the person wants to stop.
    """

    def __init__(self, stop: StopRule | None, progress: Progress) -> None:
        self.progress = progress
        self.ending: Ending | None = None
        self._stop = stop
        self._began = perf_counter()
        self._told = 0.0
        self._allowed_s = seconds_allowed(stop)

    @property
    def left_s(self) -> float:
        """Seconds that the caller's rule leaves by the clock, infinite without one: then a search ends once settled.

        Whoever names a time wants it used.
        """
        return self._began + self._allowed_s - perf_counter()

    def over(self, best_cost: float, iteration: int) -> bool:
        """Return whether to end now; once over, it stays over until `begin_search`."""
        if self.ending is None:
            if self.progress.stop_wanted():
                self.ending = Ending.ASKED
            elif self._stop is not None and self._stop(best_cost, perf_counter() - self._began, iteration):
                self.ending = Ending.RULE if self._stop(best_cost, -math.inf, iteration) else Ending.TIME
        return self.ending is not None

    def begin_search(self) -> None:
        """Forget an end that came from counting steps: a new kind of search counts its own."""
        if self.ending is Ending.RULE:
            self.ending = None

    def tell(self, done: float, total: float, what: str) -> None:
        """Pass a report on, at most ten a second."""
        now = perf_counter()
        if now - self._told >= 0.1:
            self._told = now
            self.progress.at(done, total, what)
