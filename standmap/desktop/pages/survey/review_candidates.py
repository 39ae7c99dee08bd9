"""The trees that a doubtful stop may have been made at, each a button: one press or one digit decides."""

from __future__ import annotations

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QPushButton, QVBoxLayout, QWidget

from standmap.desktop.kit import button, clear, second
from standmap.desktop.pages.survey.review_words import candidate_words
from standmap.desktop.words import tr
from standmap.jobs.review import Decision, Item, Possible, Verb
from standmap.units_shown import UnitsShown

LATER = Possible(None, "", None, 0.0)
"""Stands for "nobody can say yet"."""

MOST = 5
"""So many candidates are shown; a stop hardly has more."""


def decision_for(item: Item, one: Possible) -> Decision:
    """Return what is decided by choosing a candidate of an item."""
    if one is LATER:
        return Decision(Verb.WAIT)
    if one.ref is None:
        return Decision(Verb.SPLIT)
    return Decision(Verb.ACCEPT) if one.ref in (item.tree, item.of) else Decision(Verb.MERGE, one.ref)


class Candidates(QWidget):
    """Buttons for the candidates of the item that is looked at; hidden where there are none."""

    decided = Signal(Decision)

    def __init__(self) -> None:
        super().__init__()
        down = QVBoxLayout(self)
        down.setContentsMargins(0, 0, 0, 4)
        down.setSpacing(2)
        self.buttons = QVBoxLayout()
        self.buttons.setSpacing(2)
        down.addWidget(second(tr("where was this stop made?")))
        down.addLayout(self.buttons)
        self._item: Item | None = None
        self._made: list[QPushButton] = []
        self.hide()

    def tell(self, item: Item | None, decision: Decision | None, units: UnitsShown) -> None:
        """Show the candidates of an item; the one that was decided is marked."""
        same = item is not None and self._item is not None and item.id == self._item.id
        self._item = item
        candidates = () if item is None or not item.candidates else (*item.candidates[:MOST], LATER)
        if not same or len(self._made) != len(candidates):
            clear(self.buttons)
            self._made = [self._button(number, one, units) for number, one in enumerate(candidates[:-1], 1)]
            self._made += [self._button(0, LATER, units)] if candidates else []
        for made, one in zip(self._made, candidates, strict=True):
            made.setChecked(item is not None and decision == decision_for(item, one))
        self.setVisible(bool(candidates))

    def _button(self, number: int, one: Possible, units: UnitsShown) -> QPushButton:
        words = tr("nobody can say yet: ask again") if one is LATER else candidate_words(one, units)
        made = button(f"{number}   {words}", lambda: self.choose(number), "row", tr("key {n}", n=number))
        made.setCheckable(True)
        made.setAccessibleName(words)
        self.buttons.addWidget(made)
        return made

    def can(self, number: int) -> bool:
        """Return whether there is a candidate of this number, from 1; 0 means that nobody can say yet."""
        return (
            self.isVisible()
            and self._item is not None
            and number <= min(len(self._item.candidates), MOST)
            and bool(self._item.candidates)
        )

    def choose(self, number: int) -> None:
        """Decide for the candidate of this number, from 1, or with 0 to ask again."""
        if self._item is not None and number <= len(self._item.candidates):
            one = self._item.candidates[number - 1] if number else LATER
            self.decided.emit(decision_for(self._item, one))
