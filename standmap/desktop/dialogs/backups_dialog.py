"""The dated backups of the open stand: which there are, making one, and putting one back."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import TypeVar

from PySide6.QtCore import Qt
from PySide6.QtWidgets import (
    QAbstractItemView,
    QDialog,
    QFileDialog,
    QFrame,
    QHBoxLayout,
    QHeaderView,
    QTableWidget,
    QTableWidgetItem,
    QVBoxLayout,
    QWidget,
)
from shiboken6 import isValid

from standmap.desktop.desk import Desk, wording
from standmap.desktop.kit import button, caution_line, hairline, heading, label, second
from standmap.desktop.words import said, tr
from standmap.desktop.working import Work
from standmap.jobs.backups import Backup, back_up, backups_of, folder_of, restore
from standmap.jobs.cloud_folder import synced_folder
from standmap.units_shown import file_size

WIDTH_PX, HEIGHT_PX = 560, 560

Result = TypeVar("Result")


class BackupsDialog(QDialog):
    """Putting one back is asked about in its own words, in the dialog itself.

    Attributes
    ----------
    table
        The backups, the latest first.
    question
        Shown while a person is asked whether the stand is to go back.
    """

    def __init__(self, desk: Desk, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        assert desk.path is not None  # noqa: S101 - asked for only while a stand is open
        self._desk = desk
        self._path = desk.path
        self._backups: tuple[Backup, ...] = ()
        self._wanted: Path | None = None
        self._work: Work[Backup] | Work[Backup | None] | None = None
        self.setWindowTitle(tr("backups of this stand"))
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self._build()
        scale = desk.settings.text_size_percent / 100
        room = self.screen().availableSize()
        self.resize(min(round(WIDTH_PX * scale), room.width()), min(round(HEIGHT_PX * scale), room.height()))
        self._read()

    def _build(self) -> None:
        down = QVBoxLayout(self)
        down.setContentsMargins(24, 20, 24, 20)
        down.setSpacing(10)
        down.addWidget(heading(tr("backups of {name}", name=self._path.name)))
        folder = second(tr("in {folder}", folder=folder_of(self._path, self._desk.settings)))
        folder.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        down.addWidget(folder)
        synced = synced_folder(self._path)
        if synced is not None:
            down.addWidget(caution_line(said(synced.caution)))
        down.addWidget(hairline())
        self.nothing = second(tr("none yet: one is made each day that the stand is opened, if it has changed"))
        self.table = _table()
        self.table.setAccessibleName(tr("backups"))
        self.table.itemSelectionChanged.connect(self._picked)
        self.table.cellActivated.connect(lambda _row, _column: self._ask_about_picked())
        self.nothing.setAlignment(Qt.AlignmentFlag.AlignTop)
        down.addWidget(self.nothing, 1)
        down.addWidget(self.table, 1)
        down.addWidget(hairline())
        self.told = label("", "second")
        self.wrong = label("", "error")
        self.stop_button = button(tr("stop"), self._stop, "link")
        working = QHBoxLayout()
        working.addWidget(self.told, 1)
        working.addWidget(self.stop_button)
        down.addLayout(working)
        down.addWidget(self.wrong)
        self.question = self._made_question()
        down.addWidget(self.question)
        self.make_button = button(tr("make one now"), self._make, "primary")
        self.file_button = button(tr("put back from a file..."), self._choose_file, "link")
        self.back_button = button(tr("put back..."), self._ask_about_picked, "quiet")
        self.close_button = button(tr("close"), self.reject, "quiet")
        self.buttons = QWidget()
        lines = QVBoxLayout(self.buttons)
        lines.setContentsMargins(0, 0, 0, 0)
        lines.setSpacing(12)
        for at_left, at_right in ((self.back_button, self.file_button), (self.make_button, self.close_button)):
            across = QHBoxLayout()
            across.addWidget(at_left)
            across.addStretch(1)
            across.addWidget(at_right)
            lines.addLayout(across)
        down.addWidget(self.buttons)
        for hidden in (self.nothing, self.wrong, self.question, self.told, self.stop_button):
            hidden.hide()
        self._picked()

    def _made_question(self) -> QFrame:
        sheet = QFrame()
        down = QVBoxLayout(sheet)
        down.setContentsMargins(0, 0, 0, 0)
        down.setSpacing(8)
        self.asked = label("", "strong")
        self.sure_button = button(tr("put it back"), self._put_back, "primary")
        self.leave_button = button(tr("leave it"), self._leave, "quiet")
        across = QHBoxLayout()
        across.addStretch(1)
        across.addWidget(self.leave_button)
        across.addWidget(self.sure_button)
        down.addWidget(self.asked)
        down.addWidget(second(tr("the stand as it is now becomes a backup first; whoever has it open reads it again")))
        down.addLayout(across)
        return sheet

    # The list

    def _read(self) -> None:
        settings = self._desk.settings
        self._desk.run(lambda file, _: backups_of(file.path, settings), "", self._while_open(self._show), self._failed)

    def _show(self, backups: tuple[Backup, ...]) -> None:
        self._backups = backups
        self.table.setRowCount(len(backups))
        for row, backup in enumerate(backups):
            cells = (f"{backup.at:%Y-%m-%d %H:%M}", said(backup.words), file_size(backup.size_bytes))
            for column, text in enumerate(cells):
                item = QTableWidgetItem(text)
                side = Qt.AlignmentFlag.AlignRight if column == len(cells) - 1 else Qt.AlignmentFlag.AlignLeft
                item.setTextAlignment(side | Qt.AlignmentFlag.AlignVCenter)
                self.table.setItem(row, column, item)
        self.nothing.setVisible(not backups)
        self.table.setVisible(bool(backups))
        self.table.setCurrentCell(0 if backups else -1, 0)
        self._picked()

    def _picked_backup(self) -> Backup | None:
        rows = self.table.selectionModel().selectedRows()
        return self._backups[rows[0].row()] if rows else None

    def _picked(self) -> None:
        can = not self._desk.read_only
        self.back_button.setEnabled(can and self._picked_backup() is not None)
        self.file_button.setEnabled(can)

    # Making one

    def _make(self) -> None:
        settings, now = self._desk.settings, self._desk.now()
        self._begin(
            self._desk.run(
                lambda file, watch: back_up(file.path, settings, now, progress=watch),
                tr("making a backup"),
                self._while_open(self._made),
                self._failed,
            )
        )

    def _made(self, backup: Backup) -> None:
        self._end(tr("made, {size}", size=file_size(backup.size_bytes)))

    # Putting one back

    def _ask_about_picked(self) -> None:
        backup = self._picked_backup()
        if backup is not None and self.back_button.isEnabled():
            self._ask(backup.path, f"{backup.at:%Y-%m-%d %H:%M}")

    def _choose_file(self) -> None:
        name, _ = QFileDialog.getOpenFileName(self, tr("put back from a file"), "", tr("stands") + " (*.gpkg)")
        if name:
            self._ask(Path(name), Path(name).name)

    def _ask(self, backup: Path, called: str) -> None:
        self._wanted = backup
        self._say("")
        self.told.hide()
        self.asked.setText(tr("the whole stand goes back to {backup}", backup=called))
        self.buttons.hide()
        self.question.show()
        self.leave_button.setFocus()

    def _leave(self) -> None:
        self.question.hide()
        self.buttons.show()
        self.table.setFocus()

    def _put_back(self) -> None:
        backup, settings, now = self._wanted, self._desk.settings, self._desk.now()
        assert backup is not None  # noqa: S101 - the question names one
        self._leave()
        self._begin(
            self._desk.run(
                lambda file, watch: restore(file.path, backup, settings, now, progress=watch),
                tr("putting a backup back"),
                self._while_open(partial(self._was_put_back, backup)),
                self._failed,
            )
        )

    def _was_put_back(self, backup: Path, before: Backup | None) -> None:
        kept = tr("as it was before: {name}", name=before.path.name) if before is not None else ""
        self._end(tr("the stand is as in {name}", name=backup.name) + (f"; {kept}" if kept else ""))

    # On the way

    def _begin(self, work: Work[Backup] | Work[Backup | None]) -> None:
        self._work = work
        self._say("")
        self.buttons.setEnabled(False)
        self.told.setText(work.what)
        self.told.show()
        self.stop_button.setEnabled(True)
        self.stop_button.show()
        work.progressed.connect(self._progressed)

    def _progressed(self, done: float, total: float, what: str) -> None:
        share = tr("{percent} %", percent=round(100 * done / total)) if total else ""
        self.told.setText(f"{said(what)} {share}".strip())

    def _stop(self) -> None:
        if self._work is not None:
            self.stop_button.setEnabled(False)
            self._work.cancel()

    def _end(self, text: str) -> None:
        self._work = None
        self.stop_button.hide()
        self.buttons.setEnabled(True)
        self.told.setText(text)
        self.told.setVisible(bool(text))
        self._read()

    def _while_open(self, then: Callable[[Result], None]) -> Callable[[Result], None]:
        """Return what is to follow, which is left out once the dialog has been closed."""
        return lambda result: then(result) if isValid(self) else None

    def _failed(self, error: Exception) -> None:
        if not isValid(self):
            self._desk.error(error)
            return
        self._end("")
        self._say(wording(error))

    def _say(self, text: str) -> None:
        self.wrong.setText(text)
        self.wrong.setVisible(bool(text))


def _table() -> QTableWidget:
    table = QTableWidget(0, 3)
    table.setHorizontalHeaderLabels([tr("made"), tr("why"), tr("size")])
    table.verticalHeader().hide()
    table.setShowGrid(False)
    table.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
    table.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
    table.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
    table.setTabKeyNavigation(False)
    head = table.horizontalHeader()
    head.setHighlightSections(False)
    head.setDefaultAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)
    head.setSectionResizeMode(QHeaderView.ResizeMode.ResizeToContents)
    head.setSectionResizeMode(1, QHeaderView.ResizeMode.Stretch)
    last = table.horizontalHeaderItem(2)
    if last is not None:
        last.setTextAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
    return table
