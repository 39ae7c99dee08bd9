"""The grid in which returns are typed in the order of the walk, by keys alone; errors stand below their line."""

from __future__ import annotations

from datetime import date

from PySide6.QtCore import QSignalBlocker, Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QCheckBox, QGridLayout, QLineEdit, QVBoxLayout, QWidget

from standmap.desktop.desk import Desk
from standmap.desktop.kit import (
    button,
    caution_line,
    clear,
    heading,
    keys_text,
    label,
    second,
    set_error_mark,
    side_by_side,
)
from standmap.desktop.pages.collect.name_label import NameLabel
from standmap.desktop.pages.collect.over_sheet import OverSheet
from standmap.desktop.pages.collect.returns_state import Checked, ReturnsTyped, total_line
from standmap.desktop.pages.collect.wording import long_day
from standmap.desktop.words import said, tr, tr_n
from standmap.jobs.returns import ReturnGroup, WrittenAlreadyError, store_returns, written_down
from standmap.stand.tapping import Collection

AMOUNT_PX = 64


class Cell(QLineEdit):
    """A line to type in; Enter and Down go to the next line, Up to the one before, in the same column.

    Signals: `moved` (-1 up, +1 down).
    """

    moved = Signal(int)

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: N802 - Qt's name
        """Move between lines."""
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter, Qt.Key.Key_Down) and not event.modifiers() & ~(
            Qt.KeyboardModifier.KeypadModifier
        ):
            self.moved.emit(1)
        elif event.key() == Qt.Key.Key_Up and not event.modifiers():
            self.moved.emit(-1)
        else:
            super().keyPressEvent(event)


class Line:
    """The widgets of one line of the grid."""

    def __init__(self, name: str, unit: str) -> None:
        self.amount = Cell()
        self.amount.setAlignment(Qt.AlignmentFlag.AlignRight)
        self.amount.setAccessibleName(tr("{tree}, what came home, {unit}", tree=name, unit=unit))
        self.note = Cell()
        self.note.setAccessibleName(tr("{tree}, note", tree=name))
        self.note.setPlaceholderText(tr("note"))
        self.overflowed = QCheckBox()
        self.overflowed.setAccessibleName(tr("{tree}, the vessel ran over", tree=name))
        self.overflowed.setToolTip(tr("the vessel ran over"))
        for cell in (self.amount, self.note):
            cell.setMaxLength(32767)  # too long is said, not cut in silence
        self.told = label("", "error")
        self.told.hide()

    def say(self, text: str, role: str) -> None:
        """Show something below the line: an error, a doubt, or what is written down."""
        if text == self.told.text() and (role == self.told.property("role") or not text):
            return
        if self.told.property("role") != role:
            self.told.setProperty("role", role)
            self.told.style().unpolish(self.told)
            self.told.style().polish(self.told)
        self.told.setText(text)
        self.told.setVisible(bool(text))
        self.amount.setAccessibleDescription(text)
        set_error_mark(self.amount, role == "error" and bool(text))


class ReturnsSheet(OverSheet):
    """Returns of one day.

    Signals: `line_entered` (key of a tree whose line has the focus), `phone_wanted`.
    """

    line_entered = Signal(str)
    phone_wanted = Signal()

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk)
        self.typed = ReturnsTyped()
        self.day: date = desk.today
        self.lines: dict[str, Line] = {}
        self._tree_of: dict[str, str] = {}
        self._busy = False
        self._unit = self.units.volume_unit
        self.heading = heading("")
        self.about = second("")
        self.how = second(tr("Enter goes to the next line; what is left empty is not written down"))
        self.grid_sheet = QWidget()
        self._grid = QVBoxLayout(self.grid_sheet)
        self._grid.setContentsMargins(0, 0, 0, 0)
        self._grid.setSpacing(6)
        self.question = caution_line("")
        self.in_place = button(tr("write these in their place"), lambda: self.store(in_place=True), "plain")
        self.leave = button(tr("leave as it is"), self._ask_nothing, "plain")
        self.asking = QWidget()
        asking = QVBoxLayout(self.asking)
        asking.setContentsMargins(0, 0, 0, 0)
        asking.addWidget(self.question)
        asking.addWidget(side_by_side(self.in_place, self.leave))
        self.asking.hide()
        for part in (self.heading, self.about, self.grid_sheet, self.asking, self.how, self.back):
            self.down.addWidget(part)
        self.store_button = button(tr("store the returns"), self.store, "primary", keys_text("Ctrl+Return"))
        self.phone_button = button(tr("from a phone..."), self.phone_wanted.emit, "quiet")
        self.foot_line.addWidget(side_by_side(self.store_button, self.phone_button))

    # The grid

    def show_groups(self, day: date, groups: tuple[ReturnGroup, ...]) -> None:
        """Show the lines of a day; what was typed for that day before is kept."""
        if day != self.day:
            self.typed.clear()
        self.day = day
        self.typed.show(groups)
        self._build()

    def _build(self) -> None:
        clear(self._grid)
        self.lines, self._tree_of = {}, {}
        self._ask_nothing()
        self.heading.setText(tr("What came home"))
        self.about.setText(long_day(self.day))
        for group in self.typed.groups:
            self._grid.addWidget(self._group(group))
        for key, line in self.lines.items():
            typed = self.typed.line(key)
            line.amount.setText(typed.amount)
            line.note.setText(typed.note)
            with QSignalBlocker(line.overflowed):
                line.overflowed.setChecked(typed.overflowed)
        self.tell()

    def units_changed(self) -> None:
        """Show the lines in other units; a bare number keeps the unit in which it was typed."""
        before, self._unit = self._unit, self.units.volume_unit
        if before != self._unit:
            self.typed.name_unit(before)
            self._build()

    def _group(self, group: ReturnGroup) -> QWidget:
        sheet = QWidget()
        grid = QGridLayout(sheet)
        grid.setContentsMargins(0, 0, 0, 4)
        grid.setHorizontalSpacing(8)
        grid.setVerticalSpacing(4)
        grid.setColumnStretch(0, 3)
        grid.setColumnStretch(3, 4)
        units = self.units
        total_ml = 1000 * sum(row.expected_l for row in group.rows)
        if group.trip is not None:
            name = tr("trip {n}", n=group.trip)
            as_total = QCheckBox(tr("as one total"))
            as_total.setAccessibleName(tr("{trip} as one total", trip=name))
            as_total.setChecked(group.trip in self.typed.as_total)
            as_total.toggled.connect(lambda on, trip=group.trip: self.turn_total(trip, on=on))
            top = QWidget()
            beside = QGridLayout(top)
            beside.setContentsMargins(0, 0, 0, 0)
            beside.addWidget(label(name, "strong", wrap=False), 0, 0)
            beside.setColumnStretch(1, 1)
            beside.addWidget(as_total, 0, 2)
            grid.addWidget(top, 0, 0, 1, 5)
        single = group.trip is None or group.trip not in self.typed.as_total
        titles = (tr("tree"), tr("expected"), units.volume_unit, "", tr("over") if single else "")
        for column, title in enumerate(titles):
            side = Qt.AlignmentFlag.AlignRight if column in (1, 2) else Qt.AlignmentFlag.AlignLeft
            grid.addWidget(label(title, "source", wrap=False), 1, column, side)
        if group.trip is not None and group.trip in self.typed.as_total:
            trees = tr_n("{n} hole", "{n} holes", len(group.rows))
            self._line(grid, 2, total_line(group.trip), trees, units.volume(total_ml), "")
            return sheet
        for number, row in enumerate(group.rows):
            self._line(grid, 2 + 2 * number, row.hole_key, row.name, units.volume(row.expected_l * 1000), row.tree_key)
        return sheet

    def _line(self, grid: QGridLayout, at: int, key: str, name: str, expected: str, tree_key: str) -> None:
        line = self.lines[key] = Line(name, self.units.volume_unit)
        self._tree_of[key] = tree_key
        line.amount.setFixedWidth(round(AMOUNT_PX * self._desk.settings.text_size_percent / 100))
        grid.addWidget(NameLabel(name), at, 0)
        grid.addWidget(label(expected, "second", wrap=False), at, 1, Qt.AlignmentFlag.AlignRight)
        grid.addWidget(line.amount, at, 2)
        grid.addWidget(line.note, at, 3)
        if tree_key:
            grid.addWidget(line.overflowed, at, 4, Qt.AlignmentFlag.AlignHCenter)
        grid.addWidget(line.told, at + 1, 0, 1, 5)
        line.amount.textEdited.connect(lambda text, k=key: self._amount_typed(k, text))
        line.note.textEdited.connect(lambda text, k=key: self._note_typed(k, text))
        line.overflowed.toggled.connect(lambda on, k=key: self._overflow_ticked(k, on=on))
        line.amount.moved.connect(lambda by, k=key: self._move(k, by, note=False))
        line.note.moved.connect(lambda by, k=key: self._move(k, by, note=True))
        line.amount.editingFinished.connect(self.tell)
        line.note.editingFinished.connect(self.tell)

    def turn_total(self, trip: int, *, on: bool) -> None:
        """Type a trip as one total, or tree by tree again; what was typed the other way is kept."""
        (self.typed.as_total.add if on else self.typed.as_total.discard)(trip)
        self._build()
        keys = self.typed.shown_lines()
        group = next((g for g in self.typed.groups if g.trip == trip), None)
        first = total_line(trip) if on else group.rows[0].hole_key if group is not None else ""
        if first in keys:
            self.lines[first].amount.setFocus()

    def focus_first(self) -> None:
        """Go to the first line in which nothing was typed."""
        keys = self.typed.shown_lines()
        empty = [key for key in keys if not self.typed.line(key).amount.strip()]
        for key in (empty or keys)[:1]:
            self.lines[key].amount.setFocus(Qt.FocusReason.ShortcutFocusReason)

    def _amount_typed(self, key: str, text: str) -> None:
        self.typed.line(key).amount = text
        self._retyped(key)

    def _note_typed(self, key: str, text: str) -> None:
        self.typed.line(key).note = text
        self._retyped(key)

    def _overflow_ticked(self, key: str, *, on: bool) -> None:
        self.typed.line(key).overflowed = on
        self._retyped(key)

    def _retyped(self, key: str) -> None:
        if self.lines[key].told.property("role") == "error" and self.lines[key].told.text():
            self.tell()
        self._ask_nothing()
        self._tell_ready()

    def _move(self, key: str, by: int, *, note: bool) -> None:
        self.tell()
        keys = self.typed.shown_lines()
        place = keys.index(key) + by
        if 0 <= place < len(keys):
            line = self.lines[keys[place]]
            (line.note if note else line.amount).setFocus(Qt.FocusReason.TabFocusReason)
            self.line_entered.emit(self._tree_of[keys[place]])
        elif by > 0 and self.store_button.isEnabled():
            self.store_button.setFocus()

    # Checking and storing

    @property
    def written(self) -> dict[str, tuple[Collection, ...]]:
        """What is written down of that day already."""
        seen = self._desk.seen
        keys = [row.hole_key for group in self.typed.groups for row in group.rows]
        return written_down(seen.stand, keys, self.day) if seen is not None else {}

    @property
    def can_store(self) -> bool:
        """Whether there is something to store and it may be stored."""
        return self.typed.anything and not self._desk.read_only and not self._busy

    def _tell_ready(self) -> None:
        self.store_button.setEnabled(self.can_store)

    def go(self) -> None:
        """Store what was typed."""
        self.store()

    def tell(self) -> Checked:
        """Say below each line what is wrong, unlikely, or written down already."""
        written, units = self.written, self.units
        checked = self.typed.check(units, written)
        for key, line in self.lines.items():
            error, own = checked.errors.get(key), written.get(key, ())
            if error is not None:
                line.say(f"{said(error.what)}; {said(error.remedy)}", "error")
            elif key in checked.doubts:
                line.say(said(checked.doubts[key]), "caution")
            elif own:
                total = units.volume(sum(taken.volume_ml for taken in own))
                over = any(taken.overflowed for taken in own)
                told = tr("written down: {amount}, ran over", amount=total) if over else ""
                line.say(told or tr("written down: {amount}", amount=total), "source")
            else:
                line.say("", "source")
        self._tell_ready()
        return checked

    def store(self, *, in_place: bool = False) -> None:
        """Write down what was typed, as one edit; a line that is wrong is gone to instead."""
        if not self.can_store:
            return
        checked = self.tell()
        wrong = next((key for key in self.typed.shown_lines() if key in checked.errors), None)
        if wrong is not None:
            self.lines[wrong].amount.setFocus()
            return
        if not checked.returns and not checked.totals:
            self._desk.tell(tr("all of this is written down already"))
            return
        desk, day, today, now = self._desk, self.day, self._desk.today, self._desk.now()
        self._busy = True
        self._ask_nothing()
        desk.run(
            lambda file, _: store_returns(file, day, checked.returns, checked.totals, today, now, in_place=in_place),
            tr("writing the returns down"),
            self._stored,
            self._refused,
        )

    def _stored(self, report: object) -> None:
        self._busy = False
        count = getattr(report, "collections", 0)
        self._desk.tell(tr_n("{n} hole written down", "{n} holes written down", count))
        for text in getattr(report, "cautions", ()):
            self._desk.caution(said(text))
        self.tell()

    def _refused(self, error: Exception) -> None:
        self._busy = False
        if isinstance(error, WrittenAlreadyError):
            self.question.setText(said(error.what))
            self.asking.show()
            self.in_place.setFocus()
        else:
            self._desk.error(error)
        self._tell_ready()

    def _ask_nothing(self) -> None:
        self.asking.hide()
