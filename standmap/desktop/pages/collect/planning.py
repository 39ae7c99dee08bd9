"""The round on its way: asked for, searched in the background, planned, put in order by hand."""

from __future__ import annotations

import time
from datetime import date
from enum import Enum

from PySide6.QtCore import QObject, Signal

from standmap.desktop.desk import Desk
from standmap.desktop.words import tr
from standmap.desktop.working import Watch, Work
from standmap.jobs.planned_round import PlannedRound
from standmap.jobs.round import RoundOptions, plan_posed, pose_round
from standmap.jobs.round_editing import EditedRound, RoundEditing
from standmap.jobs.round_orders import Orders, orders_of
from standmap.jobs.solving import solve_apart
from standmap.messages import Collected
from standmap.stand.snapshot import Stand

QUICK_STOPS = 12
"""The shortest way through so many stops is found in a few milliseconds."""


class Stage(Enum):
    """How far the round is."""

    ASKED = 1
    SEARCHING = 2
    PLANNED = 3


class Planning(QObject):
    """One round; it lives as long as the page, so that nothing is lost when another page is shown.

    Attributes
    ----------
    best
        While it is searched: the best round so far.
    told
        Cautions of the plan, in words.
    refused
        Why there is no round, None while there may be one.
    first, last
        Keys of the wounds with which their trips are to begin, or end.
    """

    changed = Signal()
    bettered = Signal()
    ordered = Signal()
    _found = Signal(object, object)  # from the thread that waits for the search

    def __init__(self, desk: Desk, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._desk = desk
        self.stage = Stage.ASKED
        self.day = desk.today
        self.options = RoundOptions()
        self.best: PlannedRound | None = None
        self.first_m = 0.0
        self.told: tuple[str, ...] = ()
        self.refused: Exception | None = None
        self.editing: RoundEditing | None = None
        self.edited: EditedRound | None = None
        self.first: frozenset[str] = frozenset()
        self.last: frozenset[str] = frozenset()
        self._planned_for: Stand | None = None
        self._begun = 0.0
        self._token = object()
        self._work: Work[tuple[RoundEditing, Collected]] | None = None
        self._pinning: Work[EditedRound] | None = None
        self._found.connect(self._take_best)

    # Searching

    def plan(self, day: date, options: RoundOptions) -> None:
        """Search for a round of the open stand; the one before is let go."""
        seen = self._desk.seen
        if seen is None or self.stage is Stage.SEARCHING:
            return
        self.forget()
        self.day, self.options = day, options
        self.stage, self._begun = Stage.SEARCHING, time.monotonic()
        stand, plans, tell = seen.stand, seen.plans, self._found.emit

        def search(watch: Watch) -> tuple[RoundEditing, Collected]:
            heard = Collected()
            posed = pose_round(stand, day, options, heard, plans=plans, model=seen.sap_model)
            best = plan_posed(posed, progress=watch, on_best=lambda found: tell(token, found), solver=solve_apart)
            editing = RoundEditing(posed, best)
            editing.find_ways()
            return editing, heard

        def take(answer: tuple[RoundEditing, Collected]) -> None:
            if self._token is token:
                self._planned_for = stand
                self._take_planned(*answer)

        def refuse(error: Exception) -> None:
            if self._token is token:
                self.stage, self._work, self.best, self.refused = Stage.ASKED, None, None, error
                self.changed.emit()

        token = self._token = object()
        self._work = self._desk.compute(search, tr("planning the walk"), take, refuse)
        self.changed.emit()

    def stop(self) -> None:
        """End the search and keep the best round so far."""
        if self._work is not None:
            self._work.cancel()

    @property
    def stopping(self) -> bool:
        """Whether the search was asked to end."""
        return self._work is not None and self._work.stopping

    @property
    def work(self) -> Work[tuple[RoundEditing, Collected]] | None:
        """The search, while it goes on."""
        return self._work

    @property
    def elapsed_s(self) -> float:
        """Seconds since the search began."""
        return time.monotonic() - self._begun

    def forget(self) -> None:
        """Let the round go; a search for it is ended."""
        if self._work is not None:
            self._work.cancel()
        self._token = object()
        self._work = self._pinning = None
        self.stage = Stage.ASKED
        self.best = self.editing = self.edited = self.refused = self._planned_for = None
        self.first = self.last = frozenset()
        self.first_m, self.told = 0.0, ()
        self.changed.emit()

    def _take_best(self, token: object, found: PlannedRound) -> None:
        if token is not self._token or self.stage is not Stage.SEARCHING:
            return
        if self.best is None:
            self.first_m = found.length_m
        self.best = found
        self.bettered.emit()

    def _take_planned(self, editing: RoundEditing, heard: Collected) -> None:
        self.editing, self.edited, self.best = editing, editing.unchanged(), editing.best
        self.told = (*heard.told, *heard.cautions)
        self.stage, self._work = Stage.PLANNED, None
        self.changed.emit()

    @property
    def out_of_date(self) -> bool:
        """Whether holes, ground or the trees of the round have changed since it was planned."""
        before, seen, edited = self._planned_for, self._desk.seen, self.edited
        if before is None or seen is None or edited is None or before is seen.stand:
            return False
        now = seen.stand
        trees = [stop.tree for trip in edited.planned.trips for stop in trip.stops]
        return (
            (before.holes, before.observations, before.places, before.lines, before.areas)
            != (now.holes, now.observations, now.places, now.lines, now.areas)
        ) or any(now.by_key.get(tree.key) != tree for tree in trees)

    # By hand

    @property
    def planned(self) -> PlannedRound | None:
        """The round as it stands, None while there is none."""
        return self.edited.planned if self.edited is not None else None

    @property
    def orders(self) -> Orders:
        """The order of the round as it stands."""
        return orders_of(self.edited.planned) if self.edited is not None else ()

    @property
    def is_best(self) -> bool:
        """Whether the round is as the search found it."""
        return self.editing is None or self.planned is self.editing.best

    def reorder(self, orders: Orders) -> None:
        """Walk the round in another order; pins that no longer hold are taken out."""
        editing, planned = self.editing, self.planned
        if editing is None or planned is None or orders == self.orders:
            return
        collectors = [trip.collector for trip in planned.trips] if len(orders) == len(planned.trips) else None
        self.edited = editing.ordered(orders, collectors)
        self.first &= {order[0] for order in self.orders}
        self.last &= {order[-1] for order in self.orders}
        self.ordered.emit()

    def pin(self, key: str, *, first: bool) -> None:
        """Let the trip of a stop begin, or end, with it and be the shortest so; a pin that is there is taken out.

        Taking a pin out leaves the order as it is.
        """
        editing, edited = self.editing, self.edited
        if editing is None or edited is None or self._pinning is not None:
            return
        here, there = (self.first, self.last) if first else (self.last, self.first)
        on_trip = frozenset(next(order for order in self.orders if key in order))
        if key in here:
            here, wanted = here - {key}, False
        else:
            here, there, wanted = (here - on_trip) | {key}, there - {key}, True
        self.first, self.last = (here, there) if first else (there, here)
        if not wanted:
            self.ordered.emit()
            return
        begin, end = self.first & on_trip, self.last & on_trip

        def take(found: EditedRound) -> None:
            self._pinning = None
            if self.edited is edited:
                self.edited = found
                self.ordered.emit()

        if len(on_trip) <= QUICK_STOPS:
            take(editing.pinned(edited, begin, end))
        else:
            self._pinning = self._desk.compute(
                lambda watch: editing.pinned(edited, begin, end, watch), tr("finding the shortest way"), take
            )

    def back_to_best(self) -> None:
        """Walk the round as the search found it."""
        if self.editing is not None and not self.is_best:
            self.first = self.last = frozenset()
            self.edited = self.editing.unchanged()
            self.ordered.emit()
