"""The planned walk: its heading, the ordered list, what an order by hand costs, the loads, and the cautions."""

from __future__ import annotations

from PySide6.QtCore import QSignalBlocker, Signal
from PySide6.QtWidgets import QVBoxLayout, QWidget

from standmap.desktop.desk import Desk
from standmap.desktop.kit import button, caution_line, clear, hairline, heading, label, second
from standmap.desktop.pages.collect.load_profile import LoadProfile, starts_of
from standmap.desktop.pages.collect.planning import Planning
from standmap.desktop.pages.collect.walk_list import WalkList
from standmap.desktop.pages.collect.walk_model import WalkModel
from standmap.desktop.pages.collect.walk_told import KitList, StopTold, gap_text, light_line
from standmap.desktop.pages.collect.wording import cost, long_day, magnetic_north, summary, walk_rows
from standmap.desktop.words import said, tr
from standmap.jobs.cautions import WALKING
from standmap.jobs.planned_round import RoundStop
from standmap.jobs.round_editing import EditedRound, RoundEditing
from standmap.jobs.round_options import LOAD_CAUTION
from standmap.jobs.round_orders import moved, place_of, stepped
from standmap.units_shown import UnitsShown


class WalkSheet(QWidget):
    """Shows a planned round and lets it be put in order.

    Signals: `again_wanted` (back to the form), `rest_wanted` (plan the rest from where one stands), `beside_wanted`
    (hold a track against it), `stop_chosen` (key of the tree), `looked_at` (key of the tree).
    """

    again_wanted = Signal()
    rest_wanted = Signal()
    beside_wanted = Signal()
    stop_chosen = Signal(str)
    looked_at = Signal(str)

    def __init__(self, desk: Desk, planning: Planning) -> None:
        super().__init__()
        self._desk = desk
        self._planning = planning
        self.day = heading("")
        self.summary = second("")
        self.light = second("")
        self.stale = caution_line(tr("the stand has changed since this walk was planned: plan it again"))
        self.sure = second("")
        self.model = WalkModel(self)
        self.list = WalkList(desk, self.model)
        self.cost = label("", "strong")
        self.best = button(tr("back to the best"), planning.back_to_best, "link")
        self.heavy = caution_line("")
        self.stop_told = StopTold(desk)
        self.kit = KitList(desk)
        self.profile_name = second("")
        self.profile = LoadProfile(desk)
        self.rest = button(tr("plan the rest from where you stand"), self.rest_wanted.emit, "link")
        self.beside = button(tr("hold a track beside the plan"), self.beside_wanted.emit, "link")
        self.again = button(tr("plan another walk"), self.again_wanted.emit, "link")
        self._cautions = QVBoxLayout()
        self._cautions.setSpacing(6)
        down = QVBoxLayout(self)
        down.setContentsMargins(0, 0, 0, 0)
        down.setSpacing(6)
        for part in (
            self.day,
            self.summary,
            self.light,
            self.stale,
            self.list,
            self.stop_told,
            self.cost,
            self.best,
            self.heavy,
            hairline(),
            self.profile_name,
            self.profile,
            self.kit,
            hairline(),
            self.sure,
            self.rest,
            self.beside,
            self.again,
        ):
            down.addWidget(part)
        down.addLayout(self._cautions)
        self.list.selectionModel().selectionChanged.connect(lambda *_: self._chosen())
        self.list.stepped.connect(self.step)
        self.list.pin_wanted.connect(self.pin)
        self.list.looked_at.connect(self.looked_at)
        self.model.dropped.connect(self._dropped)

    @property
    def units(self) -> UnitsShown:
        """How measures are shown."""
        return self._desk.units

    def tell(self) -> None:
        """Show the round as it stands; what was chosen stays chosen."""
        planning = self._planning
        edited, editing = planning.edited, planning.editing
        if edited is None or editing is None:
            return
        units, planned = self.units, edited.planned
        kept = self.list.chosen_key
        magnetic = magnetic_north(*planned.start.at, planned.day, self._desk.settings.bearings)
        with QSignalBlocker(self.list.selectionModel()):
            self.model.show(walk_rows(edited, units, magnetic, planning.first, planning.last))
            self.list.choose(kept)
        self.list.fit_height()
        self.day.setText(long_day(planned.day))
        self.summary.setText(summary(planned, units))
        self.summary.setAccessibleName(self.summary.text())
        self.light.setText(light_line(planned))
        self.light.setVisible(bool(self.light.text()))
        self.kit.show_kit(planned.kit)
        self.stale.setVisible(planning.out_of_date)
        self.cost.setVisible(not planning.is_best)
        self.best.setVisible(not planning.is_best)
        self.cost.setText(tr("{cost} against the best found", cost=cost(edited, units)))
        self.heavy.setVisible(bool(edited.too_heavy))
        self.heavy.setText("; ".join(self._heavy(editing, edited)))
        bearings = tr("bearings are magnetic") if magnetic is not None else tr("bearings are true")
        self.profile_name.setText(tr("load along the walk, {unit}", unit=units.mass_unit))
        self.profile.show_round(planned, editing.capacity_kg, starts_of(editing.posed, planned))
        self.sure.setText(f"{self._how_sure()}; {bearings}")
        self._tell_cautions()
        self._mark()

    def _heavy(self, editing: RoundEditing, edited: EditedRound) -> list[str]:
        """Return which trips are over the load of those who walk them, by what they may carry."""
        by_limit: dict[float, list[str]] = {}
        for trip in edited.heavy_trips:
            told = tr("trip {n}: {load}", n=trip.number, load=self.units.mass(trip.max_load_kg))
            by_limit.setdefault(editing.capacity_of(trip.collector), []).append(told)
        return [
            tr("over the load of {limit}: {trips}", limit=self.units.mass(limit), trips=", ".join(trips))
            for limit, trips in by_limit.items()
        ]

    def _how_sure(self) -> str:
        editing = self._planning.editing
        if editing is None:
            return ""
        if not self._planning.is_best:
            return tr("ordered by hand")
        return gap_text(editing.best)

    def _tell_cautions(self) -> None:
        clear(self._cautions)
        planning = self._planning
        left_out = planning.planned.left_out if planning.planned is not None else ()
        if left_out:
            shown = [f"{name}: {said(why)}" for name, why in left_out[:5]]
            if len(left_out) > 5:
                shown.append(tr("and {n} more", n=len(left_out) - 5))
            self._cautions.addWidget(caution_line(tr("left out: {trees}", trees="; ".join(shown))))
        told = planning.told if planning.planned is None else (*planning.told, *planning.planned.cautions)
        texts = [text for text in dict.fromkeys(told) if text not in {LOAD_CAUTION, *WALKING}]
        if LOAD_CAUTION in planning.told:
            self._cautions.addWidget(caution_line(self._desk.units.in_sentence(said(LOAD_CAUTION))))
        for text in texts:
            self._cautions.addWidget(second(self._desk.units.in_sentence(said(text))))
        for text in WALKING:
            self._cautions.addWidget(second(said(text)))

    # In order by hand

    def step(self, by: int) -> None:
        """Move the chosen stop one place earlier (-1) or later (+1)."""
        key = self.list.chosen_key
        if key is not None:
            self._planning.reorder(stepped(self._planning.orders, key, by))

    def to_trip(self, trip: int) -> None:
        """Move the chosen stop to the end of a trip, counted from 0; one past the last is a new trip."""
        key = self.list.chosen_key
        orders = self._planning.orders
        if key is None or trip > len(orders) or place_of(orders, key)[0] == trip:
            return
        self._planning.reorder(moved(orders, key, trip, len(orders[trip]) if trip < len(orders) else 0))

    def pin(self, first: bool) -> None:
        """Keep the chosen stop first, or last, on its trip; or no longer."""
        key = self.list.chosen_key
        if key is not None:
            self._planning.pin(key, first=first)

    def _dropped(self, key: str, trip: int, place: int) -> None:
        self._planning.reorder(moved(self._planning.orders, key, trip, place))
        self.list.choose(key)

    # What is chosen

    def choose_tree(self, tree_key: str | None) -> None:
        """Choose the first stop at a tree, unless one there is chosen already."""
        rows = [row for row in self.model.rows if row.tree_key == tree_key and row.key]
        if rows and self.list.chosen_key in {row.key for row in rows}:
            return
        with QSignalBlocker(self.list.selectionModel()):
            self.list.choose(rows[0].key if rows else None)
        self.list.viewport().update()
        self._mark()

    def _chosen(self) -> None:
        key = self.list.chosen_key
        row = self.model.row_of(key) if key is not None else None
        self._mark()
        if row is not None:
            self.stop_chosen.emit(self.model.rows[row].tree_key)

    def _mark(self) -> None:
        key = self.list.chosen_key
        row = self.model.row_of(key) if key is not None else None
        self.profile.mark(int(self.model.rows[row].number) if row is not None else None)
        self.stop_told.show_stop(self.chosen_stop)

    @property
    def chosen_stop(self) -> RoundStop | None:
        """The stop that is chosen."""
        planned, key = self._planning.planned, self.list.chosen_key
        stops = (s for trip in planned.trips for s in trip.stops) if planned is not None else ()
        return next((s for s in stops if s.key == key), None)

    def show_kit(self) -> None:
        """Unfold what to take along, and go there."""
        self.kit.unfold()
