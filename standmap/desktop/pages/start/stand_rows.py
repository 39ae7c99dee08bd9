"""Stands that were open lately: the last one large, those before it in a row each, missing ones told."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QHBoxLayout, QPushButton, QVBoxLayout, QWidget

from standmap.desktop.kit import button, label, second
from standmap.desktop.words import day_text, tr
from standmap.jobs.recent_stands import KnownStand, folder_words


def _where(stand: KnownStand) -> str:
    return folder_words(stand.path)


def _state(stand: KnownStand) -> str:
    if stand.changed is None:
        return tr("not there any more")
    return tr("changed {day}", day=day_text(stand.changed.date()))


class LastStand(QWidget):
    """The stand opened last, large."""

    wanted = Signal(Path)
    unwanted = Signal(Path)

    def __init__(self, stand: KnownStand) -> None:
        super().__init__()
        self.stand = stand
        down = QVBoxLayout(self)
        down.setContentsMargins(0, 0, 0, 0)
        down.setSpacing(4)
        name = label(stand.name, "name")
        name.setToolTip(str(stand.path))
        down.addWidget(name)
        down.addWidget(second(_where(stand)))
        down.addWidget(second(_state(stand)))
        down.addSpacing(12)
        self.go = _go(self, stand, "primary")
        down.addWidget(self.go, 0, Qt.AlignmentFlag.AlignLeft)
        self.setFocusProxy(self.go)


class RecentRow(QWidget):
    """A stand opened before that."""

    wanted = Signal(Path)
    unwanted = Signal(Path)

    def __init__(self, stand: KnownStand) -> None:
        super().__init__()
        self.stand = stand
        self.go = _go(self, stand, "link")
        self.setToolTip(str(stand.path))
        down = QVBoxLayout(self)
        down.setContentsMargins(0, 0, 0, 0)
        down.addWidget(told_row(stand.name, f"{_where(stand)} · {_state(stand)}", self.go))
        self.setFocusProxy(self.go)


def told_row(name: str, about: str, go: QPushButton) -> QWidget:
    """Return a row with a name, what there is to say of it, and what can be done at the right."""
    row = QWidget()
    words = QVBoxLayout()
    words.setSpacing(0)
    words.addWidget(label(name))
    words.addWidget(second(about))
    across = QHBoxLayout(row)
    across.setContentsMargins(0, 6, 0, 6)
    across.setSpacing(16)
    across.addLayout(words, 1)
    across.addWidget(go, 0, Qt.AlignmentFlag.AlignTop)
    return row


def set_role(made: QPushButton, role: str) -> None:
    """Give a button another weight."""
    if made.property("role") != role:
        made.setProperty("role", role)
        made.style().unpolish(made)
        made.style().polish(made)


def _go(row: LastStand | RecentRow, stand: KnownStand, role: str) -> QPushButton:
    """Return the button that opens a stand, or takes a missing one off the list."""
    if stand.is_there:
        made = button(tr("open"), lambda: row.wanted.emit(stand.path), role)
        made.setAccessibleName(tr("open {name}", name=stand.name))
    else:
        made = button(tr("forget it"), lambda: row.unwanted.emit(stand.path), "quiet" if role == "primary" else role)
        made.setAccessibleName(tr("forget {name}: it is not there any more", name=stand.name))
    return made
