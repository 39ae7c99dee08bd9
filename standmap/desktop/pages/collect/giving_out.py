"""A planned walk given out: on paper, as a page for a phone, as files; the stand keeps what was given out."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path

from PySide6.QtCore import QObject
from PySide6.QtWidgets import QFileDialog, QWidget

from standmap.desktop.desk import Desk
from standmap.desktop.file_asking import asked_file, usual_folder
from standmap.desktop.words import tr, tr_n
from standmap.jobs.clock import now
from standmap.jobs.given_walk import GivenWalk, give_out, given_walk
from standmap.jobs.planned_round import PlannedRound
from standmap.jobs.round_files import write_round
from standmap.jobs.walk_paper import paper_options, walk_paper
from standmap.jobs.walk_phone import phone_options, walk_phone
from standmap.jobs.writing_files import write_files
from standmap.stand.snapshot import Stand

Content = Callable[[GivenWalk], Mapping[str, bytes]]
"""Makes the files of a walk, by name."""


class GivingOut(QObject):
    """Asks where to, keeps the walk in the stand, and writes; all but the asking off the GUI thread.

    Parameters
    ----------
    parent
        What the dialogs stand over.
    """

    def __init__(self, desk: Desk, parent: QWidget) -> None:
        super().__init__(parent)
        self._desk = desk
        self._over = parent
        self._folder: Path | None = None

    def paper(self, planned: PlannedRound) -> None:
        """Ask for a file and write the walk sheet into it."""
        path = self._asked(tr("the walk sheet"), f"walk-{planned.day.isoformat()}.pdf", tr("PDF (*.pdf)"))
        if path is not None:
            self.paper_to(planned, path)

    def paper_to(self, planned: PlannedRound, path: Path) -> None:
        """Write the walk sheet into a file."""
        stand, name, options = self._stand(), self._name(), paper_options(self._desk.settings)
        self._give(planned, path.parent, lambda _: {path.name: walk_paper(planned, stand, name, options)})

    def phone(self, planned: PlannedRound) -> None:
        """Ask for a file and write the page for a phone into it."""
        path = self._asked(tr("the page for a phone"), f"walk-{planned.day.isoformat()}.html", tr("page (*.html)"))
        if path is not None:
            self.phone_to(planned, path)

    def phone_to(self, planned: PlannedRound, path: Path) -> None:
        """Write the page for a phone into a file."""
        stand, options = self._stand(), phone_options(self._desk.settings)
        self._give(
            planned,
            path.parent,
            lambda given: {path.name: walk_phone(planned, stand, given.key, options).encode()},
        )

    def files(self, planned: PlannedRound) -> None:
        """Ask for a folder and write the files of the walk into it."""
        begin = str(self._folder) if self._folder is not None else usual_folder(self._desk)
        chosen = QFileDialog.getExistingDirectory(self._over, tr("a folder for the files of the walk"), begin)
        if chosen:
            self.files_to(planned, Path(chosen))

    def files_to(self, planned: PlannedRound, folder: Path) -> None:
        """Write walk.gpx, walk.geojson and walk.csv into a folder."""
        self._folder = folder

        def write(_: GivenWalk) -> None:
            self._desk.compute(lambda _: write_round(planned, folder), tr("writing the files"), self._tell_written)

        self._keep(planned, write)

    def _give(self, planned: PlannedRound, folder: Path, content: Content) -> None:
        self._folder = folder

        def write(given: GivenWalk) -> None:
            self._desk.compute(
                lambda _: write_files(folder, content(given), replace=True), tr("writing the files"), self._tell_written
            )

        self._keep(planned, write)

    def _keep(self, planned: PlannedRound, then: Callable[[GivenWalk], None]) -> None:
        """Keep the walk in the stand where it may be written, and go on with it."""
        given, seen = given_walk(planned, now()), self._desk.seen
        if seen is None or seen.read_only:
            then(given)
            return
        self._desk.run(lambda file, _: give_out(file, given), tr("keeping the walk"), then)

    def _tell_written(self, paths: tuple[Path, ...]) -> None:
        names = ", ".join(path.name for path in paths)
        told = tr_n(
            "{names} is in {folder}", "{names} are in {folder}", len(paths), names=names, folder=paths[0].parent
        )
        self._desk.tell(told)

    def _stand(self) -> Stand:
        assert self._desk.seen is not None  # noqa: S101 - a walk is planned on an open stand
        return self._desk.seen.stand

    def _name(self) -> str:
        return self._desk.path.stem if self._desk.path is not None else ""

    def _asked(self, title: str, name: str, kind: str) -> Path | None:
        return asked_file(self._over, self._desk, self._folder, title, name, kind)
