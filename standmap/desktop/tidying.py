"""Python searches for cycles on the GUI thread alone: on another it would free objects of Qt where Qt forbids it."""

from __future__ import annotations

import gc

from PySide6.QtCore import QObject, QTimer

OFTEN_MS = 2000
YOUNG = 1
"""Generations looked through while a person works: the oldest, which holds the whole stand, only between stands."""

MOST_NEW = 50_000
"""More new objects than this are set aside: a large stand that was read, and looking through it would be felt."""


class Tidying(QObject):
    """Takes the search for cycles out of Python's own hands for as long as the application lives."""

    def __init__(self, parent: QObject) -> None:
        super().__init__(parent)
        gc.disable()
        self._timer = QTimer(self)
        self._timer.timeout.connect(self._look)
        self._timer.start(OFTEN_MS)

    @staticmethod
    def _look() -> None:
        if gc.get_count()[0] > MOST_NEW:
            gc.freeze()  # until `whole`; what is in no cycle is freed all the same
        else:
            gc.collect(YOUNG)

    @staticmethod
    def whole() -> None:
        """Look through everything."""
        gc.unfreeze()
        gc.collect()
