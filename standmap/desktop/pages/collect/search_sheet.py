"""What is told while a walk is searched: the best so far, and how the search goes."""

from __future__ import annotations

from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QVBoxLayout, QWidget

from standmap.desktop.desk import Desk
from standmap.desktop.kit import heading, second
from standmap.desktop.pages.collect.planning import Planning, Stage
from standmap.desktop.pages.collect.wording import improvement, summary
from standmap.desktop.words import said, tr

TICK_MS = 500


class SearchSheet(QWidget):
    """Follows the search of a round."""

    def __init__(self, desk: Desk, planning: Planning) -> None:
        super().__init__()
        self._desk = desk
        self._planning = planning
        self.title = heading(tr("Looking for a short walk"))
        self.best = second("")
        self.told = second("")
        self._tick = QTimer(self)
        self._tick.setInterval(TICK_MS)
        self._tick.timeout.connect(self.tell)
        down = QVBoxLayout(self)
        down.setContentsMargins(0, 0, 0, 0)
        down.setSpacing(8)
        for part in (self.title, self.best, self.told):
            down.addWidget(part)
        planning.changed.connect(self._stage_changed)
        planning.bettered.connect(self.tell)

    def _stage_changed(self) -> None:
        if self._planning.stage is not Stage.SEARCHING:
            self._tick.stop()
            return
        self._tick.start()
        self.tell()
        work = self._planning.work
        if work is not None:
            work.progressed.connect(lambda _done, _total, what: self.told.setToolTip(said(what)))

    def tell(self) -> None:
        """Show how the search goes."""
        planning, units = self._planning, self._desk.units
        best = planning.best
        self.best.setText(
            tr("best so far: {round}", round=summary(best, units)) if best is not None else tr("finding the ways")
        )
        told = improvement(planning.first_m, best, planning.elapsed_s, units) if best is not None else ""
        self.told.setText(tr("stopping...") if planning.stopping else told)
