"""Aftercare: what each wound needs next, what is overdue, and marking it done."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

import numpy as np
from PySide6.QtCore import QItemSelectionModel, QSignalBlocker, Qt
from PySide6.QtWidgets import QAbstractItemView, QCheckBox, QHeaderView, QVBoxLayout, QWidget

from standmap.desktop.actions import Action
from standmap.desktop.canvas.canvas import MapCanvas
from standmap.desktop.card.forms import Choice
from standmap.desktop.card.typed import day as typed_day
from standmap.desktop.desk import Desk
from standmap.desktop.guard import guard_of
from standmap.desktop.kit import (
    Field,
    button,
    clear,
    hairline,
    heading,
    keys_text,
    label,
    second,
    side_by_side,
)
from standmap.desktop.pages.aftercare.due_model import NEXT, DueModel
from standmap.desktop.pages.aftercare.due_rows import DOING, DueCount, counts, listed
from standmap.desktop.pages.aftercare.overlay import DueMarks
from standmap.desktop.pages.aftercare.taking_along import TakingAlong
from standmap.desktop.pages.aftercare.why import why_lines
from standmap.desktop.pages.page import Page
from standmap.desktop.row_table import RowTable
from standmap.desktop.words import day_text, said, tr, tr_n
from standmap.desktop.working import Work
from standmap.jobs.aftercare import Due, StandCare, aftercare, mark_done
from standmap.stand.tapping import Act, Wound


class AftercarePage(Page):
    """The list follows the map and the map the list; choosing rows and pressing "done" writes one edit."""

    name = "aftercare"

    def __init__(self, desk: Desk, canvas: MapCanvas) -> None:
        super().__init__(desk, canvas, tr("Aftercare"))
        self.care: StandCare | None = None
        self._only: set[Act] = set()  # as on the other pages: none pressed shows all
        self._asked: Work[StandCare] | None = None
        self._build()
        desk.seen_changed.connect(self._ask)
        desk.chosen_changed.connect(self._follow_map)

    def _build(self) -> None:
        down = self.panel.down
        self._heading = heading("")
        self._summary = second("")
        self._filters = QVBoxLayout()
        self._filters.setSpacing(2)
        self._empty = label("")
        self.later = QCheckBox(tr("what is due later, too"))
        self.later.toggled.connect(self._list)
        self.table = _table(tr("what is due"))
        self.model = DueModel()
        self.table.setModel(self.model)
        across = self.table.horizontalHeader()
        across.setSectionResizeMode(QHeaderView.ResizeMode.ResizeToContents)
        across.setSectionResizeMode(NEXT, QHeaderView.ResizeMode.Stretch)
        self.table.selectionModel().selectionChanged.connect(self._rows_chosen)
        self.table.doubleClicked.connect(lambda _: self._look())
        self._why = QWidget()
        self._why_down = QVBoxLayout(self._why)
        self._why_down.setContentsMargins(0, 0, 0, 0)
        self._why_down.setSpacing(2)
        down.addWidget(self._heading)
        down.addWidget(self._summary)
        down.addLayout(self._filters)
        self.taking = TakingAlong(self.desk, self.panel)
        self.on_paper = button(tr("on paper..."), self.write_paper, "link", tr("a list to take along, with a map"))
        self.as_calendar = button(
            tr("calendar..."), self.write_calendar, "link", tr("read in again, it changes and does not double")
        )
        self._along = side_by_side(self.on_paper, self.as_calendar, stretch=False)
        for part in (self.later, self._along, hairline(), self._empty, self.table, self._why):
            down.addWidget(part)
        down.setStretchFactor(self.table, 1)
        down.addStretch(0)
        self.done_on = Field(tr("done on"), self._read_day, hint=tr("today"))
        self.done = button(tr("mark done"), self.mark_done, "primary", keys_text("Ctrl+D"))
        self.seen = Choice(
            tr("the look saw"),
            [
                (tr("not told"), Act.LOOKED_AT),
                (tr("closed"), Act.SEEN_CLOSED),
                (tr("still open"), Act.SEEN_OPEN),
            ],
        )
        self.panel.foot.addWidget(self.done_on)
        self.panel.foot.addWidget(self.seen)
        self.panel.foot.addWidget(self.done)

    # The page

    def actions(self) -> Sequence[Action]:
        """Return what can be done here."""
        return (
            Action(
                "aftercare.done",
                tr("mark what is chosen as done"),
                self.mark_done,
                "Ctrl+D",
                self.name,
                self._can_mark,
                tr("plugged taken out trimmed looked at"),
            ),
            Action("aftercare.all", tr("choose all that is listed"), self.choose_all, "Ctrl+Shift+A", self.name),
            Action("aftercare.overdue", tr("choose all that is overdue"), self.choose_overdue, "", self.name),
            Action("aftercare.later", tr("show what is due later, or hide it"), self.later.toggle, "Ctrl+K", self.name),
            Action(
                "aftercare.paper",
                tr("aftercare on paper..."),
                self.write_paper,
                "",
                self.name,
                self._any_listed,
                tr("print PDF list"),
            ),
            Action(
                "aftercare.calendar",
                tr("aftercare as a calendar..."),
                self.write_calendar,
                "",
                self.name,
                self._any_due,
                tr("dates reminder"),
            ),
        )

    def entered(self) -> None:
        """Ask what is due and show it on the map."""
        self._ask()
        self._show_on_map()

    def chosen_dues(self) -> tuple[Due, ...]:
        """Return what is chosen in the list."""
        rows = sorted(i.row() for i in self.table.selectionModel().selectedRows())
        return tuple(self.model.due(r) for r in rows)

    def choose_all(self) -> None:
        """Choose everything that is listed."""
        self.table.selectAll()
        self.table.setFocus()

    def choose_overdue(self) -> None:
        """Choose everything that is overdue."""
        self._choose_rows([r for r in range(self.model.rowCount()) if self.model.due(r).need.overdue])
        self.table.setFocus()

    def mark_done(self) -> None:
        """Write down that what is chosen has been done; one edit, one undo."""
        chosen = self.chosen_dues()
        if not chosen or self.desk.read_only:
            return
        on = self.done_on.value() if self.done_on.text().strip() else self.desk.today
        if on is None:
            self.done_on.setFocus()
            return
        young = [d for d in chosen if d.hole.made_on > on]
        if young:
            self._say_day(too_early(max(young, key=lambda d: d.hole.made_on)))
            return
        day, now, today = on, self.desk.now(), self.desk.today
        seen: Act = self.seen.value() if self._looks(chosen) else Act.LOOKED_AT

        def written(report: object) -> None:
            self.desk.tell(tr_n("{n} wound marked as done", "{n} wounds marked as done", len(chosen)))
            for text in getattr(report, "cautions", ()):
                self.desk.caution(self.desk.units.in_sentence(said(text)))

        guard_of(self.desk).once(
            ("done", tuple((d.hole.key, d.need.what) for d in chosen)),
            lambda file, _: mark_done(file, chosen, day, now, today=today, seen=seen),
            tr("marking as done"),
            written,
        )

    def write_paper(self) -> None:
        """Write what is listed, or what is due by today where nothing is, as a list on paper."""
        seen, care = self.desk.seen, self.care
        if seen is not None and care is not None and self._any_listed():
            rows = tuple(self.model.due(r) for r in range(self.model.rowCount()))
            self.taking.paper(care.of(rows), seen.stand)

    def write_calendar(self) -> None:
        """Write all that is due, later too, as a calendar."""
        if self.care is not None and self._any_due():
            self.taking.calendar(self.care)

    def _any_listed(self) -> bool:
        return self.model.rowCount() > 0

    def _any_due(self) -> bool:
        return self.care is not None and bool(self.care.due or self.care.ended)

    @staticmethod
    def _looks(chosen: Sequence[Due]) -> bool:
        """Return whether looks are all that is chosen: only then it can be told what they saw."""
        return bool(chosen) and all(due.need.what is Act.LOOKED_AT for due in chosen)

    def _say_day(self, text: str) -> None:
        self.done_on.say(text)
        self.done_on.edit.setFocus()

    def _read_day(self, text: str) -> date:
        return typed_day(text, self.desk.today)

    # Asking and listing

    def _ask(self) -> None:
        seen = self.desk.seen
        if not self.shown or seen is None:
            return
        if self._asked is not None and self._asked.running:
            self._asked.cancel()
        stand, today = seen.stand, self.desk.today
        self._asked = self.desk.compute(lambda _: aftercare(stand, today, later=True), "", self._answer)

    def _answer(self, care: StandCare) -> None:
        self.care = care
        self._list()

    def _list(self) -> None:
        care = self.care
        if care is None:
            return
        due_now = listed(care, (), later=False)
        overdue = sum(d.need.overdue for d in due_now)
        self._heading.setText(tr("Due by {day}", day=day_text(care.day)))
        self._summary.setText(
            ", ".join(_counted(overdue, len(due_now) - overdue)) if due_now else tr("nothing is due today")
        )
        self._list_filters(counts(care))
        self._summary.setVisible(bool(care.due))
        self.later.setVisible(bool(care.due))
        self._along.setVisible(bool(care.due))
        self.panel.foot_sheet.setVisible(bool(care.due))
        keep = {d.hole.key for d in self.chosen_dues()}
        hidden = set(Act) - self._only if self._only else ()
        rows = listed(care, hidden, later=self.later.isChecked())
        self.model.show(rows, care.day)
        self.table.setVisible(bool(rows))
        self._empty.setVisible(not rows)
        self._empty.setText(self._nothing(care))
        self.on_paper.setEnabled(bool(rows))
        self._choose_rows([r for r, d in enumerate(rows) if d.hole.key in keep])
        self._show_why()
        self._show_on_map()

    def _nothing(self, care: StandCare) -> str:
        if self._only and care.due:
            return tr("nothing of what is shown above is due: show another kind of work")
        if not care.due:
            why = said(care.why_nothing) if care.why_nothing else tr("nothing is due")
            how = tr("what was tapped is written down on a tree's card: choose the tree")
            return f"{why}\n\n{how}"
        first = care.due[0]
        return tr(
            "nothing is due today; the next is {what} at {tree} on {day}",
            what=tr(DOING[first.need.what]),
            tree=first.tree.name,
            day=day_text(first.need.due_on),
        )

    def _list_filters(self, found: Sequence[DueCount]) -> None:
        clear(self._filters)
        for one in found:
            toggle = button("", None, "row", tr("show only this"))
            toggle.setCheckable(True)
            toggle.setChecked(one.act in self._only)
            parts = _counted(one.overdue, one.due, one.later)
            toggle.setText(f"{tr(DOING[one.act])}: {', '.join(parts)}")
            toggle.setAccessibleName(toggle.text())
            toggle.toggled.connect(lambda on, act=one.act: self._turn(act, on))
            self._filters.addWidget(toggle)

    def _turn(self, act: Act, shown: bool) -> None:
        if shown:
            self._only.add(act)
        else:
            self._only.discard(act)
        self._list()

    # Choosing

    def _choose_rows(self, rows: Sequence[int]) -> None:
        selection = self.table.selectionModel()
        selection.clearSelection()
        flags = QItemSelectionModel.SelectionFlag.Select | QItemSelectionModel.SelectionFlag.Rows
        for row in rows:
            selection.select(self.model.index(row, 0), flags)
        if rows:
            self.table.scrollTo(self.model.index(rows[0], 0))

    def _rows_chosen(self) -> None:
        keys = list(dict.fromkeys(d.tree.key for d in self.chosen_dues()))
        if self.shown and set(keys) != set(self.desk.chosen):
            self.desk.choose(keys)
        self._show_why()

    def _follow_map(self) -> None:
        if not self.shown:
            return
        wanted = set(self.desk.chosen)
        if wanted != {d.tree.key for d in self.chosen_dues()}:
            with QSignalBlocker(self.table.selectionModel()):
                self._choose_rows([r for r in range(self.model.rowCount()) if self.model.due(r).tree.key in wanted])
            self.table.viewport().update()
            self._show_why()

    def _look(self) -> None:
        seen, chosen = self.desk.seen, self.chosen_dues()
        if seen is not None and chosen:
            self.canvas.centre_on(*seen.xy[seen.row_of[chosen[0].tree.key]])

    def _can_mark(self) -> bool:
        return bool(self.chosen_dues()) and not self.desk.read_only

    def _show_why(self) -> None:
        clear(self._why_down)
        chosen = self.chosen_dues()
        self.done.setEnabled(self._can_mark())
        self.done.setText(tr("mark done") if not chosen else tr_n("mark {n} done", "mark {n} done", len(chosen)))
        self.seen.setVisible(self._looks(chosen))
        if self.care is not None and chosen:
            for part in why_lines(self.care.of(chosen), self.desk.units):
                self._why_down.addWidget(part)

    def _show_on_map(self) -> None:
        seen = self.desk.seen
        if not self.shown or seen is None:
            return
        rows = [self.model.due(r) for r in range(self.model.rowCount())]
        faded = np.ones(len(seen.trees), bool)
        due_rows = seen.rows_of([d.tree.key for d in rows])
        faded[due_rows] = False
        self.canvas.set_faded(faded)
        late = {d.tree.key for d in rows if d.need.overdue}
        self.canvas.set_overlays([DueMarks(seen.xy[seen.rows_of(sorted(late))])])


def too_early(due: Due) -> str:
    """Return why nothing can have been done to a wound on a day before it was made."""
    made, tree = day_text(due.hole.made_on), due.tree.name
    if due.hole.kind is Wound.SLIT:
        return tr("the slit in {tree} was made on {day}: nothing was done to it before", tree=tree, day=made)
    return tr("the hole in {tree} was made on {day}: nothing was done to it before", tree=tree, day=made)


def _counted(overdue: int, due: int, later: int = 0) -> list[str]:
    """Return how much is overdue, due and due later, without what there is none of."""
    parts = [tr("{n} overdue", n=overdue)] if overdue else []
    parts += [tr("{n} due", n=due)] if due else []
    return parts + ([tr("{n} later", n=later)] if later else [])


def _table(name: str) -> RowTable:
    table = RowTable()
    table.setAccessibleName(name)
    table.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
    table.setSelectionMode(QAbstractItemView.SelectionMode.ExtendedSelection)
    table.setShowGrid(False)
    table.setWordWrap(False)
    table.setTabKeyNavigation(False)
    table.verticalHeader().hide()
    table.verticalHeader().setDefaultSectionSize(28)
    table.setMinimumHeight(180)
    table.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
    header = table.horizontalHeader()
    header.setHighlightSections(False)
    header.setDefaultAlignment(Qt.AlignmentFlag.AlignLeft)
    header.setMinimumSectionSize(20)
    header.setStretchLastSection(False)
    return table
