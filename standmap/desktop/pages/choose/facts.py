"""What the choose page cannot have at once: worked out off the GUI thread for the stand and season looked at."""

from __future__ import annotations

from dataclasses import dataclass

from PySide6.QtCore import QObject, Signal

from standmap.desktop.desk import Desk
from standmap.desktop.pages.choose.rows import Names
from standmap.desktop.working import Watch, Work
from standmap.errors import UserError
from standmap.jobs.mark import Totals, totals
from standmap.jobs.tag_checks import tags_to_check


@dataclass(frozen=True, eq=False)
class Facts:
    """Answers for one stand and season.

    Attributes
    ----------
    to_check
        Rows of the ready trees whose tags are to be checked.
    """

    names: Names
    marked: Totals
    to_check: tuple[int, ...]


class FactsAsked(QObject):
    """Asks for the facts anew when told to; an answer to an older question is dropped."""

    answered = Signal()

    def __init__(self, desk: Desk, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._desk = desk
        self._work: Work[Facts] | None = None
        self.facts: Facts | None = None
        self.fresh = False

    def names_of(self, texts: tuple[str, ...]) -> Names | None:
        """Return these names in their natural order where it is known already."""
        known = self.facts
        return known.names if known is not None and known.names.texts == texts else None

    def ask(self, texts: tuple[str, ...]) -> None:
        """Work the facts out for what the desk shows now."""
        desk, seen = self._desk, self._desk.seen
        if self._work is not None:
            self._work.cancel()
            self._work = None
        self.fresh = False
        if seen is None:
            return
        season, codes, known = desk.season, desk.codes, self.names_of(texts)

        def work_out(watch: Watch) -> Facts:
            names = Names.in_order(texts) if known is None else known
            _go_on(watch)
            marked = totals(seen.stand, seen.plans, season, seen.sap_model)
            _go_on(watch)
            return Facts(names, marked, tuple(tags_to_check(seen.stand, season, codes, seen.rules)))

        def take(facts: Facts) -> None:
            if self._work is work:
                self._work = None
                self.facts, self.fresh = facts, True
                self.answered.emit()

        work = desk.compute(work_out, "", take, lambda _: None)
        self._work = work


def _go_on(watch: Watch) -> None:
    if watch.stop_wanted():
        raise UserError("this is no longer asked for")
