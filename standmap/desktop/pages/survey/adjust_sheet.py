"""The best of all that was measured, to be looked at: what moves, what disagrees, what hangs on nothing, loops."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QProgressBar, QVBoxLayout, QWidget

from standmap.desktop.desk import Desk, wording
from standmap.desktop.kit import button, caution_line, clear, hairline, heading, label, second, side_by_side
from standmap.desktop.pages.survey.review_list import units_of
from standmap.desktop.words import said, tr, tr_n
from standmap.errors import NothingToDo
from standmap.jobs.adjust_answer import Adjustment

PARTS = 1000
MOST_GROSS, MOST_DISAGREEING, MOST_LEFT_OUT, MOST_LOOPS, MOST_LOOSE = 3, 12, 12, 5, 8
MOST_BESIDE = 12


class AdjustSheet(QWidget):
    """Shows what an adjustment found; it writes nothing itself.

    Attributes
    ----------
    foot
        The buttons that stay in sight below.
    """

    accept_wanted = Signal()
    left = Signal()
    stop_wanted = Signal()
    leave_out_wanted = Signal(str)
    take_in_wanted = Signal(str)
    looked_at = Signal(object)

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self._desk = desk
        self.adjustment: Adjustment | None = None
        down = QVBoxLayout(self)
        down.setContentsMargins(0, 0, 0, 0)
        down.setSpacing(8)
        self.about = second("")
        self.bar = QProgressBar()
        self.bar.setTextVisible(False)
        self.bar.setAccessibleName(tr("how far the adjusting has come"))
        self.doing = second("")
        self.wrong = label("", "error")
        self.found = QVBoxLayout()
        self.found.setSpacing(6)
        down.addWidget(heading(tr("The best of all that was measured")))
        for part in (self.about, self.bar, self.doing, self.wrong):
            down.addWidget(part)
        down.addLayout(self.found)
        down.addStretch(1)
        self.accept = button(
            tr("accept"), self.accept_wanted.emit, "primary", tr("move them as one step (Ctrl+Return)")
        )
        self.leave = button(tr("not now"), self.left.emit, "quiet", tr("nothing is moved"))
        self.stop = button(tr("stop adjusting"), self.stop_wanted.emit, "quiet", tr("nothing is moved"))
        self.foot = side_by_side(self.accept, self.leave, self.stop)

    def begin(self) -> None:
        """Show that it is being worked out."""
        self.adjustment = None
        clear(self.found)
        self.about.setText("")
        self.doing.setText("")
        self.bar.setRange(0, 0)
        self._show(busy=True)

    def progress(self, done: float, total: float, what: str) -> None:
        """Show how far it has come."""
        self.bar.setRange(0, PARTS if total else 0)
        self.bar.setValue(round(PARTS * done / total) if total else 0)
        self.doing.setText(said(what))

    def fail(self, error: Exception) -> None:
        """Say why there is nothing to show."""
        if isinstance(error, NothingToDo):  # no mistake of anybody's
            self.about.setText(wording(error))
            self._show(busy=False)
            self.accept.hide()
        else:
            self._show(busy=False, wrong=wording(error))

    def _show(self, *, busy: bool, wrong: str = "") -> None:
        self.wrong.setText(wrong)
        self.wrong.setVisible(bool(wrong))
        for part in (self.bar, self.doing, self.stop):
            part.setVisible(busy)
        self.about.setVisible(not busy and not wrong)
        self.leave.setVisible(not busy)
        self.accept.setVisible(not busy and not wrong)
        self.accept.setEnabled(self.can_accept)

    @property
    def can_accept(self) -> bool:
        """Whether there is anything to accept."""
        return self.adjustment is not None and bool(self.adjustment.moved) and not self._desk.read_only

    def show_adjustment(self, adjustment: Adjustment) -> None:
        """Show what came of it."""
        self.adjustment = adjustment
        clear(self.found)
        self.about.setText(self._about(adjustment))
        gross = [loop for loop in adjustment.misclosures if loop.gross]
        for loop in gross[:MOST_GROSS]:
            self.found.addWidget(caution_line(self._told(loop.text)))
        if len(gross) > MOST_GROSS:
            self.found.addWidget(second(tr_n("and {n} more", "and {n} more", len(gross) - MOST_GROSS)))
        self._list(
            tr("what disagrees"),
            [(self._told(d.text), self._row(d.id, d.points, leave=True)) for d in adjustment.disagreeing],
            MOST_DISAGREEING,
        )
        self._list(
            tr("not tied down"),
            [(self._told(h.text), self._row("", h.points)) for h in adjustment.loose],
            MOST_LOOSE,
        )
        self._list(
            tr("left out"),
            [(self._told(o.text), self._row(o.id, o.points, leave=False)) for o in adjustment.left_out],
            MOST_LEFT_OUT,
        )
        self._list(tr("walks"), [(self._told(w.text), None) for w in adjustment.walks], MOST_LOOSE, folded=True)
        self._list(tr("how sure each is beside its neighbour"), self._beside(adjustment), MOST_BESIDE, folded=True)
        unchecked = [(self._told(r.text), self._row("", r.points)) for r in adjustment.unchecked]
        self._list(tr("nothing checks these readings"), unchecked, MOST_LOOSE, folded=True)
        well = [(self._told(m.text), self._row("", m.points)) for m in adjustment.misclosures if not m.gross]
        self._list(tr("loops that close as they should"), well, MOST_LOOPS, folded=True)
        self._show(busy=False)

    def _told(self, text: str) -> str:
        """Return a sentence of the job in the person's units and language."""
        return said(units_of(self._desk).lengths_in_sentence(text))

    def _beside(self, adjustment: Adjustment) -> list[tuple[str, QWidget | None]]:
        """Return how sure the way from each tree to the one nearest to it is, the least sure first."""
        names, units = {p.key: p.name for p in adjustment.points}, units_of(self._desk)
        near = sorted(
            ((p.beside[1], p) for p in adjustment.points if p.beside is not None and p.tree),
            key=lambda one: (-one[0], one[1].name),
        )
        return [
            (
                tr("{tree} to {other}: {sure}", tree=p.name, other=names[p.beside[0]], sure=f"± {units.length(sigma)}"),
                self._row("", (p.key, p.beside[0])),
            )
            for sigma, p in near
            if p.beside is not None
        ]

    def _about(self, adjustment: Adjustment) -> str:
        moved, units = adjustment.moved, units_of(self._desk)
        if not moved:
            return tr("Everything stands where all that was measured puts it.")
        farthest = max(moved, key=lambda p: p.away_m)
        away = units.accuracy(farthest.away_m).removeprefix("± ")
        sigmas = sorted(p.sigma_m for p in moved if p.sigma_m is not None)
        text = tr_n("{n} position moves.", "{n} positions move.", len(moved))
        text = f"{text} {tr('Farthest: {name}, by {away}.', name=farthest.name, away=away)}"
        if sigmas:
            sure = units.accuracy(sigmas[len(sigmas) // 2])
            text = f"{text} {tr('Half of them are known within {sure}.', sure=sure)}"
        beside = sorted(p.beside[1] for p in adjustment.points if p.beside is not None and p.tree)
        if beside:
            sure = f"± {units.length(beside[len(beside) // 2])}"
            text = f"{text} {tr('Beside their nearest neighbour half are known within {sure}.', sure=sure)}"
        if adjustment.disagreeing:
            count = len(adjustment.disagreeing)
            text = f"{text} {tr_n('{n} reading disagrees.', '{n} readings disagree.', count)}"
        return f"{text} {tr('Nothing is stored yet.')}"

    def _list(self, title: str, rows: Sequence[tuple[str, QWidget | None]], most: int, *, folded: bool = False) -> None:
        if not rows:
            return
        inner = QWidget()
        down = QVBoxLayout(inner)
        down.setContentsMargins(0, 0, 0, 0)
        down.setSpacing(6)
        for text, beside in rows[:most]:
            down.addWidget(label(text))
            if beside is not None:
                down.addWidget(beside)
        if len(rows) > most:
            more = len(rows) - most
            down.addWidget(second(tr_n("and {n} more", "and {n} more", more)))
        self.found.addWidget(hairline())
        self.found.addWidget(self._fold(title, len(rows), inner) if folded else label(title, "strong"))
        self.found.addWidget(inner)
        inner.setVisible(not folded)

    @staticmethod
    def _fold(title: str, count: int, inner: QWidget) -> QWidget:
        """Return the heading that opens and closes what is under it."""
        text = tr("{title}  {n}", title=title, n=count)
        made = button(text, lambda: inner.setVisible(made.isChecked()), "link", tr("show or hide these"))
        made.setCheckable(True)
        made.setAccessibleName(text)
        return made

    def _row(self, key: str, points: tuple[str, ...], *, leave: bool | None = None) -> QWidget:
        made = [button(tr("show"), self._looking(points), "link", tr("where it is on the map"))]
        if key and leave is not None:
            title = tr("leave out") if leave else tr("take back in")
            told = tr("it no longer counts; undo brings it back") if leave else tr("it counts again")
            act = button(title, self._using(key, leave=leave), "link", told)
            act.setObjectName(f"use-{key}")
            act.setEnabled(not self._desk.read_only)
            made.insert(0, act)
        return side_by_side(*made, stretch=False)

    def _looking(self, points: tuple[str, ...]) -> Callable[[], None]:
        return lambda: self.looked_at.emit(points)

    def _using(self, key: str, *, leave: bool) -> Callable[[], None]:
        wanted = self.leave_out_wanted if leave else self.take_in_wanted
        return lambda: wanted.emit(key)
