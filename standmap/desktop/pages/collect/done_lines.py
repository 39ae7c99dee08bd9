"""One line of what a walk came to: a hole that was made, with its figures, or what was done to a wound."""

from __future__ import annotations

from collections.abc import Collection

from PySide6.QtCore import QObject, QSignalBlocker, Qt, Signal
from PySide6.QtWidgets import QCheckBox, QGridLayout, QWidget

from standmap.desktop.desk import Desk
from standmap.desktop.kit import label, set_error_mark
from standmap.desktop.pages.collect.done_state import FIGURES, IN_ORDER, TypedStop
from standmap.desktop.pages.collect.name_label import NameLabel
from standmap.desktop.pages.collect.returns_sheet import Cell
from standmap.desktop.words import tr
from standmap.jobs.walk_done import DoneRow
from standmap.stand.tapping import Act, TapHole
from standmap.units_shown import UnitsShown

FIGURE_PX = 43


class DoneLine(QObject):
    """What both kinds have.

    Attributes
    ----------
    stops
        What is typed or ticked in, column by column.

    Signals: `changed`, `moved` (-1 up, +1 down; the column).
    """

    changed = Signal()
    moved = Signal(int, int)

    def __init__(self, row: DoneRow, typed: TypedStop) -> None:
        super().__init__()
        self.row = row
        self.typed = typed
        self.stops: list[QWidget] = []
        self.name = NameLabel(row.name)
        self.told = label("", "error")
        self.told.hide()

    @property
    def is_wrong(self) -> bool:
        """Whether something in it is wrong."""
        return self.told.property("role") == "error" and bool(self.told.text())

    def put_into(self, grid: QGridLayout, at: int) -> None:
        """Put the line into a row of the grid, and what is said of it below."""
        raise NotImplementedError

    def show(self) -> None:
        """Show what was typed."""
        raise NotImplementedError

    def say(self, text: str, role: str, figure: str = "") -> None:
        """Show something below the line; `figure` is the one that is wrong."""
        if (self.told.text(), self.told.property("role")) != (text, role):
            self.told.setProperty("role", role)
            self.told.style().unpolish(self.told)
            self.told.style().polish(self.told)
            self.told.setText(text)
            self.told.setVisible(bool(text))
        for widget in self.stops:
            widget.setAccessibleDescription(text)
        self.mark(figure)

    def mark(self, figure: str) -> None:
        """Mark the figure that is wrong, none for an empty text."""


def figure_units(units: UnitsShown) -> dict[str, str]:
    """Return the unit in which each figure of a hole is typed."""
    depth = units.depth(10).split(" ")[-1]
    return {"height": units.height(10).split(" ")[-1], "side": "°", "depth": depth, "bit": depth}


class MadeLine(DoneLine):
    """A hole: whether it was made, its height, side, depth and bit."""

    def __init__(self, desk: Desk, row: DoneRow, typed: TypedStop) -> None:
        super().__init__(row, typed)
        self._units = desk.units
        self.box = QCheckBox()
        self.box.setAccessibleName(tr("{tree}, the hole was made", tree=row.name))
        self.cells = {name: Cell() for name in FIGURES}
        units = figure_units(desk.units) | {"side": tr("degrees, or SW")}
        words = {"height": tr("height"), "side": tr("side"), "depth": tr("depth"), "bit": tr("bit")}
        for column, (name, cell) in enumerate(self.cells.items(), start=1):
            cell.setFixedWidth(round(FIGURE_PX * desk.settings.text_size_percent / 100))
            cell.setAlignment(Qt.AlignmentFlag.AlignRight)
            cell.setTextMargins(-4, 0, -4, 0)
            cell.setToolTip(units[name])
            cell.setAccessibleName(f"{row.name}, {words[name]}, {units[name]}")
            cell.textEdited.connect(lambda text, n=name: self._put(n, text))
            cell.moved.connect(lambda by, c=column: self.moved.emit(by, c))
        self.box.toggled.connect(self._turn)
        self.stops = [self.box, *self.cells.values()]
        self.show()

    def put_into(self, grid: QGridLayout, at: int) -> None:
        """Put the line into a row of the grid."""
        grid.addWidget(self.box, at, 0)
        grid.addWidget(self.name, at, 1)
        for column, cell in enumerate(self.cells.values(), start=2):
            grid.addWidget(cell, at, column)
        grid.addWidget(self.told, at + 1, 0, 1, 6)

    def show(self) -> None:
        """Show what was typed."""
        with QSignalBlocker(self.box):
            self.box.setChecked(self.typed.made)
        for name, cell in self.cells.items():
            cell.setText(self.typed.figures.get(name, ""))

    def is_written(self, hole: TapHole | None) -> None:
        """Show a hole that is written down, which is no longer typed here."""
        was_open = self.box.isEnabled()
        for widget in self.stops:
            widget.setEnabled(hole is None)
        if hole is None:
            if not was_open:  # it was taken back
                self.show()
            return
        with QSignalBlocker(self.box):
            self.box.setChecked(True)
        side = f"{hole.side_deg:.0f}" if hole.side_deg is not None else ""
        shown = {
            "height": self._units.height(hole.height_mm) if hole.height_mm is not None else "",
            "side": side,
            "depth": self._units.depth(hole.depth_mm) if hole.depth_mm is not None else "",
            "bit": self._units.depth(hole.bit_mm) if hole.bit_mm is not None else "",
        }
        for name, cell in self.cells.items():
            cell.setText(shown[name].split(" ")[0])
            cell.setToolTip(shown[name])

    def mark(self, figure: str) -> None:
        """Mark the figure that is wrong, none for an empty text."""
        for name, cell in self.cells.items():
            if (cell.property("wrong") == "true") != (name == figure):
                set_error_mark(cell, name == figure)

    def _put(self, name: str, text: str) -> None:
        self.typed.put(name, text)
        with QSignalBlocker(self.box):
            self.box.setChecked(self.typed.made)
        self.changed.emit()

    def _turn(self, on: bool) -> None:
        self.typed.made = on
        self.changed.emit()


class ClosedLine(DoneLine):
    """A wound: whether its tube was taken out, and whether it was plugged or left open."""

    def __init__(self, row: DoneRow, typed: TypedStop) -> None:
        super().__init__(row, typed)
        words = {Act.TAKEN_OUT: tr("tube taken out"), Act.PLUGGED: tr("plugged"), Act.LEFT_OPEN: tr("left open")}
        self.boxes = {act: QCheckBox() for act in IN_ORDER}
        for act, box in self.boxes.items():
            box.setAccessibleName(tr("{tree}, {act}", tree=row.name, act=words[act]))
            box.setToolTip(words[act])
            box.toggled.connect(lambda on, a=act: self._turn(a, on=on))
        self.stops = list(self.boxes.values())
        self.show()

    def put_into(self, grid: QGridLayout, at: int) -> None:
        """Put the line into a row of the grid."""
        grid.addWidget(self.name, at, 0)
        for column, box in enumerate(self.boxes.values(), start=1):
            grid.addWidget(box, at, column, Qt.AlignmentFlag.AlignHCenter)
        grid.addWidget(self.told, at + 1, 0, 1, 4)

    def show(self) -> None:
        """Show what was ticked."""
        for act, box in self.boxes.items():
            if box.isEnabled():
                with QSignalBlocker(box):
                    box.setChecked(act in self.typed.acts)

    def is_written(self, done: Collection[Act]) -> None:
        """Show what is written down, which is no longer ticked here."""
        closed = Act.PLUGGED in done or Act.LEFT_OPEN in done
        for act, box in self.boxes.items():
            there = act in done
            box.setEnabled(not there and not closed)
            with QSignalBlocker(box):
                box.setChecked(there or (act in self.typed.acts and not closed))

    def _turn(self, act: Act, *, on: bool) -> None:
        self.typed.turn(act, on=on)
        self.show()
        self.changed.emit()
