"""A list to choose from that keeps the letters typed into it for itself."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QObject, Qt
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QComboBox

PLAIN = (Qt.KeyboardModifier.NoModifier, Qt.KeyboardModifier.ShiftModifier)


class ListBox(QComboBox):
    """Letters find an entry here, whatever else they do in the window."""

    def __init__(self) -> None:
        super().__init__()
        self.view().installEventFilter(self)

    def event(self, event: QEvent) -> bool:
        """Keep plain letters from being the window's keys."""
        return _kept(event) or super().event(event)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:  # noqa: N802 - Qt's name
        """Do so in the open list, too."""
        return _kept(event) or super().eventFilter(watched, event)


def _kept(event: QEvent) -> bool:
    if not isinstance(event, QKeyEvent) or event.type() != QEvent.Type.ShortcutOverride:
        return False
    if not event.text().isprintable() or not event.text() or event.modifiers() not in PLAIN:
        return False
    event.accept()
    return True
