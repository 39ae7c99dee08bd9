"""Another copy of the stand on its way in: asked about, compared off the GUI thread, decided in the panel, stored."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import QObject
from PySide6.QtWidgets import QFileDialog

from standmap.desktop.canvas.canvas import MapCanvas
from standmap.desktop.desk import Desk
from standmap.desktop.guard import guard_of
from standmap.desktop.pages.survey.merge_ask_sheet import MergeAskSheet
from standmap.desktop.pages.survey.merge_sheet import MergeSheet
from standmap.desktop.words import said, tr
from standmap.desktop.working import Watch, Work
from standmap.jobs.merge_copies import (
    CopyChangedError,
    MergeConflict,
    MergeProposal,
    MergeReport,
    Side,
    propose_merge,
    store_merge,
)
from standmap.jobs.opening import open_stand

STANDS = "*.gpkg"


class Merging(QObject):
    """Joins the question, the comparing and the conflicts in the panel.

    Parameters
    ----------
    show_sheet
        Shows a sheet in the panel.
    go_home
        Shows what else there is to do on the page.
    """

    def __init__(
        self, desk: Desk, canvas: MapCanvas, show_sheet: Callable[[object], None], go_home: Callable[[], None]
    ) -> None:
        super().__init__(desk)
        self._desk = desk
        self._canvas = canvas
        self._show_sheet = show_sheet
        self._go_home = go_home
        self.question = MergeAskSheet()
        self.sheet = MergeSheet(desk)
        self._other: Path | None = None
        self._path: Path | None = None
        self._work: Work[MergeProposal] | None = None
        self.question.merge_wanted.connect(self.compare)
        self.question.open_wanted.connect(self._open)
        self.question.stop_wanted.connect(self.stop)
        self.question.left.connect(self._forget)
        self.sheet.store_wanted.connect(self.store)
        self.sheet.left.connect(self.leave)
        self.sheet.looked_at.connect(self._look_at)

    @property
    def under_way(self) -> bool:
        """Whether copies are being compared."""
        return self._work is not None

    @property
    def waits(self) -> bool:
        """Whether a comparison waits to be stored."""
        return self.sheet.proposal is not None

    # Asking

    def ask(self, path: Path) -> None:
        """Ask whether to open another stand or to merge it into this one."""
        if self._desk.path is not None and path.absolute() == self._desk.path:
            self._desk.tell(tr("{name} is open already", name=path.name))
            return
        self._let_go()
        self._path, self._other = self._desk.path, path.absolute()
        self._show_sheet(self.question)
        self.question.ask(path, can_merge=not self._desk.read_only)

    def choose(self) -> None:
        """Ask for another copy and compare it with this stand."""
        folder = str(self._desk.path.parent) if self._desk.path is not None else ""
        title = tr("another copy of this stand")
        name, _ = QFileDialog.getOpenFileName(self.question.window(), title, folder, tr("stands") + f" ({STANDS})")
        if name:
            self._let_go()
            self._path, self._other = self._desk.path, Path(name).absolute()
            self.compare()

    def _open(self) -> None:
        other = self._other
        self._forget()
        if other is not None:
            self._desk.open_stand(other)

    # Comparing

    def compare(self) -> None:
        """Compare the two copies and show what would come over."""
        path, other = self._desk.path, self._other
        if path is None or other is None or self._work is not None:
            return

        def work(watch: Watch) -> MergeProposal:
            with open_stand(path, read_only=True) as file:
                return propose_merge(file, other, watch)

        self.question.begin(other)
        self._show_sheet(self.question)
        begun = self._desk.compute(
            work,
            tr("comparing two copies"),
            lambda proposal: self._compared(begun, proposal),
            lambda error: self._failed(begun, error),
        )
        begun.progressed.connect(self.question.progress)
        self._work = begun

    def stop(self) -> None:
        """Stop comparing; nothing was stored."""
        if self._work is not None:
            self._work.cancel()

    def _compared(self, work: Work[MergeProposal], proposal: MergeProposal) -> None:
        if work is not self._work:
            return
        self._work = None
        if proposal.nothing:
            self._desk.tell(tr("{name}: all of it is here already", name=proposal.other.name))
            self._forget()
            return
        self.sheet.show_proposal(proposal)
        self.show()

    def _failed(self, work: Work[MergeProposal], error: Exception) -> None:
        if work is not self._work or self._other is None:
            return
        self._work = None
        if work.stopping:
            self._forget()
        else:
            self.question.fail(self._other, error)

    # Deciding and storing

    def show(self) -> None:
        """Show what waits to be stored."""
        self._show_sheet(self.sheet)
        proposal = self.sheet.proposal
        (self.sheet.list if proposal is not None and proposal.conflicts else self.sheet.store).setFocus()
        if self.sheet.conflict is not None:
            self._look_at(self.sheet.conflict)

    def _look_at(self, conflict: MergeConflict) -> None:
        seen = self._desk.seen
        if seen is None or conflict.tree_key not in seen.row_of or not self.sheet.isVisible():
            return
        x, y = seen.xy[seen.row_of[conflict.tree_key]].tolist()
        if x == x and y == y:  # not NaN: it lies within reach
            self._canvas.centre_on(x, y)
        self._desk.choose([conflict.tree_key])

    def decide(self, side: Side) -> None:
        """Decide the conflict that is looked at."""
        self.sheet.decide(side)

    def store(self) -> None:
        """Write what comes over, as it was decided, as one step."""
        proposal = self.sheet.proposal
        if proposal is None or not self.sheet.can_store:
            return
        decisions, now = dict(self.sheet.decisions), self._desk.now()
        self.sheet.store.setEnabled(False)
        guard_of(self._desk).once(
            "merge a copy",
            lambda file, _: store_merge(file, proposal, decisions, now),
            tr("merging the copies"),
            lambda report: self._stored(proposal, report),
            self._not_stored,
        )

    def _stored(self, proposal: MergeProposal, report: MergeReport) -> None:
        rows = sum(c.new + c.changed + c.deleted for c in report.counts)
        self._desk.tell(tr("merged {name}: {n} rows came over", name=proposal.other.name, n=rows))
        for caution in report.cautions:
            if caution not in proposal.cautions:  # those were read before it was stored
                self._desk.caution(said(caution))
        self._forget()

    def _not_stored(self, error: Exception) -> None:
        self.sheet.tell()
        if isinstance(error, CopyChangedError):
            self._desk.caution(tr("the stand has changed since: the copies are compared once more, then store"))
            self.compare()
        else:
            self._desk.error(error)

    def leave(self) -> None:
        """Leave all of it: nothing is stored."""
        self._desk.tell(tr("left: nothing was stored"))
        self._forget()

    def _let_go(self) -> None:
        if self._work is not None:
            self._work.cancel()
            self._work = None
        self._other = None
        self.sheet.forget()

    def _forget(self) -> None:
        self._let_go()
        self._go_home()

    def stand_changed(self) -> None:
        """Let a comparison with another stand go."""
        if self._desk.path != self._path and (self._other is not None or self.waits):
            self._forget()
        elif self.waits:
            self.sheet.tell()
