"""The verdicts of all seasons, counted off the GUI thread and kept as long as they hold."""

from __future__ import annotations

from dataclasses import dataclass, fields
from datetime import date

import numpy as np
from PySide6.QtCore import QObject, Signal

from standmap.desktop.desk import Desk
from standmap.desktop.words import tr
from standmap.desktop.working import Watch, Work
from standmap.jobs.seasons import SeasonCounts, seasons
from standmap.rules.columns import StandColumns
from standmap.rules.ruleset import RuleSet


@dataclass(frozen=True)
class _Count:
    columns: StandColumns
    rules: RuleSet
    today: date
    found: tuple[SeasonCounts, ...]

    def holds_for(self, columns: StandColumns, rules: RuleSet, today: date) -> bool:
        return self.today == today and self.rules == rules and _alike(self.columns, columns)


class CountedSeasons(QObject):
    """Counts again when the stand or its rules have changed; until then what was counted last stays in sight.

    Attributes
    ----------
    seasons
        Oldest first; none while nothing is counted.
    counting
        Whether a count is under way.
    """

    changed = Signal()

    def __init__(self, desk: Desk, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._desk = desk
        self._last: _Count | None = None
        self._path = desk.path
        self._work: Work[_Count] | None = None
        desk.seen_changed.connect(self._ask)
        self._ask()

    @property
    def seasons(self) -> tuple[SeasonCounts, ...]:
        """The counted seasons."""
        return self._last.found if self._last is not None else ()

    @property
    def counting(self) -> bool:
        """Whether a count is under way."""
        return self._work is not None

    def _ask(self) -> None:
        if self._work is not None:
            self._work.cancel()
            self._work = None
        seen = self._desk.seen
        if seen is None or self._desk.path != self._path:
            self._last = None
            self._path = self._desk.path
        if seen is None or not seen.trees:
            self._last = None
            self.changed.emit()
            return
        last, columns, rules, today = self._last, seen.columns, seen.rules, self._desk.today

        def count(watch: Watch) -> _Count:
            if last is not None and last.holds_for(columns, rules, today):
                return _Count(columns, rules, today, last.found)
            return _Count(columns, rules, today, seasons(columns, rules, today, watch))

        def take(counted: _Count) -> None:
            if self._work is work:
                self._work = None
                self._last = counted
                self.changed.emit()

        def stopped(_: Exception) -> None:
            if self._work is work:
                self._work = None
                self.changed.emit()

        work = self._desk.compute(count, tr("counting the seasons"), take, stopped)
        self._work = work
        self.changed.emit()


def _alike(one: StandColumns, other: StandColumns) -> bool:
    """Return whether nothing that a verdict rests on is different."""
    for field in fields(StandColumns):
        a, b = getattr(one, field.name), getattr(other, field.name)
        if not (np.array_equal(a, b) if isinstance(a, np.ndarray) else a == b):
            return False
    return True
