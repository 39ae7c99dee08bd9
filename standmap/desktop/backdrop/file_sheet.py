"""A sheet on which a file of the person's own is taken for the map, shown, and taken away again."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QDialog, QFileDialog, QVBoxLayout, QWidget
from shiboken6 import isValid

from standmap.desktop.desk import Desk, wording
from standmap.desktop.kit import Field, button, hairline, heading, label, side_by_side
from standmap.desktop.measuring.fitting import fit_height
from standmap.desktop.words import tr

WIDTH_PX = 460


class FileSheet(QDialog):
    """Every change in it is an edit of the stand, at once, and comes undone like any other.

    Attributes
    ----------
    facts
        Where the sheet tells of what is kept; made anew by `_fill`.
    system
        The field for a reference system that the file does not name; hidden until it is wanted.
    wrong
        What could not be done, and what to do.
    """

    def __init__(self, desk: Desk, title: str, asked: str, kinds: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._desk = desk
        self._asked = asked
        self._kinds = kinds
        self._wanted: Path | None = None
        self.setWindowTitle(title)
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        down = QVBoxLayout(self)
        down.setContentsMargins(24, 20, 24, 20)
        down.setSpacing(12)
        down.addWidget(heading(title))
        told = QWidget()
        self.facts = QVBoxLayout(told)
        self.facts.setContentsMargins(0, 0, 0, 0)
        self.facts.setSpacing(8)
        down.addWidget(told)
        self.wrong = label("", "error")
        self.wrong.hide()
        self.system: Field[str] = Field(
            tr("reference system of the file"), str.strip, hint=tr("such as {code}", code="EPSG:3067")
        )
        self.system.hide()
        self.system.entered.connect(self._again)
        down.addWidget(self.wrong)
        down.addWidget(self.system)
        down.addWidget(hairline())
        self.choose = button(tr("choose a file..."), self._choose, "primary")
        self.off = button(tr("take it away"), self.take_away, "quiet")
        self.shut = button(tr("done"), self.close, "quiet")
        down.addWidget(side_by_side(self.choose, self.off, self.shut))
        scale = desk.settings.text_size_percent / 100
        self._wide = min(round(WIDTH_PX * scale), self.screen().availableSize().width())

    def take(self, path: Path, crs: str | None) -> None:
        """Take a file; a reference system where the file names none."""
        raise NotImplementedError

    def take_away(self) -> None:
        """Take away what is kept."""
        raise NotImplementedError

    def lay(self, path: Path) -> None:
        """Take a file that was chosen."""
        self._wanted = path
        self.take(path, None)

    def _choose(self) -> None:
        folder = str(self._desk.path.parent) if self._desk.path is not None else ""
        name, _ = QFileDialog.getOpenFileName(self, self._asked, folder, self._kinds)
        if name:
            self.lay(Path(name))

    def _again(self) -> None:
        if self._wanted is not None:
            self.take(self._wanted, self.system.text().strip() or None)

    def _say(self, error: Exception | None) -> None:
        if not isValid(self):  # closed before the answer came
            if error is not None:
                self._desk.error(error)
            return
        text = "" if error is None else wording(error)
        self.wrong.setText(text)
        self.wrong.setVisible(bool(text))
        self.system.setVisible("reference system" in str(error or ""))
        self._fit()

    def _fit(self) -> None:
        fit_height(self, self._wide)
