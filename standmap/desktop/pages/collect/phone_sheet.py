"""What a phone brought home, shown before it is written down: new, known, skipped, and what disagrees."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from tempfile import TemporaryDirectory

from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QButtonGroup, QFileDialog, QVBoxLayout

from standmap.desktop.desk import Desk
from standmap.desktop.kit import (
    button,
    caution_line,
    clear,
    fact_row,
    heading,
    keys_text,
    label,
    second,
    side_by_side,
    source_line,
)
from standmap.desktop.pages.collect.over_sheet import OverSheet
from standmap.desktop.pages.collect.wording import long_day
from standmap.desktop.seen import Seen
from standmap.desktop.words import said, tr, tr_n
from standmap.jobs.phone_back import BackConflict, BackProposal, Keep, propose_back, take_back
from standmap.jobs.record import RecordReport
from standmap.store.stand_file import StandFile

Look = Callable[[StandFile, datetime], BackProposal]

PASTED = "pasted.txt"
"""How a text that was pasted is called in messages and in the stand."""


class PhoneSheet(OverSheet):
    """One returns file; nothing is stored before a person says so."""

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk)
        self.proposal: BackProposal | None = None
        self._again: Look | None = None
        self._seen: Seen | None = None
        """The stand that the proposal was held against."""
        self._busy = False
        self._folder = ""
        self.heading = heading(tr("From a phone"))
        self.about = second(tr("Choose the returns file that the phone saved, or paste its text."))
        self.wrong = label("", "error")
        self.wrong.hide()
        self._found = QVBoxLayout()
        self._found.setSpacing(6)
        self.ours = button(tr("what stands here holds"), None, "row")
        self.theirs = button(tr("what the phone says holds"), None, "row")
        self._group = QButtonGroup(self)
        for choice in (self.ours, self.theirs):
            choice.setCheckable(True)
            self._group.addButton(choice)
        self._group.buttonClicked.connect(lambda _: self._tell_ready())
        self.choices = side_by_side(self.ours, self.theirs)
        self.choose_button = button(tr("choose a file..."), self.choose_file, "quiet")
        self.paste_button = button(tr("paste its text"), self.paste, "link")
        self.store_button = button(tr("write it down"), self.store, "primary", keys_text("Ctrl+Return"))
        for part in (self.heading, self.about, self.wrong):
            self.down.addWidget(part)
        self.down.addLayout(self._found)
        for below in (self.choices, self.paste_button, self.back):
            self.down.addWidget(below)
        self.foot_line.addWidget(side_by_side(self.store_button, self.choose_button))
        self._show()

    def choose_file(self) -> None:
        """Ask for a file and look at it."""
        chosen, _ = QFileDialog.getOpenFileName(
            self,
            tr("the returns file of a phone"),
            self._folder,
            tr("returns (*.txt *.json)") + ";;" + tr("all files") + " (*)",
        )
        if chosen:
            self._folder = str(Path(chosen).parent)
            self.look_at(Path(chosen))

    def paste(self) -> None:
        """Look at the text in the clipboard."""
        text = QGuiApplication.clipboard().text()

        def look(file: StandFile, now: datetime) -> BackProposal:
            with TemporaryDirectory() as folder:
                path = Path(folder) / PASTED
                path.write_text(text, encoding="utf-8")
                return propose_back(file, path, now)

        self._look(look)

    def look_at(self, path: Path) -> None:
        """Hold a returns file against the stand; nothing is written."""
        self._look(lambda file, now: propose_back(file, path, now))

    def _look(self, look: Look) -> None:
        self._again = look
        now = self._desk.now()
        what = tr("reading what the phone brought home")
        self._desk.run(lambda file, _: look(file, now), what, self._take, self._refuse)

    def forget(self) -> None:
        """Let go of what was looked at."""
        self.proposal = self._again = None
        self._show()

    def _take(self, proposal: BackProposal) -> None:
        if self._again is None:
            return  # it was let go of in the meantime
        self.proposal, self._seen = proposal, self._desk.seen
        self._group.setExclusive(False)
        for choice in (self.ours, self.theirs):
            choice.setChecked(False)
        self._group.setExclusive(True)
        self._show()
        (self.ours if proposal.conflicts else self.store_button).setFocus()

    def _refuse(self, error: Exception) -> None:
        self._busy = False
        self.proposal = None
        self._show()
        what = said(getattr(error, "what", str(error)))
        remedy = said(getattr(error, "remedy", ""))
        self.wrong.setText(f"{what}; {remedy}" if remedy else what)
        self.wrong.show()

    def _show(self) -> None:
        clear(self._found)
        self.wrong.hide()
        found = self.proposal
        self.choices.setVisible(found is not None and bool(found.conflicts))
        self._tell_ready()
        if found is None:
            return
        returns = found.returns
        self.about.setText(f"{long_day(returns.day)} · {tr(str(returns.purpose))} · {found.file}")
        for text in found.cautions:
            self._found.addWidget(caution_line(self.units.in_sentence(said(text))))
        new = len(found.records)
        self._found.addWidget(fact_row(tr("new"), str(new), strong=bool(new)))
        self._found.addWidget(fact_row(tr("written down already, just so"), str(found.same)))
        if found.changed:
            self._found.addWidget(fact_row(tr("tags that were read"), str(len(found.changed))))
        if found.skipped:
            self._found.addWidget(fact_row(tr("skipped"), str(len(found.skipped))))
            for text in found.skipped:
                self._found.addWidget(source_line(said(text)))
        if found.conflicts:
            count = len(found.conflicts)
            self._found.addWidget(
                label(
                    tr_n("{n} entry disagrees with the stand", "{n} entries disagree with the stand", count), "strong"
                )
            )
            for conflict in found.conflicts:
                self._add_conflict(conflict)
        elif found.nothing:
            self._found.addWidget(second(tr("all of this is written down already")))

    def _add_conflict(self, conflict: BackConflict) -> None:
        def shown(text: str) -> str:
            return self.units.in_sentence(said(text))

        self._found.addWidget(label(f"{conflict.tree}, {shown(conflict.what)}"))
        self._found.addWidget(
            second(tr("here {ours} · phone {theirs}", ours=shown(conflict.ours), theirs=shown(conflict.theirs)))
        )

    @property
    def keep(self) -> Keep | None:
        """Whose word holds where phone and stand disagree, None while nobody said."""
        return Keep.OURS if self.ours.isChecked() else Keep.THEIRS if self.theirs.isChecked() else None

    def _tell_ready(self) -> None:
        found = self.proposal
        ready = found is not None and not found.nothing and (not found.conflicts or self.keep is not None)
        self.store_button.setEnabled(ready and not self._busy and not self._desk.read_only)

    def tell(self) -> None:
        """Show it as it stands; a stand that has changed since is asked again, so that nothing is written twice."""
        if self._busy:
            return
        if self.proposal is not None and self._again is not None and self._seen is not self._desk.seen:
            self.proposal = None
            self._look(self._again)
        self._show()

    def go(self) -> None:
        """Write it down."""
        if self.store_button.isEnabled():
            self.store()
        elif self.proposal is None:
            self.choose_file()

    def store(self) -> None:
        """Write down what the phone brought home, as one step."""
        proposal, keep = self.proposal, self.keep
        if proposal is None:
            return
        today, now = self._desk.today, self._desk.now()
        self._busy = True
        self._tell_ready()
        self._desk.run(
            lambda file, _: take_back(file, proposal, today, now, keep),
            tr("writing the returns down"),
            self._stored,
            self._refuse,
        )

    def _stored(self, report: RecordReport) -> None:
        self._busy = False
        self._desk.tell(
            tr_n("{n} entry of the phone written down", "{n} entries of the phone written down", report.lines)
        )
        for text in report.cautions:
            self._desk.caution(self.units.in_sentence(said(text)))
        self.forget()
        self.back_wanted.emit()
