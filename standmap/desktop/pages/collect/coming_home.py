"""What comes home from a walk: returns typed or taken from a phone, and the walk held against its plan."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date

from PySide6.QtCore import QObject

from standmap.desktop.desk import Desk
from standmap.desktop.pages.collect.beside_sheet import BesideSheet
from standmap.desktop.pages.collect.done_sheet import DoneSheet
from standmap.desktop.pages.collect.given_sheet import GivenSheet
from standmap.desktop.pages.collect.over_sheet import OverSheet
from standmap.desktop.pages.collect.phone_sheet import PhoneSheet
from standmap.desktop.pages.collect.returns_sheet import ReturnsSheet
from standmap.desktop.words import tr
from standmap.jobs.clock import now
from standmap.jobs.given_walk import GivenWalk, given_walk
from standmap.jobs.planned_round import PlannedRound, Purpose
from standmap.jobs.returns import group_of_day, groups_of
from standmap.jobs.walk_done import groups_given


class ComingHome(QObject):
    """The sheets for it, and what leads from one to another.

    Parameters
    ----------
    lay
        Lays a sheet over the page.
    """

    def __init__(self, desk: Desk, lay: Callable[[OverSheet], None], parent: QObject) -> None:
        super().__init__(parent)
        self._desk = desk
        self._lay = lay
        self.returns = ReturnsSheet(desk)
        self.done = DoneSheet(desk)
        self.phone = PhoneSheet(desk)
        self.given = GivenSheet(desk)
        self.beside = BesideSheet(desk)
        self._as_given: tuple[PlannedRound, GivenWalk] | None = None
        self.returns.phone_wanted.connect(self.take_from_phone)
        self.done.phone_wanted.connect(self.take_from_phone)
        self.given.returns_wanted.connect(self.enter)
        self.given.beside_wanted.connect(self.hold_beside)

    @property
    def sheets(self) -> tuple[OverSheet, ...]:
        """All of them."""
        return (self.returns, self.done, self.phone, self.given, self.beside)

    def enter(self, walk: PlannedRound | GivenWalk) -> None:
        """Type what a walk brought: litres, or what was made or done."""
        seen = self._desk.seen
        if seen is None:
            return
        if walk.purpose is not Purpose.COLLECTING:
            self.done.show_walk(self.as_given(walk))
            self._lay(self.done)
            self.done.focus_first()
            return
        groups = groups_of(walk) if isinstance(walk, PlannedRound) else groups_given(seen.stand, walk)
        self.returns.show_groups(walk.day, groups)
        self._lay(self.returns)
        self.returns.focus_first()

    def make_ready(self) -> None:
        """Learn what the stand's records teach off the GUI thread, before anybody asks for it."""
        seen = self._desk.seen
        if seen is not None and "sap_model" not in vars(seen):
            self._desk.compute(lambda _: seen.sap_model, tr("learning from the records"))

    def enter_day(self, day: date) -> None:
        """Type what came home on a day, in the order of the trees."""
        seen = self._desk.seen
        if seen is not None:
            self.returns.show_groups(day, (group_of_day(seen.stand, day, seen.sap_model),))
            self._lay(self.returns)
            self.returns.focus_first()

    def take_from_phone(self) -> None:
        """Ask for a returns file of a phone."""
        self.phone.forget()
        self._lay(self.phone)
        self.phone.choose_file()

    def show_given(self) -> None:
        """Show the walks that were given out."""
        self._lay(self.given)
        self.given.read()

    def hold_beside(self, walk: PlannedRound | GivenWalk) -> None:
        """Ask for a track to hold against a walk."""
        self.beside.show_walk(self.as_given(walk))
        self._lay(self.beside)
        self.beside.choose_button.setFocus()

    def as_given(self, walk: PlannedRound | GivenWalk) -> GivenWalk:
        """Return a walk as it would be given out; the same planned walk is the same each time."""
        if isinstance(walk, GivenWalk):
            return walk
        if self._as_given is None or self._as_given[0] is not walk:
            self._as_given = (walk, given_walk(walk, now()))
        return self._as_given[1]

    def forget(self) -> None:
        """Let go of everything that was typed: another stand is open."""
        self.returns.typed.clear()
        self.done.typed.clear()
        self.phone.forget()
        self._as_given = None
