"""What is to be done with another stand: open it, or merge it into this one; and how far the comparing has come."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QProgressBar, QVBoxLayout, QWidget

from standmap.desktop.desk import wording
from standmap.desktop.kit import button, heading, label, second
from standmap.desktop.words import said, tr

PARTS = 1000


class MergeAskSheet(QWidget):
    """Shown from the choice of another stand until its copies are compared."""

    merge_wanted = Signal()
    open_wanted = Signal()
    stop_wanted = Signal()
    left = Signal()

    def __init__(self) -> None:
        super().__init__()
        self.title = heading("")
        self.about = second(
            tr(
                "If it is a copy of this stand in which somebody else has worked, the two can be merged: you see what "
                "comes over before anything is stored."
            )
        )
        self.doing = second("")
        self.bar = QProgressBar()
        self.bar.setTextVisible(False)
        self.bar.setAccessibleName(tr("how far the comparing has come"))
        self.wrong = label("", "error")
        down = QVBoxLayout(self)
        down.setContentsMargins(0, 0, 0, 0)
        down.setSpacing(8)
        for part in (self.title, self.about, self.bar, self.doing, self.wrong):
            down.addWidget(part)
        down.addStretch(1)
        self.merge = button(
            tr("merge it into this one"), self.merge_wanted.emit, "primary", tr("nothing is stored yet")
        )
        self.open = button(tr("open it"), self.open_wanted.emit, "quiet", tr("this stand is closed"))
        self.leave = button(tr("leave it"), self.left.emit, "quiet", tr("nothing is stored"))
        self.stop = button(tr("stop comparing"), self.stop_wanted.emit, "quiet", tr("nothing is stored"))
        self.foot = QWidget()
        below = QVBoxLayout(self.foot)
        below.setContentsMargins(0, 0, 0, 0)
        below.setSpacing(8)
        for made in (self.merge, self.open, self.leave, self.stop):
            below.addWidget(made)

    def ask(self, path: Path, *, can_merge: bool) -> None:
        """Ask what is to be done with a stand."""
        self.title.setText(tr("{name}: open or merge?", name=path.name))
        self._show(asking=True, wrong="")
        self.merge.setEnabled(can_merge)
        first = self.merge if can_merge else self.open
        first.setFocus()

    def begin(self, path: Path) -> None:
        """Show that the copies are being compared."""
        self.title.setText(tr("Comparing with {name}", name=path.name))
        self.doing.setText("")
        self.bar.setRange(0, 0)
        self._show(asking=False, wrong="")

    def progress(self, done: float, total: float, what: str) -> None:
        """Show how far it has come."""
        self.bar.setRange(0, PARTS if total else 0)
        self.bar.setValue(round(PARTS * done / total) if total else 0)
        self.doing.setText(said(what))

    def fail(self, path: Path, error: Exception) -> None:
        """Say why the two cannot be merged."""
        self.title.setText(tr("{name} is not merged", name=path.name))
        self._show(asking=True, wrong=wording(error))
        self.merge.hide()
        self.open.setFocus()

    def _show(self, *, asking: bool, wrong: str) -> None:
        self.wrong.setText(wrong)
        self.wrong.setVisible(bool(wrong))
        self.about.setVisible(asking and not wrong)
        for made in (self.merge, self.open, self.leave):
            made.setVisible(asking)
        for part in (self.bar, self.doing, self.stop):
            part.setVisible(not asking)
