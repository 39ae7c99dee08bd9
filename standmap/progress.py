"""How far long work has come, and whether it should stop: told by the worker, read by whoever waits."""

from __future__ import annotations

from typing import Protocol


class Progress(Protocol):
    """Told of each step; asked between steps whether to go on."""

    def at(self, done: float, total: float, what: str) -> None:
        """Report `done` of `total` (same unit, total 0 when unknown) and what is being done."""

    def stop_wanted(self) -> bool:
        """Return whether the person has asked to stop."""


class Unwatched:
    """Progress that nobody watches; never stops."""

    def at(self, done: float, total: float, what: str) -> None:
        """Drop the report."""

    def stop_wanted(self) -> bool:
        """Return False: nobody is there to ask."""
        return False
