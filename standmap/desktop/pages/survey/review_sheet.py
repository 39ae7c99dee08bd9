"""The review in the panel: counts as filters, the list, what one item is, and what can be decided about it."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from PySide6.QtCore import QSize, QTimer, Signal
from PySide6.QtGui import QIcon
from PySide6.QtWidgets import QGridLayout, QPushButton, QScrollArea, QVBoxLayout, QWidget

from standmap.desktop.desk import Desk
from standmap.desktop.kit import Field, button, caution_line, clear, hairline, heading, label, second, side_by_side
from standmap.desktop.pages.survey.review_candidates import Candidates
from standmap.desktop.pages.survey.review_list import ReviewList, units_of
from standmap.desktop.pages.survey.review_state import Review, Target
from standmap.desktop.pages.survey.review_words import (
    distance_words,
    fate_word,
    outcome_words,
    store_words,
    weather_words,
    where_words,
)
from standmap.desktop.pages.survey.signs import sign_picture
from standmap.desktop.words import said, tr, tr_n
from standmap.errors import UserError
from standmap.jobs.review import Decision, Fate, Item, Verb

MOST_NOTES = 40
SIGN_PX = 18


class ReviewSheet(QWidget):
    """What files bring, to be decided; it stores nothing itself.

    Attributes
    ----------
    foot
        The buttons that stay in sight below.
    """

    looked_at = Signal(int)
    decided = Signal()
    store_wanted = Signal()
    discard_wanted = Signal()

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self._desk = desk
        self.review: Review | None = None
        self.current: int | None = None
        down = QVBoxLayout(self)
        down.setContentsMargins(0, 0, 0, 0)
        down.setSpacing(8)
        self.about = second("")
        self.weather = label("")
        self.notes = second("")
        self.notes_button = button("", self._turn_notes, "link", tr("what was found out on reading"))
        self.notes_button.setCheckable(True)
        self.filters = {fate: self._filter(fate) for fate in Fate}
        grid = QGridLayout()
        grid.setSpacing(4)
        for place, made in enumerate(self.filters.values()):
            grid.addWidget(made, place // 2, place % 2)
        self.list = ReviewList(desk)
        self.list.looked_at.connect(self.look_at)
        down.addWidget(heading(tr("What the files bring")))
        down.addWidget(self.about)
        down.addWidget(self.weather)
        down.addLayout(grid)
        down.addWidget(self.list, 1)
        self.detail = self._detail()
        down.addWidget(self.detail)
        down.addWidget(self.notes_button)
        down.addWidget(self.notes)
        down.addStretch(0)
        self.foot = self._foot()
        self._tell_item()

    def _filter(self, fate: Fate) -> QPushButton:
        made = button("", self._filtered, "row", tr("show only these items; press others to add them"))
        made.setCheckable(True)
        made.setObjectName(f"filter-{fate}")
        return made

    def _detail(self) -> QWidget:
        sheet = QWidget()
        down = QVBoxLayout(sheet)
        down.setContentsMargins(0, 0, 0, 0)
        down.setSpacing(4)
        self.name = label("", "strong")
        self.where = second("")
        self.why = caution_line("")
        self.outcome = second("")
        self.candidates = Candidates()
        self.candidates.decided.connect(self._choose)
        self.accept = button(tr("accept"), self.accept_chosen, hint=tr("take it in as it is proposed (A)"))
        self.merge = button(tr("merge with..."), self.begin_merge, hint=tr("it belongs to another tree (M)"))
        self.split = button(tr("split"), self.split_chosen, hint=tr("it is a tree of its own (S)"))
        self.ignore = button(tr("ignore"), self.ignore_chosen, hint=tr("leave it out (I or Delete)"))
        self.merge_into: Field[Target] = Field(tr("merge with"), self._target_called, hint=tr("name of a tree"))
        self.merge_into.entered.connect(self._merge_typed)
        self.near = QVBoxLayout()
        self.near.setSpacing(0)
        self.merging = QWidget()
        inner = QVBoxLayout(self.merging)
        inner.setContentsMargins(0, 4, 0, 0)
        inner.setSpacing(4)
        inner.addLayout(self.near)
        inner.addWidget(self.merge_into)
        self.merging.hide()
        down.addWidget(hairline())
        for part in (self.name, self.where, self.why, self.outcome):
            down.addWidget(part)
        down.addWidget(self.candidates)
        down.addWidget(side_by_side(self.accept, self.ignore))
        down.addWidget(side_by_side(self.merge, self.split))
        down.addWidget(self.merging)
        return sheet

    def _foot(self) -> QWidget:
        self.store = button("", self.store_wanted.emit, "primary", tr("write all of it as one step (Ctrl+Return)"))
        self.discard = button(tr("leave all"), self.discard_wanted.emit, "quiet", tr("nothing is stored"))
        return side_by_side(self.store, self.discard)

    # What is shown

    def show_review(self, review: Review, notes: Sequence[str]) -> None:
        """Show a review, with what was found out on reading."""
        self.review = review
        files = tr_n("{n} file", "{n} files", len(review.proposal.readings))
        names = ", ".join(r.path.name for r in review.proposal.readings)
        self.about.setText(tr("{files}: {names}. Nothing is stored yet.", files=files, names=names))
        self.weather.setText(weather_words(review))
        self.weather.setVisible(bool(self.weather.text()))
        for part in (*self.filters.values(), self.list, self.detail):
            part.setVisible(bool(review.items))
        more = tr_n("and {n} more", "and {n} more", len(notes) - MOST_NOTES)
        lines = [*(said(n) for n in notes[:MOST_NOTES]), *([more] if len(notes) > MOST_NOTES else [])]
        self.notes.setText("\n".join(lines))
        self.notes.hide()
        self.notes_button.setText(tr_n("{n} note on the files", "{n} notes on the files", len(notes)))
        self.notes_button.setAccessibleName(self.notes_button.text())
        self.notes_button.setChecked(False)
        self.notes_button.setVisible(bool(notes))
        for made in self.filters.values():
            made.setChecked(False)
        first = review.shown(())
        self.current = first[0] if first else None
        self.list.show_rows(review, first, self.current)
        self.tell()

    def forget(self) -> None:
        """Let a review go, with its rows: a list that nobody sees must not be laid out anew."""
        self.review = self.current = None
        self.list.show_rows(None, [], None)

    def _turn_notes(self) -> None:
        self.notes.setVisible(self.notes_button.isChecked())

    def tell(self) -> None:
        """Put in counts, decisions and signs anew."""
        review = self.review
        if review is None:
            return
        dpr = self.devicePixelRatioF()
        size = round(SIGN_PX * self._desk.settings.text_size_percent / 100)
        for fate, made in self.filters.items():
            count = review.fate_counts[fate]
            text = tr("{fate}  {n}", fate=fate_word(fate), n=count)
            made.setText(text)
            made.setIcon(QIcon(sign_picture(fate, size, self._desk.theme, dpr)))
            made.setIconSize(QSize(size, size))
            made.setEnabled(count > 0)
            made.setAccessibleName(tr_n("{fate}, {n} item", "{fate}, {n} items", count, fate=fate_word(fate)))
        self.store.setText(store_words(review))
        self.store.setAccessibleName(self.store.text())
        self.store.setEnabled(review.anything and not self._desk.read_only)
        self.list.items.refresh()
        self._tell_item()

    @property
    def item(self) -> Item | None:
        """The item that is looked at."""
        return None if self.review is None or self.current is None else self.review.items[self.current]

    def look_at(self, row: int) -> None:
        """Look at an item, shown by the filters or not."""
        if not self.list.look_at(row):
            for made in self.filters.values():
                made.setChecked(False)
            self._filtered()
            self.list.look_at(row)
        self.current = row
        self._end_merge()
        self._tell_item()
        self.looked_at.emit(row)

    def next_doubtful(self) -> None:
        """Look at the next doubtful item."""
        if self.review is not None:
            row = next(self.review.to_look_at(self.current), None)
            if row is not None:
                self.look_at(row)

    def show_only(self, fate: Fate) -> None:
        """Show the items of one fate alone, or all again."""
        alone = self.filters[fate].isChecked() and sum(f.isChecked() for f in self.filters.values()) == 1
        for other, made in self.filters.items():
            made.setChecked(other is fate and not alone)
        self._filtered()

    def _filtered(self) -> None:
        if self.review is not None:
            fates = [fate for fate, made in self.filters.items() if made.isChecked()]
            rows = self.review.shown(fates)
            self.list.show_rows(self.review, rows, self.current)
            if rows and self.current not in rows:
                self.look_at(rows[0])  # what is told below the list is in it

    def _tell_item(self) -> None:
        item, review = self.item, self.review
        choices = item.choices if item is not None else ()
        if item is None or review is None:
            for part in (self.name, self.where, self.why, self.outcome):
                part.setText("")
        else:
            self.name.setText(item.name[:200])
            self.where.setText(tr("{fate} {what}", fate=fate_word(item.fate), what=where_words(item)))
            self.why.setText(said(item.why))
            self.outcome.setText(outcome_words(review, item, units_of(self._desk)))
        decision = None if item is None or review is None else review.decision(item)
        self.candidates.tell(item, decision, units_of(self._desk))
        self.why.setVisible(bool(self.why.text()))
        doubtful = item is not None and item.fate is Fate.DOUBTFUL
        self.accept.setText(tr("accept anyway") if doubtful else tr("accept"))
        self.accept.setAccessibleName(self.accept.text())
        buttons = {Verb.ACCEPT: self.accept, Verb.MERGE: self.merge, Verb.SPLIT: self.split, Verb.IGNORE: self.ignore}
        for verb, made in buttons.items():
            made.setEnabled(verb in choices)
        apart = tr("it is a tree of its own (S)")
        self.split.setToolTip(
            apart if self.split.isEnabled() else tr("only for a match: it is a tree of its own already")
        )

    # Deciding

    def can(self, verb: Verb) -> bool:
        """Return whether a decision is possible for the item that is looked at."""
        return self.isVisible() and self.item is not None and verb in self.item.choices

    def accept_chosen(self) -> None:
        """Take the chosen items in."""
        self._decide(Decision(Verb.ACCEPT))

    def ignore_chosen(self) -> None:
        """Leave the chosen items out."""
        self._decide(Decision(Verb.IGNORE))

    def split_chosen(self) -> None:
        """Make trees of their own of the chosen items."""
        self._decide(Decision(Verb.SPLIT))

    def begin_merge(self) -> None:
        """Ask with which tree to merge: those nearest are offered, any can be named."""
        item, review = self.item, self.review
        if item is None or review is None:
            return
        clear(self.near)
        for target in review.neighbours(item):
            away = distance_words(target.away_m, units_of(self._desk))
            text = tr("{tree}, {away} away", tree=target.name, away=away)
            self.near.addWidget(button(text, self._merging_into(target), "link"))
        self.merge_into.set_text("")
        self.merging.show()
        self.merge_into.edit.setFocus()
        QTimer.singleShot(0, self, self._bring_merge_into_sight)

    def _bring_merge_into_sight(self) -> None:
        above = self.parentWidget()
        while above is not None and not isinstance(above, QScrollArea):
            above = above.parentWidget()
        if above is not None and not self.merging.isHidden():
            above.ensureWidgetVisible(self.merging, 0, 8)

    def _end_merge(self) -> None:
        if not self.merging.isHidden():
            self.list.setFocus()
            self.merging.hide()

    def _target_called(self, name: str) -> Target:
        item, review = self.item, self.review
        found = review.called(item, name.strip()) if item is not None and review is not None else []
        if not found:
            raise UserError(f"no tree is called '{name.strip()[:60]}'", "name a known tree, or a new one of this list")
        if len(found) > 1:
            raise UserError(f"{len(found)} trees are called '{name.strip()[:60]}'", "choose one of the nearest above")
        return found[0]

    def _merge_typed(self) -> None:
        target = self.merge_into.value()
        if target is not None:
            self._merge_into(target)

    def _merging_into(self, target: Target) -> Callable[[], None]:
        return lambda: self._merge_into(target)

    def _merge_into(self, target: Target) -> None:
        self._decide(Decision(Verb.MERGE, target.ref))

    def _choose(self, decision: Decision) -> None:
        """Decide for a candidate: of the item that is looked at alone, for its candidates are its own."""
        if self.current is not None:
            self._decide(decision, [self.current])

    def _decide(self, decision: Decision, rows: Sequence[int] = ()) -> None:
        review = self.review
        if review is None or self.current is None:
            return
        rows = rows or self.list.chosen or [self.current]
        review.decide([review.items[row].id for row in rows], decision)
        self._end_merge()
        self.tell()
        self.decided.emit()
