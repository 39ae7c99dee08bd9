"""The verdicts of all seasons, counted off the GUI thread and kept as long as they hold."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from PySide6.QtCore import QObject, Signal

from standmap.desktop.desk import Desk
from standmap.desktop.words import tr
from standmap.desktop.working import Watch, Work
from standmap.jobs.seasons import SeasonCounts, seasons
from standmap.rules.columns import StandColumns, same_columns
from standmap.rules.ruleset import RuleSet


@dataclass(frozen=True)
class _Count:
    columns: StandColumns
    rules: RuleSet
    today: date
    found: tuple[SeasonCounts, ...]
    as_now: Mapping[int, SeasonCounts]

    def holds_for(self, columns: StandColumns, rules: RuleSet, today: date) -> bool:
        return self.today == today and self.rules == rules and same_columns(self.columns, columns)


class CountedSeasons(QObject):
    """Counts again when the stand or its rules have changed; until then what was counted last stays in sight.

    Attributes
    ----------
    seasons
        Oldest first, under the plan that is shown where there is one; none while nothing is counted.
    as_now
        The same without a plan, by season; empty where none is shown.
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
        desk.rotation_changed.connect(self._ask)
        self._ask()

    @property
    def seasons(self) -> tuple[SeasonCounts, ...]:
        """The counted seasons."""
        return self._last.found if self._last is not None else ()

    @property
    def as_now(self) -> Mapping[int, SeasonCounts]:
        """The seasons without a plan, by year; empty where no plan is shown."""
        return self._last.as_now if self._last is not None else {}

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
        last, rules, today = self._last, seen.rules, self._desk.today
        columns, plain, until = self._desk.columns, seen.columns, self._desk.last_season

        def count(watch: Watch) -> _Count:
            if last is not None and last.holds_for(columns, rules, today):
                return _Count(columns, rules, today, last.found, last.as_now)
            found = seasons(columns, rules, today, watch, last=until)
            without = () if columns is plain else seasons(plain, rules, today, watch, last=until)
            return _Count(columns, rules, today, found, {one.season: one for one in without})

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
