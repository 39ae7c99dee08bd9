"""Against what a person does while something is still being written: asking for it twice, or leaving its place."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from typing import Any, TypeVar

from PySide6.QtCore import QObject
from shiboken6 import isValid

from standmap.desktop.desk import Desk
from standmap.desktop.working import Watch, Work
from standmap.store.stand_file import StandFile

Result = TypeVar("Result")


class Guard(QObject):
    """Lets one and the same thing run only once at a time; a desk has one guard, see `guard_of`."""

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk)
        self._desk = desk
        self._running: dict[Hashable, Work[Any]] = {}

    def once(
        self,
        about: Hashable,
        work: Callable[[StandFile, Watch], Result],
        what: str,
        then: Callable[[Result], None] | None = None,
        failed: Callable[[Exception], None] | None = None,
    ) -> Work[Any] | None:
        """Run work on the stand's file as `Desk.run` does, unless the same thing is running already.

        Parameters
        ----------
        about
            Tells one thing from another, such as ("mark", keys, season).

        Returns
        -------
        Work or None
            None where it runs already: then nothing is done.
        """
        if self.busy(about):
            return None
        begun = self._running[about] = self._desk.run(work, what, then, failed)
        begun.ended.connect(lambda: self._ended(about, begun))
        return begun

    def busy(self, about: Hashable) -> bool:
        """Return whether this very thing is running."""
        held = self._running.get(about)
        return held is not None and held.running

    def _ended(self, about: Hashable, work: Work[Any]) -> None:
        if self._running.get(about) is work:
            del self._running[about]


def guard_of(desk: Desk) -> Guard:
    """Return the guard of a desk."""
    return desk.findChild(Guard) or Guard(desk)


def while_there(owner: QObject, then: Callable[[Result], object]) -> Callable[[Result], None]:
    """Return what is to follow, which is left out once its owner is gone (a dialog closed, a form taken away)."""

    def follow(result: Result) -> None:
        if isValid(owner):
            then(result)

    return follow
