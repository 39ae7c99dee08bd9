"""Where would a tank or the car stand best? The same walk from each place that could be, the best first."""

from __future__ import annotations

from datetime import date

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QButtonGroup, QVBoxLayout

from standmap.desktop.canvas.overlay import Overlay
from standmap.desktop.desk import Desk
from standmap.desktop.kit import button, clear, heading, keys_text, label, second, side_by_side
from standmap.desktop.pages.collect.beside_overlays import PlaceOverlay
from standmap.desktop.pages.collect.over_sheet import OverSheet
from standmap.desktop.pages.collect.wording import duration
from standmap.desktop.words import said, tr, tr_n
from standmap.desktop.working import Watch, Work
from standmap.jobs.ground_by_hand import add_place
from standmap.jobs.positions import xy
from standmap.jobs.round_options import RoundOptions
from standmap.jobs.round_tanks import Standing, where_tank
from standmap.jobs.solving import solve_apart
from standmap.stand.ground import Place, PlaceKind

LOOKING = "looking at places"
"""What `where_tank` says of its progress; the searches from each place say other things."""

START_KINDS = (PlaceKind.TANK, PlaceKind.GATE)


class TankSheet(OverSheet):
    """The places with what the walk costs from each.

    Signals: `start_wanted` (key of the place that the walk is to start from).
    """

    start_wanted = Signal(str)

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk)
        self.found: tuple[Standing, ...] = ()
        self.rows = QButtonGroup(self)
        self._work: Work[tuple[Standing, ...]] | None = None
        self._token = object()
        self.heading = heading(tr("Where would a tank stand best?"))
        self.about = second("")
        self._rows = QVBoxLayout()
        self._rows.setSpacing(2)
        for part in (self.heading, self.about):
            self.down.addWidget(part)
        self.down.addLayout(self._rows)
        self.down.addWidget(self.back)
        self.take_button = button(tr("start from there"), self.go, "primary", keys_text("Ctrl+Return"))
        self.stop_button = button(tr("stop looking"), self._stop, "quiet")
        self.foot_line.addWidget(side_by_side(self.take_button, self.stop_button))
        self.rows.idToggled.connect(lambda *_: self._chosen())
        self._tell_ready()

    def ask(self, day: date, options: RoundOptions) -> None:
        """Plan the walk from each place, in the background."""
        seen = self._desk.seen
        if seen is None:
            return
        self._show(())
        stand, plans = seen.stand, seen.plans
        self.about.setText(tr("planning the walk from each place"))

        def look(watch: Watch) -> tuple[Standing, ...]:
            return where_tank(stand, day, options, plans=plans, progress=watch, solver=solve_apart)

        token = self._token = object()
        self._work = self._desk.compute(
            look,
            tr("looking at places"),
            lambda found: self._take(found) if self._token is token else None,
            lambda error: self._refuse(error) if self._token is token else None,
        )
        self._work.progressed.connect(self._tell_progress)
        self._tell_ready()

    def _tell_progress(self, done: float, total: float, what: str) -> None:
        if self._work is not None and what == LOOKING:
            self.about.setText(tr("place {n} of {count}", n=int(done) + 1, count=int(total)))

    def _take(self, found: tuple[Standing, ...]) -> None:
        self._work = None
        self._show(found)
        self.about.setText(tr("The same walk from each place, the best first; each was searched for a moment only."))
        first = self.rows.button(0)
        if first is not None:
            first.setChecked(True)
            first.setFocus()

    def _refuse(self, error: Exception) -> None:
        self._work = None
        self.about.setText(said(getattr(error, "what", str(error))))
        self._tell_ready()

    def _show(self, found: tuple[Standing, ...]) -> None:
        for row in self.rows.buttons():
            self.rows.removeButton(row)
        clear(self._rows)
        self.found = found
        units = self.units
        for number, one in enumerate(found):
            row = button(said(one.place.name) or tr(str(one.place.kind)), None, "row")
            row.setCheckable(True)
            trips = tr_n("{n} trip", "{n} trips", one.trips)
            holes = tr_n("{n} hole", "{n} holes", one.taps)
            costs = f"{units.distance(one.length_m)} · {duration(one.minutes)} · {trips} · {holes}"
            row.setAccessibleDescription(costs)
            self.rows.addButton(row, number)
            self._rows.addWidget(row)
            told = label(costs, "source")
            told.setContentsMargins(10, 0, 0, 4)
            self._rows.addWidget(told)
        self._tell_ready()
        self.map_changed.emit()

    @property
    def chosen(self) -> Standing | None:
        """The place that is looked at."""
        number = self.rows.checkedId()
        return self.found[number] if 0 <= number < len(self.found) else None

    def overlays(self) -> tuple[Overlay, ...]:
        """Return what the map shows of it."""
        chosen, seen = self.chosen, self._desk.seen
        if chosen is None or seen is None or seen.frame is None:
            return ()
        ((x, y),) = xy(seen.frame, [chosen.place.at]).tolist()
        name = "" if self._stands(chosen.place) else said(chosen.place.name)
        return (PlaceOverlay(x, y, name, self._desk.settings.text_size_percent / 100),)

    def _stands(self, place: Place) -> bool:
        """Whether the stand has this very place."""
        seen = self._desk.seen
        return seen is not None and any(one.key == place.key for one in seen.stand.places)

    def _chosen(self) -> None:
        self._tell_ready()
        self.map_changed.emit()

    def _tell_ready(self) -> None:
        chosen = self.chosen
        self.stop_button.setVisible(self._work is not None)
        here = chosen is not None and self._stands(chosen.place) and chosen.place.kind in START_KINDS
        self.take_button.setText(tr("start from there") if here or chosen is None else tr("place a tank there"))
        self.take_button.setAccessibleName(self.take_button.text())
        self.take_button.setEnabled(chosen is not None and (here or not self._desk.read_only))

    def _stop(self) -> None:
        if self._work is not None:
            self._work.cancel()

    def forget(self) -> None:
        """Let go of what was found."""
        self._stop()
        self._work, self._token = None, object()
        self._show(())

    def go(self) -> None:
        """Start the walk from the chosen place; where nothing stands yet, a tank is placed first."""
        chosen = self.chosen
        if chosen is None or not self.take_button.isEnabled():
            return
        place = chosen.place
        if self._stands(place) and place.kind in START_KINDS:
            self.start_wanted.emit(place.key)
            return
        now = self._desk.now()
        self._desk.run(
            lambda file, _: add_place(file, PlaceKind.TANK, place.at, now),
            tr("placing a tank"),
            lambda made: self.start_wanted.emit(made.key),
        )
