"""Dials for the rows of the page, each drawn once for a look and a size."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from PySide6.QtGui import QPixmap
from PySide6.QtWidgets import QApplication

from standmap.desktop.canvas.dials import dial_icon
from standmap.desktop.desk import Desk
from standmap.rules.columns import CODES
from standmap.rules.judgement import Verdict

ROW_DIAL_PX = 18
STEPS = 24
"""So many states of a ring are told apart in a list."""

IN_GENERAL = 0.4
"""What the ring of the resting trees as a whole shows."""


class Dials:
    """The dials of verdicts and of rows of the stand."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._drawn: dict[tuple[Verdict, int, int], QPixmap] = {}
        self._codes: NDArray[np.uint8] = np.zeros(0, np.uint8)
        self._rest: NDArray[np.float64] = np.zeros(0)

    def judged(self, codes: NDArray[np.uint8], rest: NDArray[np.float64]) -> None:
        """Take the verdicts of the stand's rows, and how much of its rest each has behind it."""
        self._codes, self._rest = codes, rest

    def forget(self) -> None:
        """Draw anew from now on: the look has changed."""
        self._drawn.clear()

    def of_verdict(self, verdict: Verdict, size_px: int) -> QPixmap:
        """Return the dial of a verdict in general."""
        return self._dial(verdict, size_px, round(IN_GENERAL * STEPS))

    def of_row(self, row: int) -> QPixmap:
        """Return the dial of one tree."""
        verdict = CODES[self._codes[row]]
        step = round(float(self._rest[row]) * STEPS) if verdict is Verdict.RESTING else 0
        return self._dial(verdict, round(ROW_DIAL_PX * self._desk.settings.text_size_percent / 100), step)

    def _dial(self, verdict: Verdict, size_px: int, step: int) -> QPixmap:
        asked = (verdict, size_px, step)
        drawn = self._drawn.get(asked)
        if drawn is None:
            app = QApplication.instance()
            dpr = app.devicePixelRatio() if isinstance(app, QApplication) else 1.0
            drawn = self._drawn[asked] = dial_icon(verdict, size_px, self._desk.theme, dpr, step / STEPS)
        return drawn
