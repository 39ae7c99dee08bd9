"""Marking the chosen trees for tapping, and what all marked trees come to."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QHBoxLayout, QLabel, QVBoxLayout, QWidget

from standmap.desktop.desk import Desk
from standmap.desktop.kit import button, label, source_line
from standmap.desktop.list_box import ListBox
from standmap.desktop.marking import mark_or_unmark, why_not, would_unmark
from standmap.desktop.words import said, tr, tr_n
from standmap.jobs.cautions import LOCAL_RULES
from standmap.jobs.mark import MOST_HOLES, Totals
from standmap.units_shown import UnitsShown

AS_ALLOWED = 0
"""Stands for "as many taps as the rules allow each stem"."""


class Fact(QWidget):
    """A name at the left and a value at the right that may change."""

    def __init__(self, name: str) -> None:
        super().__init__()
        self._name = name
        self.value = label("", "strong", wrap=False)
        self.value.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        across = self._across = QHBoxLayout(self)
        across.setContentsMargins(0, 0, 0, 0)
        across.addWidget(label(name, "second", wrap=False))
        across.addStretch(1)
        across.addWidget(self.value)

    def put(self, widget: QWidget) -> None:
        """Show a widget at the right in place of a text."""
        self.value.hide()
        self._across.addWidget(widget)

    def tell(self, value: str, why: str = "") -> None:
        """Put a value in, and what it rests on."""
        self.value.setText(value)
        self.setToolTip(why)
        self.setAccessibleName(f"{self._name}: {value}")
        self.setAccessibleDescription(why)


class MarkedTotals(QWidget):
    """What the marked trees come to: trees, taps, and litres in a night from low to high."""

    def __init__(self) -> None:
        super().__init__()
        self.marked = Fact(tr("marked for tapping"))
        self.night = Fact(tr("expected a night"))
        down = QVBoxLayout(self)
        down.setContentsMargins(0, 0, 0, 0)
        down.setSpacing(4)
        down.addWidget(self.marked)
        down.addWidget(self.night)

    def tell(self, totals: Totals | None, units: UnitsShown) -> None:
        """Put the totals in; None while they are being added up."""
        if totals is None:
            self.marked.tell("…")
            self.night.tell("…")
            return
        trees = tr_n("{n} tree", "{n} trees", totals.trees)
        taps = tr_n("{n} tap", "{n} taps", totals.taps)
        self.marked.tell(trees if totals.taps == totals.trees else tr("{trees}, {taps}", trees=trees, taps=taps))
        if not totals.trees:
            self.night.tell("–")
            return
        span = units.volumes(totals.low_l * 1000, totals.high_l * 1000)
        middle = units.volume(totals.expected_l * 1000)
        why = tr(
            "{middle} in a usual night ({basis}); low and high: {spread}",
            middle=middle,
            basis=said(totals.expected_basis),
            spread=said(totals.spread_basis),
        )
        self.night.tell(span, why)


class MarkBar(QWidget):
    """The foot of the panel: how many taps, and the button that marks the chosen trees or takes their marks off."""

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self._desk = desk
        self.press = button("", self.mark_or_unmark, "primary")
        self.holes = ListBox()
        self.holes.addItem(tr("as allowed"), AS_ALLOWED)
        for count in range(1, MOST_HOLES + 1):
            self.holes.addItem(tr_n("{n} tap", "{n} taps", count), count)
        self.holes.setAccessibleName(tr("taps in each tree"))
        self.holes.setToolTip(tr("taps in each tree; as allowed: as many as the rules allow each stem"))
        self.holes.currentIndexChanged.connect(lambda _: self.tell())
        self.hint: QLabel = source_line(said(LOCAL_RULES))
        self._controls = QWidget()
        across = QHBoxLayout(self._controls)
        across.setContentsMargins(0, 0, 0, 0)
        across.setSpacing(8)
        across.addWidget(self.press, 1)
        across.addWidget(self.holes)
        down = QVBoxLayout(self)
        down.setContentsMargins(0, 0, 0, 0)
        down.addWidget(self.hint)
        down.addWidget(self._controls)
        desk.chosen_changed.connect(self.tell)
        desk.season_changed.connect(self.tell)
        desk.seen_changed.connect(self.tell)
        self.tell()

    @property
    def can_mark(self) -> bool:
        """Whether there is something to mark, and it may be written."""
        return not why_not(self._desk)

    def tell(self) -> None:
        """Say what the button will do."""
        desk = self._desk
        chosen = desk.chosen
        self._controls.setVisible(bool(chosen))
        self.hint.setVisible(not chosen)
        if not chosen or desk.seen is None:
            return
        who = desk.seen.stand.by_key[chosen[0]].name if len(chosen) == 1 else tr("{n} trees", n=len(chosen))
        self.press.setText(
            tr("unmark {who}", who=who) if would_unmark(desk, self._wanted()) else tr("mark {who}", who=who)
        )
        self.press.setAccessibleName(self.press.text())
        self.press.setEnabled(self.can_mark)
        why = why_not(desk) or tr("Space in the table, or M")
        self.press.setToolTip(why)
        self.press.setAccessibleDescription(why)

    def mark_or_unmark(self) -> None:
        """Mark the chosen trees for the season looked at, or take the marks off when all of them have one."""
        mark_or_unmark(self._desk, self._wanted())

    def _wanted(self) -> int | None:
        return int(self.holes.currentData()) or None
