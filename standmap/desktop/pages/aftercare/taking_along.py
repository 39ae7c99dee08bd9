"""What is due taken along: as a list on paper, and as a calendar."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import QObject
from PySide6.QtWidgets import QWidget

from standmap.desktop.desk import Desk
from standmap.desktop.file_asking import asked_file
from standmap.desktop.words import said, tr, tr_n
from standmap.jobs.aftercare import StandCare
from standmap.jobs.aftercare_calendar import aftercare_calendar
from standmap.jobs.care_paper import care_paper
from standmap.jobs.walk_paper import paper_options
from standmap.jobs.writing_files import write_files
from standmap.stand.snapshot import Stand


class TakingAlong(QObject):
    """Asks where to and writes, off the GUI thread.

    Parameters
    ----------
    over
        What the dialogs stand over.
    """

    def __init__(self, desk: Desk, over: QWidget) -> None:
        super().__init__(over)
        self._desk, self._over = desk, over
        self._folder: Path | None = None

    def paper(self, care: StandCare, stand: Stand) -> None:
        """Ask for a file and write the list as PDF into it."""
        name = f"aftercare-{care.day.isoformat()}.pdf"
        path = asked_file(self._over, self._desk, self._folder, tr("aftercare on paper"), name, tr("PDF (*.pdf)"))
        if path is not None:
            self.paper_to(care, stand, path)

    def paper_to(self, care: StandCare, stand: Stand, path: Path) -> None:
        """Write the list into a file."""
        name, options = self._name(), paper_options(self._desk.settings)
        self._write(path, lambda: care_paper(care, stand, name, options), len(care.due))

    def calendar(self, care: StandCare) -> None:
        """Ask for a file and write the calendar into it."""
        path = asked_file(
            self._over, self._desk, self._folder, tr("aftercare as a calendar"), "aftercare.ics", tr("calendar (*.ics)")
        )
        if path is not None:
            self.calendar_to(care, path)

    def calendar_to(self, care: StandCare, path: Path) -> None:
        """Write the calendar into a file."""
        name, now, units = self._name(), self._desk.now(), self._desk.units
        self._write(
            path,
            lambda: aftercare_calendar(name, care, now, lambda text: units.in_sentence(said(text))),
            len(care.due),
        )

    def _write(self, path: Path, content: Callable[[], bytes], entries: int) -> None:
        self._folder = path.parent
        told = tr_n(
            "{name} is in {folder}: {n} entry",
            "{name} is in {folder}: {n} entries",
            entries,
            name=path.name,
            folder=path.parent,
        )
        self._desk.compute(
            lambda _: write_files(path.parent, {path.name: content()}, replace=True),
            tr("writing the files"),
            lambda _: self._desk.tell(told),
        )

    def _name(self) -> str:
        return self._desk.path.stem if self._desk.path is not None else ""
