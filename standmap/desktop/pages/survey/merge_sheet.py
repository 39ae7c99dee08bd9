"""What another copy of the stand brings: how much comes over, and each conflict with both answers side by side."""

from __future__ import annotations

from PySide6.QtCore import QSize, Qt, Signal
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QGridLayout, QHBoxLayout, QLabel, QPushButton, QSizePolicy, QVBoxLayout, QWidget

from standmap.desktop.desk import Desk
from standmap.desktop.kit import button, caution_line, clear, hairline, heading, label, second, side_by_side
from standmap.desktop.pages.survey.merge_list import ConflictList, value_words
from standmap.desktop.words import day_text, said, tr, tr_n
from standmap.jobs.merge_copies import MergeConflict, MergeProposal, Side

MOST_CAUTIONS = 6


class SideButton(QPushButton):
    """One of the two answers: whose it is, what it says, and since when. Pressed, it holds."""

    def __init__(self, title: str, hint: str) -> None:
        super().__init__()
        self.setCheckable(True)
        self.setAutoDefault(False)
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Expanding)  # both are of one height
        self.setToolTip(hint)
        self.setCursor(Qt.CursorShape.PointingHandCursor)
        self._title = title
        self.value = label("", "strong")
        self.when = label("", "source")
        down = QVBoxLayout(self)
        down.setContentsMargins(10, 8, 10, 8)
        down.setSpacing(2)
        for part in (label(title, "second"), self.value, self.when):
            part.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)
            down.addWidget(part)
        down.addStretch(1)

    def tell(self, value: str, when: str) -> None:
        """Show an answer."""
        self.value.setText(value)
        self.when.setText(when)
        self.when.setVisible(bool(when))
        self.setAccessibleName(f"{self._title}: {value}")
        self._fit()

    def sizeHint(self) -> QSize:  # noqa: N802 - Qt's name
        """Return the room of the texts, and not of the caption that a plain button has."""
        return QSize(100, self.minimumHeight())

    def minimumSizeHint(self) -> QSize:  # noqa: N802 - Qt's name
        """Return the least room."""
        return QSize(100, self.minimumHeight())

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802 - Qt's name
        """Make room for texts that take more lines now."""
        super().resizeEvent(event)
        self._fit()

    def _fit(self) -> None:
        layout = self.layout()
        if layout is not None:
            self.setMinimumHeight(layout.totalHeightForWidth(max(self.width(), 100)))


class MergeSheet(QWidget):
    """What comes over, to be decided; it stores nothing itself.

    Attributes
    ----------
    foot
        The buttons that stay in sight below.
    decisions
        Whose word holds, by the ids of the conflicts.
    """

    looked_at = Signal(object)
    store_wanted = Signal()
    left = Signal()

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self._desk = desk
        self.proposal: MergeProposal | None = None
        self.decisions: dict[str, Side] = {}
        down = QVBoxLayout(self)
        down.setContentsMargins(0, 0, 0, 0)
        down.setSpacing(8)
        self.about = second("")
        self.counts = QGridLayout()
        self.counts.setContentsMargins(0, 0, 0, 0)
        self.counts.setHorizontalSpacing(12)
        self.counts.setVerticalSpacing(2)
        self.counts.setColumnStretch(0, 1)
        self.cautions = QVBoxLayout()
        self.cautions.setSpacing(4)
        down.addWidget(heading(tr("What comes over")))
        down.addWidget(self.about)
        down.addLayout(self.counts)
        down.addLayout(self.cautions)
        self.asked = self._conflicts()
        down.addWidget(self.asked)
        down.addStretch(1)
        self.store = button("", self.store_wanted.emit, "primary", tr("write all of it as one step (Ctrl+Return)"))
        self.leave = button(tr("not now"), self.left.emit, "quiet", tr("nothing is stored"))
        self.foot = side_by_side(self.store, self.leave)

    def _conflicts(self) -> QWidget:
        sheet = QWidget()
        down = QVBoxLayout(sheet)
        down.setContentsMargins(0, 0, 0, 0)
        down.setSpacing(8)
        self.count = label("", "strong")
        self.list = ConflictList(self._desk)
        self.list.looked_at.connect(self._look_at)
        self.ours = SideButton(tr("ours"), tr("keep what is here (O)"))
        self.theirs = SideButton(tr("theirs"), tr("take what the other copy has (T)"))
        self.ours.clicked.connect(lambda: self.decide(Side.OURS))
        self.theirs.clicked.connect(lambda: self.decide(Side.THEIRS))
        beside = QHBoxLayout()
        beside.setSpacing(8)
        for side in (self.ours, self.theirs):
            beside.addWidget(side, 1)
        self.all_ours = button(tr("all ours"), lambda: self.decide_all(Side.OURS), hint=tr("in every conflict"))
        self.all_theirs = button(tr("all theirs"), lambda: self.decide_all(Side.THEIRS), hint=tr("in every conflict"))
        down.addWidget(hairline())
        down.addWidget(self.count)
        down.addWidget(side_by_side(self.all_ours, self.all_theirs))
        down.addWidget(self.list)
        down.addLayout(beside)
        return sheet

    # What is shown

    def show_proposal(self, proposal: MergeProposal) -> None:
        """Show what would come over; what was decided before, and is still asked, stays decided."""
        self.proposal = proposal
        known = {conflict.id for conflict in proposal.conflicts}
        self.decisions = {key: side for key, side in self.decisions.items() if key in known}
        self.about.setText(self._about(proposal))
        self._show_counts(proposal)
        clear(self.cautions)
        for text in proposal.cautions[:MOST_CAUTIONS]:
            self.cautions.addWidget(caution_line(said(text)))
        more = len(proposal.cautions) - MOST_CAUTIONS
        if more > 0:
            self.cautions.addWidget(second(tr_n("and {n} more", "and {n} more", more)))
        self.asked.setVisible(bool(proposal.conflicts))
        self.list.show_conflicts(proposal.conflicts, self.decisions)
        self.tell()

    def forget(self) -> None:
        """Let it go."""
        self.proposal = None
        self.decisions = {}
        self.list.show_conflicts((), {})

    @staticmethod
    def _about(proposal: MergeProposal) -> str:
        name = proposal.other.name
        if proposal.since is None:
            return tr("From {name}. Nothing is stored yet.", name=name)
        day = day_text(proposal.since.date())
        return tr("From {name}; the two parted on {day}. Nothing is stored yet.", name=name, day=day)

    def _show_counts(self, proposal: MergeProposal) -> None:
        while self.counts.count():
            item = self.counts.takeAt(0)
            widget = item.widget() if item is not None else None
            if widget is not None:
                widget.hide()
                widget.deleteLater()
        coming = [c for c in proposal.counts if c.new or c.changed or c.deleted]
        if not coming:
            self.counts.addWidget(second(tr("nothing beside the conflicts")), 0, 0)
            return
        rows: list[tuple[str, ...]] = [("", tr("new"), tr("changed"), tr("taken out"))]
        rows += [(said(c.kind), *(str(n) if n else "" for n in (c.new, c.changed, c.deleted))) for c in coming]
        for row, cells in enumerate(rows):
            for column, text in enumerate(cells):
                made: QLabel = label(text, "second" if row == 0 or column == 0 else "text", wrap=column == 0)
                if column:
                    made.setAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
                self.counts.addWidget(made, row, column)

    @property
    def undecided(self) -> int:
        """How many conflicts wait for an answer."""
        return 0 if self.proposal is None else len(self.proposal.conflicts) - len(self.decisions)

    def tell(self) -> None:
        """Put in what was decided anew."""
        proposal = self.proposal
        if proposal is None:
            return
        count, waiting = len(proposal.conflicts), self.undecided
        asked = tr("{n} changed in both", n=count)
        left = tr("{n} to decide", n=waiting) if waiting else tr("all decided")
        self.count.setText(f"{asked} · {left}")
        self.store.setText(tr("store") if not waiting else tr("{n} to decide", n=waiting))
        self.store.setAccessibleName(self.store.text())
        self.store.setEnabled(self.can_store)
        self.list.items.refresh()
        self._tell_conflict()

    @property
    def can_store(self) -> bool:
        """Whether everything is decided."""
        return self.proposal is not None and not self.undecided and not self._desk.read_only

    @property
    def conflict(self) -> MergeConflict | None:
        """The conflict that is looked at."""
        row = self.list.currentIndex().row()
        if self.proposal is None or not 0 <= row < len(self.proposal.conflicts):
            return None
        return self.proposal.conflicts[row]

    def _look_at(self, _: int) -> None:
        self._tell_conflict()
        if self.conflict is not None:
            self.looked_at.emit(self.conflict)

    def _tell_conflict(self) -> None:
        conflict = self.conflict
        if conflict is None:
            return
        for made, side, at in (
            (self.ours, Side.OURS, conflict.ours_at),
            (self.theirs, Side.THEIRS, conflict.theirs_at),
        ):
            when = "" if at is None else tr("since {day}, {time}", day=day_text(at.date()), time=f"{at:%H:%M}")
            made.tell(value_words(self._desk, conflict, side), when)
            made.setChecked(self.decisions.get(conflict.id) is side)

    # Deciding

    @property
    def deciding(self) -> bool:
        """Whether a conflict can be decided now."""
        return self.isVisible() and self.conflict is not None

    def decide(self, side: Side) -> None:
        """Decide the conflict that is looked at, and go to the next one that waits."""
        conflict, proposal = self.conflict, self.proposal
        if conflict is None or proposal is None:
            return
        self.decisions[conflict.id] = side
        row, every = self.list.currentIndex().row(), proposal.conflicts
        order = [*range(row + 1, len(every)), *range(row)]
        onward = next((i for i in order if every[i].id not in self.decisions), None)
        self.tell()
        if onward is not None:
            self.list.look_at(onward)

    def decide_all(self, side: Side) -> None:
        """Decide every conflict for one side."""
        if self.proposal is not None:
            self.decisions.update({conflict.id: side for conflict in self.proposal.conflicts})
            self.tell()
