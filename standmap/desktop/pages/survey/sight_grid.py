"""Quick entry of sights by the keyboard: a row each, drawn on the map while it is typed, kept as one edit."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from PySide6.QtCore import QStringListModel, Qt, QTimer, Signal
from PySide6.QtWidgets import QComboBox, QHBoxLayout, QLabel, QScrollArea, QSizePolicy, QVBoxLayout, QWidget

from standmap.desktop.desk import Desk
from standmap.desktop.kit import Field, button, heading, label, second, side_by_side
from standmap.desktop.pages.survey.drafts import read_day
from standmap.desktop.pages.survey.sight_grid_row import CELL_GAP_PX, FIRST, WIDTHS, SightRow, cell_name
from standmap.desktop.words import said, tr, tr_n
from standmap.errors import UserError
from standmap.formats.content import FoundSight
from standmap.formats.faults import Unusable
from standmap.formats.field_cells import pace_of
from standmap.formats.field_sheet import Reading, sight_of
from standmap.stand.sights import North
from standmap.units_shown import System


class SightGrid(QWidget):
    """The rows, what holds for all of them, and how many can be kept."""

    changed = Signal()
    keep_wanted = Signal()
    left = Signal()

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self._desk = desk
        self.known = QStringListModel(self)
        self.rows: list[SightRow] = []
        self.north = QComboBox()
        self.north.setAccessibleName(tr("bearings are counted from"))
        self.north.addItem(tr("bearings by compass"), North.MAGNETIC)
        self.north.addItem(tr("bearings from true north"), North.TRUE)
        self.north.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.day: Field[date | None] = Field(tr("day"), self._day, hint="2026-03-01")
        self.pace: Field[float | None] = Field(tr("one pace"), self._pace, hint=tr("such as 0.75 m"))
        self.how = second("")
        self.sure = button(tr("it is right all the same"), hint=tr("keep these sights although they look wrong"))
        self.sure.setCheckable(True)
        self.sure.hide()
        self.keep = button("", self.keep_wanted.emit, "primary", tr("Ctrl+Return"))
        self.clear = button(tr("clear"), self.clear_rows, "quiet", tr("take all rows away"))
        self.leave = button(tr("leave"), self.left.emit, "quiet", tr("the rows are kept here until you come back"))
        self.foot = QWidget()
        below = QVBoxLayout(self.foot)
        below.setContentsMargins(0, 0, 0, 0)
        below.setSpacing(8)
        below.addWidget(self.keep)
        below.addWidget(side_by_side(self.clear, self.leave))
        down = QVBoxLayout(self)
        down.setContentsMargins(0, 0, 0, 0)
        down.setSpacing(8)
        down.addWidget(heading(tr("Tape and compass")))
        down.addWidget(self.how)
        down.addWidget(self.north)
        across = QHBoxLayout()
        across.setSpacing(8)
        for field in (self.day, self.pace):
            across.addWidget(field, 1, Qt.AlignmentFlag.AlignTop)
        down.addLayout(across)
        down.addLayout(self._heads())
        self._rows = QVBoxLayout()
        self._rows.setSpacing(6)
        down.addLayout(self._rows)
        down.addWidget(self.sure)
        down.addStretch(1)
        self.north.currentIndexChanged.connect(self.changed)
        self.day.changed.connect(self.changed)
        self.pace.changed.connect(self._pace_typed)
        self.add_row("")

    def _heads(self) -> QHBoxLayout:
        across = QHBoxLayout()
        across.setSpacing(CELL_GAP_PX)
        self._names: list[QLabel] = []
        for name, width in zip(FIRST, WIDTHS, strict=True):
            made = label(cell_name(name), "second", wrap=False)
            made.setMinimumWidth(1)
            made.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Fixed)
            across.addWidget(made, width)
            self._names.append(made)
        return across

    # Rows

    def add_row(self, begins: str) -> SightRow:
        """Add a row that begins at a point."""
        row = SightRow(len(self.rows) + 1, self.known, self.reading)
        row.set_from(begins)
        row.changed.connect(self._typed)
        row.entered.connect(lambda: self._next_after(row))
        row.begun.connect(lambda: self._open(row))
        self.rows.append(row)
        self._rows.addWidget(row)
        self.tell()
        return row

    def _open(self, current: SightRow) -> None:
        for row in self.rows:
            row.open_more(row is current)
        if current is self.rows[-1] and not current.untouched:
            self.add_row("")
        QTimer.singleShot(0, self, lambda: self._bring_into_sight(current))

    def _bring_into_sight(self, row: SightRow) -> None:
        above = self.parentWidget()
        while above is not None and not isinstance(above, QScrollArea):
            above = above.parentWidget()
        if above is not None and row in self.rows:
            above.ensureWidgetVisible(row, 0, 8)

    def _next_after(self, row: SightRow) -> None:
        """Go on to the row below, which begins where this one ended."""
        row.check()
        place = self.rows.index(row)
        if row.untouched:
            return
        below = self.rows[place + 1] if place + 1 < len(self.rows) else self.add_row("")
        if not below.cells["from"].text():
            below.set_from(self._goes_on_at(row))
        below.cells["to" if below.cells["from"].text() else "from"].setFocus()

    @staticmethod
    def _goes_on_at(row: SightRow) -> str:
        # What is squared off a base line leads nowhere: the next is taken from the same line.
        return row.texts["to"] if row.texts["to"] and not row.texts["toward"] else row.texts["from"]

    def _typed(self) -> None:
        last = self.rows[-1]
        if not last.untouched:
            fresh = self.add_row("")
            fresh.open_more(False)
        for row, below in zip(self.rows, self.rows[1:], strict=False):
            # What was never touched begins where the row above ends, while that is typed.
            if below.untouched and not any(cell.hasFocus() for cell in below.cells.values()):
                below.set_from_quietly(self._goes_on_at(row))
        self.sure.setChecked(False)
        self.sure.hide()
        self.tell()
        self.changed.emit()

    def begin_anew(self, begins: str = "") -> None:
        """Take all rows away and begin with a fresh one."""
        for row in self.rows:
            row.hide()
            row.deleteLater()
        self.rows = []
        self.sure.setChecked(False)
        self.sure.hide()
        self.add_row(begins)
        self.changed.emit()
        if self.isVisible():
            self.focus_first()

    def clear_rows(self) -> None:
        """Take all rows away."""
        self.begin_anew()

    def focus_first(self) -> None:
        """Put the keyboard where typing goes on."""
        row = next((r for r in self.rows if r.untouched), self.rows[-1])
        row.cells["to" if row.cells["from"].text() else "from"].setFocus()

    def focusNextPrevChild(self, following: bool) -> bool:  # noqa: N802 - Qt's name and way
        """Go through the cells row by row, also while a fresh row has no place yet."""
        stops = [stop for row in self.rows for stop in row.stops]
        now = next((place for place, stop in enumerate(stops) if stop.hasFocus()), None)
        there = None if now is None else now + (1 if following else -1)
        if there is None or not 0 <= there < len(stops):
            return super().focusNextPrevChild(following)
        reason = Qt.FocusReason.TabFocusReason if following else Qt.FocusReason.BacktabFocusReason
        stops[there].setFocus(reason)
        return True

    # What holds for all rows

    def reading(self) -> Reading:
        """Return how the cells are to be understood."""
        metric = self._desk.units.system is System.METRIC
        try:
            pace = self._pace(self.pace.text())
        except UserError:  # said beside its field
            pace = None
        return Reading(
            {"distance": "m" if metric else "ft"}, North(self.north.currentData()), pace
        )  # Qt gives a plain text back

    def _pace(self, text: str) -> float | None:
        if not text.strip():
            return None
        try:
            return pace_of(text, "pace", "m" if self._desk.units.system is System.METRIC else "ft")
        except Unusable as reason:
            raise UserError(str(reason), "write it like 0.75 m") from None

    def _day(self, text: str) -> date | None:
        day = read_day(text)
        if day is not None and day > self._desk.today:
            raise UserError(f"{day.isoformat()} is after today", "only what has happened is written down")
        return day

    def _pace_typed(self) -> None:
        for row in self.rows:
            for name in row.faults():
                row.cells[name].setProperty("wrong", "true")
            row.check()
        self.changed.emit()

    def show_units(self) -> None:
        """Say in which unit a bare number is."""
        unit = "m" if self._desk.units.system is System.METRIC else "ft"
        self.how.setText(
            tr(
                "Enter goes on to the next row, Tab to the next cell. Lengths are in {unit} unless you write one.",
                unit=unit,
            )
        )
        if not self.day.text():
            self.day.set_text(self._desk.today.isoformat())

    # What was typed

    def typed(self) -> list[tuple[SightRow, FoundSight | None, str]]:
        """Return the rows in which something is, each with its sight, or with why it is none yet."""
        reading = self.reading()
        try:
            day = self._day(self.day.text())
        except UserError:
            day = None
        found: list[tuple[SightRow, FoundSight | None, str]] = []
        for number, row in enumerate(self.rows, start=1):
            if row.untouched:
                continue
            cells = row.texts
            cells["date"] = "" if day is None else day.isoformat()
            try:
                found.append((row, sight_of(cells, tr("row {n}", n=number), reading), ""))
            except Unusable as reason:
                found.append((row, None, said(str(reason))))
        return found

    def sights(self) -> list[FoundSight] | None:
        """Return all sights, or None after saying what is wrong, each beside its row."""
        right = self.day.check() and self.pace.check()
        found: list[FoundSight] = []
        for row, sight, why in self.typed():
            clean = row.check()
            row.say("" if sight is not None or not clean else why)
            if sight is None:
                right = False
            else:
                found.append(sight)
        return found if right else None

    def ask_whether_sure(self) -> None:
        """Offer to keep what looks wrong."""
        self.sure.setChecked(False)
        self.sure.show()
        self.sure.setFocus()

    def show_known(self, names: Sequence[str]) -> None:
        """Take the names that are completed."""
        self.known.setStringList(list(names))

    def tell(self) -> None:
        """Say how many rows can be kept, as far as it is known by now."""
        count = sum(not row.untouched for row in self.rows)
        self.keep.setEnabled(any(sight is not None and not row.refused for row, sight, _ in self.typed()))
        self.keep.setText(tr_n("keep {n} sight", "keep {n} sights", count) if count else tr("keep"))
        self.keep.setAccessibleName(self.keep.text())
        self.clear.setEnabled(count > 0)
