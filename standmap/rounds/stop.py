"""When a search should end: one-method rules that may be put together."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Protocol


class StopRule(Protocol):
    """Asked between steps of a search.

    When a rule says stop it is asked once more as if the clock had not yet begun: only if it still says so did
    the end not depend on the clock, and only then can the round be repeated. Iterations count from 0 in each search.
    """

    def __call__(self, best_cost: float, elapsed_s: float, iteration: int) -> bool:
        """Return whether to stop.

        Parameters
        ----------
        best_cost
            Cost of the best whole answer so far.
        elapsed_s
            Seconds since the whole search began; minus infinity when asked as if it had not.
        iteration
            Steps done by the search that asks.
        """


@dataclass(frozen=True, slots=True)
class MaxSeconds:
    """Stops by the clock; the answer then depends on the machine."""

    seconds: float

    def __call__(self, best_cost: float, elapsed_s: float, iteration: int) -> bool:  # noqa: ARG002
        """Return whether the time is over."""
        return elapsed_s >= self.seconds


@dataclass(frozen=True, slots=True)
class MaxIterations:
    """Stops after so many steps of each search."""

    iterations: int

    def __call__(self, best_cost: float, elapsed_s: float, iteration: int) -> bool:  # noqa: ARG002
        """Return whether the steps are done."""
        return iteration >= self.iterations


class NoImprovement:
    """Stops when so many steps brought nothing better; begins anew with each search."""

    __slots__ = ("_best", "_since", "iterations")

    def __init__(self, iterations: int) -> None:
        self.iterations = iterations
        self._best = math.inf
        self._since = 0

    def __call__(self, best_cost: float, elapsed_s: float, iteration: int) -> bool:  # noqa: ARG002
        """Return whether the best cost has stood for too long."""
        if iteration == 0 or iteration < self._since:
            self._best = math.inf
        if best_cost < self._best:
            self._best = best_cost
            self._since = iteration
        return iteration - self._since >= self.iterations


class FirstOf:
    """Stops as soon as one of its rules does."""

    __slots__ = ("rules",)

    def __init__(self, *rules: StopRule) -> None:
        self.rules = rules

    def __call__(self, best_cost: float, elapsed_s: float, iteration: int) -> bool:
        """Return whether any rule says stop; each is asked, since some keep count."""
        said = [rule(best_cost, elapsed_s, iteration) for rule in self.rules]
        return any(said)


def seconds_allowed(rule: StopRule | None) -> float:
    """Return how long a search may last by the clock, infinite where no rule looks at it."""
    if isinstance(rule, MaxSeconds):
        return rule.seconds
    if isinstance(rule, FirstOf):
        return min((seconds_allowed(one) for one in rule.rules), default=math.inf)
    return math.inf
