"""Choose: which trees may give this season, who rests until when, and which are marked for tapping."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial

import numpy as np
from PySide6.QtWidgets import QHBoxLayout, QLineEdit, QSizePolicy, QVBoxLayout, QWidget

from standmap.desktop.actions import Action
from standmap.desktop.canvas.canvas import MapCanvas
from standmap.desktop.desk import Desk
from standmap.desktop.kit import button, hairline, heading, label, second, side_by_side
from standmap.desktop.marking import mark_planned, planned_marks
from standmap.desktop.pages.choose.dials import Dials
from standmap.desktop.pages.choose.facts import FactsAsked
from standmap.desktop.pages.choose.marking import Fact, MarkBar, MarkedTotals
from standmap.desktop.pages.choose.rows import LISTED, Column, Names, TreeRows
from standmap.desktop.pages.choose.tree_model import TreeModel
from standmap.desktop.pages.choose.tree_table import TreeTable
from standmap.desktop.pages.choose.verdict_rows import SIDE_PX, VerdictRows
from standmap.desktop.pages.page import Page
from standmap.desktop.seen import Seen
from standmap.desktop.words import said, tr, tr_n
from standmap.jobs.mark import plans_of
from standmap.jobs.seasons import AHEAD, first_season
from standmap.units_shown import UnitsShown


def in_line(*parts: QWidget, spacing: int = 4) -> QWidget:
    """Return parts one below the other, their edges on the line on which the texts of the panel stand."""
    sheet = QWidget()
    sheet.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Maximum)
    down = QVBoxLayout(sheet)
    down.setContentsMargins(SIDE_PX, 0, SIDE_PX, 0)
    down.setSpacing(spacing)
    for part in parts:
        down.addWidget(part)
    return sheet


class ChoosePage(Page):
    """Counts as filters, the table of trees, marks for tapping; the table follows the map and the map the table."""

    name = "choose"

    def __init__(self, desk: Desk, canvas: MapCanvas) -> None:
        super().__init__(desk, canvas, tr("Choose"))
        self.rows: TreeRows | None = None
        self._texts: tuple[str, ...] = ()
        self._texts_of: Seen | None = None
        self._old = True
        self._dials = Dials(desk)
        self.asked = FactsAsked(desk, self)
        self._build()
        desk.seen_changed.connect(self._judged_anew)
        desk.season_changed.connect(self._judged_anew)
        desk.settings_changed.connect(self._look_changed)
        self.asked.answered.connect(self._answered)

    def _build(self) -> None:
        down = self.panel.down
        down.setSpacing(8)
        self.heading = heading("")
        self.about = second(tr("which trees may give"))
        self.rules_button = button(tr("rules"), self.open_rules, "link")
        top = QWidget()
        across = QHBoxLayout(top)
        across.setContentsMargins(0, 0, 0, 0)
        across.addWidget(self.heading, 1)
        across.addWidget(self.rules_button)
        self.plan_button = button(tr("plan the coming seasons"), self._plan_seasons, "link")
        self.planned_button = button("", lambda: mark_planned(self.desk, self.desk.rotation), "link")
        self.verdicts = VerdictRows(self.desk, self._dials.of_verdict)
        self.verdicts.changed.connect(self._filtered)
        self.totals = MarkedTotals()
        self.tags = Fact(tr("tags to check"))
        self.tags_button = button("", self.choose_tags, "link")
        self.tags.put(self.tags_button)
        self.part = QLineEdit()
        self.part.setPlaceholderText(tr("part of a name"))
        self.part.setAccessibleName(tr("show only trees whose name has this in it"))
        self.part.setClearButtonEnabled(True)
        self.part.textChanged.connect(lambda _: self._filtered())
        self.model = TreeModel(self._dials.of_row, self.units, lambda: self.desk.today.year, self)
        self.table = TreeTable(self.desk, self.model)
        self.table.looked_at.connect(self._bring_into_sight)
        self.bar = MarkBar(self.desk)
        self.table.mark_wanted.connect(self.bar.mark_or_unmark)
        # The shade of a row goes a little beyond the line on which all texts stand.
        self.panel.reach_beyond(SIDE_PX)
        self.empty = in_line(
            label(tr("no trees yet: bring a walk or a list, or put the first tree on the map")),
            button(tr("go to Survey"), lambda: self.desk.page_changed.emit("survey"), "quiet"),
            spacing=12,
        )
        self._filled = (
            self.verdicts,
            in_line(hairline()),
            in_line(self.totals, self.tags, side_by_side(self.plan_button, self.planned_button, stretch=False)),
            in_line(hairline(), self.part, spacing=8),
            self.table,
        )
        for part in (in_line(top, self.about), self.empty, *self._filled):
            down.addWidget(part)
        down.setStretchFactor(self.table, 1)
        down.addStretch(0)
        self.panel.foot.addWidget(self.bar)

    # The page

    def actions(self) -> Sequence[Action]:
        """Return what can be done here."""
        desk = self.desk

        def is_open() -> bool:
            return desk.seen is not None

        def writable() -> bool:
            # Where no tree can be marked for another reason, the key says which.
            return not desk.read_only

        def action(
            name: str, title: str, run: Callable[[], object], keys: str = "", enabled: Callable[[], bool] = is_open
        ) -> Action:
            return Action(f"choose.{name}", title, run, keys, self.name, enabled)

        only = [
            action(
                f"only_{verdict.name.lower()}",
                tr("show only trees that are {verdict}", verdict=said(str(verdict))),
                partial(self.verdicts.show_only, verdict),
                f"Alt+{number}",
            )
            for number, verdict in enumerate(LISTED, 1)
        ]
        columns = {
            Column.TREE: tr("order the trees by name"),
            Column.GIRTH: tr("order the trees by girth"),
            Column.BACK_IN: tr("order the trees by the season they are back in"),
            Column.VERDICT: tr("order the trees by verdict"),
            Column.TAPS: tr("order the trees by taps marked"),
        }
        return [
            *self._season_actions(),
            action("mark", tr("mark or unmark the chosen trees"), self.bar.mark_or_unmark, "M", writable),
            *only,
            action("all", tr("show all trees"), self.show_all, "Alt+0"),
            action("choose_shown", tr("choose the trees that are shown"), self.choose_shown, "Alt+A"),
            action("choose_tags", tr("choose the trees whose tags are to be checked"), self.choose_tags),
            action("part", tr("show only trees whose name has a text in it"), self.part.setFocus, "Alt+N"),
            action("table", tr("go to the table of trees"), self.table.setFocus, "Alt+T"),
            *(action(f"by_{c.name.lower()}", title, partial(self.table.order_by, c)) for c, title in columns.items()),
        ]

    def _season_actions(self) -> list[Action]:
        """Return the ways through the seasons, which are open on every page: the year strip is always there."""
        desk = self.desk

        def is_open() -> bool:
            return desk.seen is not None

        def step(years: int) -> None:
            """Go no farther than the year strip does."""
            if desk.seen is not None:
                first = first_season(desk.seen.columns, desk.today)
                desk.set_season(min(max(desk.season + years, first), desk.last_season))

        ways = (
            ("before", tr("the season before"), lambda: step(-1), "Ctrl+Shift+Left"),
            ("after", tr("the season after"), lambda: step(1), "Ctrl+Shift+Right"),
            ("this", tr("this season"), lambda: desk.set_season(desk.today.year), "Ctrl+Shift+Home"),
        )
        away = Action(
            "season.put_plan_away",
            tr("put the plan of the coming seasons away"),
            lambda: desk.show_rotation(None),
            enabled=lambda: desk.rotation is not None,
            words=tr("rotation rest years which trees when"),
        )
        return [*(Action(f"season.{name}", title, run, keys, enabled=is_open) for name, title, run, keys in ways), away]

    def entered(self) -> None:
        """Show the verdicts of the season looked at, and fade what is not asked for."""
        if self._old:
            self._show()
        self._fade()

    def units(self) -> UnitsShown:
        """Return how measures are shown."""
        return self.desk.units

    # What is shown

    def show_all(self) -> None:
        """Show every tree again."""
        self.part.clear()
        self.verdicts.show_only()

    def choose_shown(self) -> None:
        """Choose every tree that is in the table."""
        seen = self.desk.seen
        if seen is not None:
            self.desk.choose([seen.trees[int(row)].key for row in self.model.order])

    def choose_tags(self) -> None:
        """Choose the ready trees whose tags are to be checked."""
        seen, facts = self.desk.seen, self.asked.facts
        if seen is not None and facts is not None and self.asked.fresh:
            self.desk.choose([seen.trees[row].key for row in facts.to_check])

    def _plan_seasons(self) -> None:
        """Show the coming seasons beside the map."""
        from standmap.desktop.dialogs.rotation_dialog import open_rotation

        if self.desk.seen is not None:
            open_rotation(self.desk, self.panel.window())

    def open_rules(self) -> None:
        """Show the rules of the stand."""
        from standmap.desktop.dialogs.rules_dialog import RulesDialog

        if self.desk.seen is not None:
            RulesDialog(self.desk, self.panel.window()).open()

    def _judged_anew(self) -> None:
        self._old = True
        if self.shown and self.desk.seen is not None:
            self._show()
            self._fade()

    def _look_changed(self) -> None:
        self._dials.forget()
        self.verdicts.look_changed()
        self.model.look_changed()
        if self.shown:
            self._tell()
        else:
            self._old = True

    def _show(self) -> None:
        seen, desk = self.desk.seen, self.desk
        if seen is None:
            return
        self._old = False
        if self._texts_of is not seen:
            self._texts_of, self._texts = seen, tuple(t.name for t in seen.trees)
        texts = self._texts
        taps = np.zeros(len(texts), np.int64)
        for key, plan in plans_of(seen.plans, desk.season).items():
            if key in seen.row_of:
                taps[seen.row_of[key]] = plan.holes
        known = self.asked.names_of(texts)
        names = Names.as_written(texts) if known is None else known
        self.rows = TreeRows(names, seen.girth_mm, desk.codes, desk.back_in, taps)
        self._dials.judged(desk.codes, desk.rest)
        self.asked.ask(texts)
        self._tell()
        self._fill()

    def _tell(self) -> None:
        desk, seen = self.desk, self.desk.seen
        if seen is None or self.rows is None:
            return
        self.empty.setVisible(not seen.trees)
        for part in self._filled:
            part.setVisible(bool(seen.trees))
        self.heading.setText(tr("Season {year}", year=desk.season))
        ahead = desk.season > desk.today.year
        past = desk.season < desk.today.year
        about = tr("as recorded by then") if past else tr("which trees may give")
        if ahead:
            about = tr("as if no more trees were tapped")
        if desk.rotation is not None and not past:
            about = tr("as if the plan were kept to")
        self.about.setText(about)
        self.about.setToolTip(said(AHEAD) if ahead and desk.rotation is None else "")
        marks = planned_marks(desk, desk.rotation)
        self.planned_button.setVisible(bool(marks))
        self.planned_button.setText(marks)
        self.planned_button.setAccessibleName(marks)
        self.rules_button.setAccessibleName(tr("rules: {title}", title=said(seen.rules.title)))
        self.rules_button.setToolTip(said(seen.rules.title))
        self.verdicts.show_counts(self.rows.counts())
        self._tell_facts()

    def _tell_facts(self) -> None:
        facts = self.asked.facts if self.asked.fresh else None
        self.totals.tell(facts.marked if facts is not None else None, self.units())
        self.tags.setVisible(facts is None or bool(facts.to_check))
        self.tags_button.setEnabled(facts is not None)
        self.tags_button.setText("…" if facts is None else tr_n("{n} tree", "{n} trees", len(facts.to_check)))
        why = tr("ready trees that could be mistaken for one that is not: look at the tag before drilling")
        self.tags_button.setAccessibleName(tr("choose {trees} with tags to check", trees=self.tags_button.text()))
        self.tags_button.setToolTip(why)
        self.tags_button.setAccessibleDescription(why)

    def _answered(self) -> None:
        if not self.shown or self.rows is None or self.asked.facts is None:
            return
        names = self.asked.facts.names
        if self.rows.names is not names and self.rows.names.texts == names.texts:
            self.rows = self.rows.named(names)
            self._fill()
        self._tell_facts()

    def _filtered(self) -> None:
        self._fill()
        self._fade()

    def _fill(self) -> None:
        if self.rows is not None:
            self.model.show(self.rows, self._kept(self.rows), self.desk.season)

    def _kept(self, rows: TreeRows) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
        return rows.shown(self.verdicts.wanted, self.part.text())

    def _fade(self) -> None:
        if not self.shown or self.rows is None:
            return
        everything = self.verdicts.all_shown and not self.part.text().strip()
        self.canvas.set_faded(None if everything else ~self._kept(self.rows))

    def _bring_into_sight(self, key: str) -> None:
        seen = self.desk.seen
        if seen is None or key not in seen.row_of:
            return
        at = seen.xy[seen.row_of[key]]
        if np.isnan(at).any():
            return
        (x, y) = self.canvas.camera.to_screen(at[None, :])[0]
        left, top, right, bottom = self.canvas.margins
        inside = left <= x <= self.canvas.width() - right and top <= y <= self.canvas.height() - bottom
        if not inside:
            self.canvas.centre_on(float(at[0]), float(at[1]))
