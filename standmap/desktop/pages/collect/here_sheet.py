"""The rest of a walk, planned anew from where one stands: which trees are done, and what is carried already."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace
from datetime import timedelta

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QCheckBox, QVBoxLayout

from standmap.desktop.desk import Desk
from standmap.desktop.kit import Field, button, clear, heading, keys_text, label, second
from standmap.desktop.list_box import ListBox
from standmap.desktop.pages.collect.ask_more import named, read_time, row_of
from standmap.desktop.pages.collect.over_sheet import OverSheet
from standmap.desktop.pages.collect.planning import Planning
from standmap.desktop.words import tr, tr_n
from standmap.errors import UserError
from standmap.jobs.planned_round import PlannedTrip, Purpose, RoundStop
from standmap.jobs.returns import called, written_down
from standmap.jobs.round_options import CAPACITY_BOUNDS_KG, FromHere, RoundOptions
from standmap.stand.tree import Tree


class HereSheet(OverSheet):
    """Asks what is done, and plans the rest.

    Signals: `plan_wanted` (the `RoundOptions` of the rest).
    """

    plan_wanted = Signal(object)

    def __init__(self, desk: Desk, planning: Planning) -> None:
        super().__init__(desk)
        self._planning = planning
        self.at: Tree | None = None
        self._trip: PlannedTrip | None = None
        self.boxes: dict[str, QCheckBox] = {}
        self._carried: tuple[str, float] = ("", 0.0)
        """The text that was put in for the load, which is rounded, and its value."""
        self.heading = heading(tr("The rest of the walk"))
        self.where = ListBox()
        self.about = second(tr("Tick the trees that are done; the way back is planned through those that are left."))
        self.time = Field(tr("the time now"), read_time, hint=tr("such as 08:30"))
        self.load = Field(tr("carried"), self._read_load)
        self.done_name = label("", "strong")
        self._boxes = QVBoxLayout()
        self._boxes.setSpacing(2)
        where = named(tr("where you stand"), self.where)
        for part in (self.heading, self.about, where, row_of(self.time, self.load), self.done_name):
            self.down.addWidget(part)
        self.down.addLayout(self._boxes)
        self.down.addWidget(self.back)
        self.plan_button = button(tr("plan the rest"), self.go, "primary", keys_text("Ctrl+Return"))
        self.foot_line.addWidget(self.plan_button)
        for field in (self.time, self.load):
            field.entered.connect(self.go)
        self.where.currentIndexChanged.connect(lambda _: self._stand_at(self.where.currentData()))

    def show_at(self, stop: RoundStop) -> None:
        """Ask for the rest of the planned walk as seen from one of its stops."""
        planned = self._planning.planned
        if planned is None:
            return
        stops = [s for trip in planned.trips for s in trip.stops]
        self.where.blockSignals(True)
        self.where.clear()
        for one in stops:
            self.where.addItem(f"{one.order} · {called(one.tree.name, one.hole_number)}", one.key)
        self.where.setCurrentIndex(self.where.findData(stop.key))
        self.where.blockSignals(False)
        self._stand_at(stop.key)

    def _stand_at(self, key: str) -> None:
        """Fill the form for one stop.

        Ticked are the stops that the same collector comes to before it, the stop itself, and all of which returns of
        that day are written down.
        """
        planned, seen = self._planning.planned, self._desk.seen
        trip = next((t for t in planned.trips if key in {s.key for s in t.stops}), None) if planned else None
        if planned is None or seen is None or trip is None:
            return
        stop = next(s for s in trip.stops if s.key == key)
        self.at, self._trip = stop.tree, trip
        if planned.sets_out is not None:
            self.time.set_text(f"{planned.sets_out + timedelta(minutes=stop.minutes):%H:%M}")
        self._carried = (self.units.mass(stop.load_kg), stop.load_kg)
        self.load.set_text(self._carried[0])
        stops = [s for t in planned.trips for s in t.stops]
        mine = [s for t in planned.trips if t.collector == trip.collector for s in t.stops]
        before = {s.tree.key for s in mine if s.order <= stop.order}
        holes = {s.hole.key: s.tree.key for s in stops if s.hole is not None}
        told: set[str] = set()
        if planned.purpose is Purpose.COLLECTING:
            told = {holes[hole] for hole in written_down(seen.stand, holes, planned.day)}
        self._list(stops, before | told)

    def _list(self, stops: Sequence[RoundStop], done: Collection[str]) -> None:
        clear(self._boxes)
        self.boxes = {}
        for stop in stops:
            if stop.tree.key in self.boxes:
                continue
            box = QCheckBox(f"{stop.order} · {called(stop.tree.name, stop.hole_number)}")
            box.setToolTip(box.text())
            box.setChecked(stop.tree.key in done)
            box.toggled.connect(lambda _: self._count())
            self.boxes[stop.tree.key] = box
            self._boxes.addWidget(box)
        self._count()

    def _count(self) -> None:
        left = sum(not box.isChecked() for box in self.boxes.values())
        self.done_name.setText(tr_n("done; {n} tree is left", "done; {n} trees are left", left))
        self.plan_button.setEnabled(left > 0)

    def go(self) -> None:
        """Plan the rest."""
        options = self.asked()
        if options is not None and self.plan_button.isEnabled():
            self.plan_wanted.emit(options)

    def asked(self) -> RoundOptions | None:
        """Return how the rest is asked for, or None after saying beside a field what is wrong with it."""
        at, trip = self.at, self._trip
        moment, carried = self.time.value(), self.load.value()
        wrong = next((field for field in (self.time, self.load) if field.wrong.text()), None)
        if wrong is not None or at is None or trip is None or carried is None:
            if wrong is not None:
                wrong.setFocus()
            return None
        before = self._planning.options
        walkers = before.walkers[trip.collector - 1 : trip.collector]
        done = {key for key, box in self.boxes.items() if box.isChecked()}
        return replace(
            before,
            from_here=FromHere(at.key, carried),
            done=tuple(dict.fromkeys((*before.done, *(key for key in self.boxes if key in done)))),
            collectors=1,
            walkers=tuple(replace(one, start=None, sets_out=None) for one in walkers),
            sets_out=moment or before.sets_out,
            first=None,
            last=None,
        )

    def _read_load(self, text: str) -> float:
        if text == self._carried[0]:
            return self._carried[1]
        kg = self.units.read_mass_kg(text) if text.strip() else 0.0
        most = CAPACITY_BOUNDS_KG[1]
        if not 0 <= kg <= most:
            raise UserError(f"{text.strip()[:30]} is out of bounds", f"choose up to {self.units.mass(most)}")
        return kg
