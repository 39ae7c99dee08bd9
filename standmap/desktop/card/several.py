"""What the card shows when several trees are chosen: how many, and how many of each verdict."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QGridLayout, QVBoxLayout, QWidget

from standmap.desktop.card.dial import Dial
from standmap.desktop.kit import clear, label, second
from standmap.desktop.theme import Theme
from standmap.desktop.words import said, tr, tr_n
from standmap.rules.columns import CODES
from standmap.rules.judgement import Verdict
from standmap.stand.tree import Tree

SHOWN_NAMES = 12
LISTED = (
    Verdict.READY,
    Verdict.RESTING,
    Verdict.GROWING_ON,
    Verdict.OFF_LIMITS,
    Verdict.UNFIT,
    Verdict.UNSURE,
    Verdict.GIVING,
)


class Several(QWidget):
    """Count, names, and verdicts of the chosen trees."""

    def __init__(self) -> None:
        super().__init__()
        self._down = QVBoxLayout(self)
        self._down.setContentsMargins(0, 0, 0, 0)
        self._down.setSpacing(8)
        self.count = label("", "name")
        self.names = second("")
        self.of_what = QWidget()
        self._rows = QVBoxLayout(self.of_what)
        self._rows.setContentsMargins(0, 4, 0, 0)
        self._rows.setSpacing(4)
        for part in (self.count, self.names, self.of_what):
            self._down.addWidget(part)

    def tell(self, trees: Sequence[Tree], codes: NDArray[np.uint8], theme: Theme) -> None:
        """Show chosen trees and their verdict codes, shape (n,)."""
        self.count.setText(tr_n("{n} tree", "{n} trees", len(trees)))
        self.setAccessibleName(self.count.text())
        names = [t.name for t in trees[:SHOWN_NAMES]]
        more = len(trees) - len(names)
        listed = ", ".join(name if len(name) <= 20 else f"{name[:19]}…" for name in names)
        self.names.setText(tr("{names} and {n} more", names=listed, n=more) if more > 0 else listed)
        clear(self._rows)
        counts = np.bincount(codes, minlength=len(CODES))
        for verdict in LISTED:
            count = int(counts[CODES.index(verdict)])
            if count:
                self._rows.addWidget(_row(verdict, count, theme))


def _row(verdict: Verdict, count: int, theme: Theme) -> QWidget:
    row = QWidget()
    grid = QGridLayout(row)
    grid.setContentsMargins(0, 0, 0, 0)
    grid.setHorizontalSpacing(10)
    grid.setColumnStretch(1, 1)
    dial = Dial(theme, 20)
    dial.tell(verdict, 0.5, theme)
    grid.addWidget(dial, 0, 0)
    grid.addWidget(label(said(str(verdict)), wrap=False), 0, 1)
    grid.addWidget(label(str(count), "strong", wrap=False), 0, 2, Qt.AlignmentFlag.AlignRight)
    row.setAccessibleName(f"{said(str(verdict))}: {count}")
    return row
