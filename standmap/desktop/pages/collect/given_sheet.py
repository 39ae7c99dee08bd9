"""The walks that were given out, by day: opened again, so that returns and the walk itself can be held against them."""

from __future__ import annotations

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QAbstractItemView

from standmap.desktop.desk import Desk
from standmap.desktop.kit import button, heading, keys_text, second, side_by_side
from standmap.desktop.list_box import ListBox
from standmap.desktop.pages.collect.ask_more import named
from standmap.desktop.pages.collect.over_sheet import OverSheet
from standmap.desktop.pages.collect.trip_lines import AnyWalk
from standmap.desktop.pages.collect.walk_list import WalkList
from standmap.desktop.pages.collect.walk_model import WalkModel
from standmap.desktop.pages.collect.wording import WalkRow, duration
from standmap.desktop.words import day_text, tr, tr_n
from standmap.jobs.given_walk import GivenStop, GivenWalk, walks_given_out
from standmap.jobs.planned_round import Purpose
from standmap.jobs.returns import called


class GivenSheet(OverSheet):
    """Lists them and shows one.

    Signals: `returns_wanted`, `beside_wanted` (a `GivenWalk`), `stop_chosen` (key of a tree).
    """

    returns_wanted = Signal(object)
    beside_wanted = Signal(object)
    stop_chosen = Signal(str)

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk)
        self.walks: tuple[GivenWalk, ...] = ()
        self.heading = heading(tr("Walks given out"))
        self.nothing = second("")
        self.box = ListBox()
        self.choice = named(tr("which walk"), self.box)
        self.about = second("")
        self.model = WalkModel(self)
        self.list = WalkList(desk, self.model)
        self.list.setDragDropMode(QAbstractItemView.DragDropMode.NoDragDrop)  # what was given out stays as it was
        self.list.setAccessibleDescription("")
        for part in (self.heading, self.nothing, self.choice, self.about, self.list, self.back):
            self.down.addWidget(part)
        self.returns_button = button(tr("enter returns"), self.go, "primary", keys_text("Ctrl+Return"))
        self.beside_button = button(tr("beside the plan..."), self._beside, "quiet")
        self.foot_line.addWidget(side_by_side(self.returns_button, self.beside_button))
        self.box.currentIndexChanged.connect(lambda _: self._show())
        self.list.selectionModel().selectionChanged.connect(lambda *_: self._stop_chosen())

    @property
    def walk(self) -> GivenWalk | None:
        """The walk that is shown."""
        at = self.box.currentIndex()
        return self.walks[at] if 0 <= at < len(self.walks) else None

    @property
    def map_walk(self) -> AnyWalk | None:
        """The walk that the map shows."""
        return self.walk

    def read(self) -> None:
        """Read which walks were given out, and go to them."""

        def there(walks: tuple[GivenWalk, ...]) -> None:
            self._list(walks)
            self.box.setFocus()

        self._desk.run(lambda file, _: walks_given_out(file), tr("reading the walks"), there)

    def _list(self, walks: tuple[GivenWalk, ...]) -> None:
        kept = self.walk.key if self.walk is not None else None
        self.box.blockSignals(True)
        self.walks = walks
        self.box.clear()
        for walk in walks:
            made = f"{walk.made_at.astimezone():%H:%M}"
            self.box.addItem(f"{day_text(walk.day)} · {tr(str(walk.purpose))} · {made}", walk.key)
        self.box.setCurrentIndex(max(self.box.findData(kept), 0))
        self.box.blockSignals(False)
        self._show()

    def _show(self) -> None:
        walk, seen = self.walk, self._desk.seen
        self.nothing.setVisible(walk is None)
        self.nothing.setText(tr("None yet. Plan a walk and give it out, on paper or to a phone: it is kept here."))
        for part in (self.choice, self.about, self.list):
            part.setVisible(walk is not None)
        for one in (self.returns_button, self.beside_button):
            one.setEnabled(walk is not None)
        if walk is not None and seen is not None:
            units = self.units
            self.about.setText(
                " · ".join(
                    [
                        tr_n("{n} hole", "{n} holes", len(walk.stops)),
                        tr_n("{n} trip", "{n} trips", len(walk.trips)),
                        duration(walk.minutes),
                        units.distance(walk.length_m),
                    ]
                )
            )
            self.model.show(self._rows(walk))
            self.list.fit_height()
        self.map_changed.emit()

    def _rows(self, walk: GivenWalk) -> tuple[WalkRow, ...]:
        units = self.units
        rows: list[WalkRow] = []
        for index, trip in enumerate(walk.trips):
            name = tr("trip {n}", n=trip.number)
            amount = f"{units.distance(trip.length_m)} · {duration(trip.minutes)}"
            rows.append(WalkRow(index, "", "", "", name, "", amount, f"{name}: {amount}"))
            rows += [self._row(index, stop, walk) for stop in trip.stops]
        return tuple(rows)

    def _row(self, trip: int, stop: GivenStop, walk: GivenWalk) -> WalkRow:
        seen = self._desk.seen
        tree = seen.stand.by_key.get(stop.tree_key) if seen is not None else None
        name = called(tree.name, stop.hole_number) if tree is not None else tr("a tree that is gone")
        way = duration(stop.minutes)
        amount = self.units.volume(stop.litres * 1000) if walk.purpose is Purpose.COLLECTING else ""
        said = ", ".join(filter(None, (f"{stop.order}: {name}", way, amount)))
        return WalkRow(trip, stop.key, stop.tree_key, str(stop.order), name, way, amount, said)

    def _stop_chosen(self) -> None:
        row = self.model.row_of(self.list.chosen_key) if self.list.chosen_key is not None else None
        if row is not None:
            self.stop_chosen.emit(self.model.rows[row].tree_key)

    def tell(self) -> None:
        """Show it as it stands: a walk may have been given out since, or taken back."""
        self._desk.run(lambda file, _: walks_given_out(file), "", self._list)

    def go(self) -> None:
        """Enter the returns of the walk."""
        if self.walk is not None:
            self.returns_wanted.emit(self.walk)

    def _beside(self) -> None:
        if self.walk is not None:
            self.beside_wanted.emit(self.walk)
