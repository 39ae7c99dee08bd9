"""Python searches for cycles on the GUI thread alone: on another it would free objects of Qt where Qt forbids it."""

from __future__ import annotations

import gc

from PySide6.QtCore import QObject, QTimer

OFTEN_MS = 2000
YOUNG = 1
"""Generations looked through while a person works: the oldest, which holds the whole stand, only between stands."""

MANY_TREES = 5_000
"""A stand of so many trees is set aside when it was read: looking through it takes longer than a person should wait."""


class Tidying(QObject):
    """Takes the search for cycles out of Python's own hands for as long as the application lives."""

    def __init__(self, parent: QObject) -> None:
        super().__init__(parent)
        gc.disable()
        self._timer = QTimer(self)
        self._timer.timeout.connect(lambda: gc.collect(YOUNG))
        self._timer.start(OFTEN_MS)

    @staticmethod
    def set_aside() -> None:
        """Leave everything that is there now out of the search until `whole`: a large stand that was just read."""
        gc.freeze()

    @staticmethod
    def whole() -> None:
        """Look through everything."""
        gc.unfreeze()
        gc.collect()
