"""The rows of the ordered list, for Qt: what each shows, and where a dragged stop may be let go."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QAbstractListModel, QMimeData, QModelIndex, QObject, QPersistentModelIndex, Qt, Signal

from standmap.desktop.pages.collect.wording import WalkRow

Index = QModelIndex | QPersistentModelIndex
ROW_ROLE = Qt.ItemDataRole.UserRole
STOP_KIND = "application/x-standmap-stop"
_NOWHERE = QModelIndex()


class WalkModel(QAbstractListModel):
    """Trips and their stops, one below the other.

    Signals: `dropped` (key of a stop, index of the trip, place among the other stops there).
    """

    dropped = Signal(str, int, int)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.rows: Sequence[WalkRow] = ()

    def show(self, rows: Sequence[WalkRow]) -> None:
        """Show other rows."""
        self.beginResetModel()
        self.rows = rows
        self.endResetModel()

    def row_of(self, key: str) -> int | None:
        """Return the row of a stop."""
        return next((row for row, one in enumerate(self.rows) if one.key == key), None)

    def place_at(self, row: int, key: str) -> tuple[int, int]:
        """Return the trip and the place in it of a stop that is let go before a row, or after the last."""
        above = [one for one in self.rows[:row] if one.key != key]
        if not above:
            return 0, 0
        trip = above[-1].trip
        return trip, sum(1 for one in above if one.trip == trip and not one.is_trip)

    def rowCount(self, parent: Index = _NOWHERE) -> int:  # noqa: N802 - Qt's name
        """Return the number of rows."""
        return 0 if parent.isValid() else len(self.rows)

    def data(self, index: Index, role: int = 0) -> object:
        """Return what a row shows or says."""
        row = self.rows[index.row()]
        if role == ROW_ROLE:
            return row
        if role == Qt.ItemDataRole.DisplayRole:
            return row.name
        if role in (Qt.ItemDataRole.AccessibleTextRole, Qt.ItemDataRole.ToolTipRole):
            return row.said
        return None

    def flags(self, index: Index) -> Qt.ItemFlag:
        """Return that stops can be chosen and dragged, and let go between rows."""
        if not index.isValid():
            return Qt.ItemFlag.ItemIsDropEnabled
        if self.rows[index.row()].is_trip:
            return Qt.ItemFlag.NoItemFlags  # the keys go past it
        return Qt.ItemFlag.ItemIsEnabled | Qt.ItemFlag.ItemIsSelectable | Qt.ItemFlag.ItemIsDragEnabled

    def supportedDropActions(self) -> Qt.DropAction:  # noqa: N802 - Qt's name
        """Return that stops are moved."""
        return Qt.DropAction.MoveAction

    def mimeTypes(self) -> list[str]:  # noqa: N802 - Qt's name
        """Return the one kind that is dragged here."""
        return [STOP_KIND]

    def mimeData(self, indexes: Sequence[QModelIndex]) -> QMimeData:  # noqa: N802 - Qt's name
        """Return the key of the stop that is dragged."""
        data = QMimeData()
        data.setData(STOP_KIND, self.rows[indexes[0].row()].key.encode())
        return data

    def drop(self, data: QMimeData, row: int) -> bool:
        """Tell that a stop was let go before a row; the rows then come anew from the round."""
        if not data.hasFormat(STOP_KIND):
            return False
        key = bytes(data.data(STOP_KIND).data()).decode()
        if self.row_of(key) is None:
            return False
        self.dropped.emit(key, *self.place_at(row, key))
        return True
