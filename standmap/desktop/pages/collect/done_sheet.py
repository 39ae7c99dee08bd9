"""What a tapping or closing walk came to, stop by stop: the hole that was made, or what was done to the wound."""

from __future__ import annotations

from datetime import date

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QGridLayout, QWidget

from standmap.desktop.desk import Desk
from standmap.desktop.kit import button, heading, keys_text, label, second, side_by_side
from standmap.desktop.pages.collect.done_lines import ClosedLine, DoneLine, MadeLine, figure_units
from standmap.desktop.pages.collect.done_state import FIGURES, IN_ORDER, DoneTyped
from standmap.desktop.pages.collect.over_sheet import OverSheet
from standmap.desktop.pages.collect.wording import long_day
from standmap.desktop.words import said, tr, tr_n
from standmap.jobs.given_walk import GivenWalk
from standmap.jobs.planned_round import Purpose
from standmap.jobs.record import RecordReport
from standmap.jobs.walk_done import DoneRow, SeenTo, acts_done, done_rows, hole_made, store_made, store_seen_to
from standmap.stand.tapping import Act


class DoneSheet(OverSheet):
    """The grid of one walk.

    Signals: `line_entered` (key of a tree whose line has the focus), `phone_wanted`.
    """

    line_entered = Signal(str)
    phone_wanted = Signal()

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk)
        self.typed = DoneTyped()
        self.walk: GivenWalk | None = None
        self.lines: dict[str, DoneLine] = {}
        self._rows: tuple[DoneRow, ...] = ()
        self._busy = False
        self.heading = heading("")
        self.about = second("")
        self.all_out = button(tr("all tubes are out"), self.tick_all, "link")
        self.grid_sheet = QWidget()
        self._grid = QGridLayout(self.grid_sheet)
        self._grid.setContentsMargins(0, 0, 0, 0)
        self._grid.setHorizontalSpacing(4)
        self._grid.setVerticalSpacing(4)
        self.how = second(tr("what is not ticked is not written down"))
        for part in (self.heading, self.about, self.all_out, self.grid_sheet, self.how, self.back):
            self.down.addWidget(part)
        self.store_button = button(tr("write it down"), self.store, "primary", keys_text("Ctrl+Return"))
        self.phone_button = button(tr("from a phone..."), self.phone_wanted.emit, "quiet")
        self.foot_line.addWidget(side_by_side(self.store_button, self.phone_button))

    @property
    def day(self) -> date:
        """The day of the walk."""
        return self.walk.day if self.walk is not None else self._desk.today

    @property
    def _tapping(self) -> bool:
        return self.walk is not None and self.walk.purpose is Purpose.TAPPING

    def show_walk(self, walk: GivenWalk) -> None:
        """Show the stops of a walk; what was typed for its stops before is kept."""
        if self.walk is None or (self.walk.day, self.walk.purpose) != (walk.day, walk.purpose):
            self.typed.clear()
        self.walk = walk
        self._build()

    def _build(self) -> None:
        seen, walk = self._desk.seen, self.walk
        clear_grid(self._grid)
        self.lines = {}
        if seen is None or walk is None:
            return
        self._rows = done_rows(seen.stand, walk)
        self.heading.setText(tr("Holes that were made") if self._tapping else tr("What was done"))
        self.about.setText(long_day(walk.day))
        self.all_out.setVisible(not self._tapping)
        of = figure_units(self.units)
        words = {"height": tr("height"), "side": tr("side"), "depth": tr("depth"), "bit": tr("bit")}
        titles = (
            ("", tr("tree"), *(f"{words[name]}\n{of[name]}" for name in FIGURES))
            if self._tapping
            else (tr("tree"), tr("out"), tr("plugged"), tr("kept open"))
        )
        for column, title in enumerate(titles):
            self._grid.addWidget(label(title, "source", wrap=False), 0, column)
            self._grid.setColumnStretch(column, 1 if title == tr("tree") else 0)
        for number, row in enumerate(self._rows):
            typed = self.typed.line(row.key)
            line = MadeLine(self._desk, row, typed) if self._tapping else ClosedLine(row, typed)
            line.put_into(self._grid, 1 + 2 * number)
            line.changed.connect(self._retyped)
            line.moved.connect(lambda by, column, key=row.key: self._move(key, by, column))
            self.lines[row.key] = line
        self.tell()

    def tick_all(self) -> None:
        """Tick that every tube is out."""
        for row in self._rows:
            line = self.lines[row.key]
            if isinstance(line, ClosedLine) and line.boxes[Act.TAKEN_OUT].isEnabled():
                self.typed.line(row.key).turn(Act.TAKEN_OUT, on=True)
                line.show()
        self._retyped()

    def focus_first(self) -> None:
        """Go to the first stop of which nothing is written down."""
        for line in self.lines.values():
            box = next((w for w in line.stops if w.isEnabled()), None)
            if box is not None:
                box.setFocus(Qt.FocusReason.ShortcutFocusReason)
                return

    def _move(self, key: str, by: int, column: int) -> None:
        keys = list(self.lines)
        place = keys.index(key) + by
        if 0 <= place < len(keys):
            self.lines[keys[place]].stops[column].setFocus(Qt.FocusReason.TabFocusReason)
            self.line_entered.emit(self._rows[place].tree_key)
        elif by > 0 and self.store_button.isEnabled():
            self.store_button.setFocus()

    def _retyped(self) -> None:
        self.tell()

    # Checking and storing

    def _open(self) -> list[DoneRow]:
        """Return the stops of which what is ticked is not written down yet."""
        seen = self._desk.seen
        if seen is None:
            return []
        if self._tapping:
            return [row for row in self._rows if hole_made(seen.stand, row, self.day) is None]
        return [row for row in self._rows if not set(IN_ORDER[1:]) & acts_done(seen.stand, row)]

    def tell(self) -> bool:
        """Say what is wrong and what is written down already; return whether all is right."""
        seen = self._desk.seen
        if seen is None or self.walk is None:
            return False
        open_rows = self._open()
        errors = self.typed.made(open_rows, self.units)[1] if self._tapping else {}
        waiting = {row.key for row in open_rows}
        for row in self._rows:
            line = self.lines[row.key]
            wrong = errors.get(row.key)
            if isinstance(line, ClosedLine):
                line.is_written(acts_done(seen.stand, row))
            elif isinstance(line, MadeLine):
                line.is_written(hole_made(seen.stand, row, self.day))
            if wrong is not None:
                line.say(f"{said(wrong.error.what)}; {said(wrong.error.remedy)}", "error", wrong.figure)
            else:
                line.say("" if row.key in waiting else tr("written down"), "source")
        self.store_button.setEnabled(self.typed.anything(open_rows) and not self._desk.read_only and not self._busy)
        return not errors

    def go(self) -> None:
        """Write down what was ticked."""
        self.store()

    def store(self) -> None:
        """Write down what was ticked, as one edit; a line that is wrong is gone to instead."""
        if not self.store_button.isEnabled():
            return
        rows = self._open()
        if not self.tell():
            wrong = next(key for key, line in self.lines.items() if line.is_wrong)
            self.lines[wrong].stops[0].setFocus()
            return
        desk, day, today, now = self._desk, self.day, self._desk.today, self._desk.now()
        self._busy = True
        what = tr("writing down what was done")
        if self._tapping:
            made, _ = self.typed.made(rows, self.units)
            desk.run(lambda file, _: store_made(file, day, made, today, now), what, self._stored, self._refused)
            return
        seen = desk.seen
        assert seen is not None  # noqa: S101 - the lines are of an open stand
        done = {row.key: acts_done(seen.stand, row) for row in rows}
        todo = [
            SeenTo(one.row, tuple(act for act in one.acts if act not in done[one.row.key]))
            for one in self.typed.seen_to(rows)
            if set(one.acts) - done[one.row.key]
        ]
        desk.run(lambda file, _: store_seen_to(file, day, todo, today, now), what, self._stored, self._refused)

    def _stored(self, report: RecordReport) -> None:
        self._busy = False
        count = report.holes or len({row.key for row in self._rows if self.typed.line(row.key).acts})
        self._desk.tell(tr_n("{n} hole written down", "{n} holes written down", count))
        for text in report.cautions:
            self._desk.caution(said(text))
        self.tell()

    def _refused(self, error: Exception) -> None:
        self._busy = False
        self._desk.error(error)
        self.tell()


def clear_grid(grid: QGridLayout) -> None:
    """Take everything out of a grid."""
    while grid.count():
        item = grid.takeAt(0)
        widget = item.widget() if item is not None else None
        if widget is not None:
            widget.hide()
            widget.deleteLater()
    for column in range(grid.columnCount()):
        grid.setColumnStretch(column, 0)
