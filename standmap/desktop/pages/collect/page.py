"""Collect: plan the morning's walk, put it in order by hand, write down what came home."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path

import numpy as np
from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QVBoxLayout, QWidget

from standmap.desktop.actions import Action
from standmap.desktop.canvas.canvas import MapCanvas
from standmap.desktop.desk import Desk, wording
from standmap.desktop.kit import button, heading, keys_text, second, side_by_side
from standmap.desktop.pages.collect.ask_sheet import AskSheet
from standmap.desktop.pages.collect.giving_out import GivingOut
from standmap.desktop.pages.collect.on_map import RoundOnMap
from standmap.desktop.pages.collect.planning import Planning, Stage
from standmap.desktop.pages.collect.returns_sheet import ReturnsSheet
from standmap.desktop.pages.collect.walk_sheet import WalkSheet
from standmap.desktop.pages.collect.wording import improvement, summary
from standmap.desktop.pages.page import Page
from standmap.desktop.words import said, tr
from standmap.jobs.returns import group_of_day, groups_of

TICK_MS = 500
MOST_TRIPS = 9
"""Moving to a trip by its number has an action for so many."""


class CollectPage(Page):
    """The walk of a day and its returns."""

    name = "collect"

    def __init__(self, desk: Desk, canvas: MapCanvas) -> None:
        super().__init__(desk, canvas, tr("Collect"))
        self.planning = Planning(desk, self)
        self.ask = AskSheet(desk)
        self.walk = WalkSheet(desk, self.planning)
        self.returns = ReturnsSheet(desk)
        self.giving = GivingOut(desk, self.panel)
        self._in_returns = False
        self._with_walk = True
        self._tick = QTimer(self)
        self._tick.setInterval(TICK_MS)
        self._tick.timeout.connect(self._tell_search)
        self.on_map = RoundOnMap(desk, canvas, self)
        self._build()
        self._connect()
        self._tell()

    def _build(self) -> None:
        self.searching = QWidget()
        down = QVBoxLayout(self.searching)
        down.setContentsMargins(0, 0, 0, 0)
        down.setSpacing(8)
        self.search_title = heading(tr("Looking for a short walk"))
        self.search_best = second("")
        self.search_told = second("")
        for part in (self.search_title, self.search_best, self.search_told):
            down.addWidget(part)
        for sheet in (self.ask, self.searching, self.walk, self.returns):
            self.panel.down.addWidget(sheet)
        self.panel.down.addStretch(1)
        self.plan_button = button(tr("plan the walk"), self.plan, "primary", keys_text("Ctrl+Return"))
        self.returns_alone = button(tr("enter returns"), lambda: self.enter_returns(with_walk=False), "quiet")
        self.stop_button = button(tr("stop and keep the best so far"), self.stop, "primary")
        self.paper_button = button(tr("walk sheet..."), self.save_paper, "primary")
        self.phone_button = button(tr("to the phone..."), self.save_phone, "quiet")
        self.save_button = button(tr("other files..."), self.save_files, "quiet")
        self.returns_button = button(tr("enter returns"), self.enter_returns, "quiet")
        self.planned_foot = QWidget()
        two = QVBoxLayout(self.planned_foot)
        two.setContentsMargins(0, 0, 0, 0)
        two.setSpacing(8)
        two.addWidget(side_by_side(self.paper_button, self.phone_button))
        two.addWidget(side_by_side(self.save_button, self.returns_button))
        self.store_button = button(tr("store the returns"), self.store, "primary", keys_text("Ctrl+Return"))
        self.feet = (
            side_by_side(self.plan_button, self.returns_alone),
            self.stop_button,
            self.planned_foot,
            self.store_button,
        )
        for foot in self.feet:
            self.panel.foot.addWidget(foot)

    def _connect(self) -> None:
        desk, planning = self.desk, self.planning
        desk.seen_changed.connect(self._stand_changed)
        desk.settings_changed.connect(self._settings_changed)
        desk.chosen_changed.connect(self._follow_map)
        planning.changed.connect(self._stage_changed)
        planning.bettered.connect(self._bettered)
        planning.ordered.connect(self._ordered)
        self.ask.entered.connect(self.plan)
        self.ask.choose_wanted.connect(lambda: desk.page_changed.emit("choose"))
        self.ask.place_wanted.connect(lambda: desk.page_changed.emit("survey"))
        self.ask.day_changed.connect(self._tell_feet)
        self.walk.again_wanted.connect(self.plan_another)
        self.walk.stop_chosen.connect(lambda key: self.desk.choose([key]))
        self.walk.looked_at.connect(self._look_at)
        self.returns.walk_wanted.connect(self.back_to_walk)
        self.returns.ready.connect(self._tell_feet)
        self.returns.finished.connect(self._returns_finished)
        self.returns.line_entered.connect(self._point_at)

    # The page

    def actions(self) -> Sequence[Action]:
        """Return what can be done here."""

        def action(
            name: str, title: str, run: Callable[[], object], keys: str, enabled: Callable[[], bool], words: str = ""
        ) -> Action:
            return Action(f"collect.{name}", title, run, keys, self.name, enabled, words)

        def planned() -> bool:
            return self.planning.stage is Stage.PLANNED and not self._in_returns

        def stop_chosen() -> bool:
            return planned() and self.walk.list.chosen_key is not None

        def is_trip(trip: int) -> bool:
            return stop_chosen() and trip <= len(self.planning.orders)

        to_trips = [
            action(
                f"to_trip_{trip + 1}",
                tr("move the stop to trip {n}", n=trip + 1),
                partial(self.walk.to_trip, trip),
                f"Alt+{trip + 1}",
                partial(is_trip, trip),
            )
            for trip in range(MOST_TRIPS)
        ]
        return [
            action(
                "go",
                tr("plan the walk, or store the returns"),
                self._go,
                "Ctrl+Return; Ctrl+Enter",
                lambda: True,
                tr("round collect morning"),
            ),
            action("stop", tr("stop the search and keep the best so far"), self.stop, "", self._searching),
            action("another", tr("plan another walk"), self.plan_another, "", lambda: not self._searching()),
            action("paper", tr("print the walk sheet"), self.save_paper, "Ctrl+Shift+P", planned, tr("pdf paper map print")),
            action("phone", tr("put the walk on a phone"), self.save_phone, "", planned, tr("html page phone")),
            action(
                "files", tr("save the files of the walk"), self.save_files, "Ctrl+S", planned, tr("gpx csv geojson")
            ),
            action("returns", tr("enter returns"), self.enter_returns, "Ctrl+R", lambda: not self._searching()),
            action("back", tr("back to the walk"), self.back_to_walk, "", lambda: self._in_returns),
            action("list", tr("go to the stops of the walk"), self.walk.list.setFocus, "Alt+W", planned),
            action("earlier", tr("move the stop earlier"), lambda: self.walk.step(-1), "", stop_chosen),
            action("later", tr("move the stop later"), lambda: self.walk.step(1), "", stop_chosen),
            action("first", tr("keep the stop first on its trip"), lambda: self.walk.pin(True), "", stop_chosen),
            action("last", tr("keep the stop last on its trip"), lambda: self.walk.pin(False), "", stop_chosen),
            action("turn", tr("turn the map to the way you walk"), self._turn_map, "Alt+T", stop_chosen, tr("heading")),
            action("best", tr("back to the best order"), self.planning.back_to_best, "", self._by_hand),
            *to_trips,
        ]

    def entered(self) -> None:
        """Show the walk as it was left."""
        self.ask.tell()
        if self.planning.stage is Stage.PLANNED:
            self.walk.tell()
        if self._in_returns:
            self.returns.tell()
        self._tell()
        self._draw()

    def unfinished(self) -> bool:
        """Return whether a walk is planned or being planned, or returns were typed."""
        return self.planning.stage is not Stage.ASKED or self._in_returns

    def left(self) -> None:
        """Finish drawing; a search goes on, and what was typed is kept."""
        self.on_map.leave()
        self._point_at("")

    def _turn_map(self) -> None:
        """Let the leg to the chosen stop point up, as it lies before whoever walks it."""
        planned, seen = self.planning.planned, self.desk.seen
        if planned is None or seen is None or seen.frame is None:
            return
        for stop in (s for trip in planned.trips for s in trip.stops):
            if stop.key == self.walk.list.chosen_key:
                grid = stop.bearing_true_deg - float(seen.frame.convergence_deg(*map(np.array, stop.tree.at)))
                self.canvas.turn_to(grid)

    def _searching(self) -> bool:
        return self.planning.stage is Stage.SEARCHING

    def _by_hand(self) -> bool:
        return self.planning.stage is Stage.PLANNED and not self.planning.is_best

    # What a person does

    def plan(self) -> None:
        """Plan the walk that the form asks for."""
        if self.desk.seen is None or self._searching() or self._in_returns:
            return
        asked = self.ask.asked()
        if asked is not None:
            self.ask.tell()
            self.planning.plan(*asked)

    def stop(self) -> None:
        """End the search and keep the best so far."""
        self.planning.stop()
        self.stop_button.setEnabled(False)

    def plan_another(self) -> None:
        """Let the walk go and show the form again."""
        self._in_returns = False
        self.planning.forget()
        self.ask.day.setFocus()

    def save_paper(self) -> None:
        """Ask for a file and write the walk sheet."""
        planned = self.planning.planned
        if planned is not None:
            self.giving.paper(planned)

    def save_phone(self) -> None:
        """Ask for a file and write the page for a phone."""
        planned = self.planning.planned
        if planned is not None:
            self.giving.phone(planned)

    def save_files(self) -> None:
        """Ask for a folder and write the files of the walk into it."""
        planned = self.planning.planned
        if planned is not None:
            self.giving.files(planned)

    def save_to(self, folder: Path) -> None:
        """Write walk.gpx, walk.geojson and walk.csv into a folder, off the GUI thread."""
        planned = self.planning.planned
        if planned is not None:
            self.giving.files_to(planned, folder)

    def enter_returns(self, *, with_walk: bool = True) -> None:
        """Type what came home: in the order of the walk, or of the trees where there is none."""
        seen, planned = self.desk.seen, self.planning.planned
        if seen is None or self._searching():
            return
        self._with_walk = with_walk and planned is not None
        if planned is not None and self._with_walk:
            self.returns.show_groups(planned.day, groups_of(planned))
        else:
            day = self.ask.chosen_day
            self.returns.show_groups(day, (group_of_day(seen.stand, day),))
        self._in_returns = True
        self._tell()
        self.returns.focus_first()

    def back_to_walk(self) -> None:
        """Go back from the returns; what was typed is kept."""
        self._in_returns = False
        self._point_at("")
        self._tell()

    def store(self) -> None:
        """Write the returns down."""
        self.returns.store()

    def _go(self) -> None:
        if self._in_returns:
            self.store()
        elif self.planning.stage is Stage.ASKED:
            self.plan()

    # What changes

    def _stand_changed(self) -> None:
        if self.desk.seen is None:
            self._in_returns = False
            self.returns.typed.clear()
            self.planning.forget()
            return
        if not self.shown:
            return
        self.ask.tell()
        if self.planning.stage is Stage.PLANNED:
            self.walk.tell()
        if self._in_returns:
            self.returns.tell()
        self._draw()
        self._tell_feet()

    def _settings_changed(self) -> None:
        self.returns.units_changed()
        if self.planning.stage is Stage.PLANNED:
            self.walk.tell()
        if self.shown:
            self._draw()

    def _stage_changed(self) -> None:
        stage = self.planning.stage
        if stage is Stage.SEARCHING:
            self.stop_button.setEnabled(True)
            self._tick.start()
            self._tell_search()
            work = self.planning.work
            if work is not None:
                work.progressed.connect(lambda _done, _total, what: self.search_told.setToolTip(said(what)))
        else:
            self._tick.stop()
        if stage is Stage.PLANNED:
            self.walk.tell()
        self._tell()
        if stage is Stage.PLANNED and self.shown:
            self.walk.list.setFocus()
        elif stage is Stage.SEARCHING and self.shown:
            self.stop_button.setFocus()
        if stage is Stage.ASKED and self.planning.refused is not None:
            self.ask.say_refused(wording(self.planning.refused))
        self._draw(drawing=stage is Stage.PLANNED)

    def _bettered(self) -> None:
        self._tell_search()
        self._draw()

    def _ordered(self) -> None:
        self.walk.tell()
        self._draw()

    def _tell_search(self) -> None:
        planning = self.planning
        units = self.desk.units
        best = planning.best
        self.search_best.setText(
            tr("best so far: {round}", round=summary(best, units)) if best is not None else tr("finding the ways")
        )
        told = improvement(planning.first_m, best, planning.elapsed_s, units) if best is not None else ""
        self.search_told.setText(tr("stopping...") if planning.stopping else told)

    def _tell(self) -> None:
        """Show the sheet and the buttons of the stage."""
        stage = self.planning.stage
        shown = (
            stage is Stage.ASKED and not self._in_returns,
            stage is Stage.SEARCHING,
            stage is Stage.PLANNED and not self._in_returns,
            self._in_returns,
        )
        for sheet, foot, visible in zip(
            (self.ask, self.searching, self.walk, self.returns), self.feet, shown, strict=True
        ):
            sheet.setVisible(visible)
            foot.setVisible(visible)
        self.panel.scroller.verticalScrollBar().setValue(0)
        self._tell_feet()

    def _tell_feet(self) -> None:
        self.plan_button.setEnabled(self.ask.can_plan)
        self.store_button.setEnabled(self.returns.can_store)

    def _returns_finished(self) -> None:
        if self.store_button.isEnabled():
            self.store_button.setFocus()

    # The map

    def _follow_map(self) -> None:
        if self.shown and self.planning.stage is Stage.PLANNED:
            self.walk.choose_tree(self.desk.chosen[-1] if self.desk.chosen else None)
            self.on_map.chosen_changed()

    def _point_at(self, tree_key: str) -> None:
        seen = self.desk.seen
        self.canvas.point_at(seen.row_of.get(tree_key) if seen is not None else None)

    def _look_at(self, tree_key: str) -> None:
        seen = self.desk.seen
        if seen is not None and tree_key in seen.row_of:
            self.canvas.centre_on(*seen.xy[seen.row_of[tree_key]])

    def _draw(self, *, drawing: bool = False) -> None:
        """Show the round, or the best so far, on the map."""
        if self.shown:
            searching = self._searching()
            self.on_map.show(
                self.planning.best if searching else self.planning.planned, sketch=searching, drawing=drawing
            )
