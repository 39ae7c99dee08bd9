"""Files on their way in: how far the reading has come, a way to stop it, and what was wrong with them."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QProgressBar, QVBoxLayout, QWidget

from standmap.desktop.card.typed import epsg_code
from standmap.desktop.kit import Field, button, heading, label, second, side_by_side
from standmap.desktop.words import said, tr
from standmap.errors import UserError

PARTS = 1000


class ReadingSheet(QWidget):
    """Shown from the choice of files until their review."""

    cancel_wanted = Signal()
    again_wanted = Signal(object)
    left = Signal()

    def __init__(self) -> None:
        super().__init__()
        self.files = second("")
        self.doing = second("")
        self.bar = QProgressBar()
        self.bar.setTextVisible(False)
        self.bar.setAccessibleName(tr("how far the reading has come"))
        self.wrong = label("", "error")
        self.grid: Field[int | None] = Field(
            tr("grid of columns x and y, if that is what is missing"), epsg_code, hint=tr("EPSG code")
        )
        self.grid.entered.connect(self._again)
        self.station: Field[str] = Field(
            tr("station near the wood"), str.strip, hint=tr("its number or name, as the file tells it")
        )
        self.station.entered.connect(self._again)
        self.again = button(tr("read again"), self._again, "primary", tr("read the same files once more"))
        self.leave = button(tr("leave them"), self.left.emit, "quiet", tr("nothing is stored"))
        self.cancel = button(tr("stop reading"), self.cancel_wanted.emit, "quiet", tr("nothing is stored"))
        down = QVBoxLayout(self)
        down.setContentsMargins(0, 0, 0, 0)
        down.setSpacing(8)
        down.addWidget(heading(tr("Reading files")))
        for part in (self.files, self.bar, self.doing, self.wrong, self.grid, self.station):
            down.addWidget(part)
        down.addStretch(1)
        self.foot = side_by_side(self.again, self.leave, self.cancel)

    def begin(self, paths: Sequence[Path]) -> None:
        """Show that files are being read."""
        self.files.setText(", ".join(p.name for p in paths))
        self.doing.setText("")
        self.bar.setRange(0, 0)
        self._show_wrong("")

    def progress(self, done: float, total: float, what: str) -> None:
        """Show how far the reading has come."""
        self.bar.setRange(0, PARTS if total else 0)
        self.bar.setValue(round(PARTS * done / total) if total else 0)
        self.doing.setText(what)

    def fail(self, error: Exception) -> None:
        """Say what was wrong with the files."""
        text = str(error)
        if isinstance(error, UserError):
            text = f"{said(error.what)}; {said(error.remedy)}" if error.remedy else said(error.what)
        self._show_wrong(text, many_stations=isinstance(error, UserError) and "--station" in error.remedy)

    def _show_wrong(self, text: str, *, many_stations: bool = False) -> None:
        self.wrong.setText(text)
        at_fault: tuple[QWidget, ...] = (self.wrong, self.again, self.leave)
        on_the_way: tuple[QWidget, ...] = (self.bar, self.doing, self.cancel)
        for part in at_fault:
            part.setVisible(bool(text))
        for part in on_the_way:
            part.setVisible(not text)
        self.grid.setVisible(bool(text) and not many_stations)
        self.station.setVisible(many_stations)

    def _again(self) -> None:
        code = self.grid.value()
        if not self.grid.wrong.text():
            self.again_wanted.emit(code)
