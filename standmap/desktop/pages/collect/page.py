"""Collect: plan the morning's walk, put it in order by hand, write down what came home."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np
from PySide6.QtWidgets import QVBoxLayout, QWidget

from standmap.desktop.actions import Action
from standmap.desktop.canvas.canvas import MapCanvas
from standmap.desktop.desk import Desk, wording
from standmap.desktop.kit import button, keys_text, side_by_side
from standmap.desktop.pages.collect.ask_sheet import AskSheet
from standmap.desktop.pages.collect.batches import Batches
from standmap.desktop.pages.collect.coming_home import ComingHome
from standmap.desktop.pages.collect.giving_out import GivingOut
from standmap.desktop.pages.collect.here_sheet import HereSheet
from standmap.desktop.pages.collect.on_map import RoundOnMap
from standmap.desktop.pages.collect.over_sheet import OverSheet
from standmap.desktop.pages.collect.page_actions import collect_actions
from standmap.desktop.pages.collect.planning import Planning, Stage
from standmap.desktop.pages.collect.returns_sheet import ReturnsSheet
from standmap.desktop.pages.collect.search_sheet import SearchSheet
from standmap.desktop.pages.collect.season_sheet import SeasonSheet
from standmap.desktop.pages.collect.tank_sheet import TankSheet
from standmap.desktop.pages.collect.tonight_sheet import TonightSheet
from standmap.desktop.pages.collect.trip_lines import AnyWalk
from standmap.desktop.pages.collect.walk_sheet import WalkSheet
from standmap.desktop.pages.page import Page
from standmap.desktop.words import tr
from standmap.jobs.planned_round import Purpose
from standmap.jobs.round_options import RoundOptions


class CollectPage(Page):
    """The walk of a day and its returns.

    Attributes
    ----------
    overs
        The sheets that lie over the stage's own, the last on top; a way back leads from each to the one below.
    """

    name = "collect"

    def __init__(self, desk: Desk, canvas: MapCanvas) -> None:
        super().__init__(desk, canvas, tr("Collect"))
        self.planning = Planning(desk, self)
        self.ask = AskSheet(desk)
        self.searching = SearchSheet(desk, self.planning)
        self.walk = WalkSheet(desk, self.planning)
        self.home = ComingHome(desk, self.lay, self)
        self.here = HereSheet(desk, self.planning)
        self.tanks = TankSheet(desk)
        self.batches = Batches(desk, self.lay, self)
        self.season = SeasonSheet(desk)
        self.tonight = TonightSheet(desk)
        self.giving = GivingOut(desk, self.panel)
        self.overs: list[OverSheet] = []
        self.on_map = RoundOnMap(desk, canvas, self)
        self._build()
        self._connect()
        self._tell()

    def _build(self) -> None:
        self._all_overs: tuple[OverSheet, ...] = (
            *self.home.sheets,
            *self.batches.sheets,
            self.season,
            self.tonight,
            self.here,
            self.tanks,
        )
        for sheet in (self.ask, self.searching, self.walk, *self._all_overs):
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
        self._stages = {
            Stage.ASKED: (self.ask, side_by_side(self.plan_button, self.returns_alone)),
            Stage.SEARCHING: (self.searching, self.stop_button),
            Stage.PLANNED: (self.walk, self.planned_foot),
        }
        for foot in (*(foot for _, foot in self._stages.values()), *(over.foot for over in self._all_overs)):
            self.panel.foot.addWidget(foot)

    def _connect(self) -> None:
        desk, planning = self.desk, self.planning
        desk.seen_changed.connect(self._stand_changed)
        desk.settings_changed.connect(self._settings_changed)
        desk.chosen_changed.connect(self._follow_map)
        planning.changed.connect(self._stage_changed)
        planning.bettered.connect(self._draw)
        planning.ordered.connect(self._ordered)
        self.ask.entered.connect(self.plan)
        self.ask.choose_wanted.connect(lambda: desk.page_changed.emit("choose"))
        self.ask.place_wanted.connect(lambda: desk.page_changed.emit("survey"))
        self.ask.tank_wanted.connect(self.look_for_tank)
        self.ask.given_wanted.connect(self.home.show_given)
        self.ask.batches_wanted.connect(lambda: self.batches.show(self.ask.chosen_day))
        self.ask.tonight_wanted.connect(self.show_tonight)
        self.ask.season_wanted.connect(lambda: self.lay(self.season))
        self.season.told.connect(lambda: self.ask.to_season.setText(self.season.short()))
        self.ask.day_changed.connect(self._tell_feet)
        self.walk.again_wanted.connect(self.plan_another)
        self.walk.rest_wanted.connect(self.plan_from_here)
        self.walk.beside_wanted.connect(self.show_beside)
        self.walk.looked_at.connect(self._look_at)
        for chosen in (self.walk.stop_chosen, self.home.given.stop_chosen, self.tonight.tree_chosen):
            chosen.connect(lambda key: self.desk.choose([key]))
        for over in self._all_overs:
            over.back_wanted.connect(self.back_to_walk)
            over.map_changed.connect(self._draw)
        self.here.plan_wanted.connect(self._plan_rest)
        self.tanks.start_wanted.connect(self._start_from)
        self.home.returns.line_entered.connect(self._point_at)
        self.home.done.line_entered.connect(self._point_at)

    # The page

    @property
    def over(self) -> OverSheet | None:
        """The sheet that lies on top."""
        return self.overs[-1] if self.overs else None

    @property
    def returns(self) -> ReturnsSheet:
        """The grid of litres."""
        return self.home.returns

    def actions(self) -> Sequence[Action]:
        """Return what can be done here."""
        return collect_actions(self)

    def entered(self) -> None:
        """Show the walk as it was left."""
        self._tell_sheets()
        self._tell()
        self._draw()

    def unfinished(self) -> bool:
        """Return whether a walk is planned or being planned, or returns were typed."""
        return self.planning.stage is not Stage.ASKED or bool(self.overs)

    def left(self) -> None:
        """Finish drawing; a search goes on, and what was typed is kept."""
        self.on_map.leave()
        self._point_at("")

    def turn_map(self) -> None:
        """Let the leg to the chosen stop point up, as it lies before whoever walks it."""
        stop, seen = self.walk.chosen_stop, self.desk.seen
        if stop is not None and seen is not None and seen.frame is not None:
            grid = stop.bearing_true_deg - float(seen.frame.convergence_deg(*map(np.array, stop.tree.at)))
            self.canvas.turn_to(grid)

    def lay(self, sheet: OverSheet) -> None:
        """Lay a sheet over the others, or go back to it where it lies below."""
        if sheet in self.overs:
            del self.overs[self.overs.index(sheet) + 1 :]
        else:
            self.overs.append(sheet)
        self._tell()
        self._draw()

    def back_to_walk(self) -> None:
        """Go back from the sheet on top; what was typed is kept."""
        if self.overs:
            self.overs.pop()
        if self.over is not None:
            self.over.tell()
        self._point_at("")
        self._tell()
        self._draw()

    @property
    def _searching(self) -> bool:
        return self.planning.stage is Stage.SEARCHING

    # What a person does

    def ask_for(self, purpose: Purpose) -> None:
        """Ask for a walk of this purpose."""
        self.ask.purposes[purpose].click()
        self.ask.purposes[purpose].setFocus()

    def plan(self) -> None:
        """Plan the walk that the form asks for."""
        if self.desk.seen is None or self._searching or self.overs:
            return
        asked = self.ask.asked()
        if asked is not None:
            self.ask.tell()
            self.planning.plan(*asked)

    def plan_from_here(self) -> None:
        """Ask where one stands and what is done, to plan the rest; the chosen stop is put in."""
        planned = self.planning.planned
        if planned is not None:
            self.here.show_at(self.walk.chosen_stop or planned.trips[0].stops[0])
            self.lay(self.here)
            self.here.where.setFocus()

    def _plan_rest(self, options: RoundOptions) -> None:
        self.overs.clear()
        self.planning.plan(self.planning.day, options)

    def look_for_tank(self) -> None:
        """Plan the walk from each place where a tank or the car could stand."""
        asked = self.ask.asked()
        if asked is not None:
            self.lay(self.tanks)
            self.tanks.ask(*asked)

    def _start_from(self, place_key: str) -> None:
        self.tanks.forget()
        self.back_to_walk()
        self.ask.start_from(place_key)
        self.ask.start.setFocus()

    def stop(self) -> None:
        """End the search and keep the best so far."""
        self.planning.stop()
        self.stop_button.setEnabled(False)

    def plan_another(self) -> None:
        """Let the walk go and show the form again."""
        self.overs.clear()
        self.planning.forget()
        self.ask.day.setFocus()

    def save_paper(self) -> None:
        """Ask for a file and write the walk sheet."""
        if self.planning.planned is not None:
            self.giving.paper(self.planning.planned)

    def save_phone(self) -> None:
        """Ask for a file and write the page for a phone."""
        if self.planning.planned is not None:
            self.giving.phone(self.planning.planned)

    def save_files(self) -> None:
        """Ask for a folder and write the files of the walk into it."""
        if self.planning.planned is not None:
            self.giving.files(self.planning.planned)

    def save_to(self, folder: Path) -> None:
        """Write walk.gpx, walk.geojson and walk.csv into a folder, off the GUI thread."""
        if self.planning.planned is not None:
            self.giving.files_to(self.planning.planned, folder)

    def show_tonight(self) -> None:
        """Show what the coming night will bring."""
        self.lay(self.tonight)
        self.tonight.tell()
        self.tonight.focus_first()

    def enter_returns(self, *, with_walk: bool = True) -> None:
        """Type what came home: in the order of the walk, or of the trees where there is none."""
        planned = self.planning.planned
        if self._searching:
            return
        if planned is not None and with_walk:
            self.home.enter(planned)
        else:
            self.home.enter_day(self.ask.chosen_day)

    def show_beside(self) -> None:
        """Hold a recorded track against the walk that is shown."""
        walk = self.home.given.walk if self.over is self.home.given else self.planning.planned
        if walk is not None:
            self.home.hold_beside(walk)

    def go(self) -> None:
        """Do what the first button does."""
        if self.over is not None:
            self.over.go()
        elif self.planning.stage is Stage.ASKED:
            self.plan()

    # What changes

    def _stand_changed(self) -> None:
        if self.desk.seen is None:
            self.overs.clear()
            self.home.forget()
            self.batches.forget()
            self.tonight.forget()
            self.tanks.forget()
            self.planning.forget()
            return
        if not self.shown:
            return
        self._tell_sheets()
        self._draw()
        self._tell_feet()

    def _tell_sheets(self) -> None:
        self.ask.tell()
        self.season.tell()
        self.home.make_ready()
        if self.planning.stage is Stage.PLANNED:
            self.walk.tell()
        if self.over is not None:
            self.over.tell()

    def _settings_changed(self) -> None:
        self.returns.units_changed()
        if self.planning.stage is Stage.PLANNED:
            self.walk.tell()
        if self.over is not None:
            self.over.tell()
        if self.shown:
            self._draw()

    def _stage_changed(self) -> None:
        stage = self.planning.stage
        if stage is Stage.SEARCHING:
            self.stop_button.setEnabled(True)
        elif stage is Stage.PLANNED:
            self.walk.tell()
        self._tell()
        if stage is Stage.PLANNED and self.shown and self.over is None:
            self.walk.list.setFocus()
        elif stage is Stage.SEARCHING and self.shown:
            self.stop_button.setFocus()
        if stage is Stage.ASKED and self.planning.refused is not None:
            self.ask.say_refused(wording(self.planning.refused))
        self._draw(drawing=stage is Stage.PLANNED)

    def _ordered(self) -> None:
        self.walk.tell()
        self._draw()

    def _tell(self) -> None:
        """Show the sheet and the buttons of the stage, or those that lie over them."""
        over = self.over
        parts: list[tuple[QWidget, QWidget, bool]] = [
            (sheet, foot, over is None and stage is self.planning.stage)
            for stage, (sheet, foot) in self._stages.items()
        ]
        parts += [(one, one.foot, one is over) for one in self._all_overs]
        # What goes is hidden first, so that the panel never has to hold two sheets at once.
        for sheet, foot, visible in sorted(parts, key=lambda part: part[2]):
            sheet.setVisible(visible)
            foot.setVisible(visible)
        self.panel.scroller.verticalScrollBar().setValue(0)
        self._tell_feet()

    def _tell_feet(self) -> None:
        self.plan_button.setEnabled(self.ask.can_plan)
        self.returns_alone.setVisible(self.ask.purpose is Purpose.COLLECTING)

    # The map

    def _follow_map(self) -> None:
        if not self.shown:
            return
        if self.planning.stage is Stage.PLANNED:
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
        """Show the walk of the sheet on top, else the round, or the best so far, on the map."""
        if not self.shown:
            return
        searching = self._searching
        own: AnyWalk | None = self.planning.best if searching else self.planning.planned
        told = next((over.map_walk for over in reversed(self.overs) if over.map_walk is not None), None)
        beside = self.over.overlays() if self.over is not None else ()
        self.on_map.show(told or own, sketch=searching and told is None, drawing=drawing, beside=beside)
