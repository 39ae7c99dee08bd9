"""One row of the quick entry of sights: from, to, bearing and distance; below them, while it is typed in, the rest."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from PySide6.QtCore import QEvent, QObject, QStringListModel, Qt, Signal
from PySide6.QtGui import QFocusEvent
from PySide6.QtWidgets import QCheckBox, QCompleter, QHBoxLayout, QLineEdit, QSizePolicy, QVBoxLayout, QWidget

from standmap.desktop.kit import label, set_error_mark
from standmap.desktop.words import said, tr
from standmap.formats.faults import Unusable
from standmap.formats.field_cells import bearing_of, length_of, side_of, slope_of, tape_of
from standmap.formats.field_sheet import Reading

FIRST = ("from", "to", "bearing", "distance")
MORE = ("back_bearing", "slope")
BASE = ("toward", "along", "offset")
NAMES = ("from", "to", "toward")
WIDTHS = (6, 6, 5, 6)
"""How the columns share the width of the panel."""

CELL_GAP_PX = 4


def cell_name(cell: str) -> str:
    """Return what a cell is called."""
    return {
        "from": tr("from"),
        "to": tr("to"),
        "bearing": tr("bearing"),
        "distance": tr("distance"),
        "back_bearing": tr("back bearing"),
        "slope": tr("slope"),
        "toward": tr("base line to"),
        "along": tr("along"),
        "offset": tr("offset, right"),
    }[cell]


def _short_name(cell: str) -> str:
    """Return what stands in an empty cell, short enough for it."""
    short = {"back_bearing": tr("back"), "toward": tr("base to"), "offset": tr("off, right")}
    return short.get(cell) or cell_name(cell)


class SightRow(QWidget):
    """The cells of one sight; what is wrong stands below them, and what was typed is kept.

    Parameters
    ----------
    number
        From 1.
    known
        The names that are completed.
    reading
        How the cells are to be understood by now.
    """

    changed = Signal()
    entered = Signal()
    """Enter was pressed: on to the next row."""
    begun = Signal()
    """The keyboard came into it."""

    def __init__(self, number: int, known: QStringListModel, reading: Callable[[], Reading]) -> None:
        super().__init__()
        self._reading = reading
        self._told = ""
        self.refused = False
        self.cells: dict[str, QLineEdit] = {}
        self.station = QCheckBox(tr("no tree"))
        self.station.setToolTip(tr("a new point there is a mere station"))
        self.wrong = label("", "error")
        self.met = label("", "second")
        down = QVBoxLayout(self)
        down.setContentsMargins(0, 0, 0, 0)
        down.setSpacing(CELL_GAP_PX)
        down.addLayout(self._line(FIRST, number, WIDTHS))
        self.more = QWidget()
        more = QVBoxLayout(self.more)
        more.setContentsMargins(0, 0, 0, 2)
        more.setSpacing(CELL_GAP_PX)
        seconds = self._line(MORE, number, (6, 6))
        seconds.addWidget(self.station, 8)
        more.addLayout(seconds)
        more.addLayout(self._line(BASE, number, (6, 6, 8)))
        down.addWidget(self.more)
        down.addWidget(self.wrong)
        down.addWidget(self.met)
        for part in (self.more, self.wrong, self.met):
            part.hide()
        for name in NAMES:
            completer = QCompleter(known, self)
            completer.setCaseSensitivity(Qt.CaseSensitivity.CaseInsensitive)
            self.cells[name].setCompleter(completer)
        self.station.installEventFilter(self)
        self.station.toggled.connect(self.changed)

    def _line(self, names: Sequence[str], number: int, widths: Sequence[int]) -> QHBoxLayout:
        across = QHBoxLayout()
        across.setSpacing(CELL_GAP_PX)
        for name, width in zip(names, widths, strict=True):
            edit = QLineEdit()
            edit.setAccessibleName(tr("row {n}: {cell}", n=number, cell=cell_name(name)))
            edit.setMinimumWidth(1)
            edit.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Fixed)
            edit.setProperty("cell", name)
            if name not in FIRST:
                edit.setPlaceholderText(_short_name(name))
                edit.setToolTip(cell_name(name))
            edit.installEventFilter(self)
            edit.textChanged.connect(self._typed)
            edit.editingFinished.connect(lambda name=name: self._check(name))
            edit.returnPressed.connect(self.entered)
            across.addWidget(edit, width)
            self.cells[name] = edit
        return across

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:  # noqa: N802 - Qt's name
        """Tell when the keyboard comes into it."""
        if event.type() is QEvent.Type.FocusIn and isinstance(event, QFocusEvent):
            self.begun.emit()
        return super().eventFilter(watched, event)

    # What was typed

    @property
    def texts(self) -> dict[str, str]:
        """What was typed, by the names that a field sheet has for its columns."""
        found = {name: edit.text().strip() for name, edit in self.cells.items()}
        return {**found, "what": "station" if self.station.isChecked() else ""}

    @property
    def untouched(self) -> bool:
        """Whether nothing but where it begins was put in."""
        return not any(text for name, text in self.texts.items() if name != "from")

    @property
    def has_more(self) -> bool:
        """Whether something is in the cells below."""
        return self.station.isChecked() or any(self.cells[name].text() for name in (*MORE, *BASE))

    @property
    def stops(self) -> list[QWidget]:
        """What the Tab key stops at by now, in order."""
        below = (
            []
            if self.more.isHidden()
            else [*(self.cells[n] for n in MORE), self.station, *(self.cells[n] for n in BASE)]
        )
        return [*(self.cells[n] for n in FIRST), *below]

    def open_more(self, opened: bool) -> None:
        """Show the cells below, or only where something is in them."""
        self.more.setVisible(opened or self.has_more)

    def set_from(self, name: str) -> None:
        """Put in where it begins."""
        self.cells["from"].setText(name)

    def set_from_quietly(self, name: str) -> None:
        """Put in where it begins, without telling of it."""
        self.cells["from"].blockSignals(True)
        self.cells["from"].setText(name)
        self.cells["from"].blockSignals(False)

    # What is wrong

    def say(self, text: str) -> None:
        """Say what is wrong with the row as a whole."""
        self._told = text
        self._show()

    def say_met(self, text: str) -> None:
        """Say how it meets what is known."""
        self.met.setText(text)
        self.met.setVisible(bool(text))

    def faults(self) -> dict[str, str]:
        """Return what is wrong with each cell by now."""
        found = {}
        for name, edit in self.cells.items():
            text = edit.text().strip()
            if text and (why := self._fault(name, text)):
                found[name] = why
        return found

    def _fault(self, name: str, text: str) -> str:
        reading = self._reading()
        unit = reading.unit(name)
        try:
            match name:
                case "bearing":
                    bearing_of(text)
                case "back_bearing":
                    bearing_of(text, "back bearing")
                case "distance":
                    tape_of(text, "distance", unit, reading.pace_m)
                case "slope":
                    slope_of(text)
                case "along":
                    length_of(text, "along", unit, reading.pace_m)
                case "offset":
                    side_of(text, "offset", unit, reading.pace_m)
        except Unusable as reason:
            return said(str(reason))
        return ""

    def _check(self, name: str) -> None:
        edit = self.cells[name]
        text = edit.text().strip()
        why = self._fault(name, text) if text else ""
        edit.setAccessibleDescription(why)
        set_error_mark(edit, bool(why))
        self._show()

    def _typed(self) -> None:
        for name, edit in self.cells.items():
            if edit.property("wrong") == "true":  # nobody is blamed while typing, but once it was said it stays true
                self._check(name)
        self.refused = False
        self.changed.emit()

    def check(self) -> bool:
        """Say what is wrong with each cell, and return whether nothing is."""
        for name in self.cells:
            self._check(name)
        return not self.faults()

    def _show(self) -> None:
        marked = [e.accessibleDescription() for e in self.cells.values() if e.property("wrong") == "true"]
        text = "\n".join(dict.fromkeys([*marked, *([self._told] if self._told else [])]))
        self.wrong.setText(text)
        self.wrong.setVisible(bool(text))
