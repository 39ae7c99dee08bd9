"""The walk as it was walked beside its plan: time, way, order, litres, and the stops that were missed."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFileDialog, QGridLayout, QVBoxLayout, QWidget

from standmap.desktop.canvas.courses import Course, course
from standmap.desktop.canvas.overlay import Overlay
from standmap.desktop.desk import Desk
from standmap.desktop.kit import button, caution_line, clear, fact_row, heading, keys_text, label, second
from standmap.desktop.list_box import ListBox
from standmap.desktop.pages.collect.ask_more import named
from standmap.desktop.pages.collect.beside_overlays import TrackOverlay
from standmap.desktop.pages.collect.name_label import NameLabel
from standmap.desktop.pages.collect.over_sheet import OverSheet
from standmap.desktop.pages.collect.trip_lines import AnyWalk
from standmap.desktop.pages.collect.wording import duration, long_day
from standmap.desktop.seen import Seen
from standmap.desktop.words import said, tr, tr_n
from standmap.jobs.given_walk import GivenWalk
from standmap.jobs.planned_round import Purpose
from standmap.jobs.positions import xy
from standmap.jobs.walked import WalkedRound, WalkedStop, walked_beside_plan
from standmap.messages import Collected


class BesideSheet(OverSheet):
    """One walk and the track of one file; nothing is stored."""

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk)
        self.walk: GivenWalk | None = None
        self.walked: WalkedRound | None = None
        self._path: Path | None = None
        self._seen: Seen | None = None
        """The stand against which the track was held."""
        self._course: Course | None = None
        self.heading = heading(tr("Beside the plan"))
        self.about = second("")
        self.whose = ListBox()
        self.whose_part = named(tr("whose track"), self.whose)
        self.wrong = label("", "error")
        self.wrong.hide()
        self._facts = QVBoxLayout()
        self._facts.setSpacing(4)
        for part in (self.heading, self.about, self.whose_part, self.wrong):
            self.down.addWidget(part)
        self.down.addLayout(self._facts)
        self.down.addWidget(self.back)
        self.choose_button = button(tr("choose a track..."), self.choose_file, "primary", keys_text("Ctrl+Return"))
        self.foot_line.addWidget(self.choose_button)
        self.whose.currentIndexChanged.connect(lambda _: self._look_again())

    @property
    def map_walk(self) -> AnyWalk | None:
        """The walk that the map shows."""
        return self.walk

    def show_walk(self, walk: GivenWalk) -> None:
        """Ask for a track to hold against a walk; the same walk keeps what was looked at."""
        if self.walk is not None and self.walk.key == walk.key:
            self.tell()
            return
        self.walk, self.walked, self._path, self._course = walk, None, None, None
        people = sorted({trip.collector for trip in walk.trips})
        self.whose.blockSignals(True)
        self.whose.clear()
        self.whose.addItem(tr("all of it"), None)
        for one in people:
            self.whose.addItem(tr("collector {n}", n=one), one)
        self.whose.blockSignals(False)
        self.whose_part.setVisible(len(people) > 1)
        self.tell()

    def choose_file(self) -> None:
        """Ask for the recorded track and look at it."""
        begin = str(self._path.parent) if self._path is not None else ""
        kinds = tr("tracks with times (*.gpx *.nmea)") + ";;" + tr("all files") + " (*)"
        chosen, _ = QFileDialog.getOpenFileName(self, tr("the track that was walked"), begin, kinds)
        if chosen:
            self.look_at(Path(chosen))

    def go(self) -> None:
        """Choose a track."""
        self.choose_file()

    def look_at(self, path: Path) -> None:
        """Hold a track against the walk."""
        seen, walk = self._desk.seen, self.walk
        if seen is None or walk is None:
            return
        self._path, self._seen = path, seen
        collector: int | None = self.whose.currentData()

        def look(_: object) -> tuple[WalkedRound, Collected]:
            heard = Collected()
            return walked_beside_plan(seen.stand, walk, path, collector=collector, messages=heard), heard

        self._desk.compute(look, tr("holding the track against the plan"), self._take, self._refuse)

    def _look_again(self) -> None:
        if self._path is not None:
            self.look_at(self._path)

    def _take(self, answer: tuple[WalkedRound, Collected]) -> None:
        walked, heard = answer
        seen = self._desk.seen
        if seen is None or seen.frame is None or self.walk is not walked.walk:
            return
        frame = seen.frame
        self.walked = walked
        self._course = course(walked.track, lambda points: xy(frame, list(points)))
        self.tell()
        for text in (*heard.told, *heard.cautions):
            self._facts.insertWidget(0, caution_line(self.units.in_sentence(said(text))))

    def _refuse(self, error: Exception) -> None:
        self.walked, self._course = None, None
        self.tell()
        self.wrong.setText(f"{said(getattr(error, 'what', str(error)))}; {said(getattr(error, 'remedy', ''))}")
        self.wrong.show()

    def overlays(self) -> tuple[Overlay, ...]:
        """Return the track, as the map shows it."""
        if self._course is None:
            return ()
        return (TrackOverlay(self._course, self._desk.settings.text_size_percent / 100),)

    def tell(self) -> None:
        """Show it as it stands; what was written down since counts."""
        if self.walked is not None and self._seen is not self._desk.seen:
            self._look_again()
        clear(self._facts)
        self.wrong.hide()
        walk, walked = self.walk, self.walked
        if walk is None:
            return
        self.about.setText(f"{long_day(walk.day)} · {tr(str(walk.purpose))}")
        if walked is None:
            self._facts.addWidget(
                second(tr("Choose the track of that walk, recorded with times; nothing of it is stored."))
            )
        else:
            self._tell_walked(walk, walked)
        self.map_changed.emit()

    def _tell_walked(self, walk: GivenWalk, walked: WalkedRound) -> None:
        units = self.units

        def pair(name: str, planned: str, came: str) -> None:
            self._facts.addWidget(fact_row(name, tr("{walked} of {planned}", walked=came, planned=planned)))

        pair(tr("time"), duration(walked.planned_min), duration(walked.walked_min))
        pair(tr("way, about"), units.distance(walked.planned_m), units.distance(walked.walked_m))
        if walk.purpose is Purpose.COLLECTING:
            brought = walked.brought_l
            came = tr("none noted") if brought is None else units.volume(brought * 1000)
            pair(tr("sap"), units.volume(walked.expected_l * 1000), came)
        reached = len(walked.stops) - len(walked.missed)
        pair(tr("stops"), str(len(walked.stops)), str(reached))
        order = (
            tr("as planned")
            if not walked.swapped
            else tr_n("{n} pair the other way round", "{n} pairs the other way round", walked.swapped)
        )
        self._facts.addWidget(fact_row(tr("order"), order))
        if walked.missed:
            names = ", ".join(stop.name for stop in walked.missed)
            self._facts.addWidget(caution_line(tr("not come to: {trees}", trees=names)))
        self._facts.addWidget(self._table(walk, walked))

    def _table(self, walk: GivenWalk, walked: WalkedRound) -> QWidget:
        sheet = QWidget()
        grid = QGridLayout(sheet)
        grid.setContentsMargins(0, 8, 0, 0)
        grid.setHorizontalSpacing(10)
        grid.setVerticalSpacing(4)
        grid.setColumnStretch(1, 1)
        with_sap = walk.purpose is Purpose.COLLECTING
        titles = ("", tr("tree"), tr("planned"), tr("walked"), self.units.volume_unit if with_sap else "")
        for column, title in enumerate(titles):
            side = Qt.AlignmentFlag.AlignRight if column > 1 else Qt.AlignmentFlag.AlignLeft
            grid.addWidget(label(title, "source", wrap=False), 0, column, side)
        for number, stop in enumerate(walked.stops, start=1):
            for column, text in enumerate(self._cells(stop, with_sap=with_sap)):
                if column == 1:
                    grid.addWidget(NameLabel(text), number, column)
                    continue
                cell = label(text, "second" if column in (0, 2) else "text", wrap=False)
                side = Qt.AlignmentFlag.AlignRight if column else Qt.AlignmentFlag.AlignLeft
                grid.addWidget(cell, number, column, side)
        return sheet

    def _cells(self, stop: WalkedStop, *, with_sap: bool) -> tuple[str, str, str, str, str]:
        order = str(stop.planned_order)
        if stop.walked_order is not None and stop.walked_order != stop.planned_order:
            order = f"{order} → {stop.walked_order}"
        came = tr("missed") if stop.walked_min is None else tr("{n} min", n=round(stop.walked_min))
        brought = ""
        if with_sap:
            brought = "–" if stop.brought_l is None else self.units.volume(stop.brought_l * 1000).split(" ")[0]
            brought = f"{brought} / {self.units.volume(stop.expected_l * 1000).split(' ')[0]}"
        return order, stop.name, tr("{n} min", n=round(stop.planned_min)), came, brought
