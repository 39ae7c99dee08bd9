"""A table whose rows are chosen whole: Home and End go to the first and the last row, as in a list."""

from __future__ import annotations

from PySide6.QtCore import QModelIndex, Qt
from PySide6.QtWidgets import QTableView


class RowTable(QTableView):
    """Qt's table would go to the first and the last column, which here means nothing."""

    def moveCursor(self, action: QTableView.CursorAction, modifiers: Qt.KeyboardModifier) -> QModelIndex:  # noqa: N802
        """Return where a key leads to."""
        if action in (QTableView.CursorAction.MoveHome, QTableView.CursorAction.MoveEnd):
            modifiers |= Qt.KeyboardModifier.ControlModifier
        return super().moveCursor(action, modifiers)
