"""The rows of the aftercare list, for Qt's table."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from PySide6.QtCore import QAbstractTableModel, QModelIndex, QPersistentModelIndex, Qt
from PySide6.QtGui import QFont

from standmap.desktop.pages.aftercare.due_rows import DOING, how_late
from standmap.desktop.words import day_text, said, tr, tr_n
from standmap.jobs.aftercare import Due

Index = QModelIndex | QPersistentModelIndex
TREE, NEXT, WHEN = range(3)

_NOWHERE = QModelIndex()


class DueModel(QAbstractTableModel):
    """One row a wound: tree, what is to be done, by when; in bold what is overdue."""

    def __init__(self) -> None:
        super().__init__()
        self._rows: Sequence[Due] = ()
        self._day = date.min

    def show(self, rows: Sequence[Due], day: date) -> None:
        """Show other rows, for a day."""
        self.beginResetModel()
        self._rows, self._day = rows, day
        self.endResetModel()

    def due(self, row: int) -> Due:
        """Return what a row is about."""
        return self._rows[row]

    def rowCount(self, parent: Index = _NOWHERE) -> int:  # noqa: N802 - Qt's name
        """Return the number of rows."""
        return 0 if parent.isValid() else len(self._rows)

    def columnCount(self, parent: Index = _NOWHERE) -> int:  # noqa: N802 - Qt's name
        """Return the number of columns."""
        return 0 if parent.isValid() else 3

    def headerData(self, section: int, orientation: Qt.Orientation, role: int = 0) -> object:  # noqa: N802 - Qt's name
        """Return a column's title."""
        if role == Qt.ItemDataRole.DisplayRole and orientation is Qt.Orientation.Horizontal:
            return (tr("tree"), tr("next"), tr("due"))[section]
        return None

    def data(self, index: Index, role: int = 0) -> object:
        """Return what a cell shows or says."""
        due = self._rows[index.row()]
        when, days = how_late(due, self._day)
        if role == Qt.ItemDataRole.DisplayRole:
            if index.column() == TREE:
                return due.tree.name
            if index.column() == NEXT:
                return tr(DOING[due.need.what])
            return tr("today") if when == "today" else day_text(due.need.due_on)
        if role == Qt.ItemDataRole.FontRole and index.column() == WHEN and when == "overdue":
            font = QFont()
            font.setWeight(QFont.Weight.DemiBold)
            return font
        if role in (Qt.ItemDataRole.ToolTipRole, Qt.ItemDataRole.AccessibleTextRole):
            wound = f"{said(str(due.hole.kind))} {due.hole.number}, {due.hole.season}"
            late = tr_n("{n} day overdue", "{n} days overdue", days) if when == "overdue" else day_text(due.need.due_on)
            return f"{due.tree.name}, {wound}: {tr(DOING[due.need.what])}, {late}"
        return None
