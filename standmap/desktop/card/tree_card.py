"""The tree card at the right: the chosen tree in full, or what several chosen trees have in common."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from PySide6.QtCore import Qt, QTimer
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QApplication, QMenu, QPushButton, QWidget

from standmap.desktop.actions import Action
from standmap.desktop.card.doing import (
    CORRECT,
    FOR_SEVERAL,
    WRITE_DOWN,
    actions,
    chosen_trees,
    units_of,
)
from standmap.desktop.card.forms import Draft, Form
from standmap.desktop.card.one_tree import Head, Reasons, Record
from standmap.desktop.card.pictures import Pictures, PictureView, Small, thumbnail
from standmap.desktop.card.several import Several
from standmap.desktop.desk import Desk
from standmap.desktop.guard import guard_of, while_there
from standmap.desktop.kit import Panel, button, side_by_side
from standmap.desktop.marking import mark_or_unmark, why_not, would_unmark
from standmap.desktop.seen import Seen
from standmap.desktop.words import said, tr
from standmap.desktop.working import Work
from standmap.jobs.photos import photos_of, remove_photo
from standmap.jobs.rotation_shown import plan_words
from standmap.jobs.tree_facts import TreeFacts, tree_facts
from standmap.rules.columns import CODES
from standmap.rules.ground import GroundContext, ground_context
from standmap.stand.records import Media
from standmap.stand.tree import BREAST_HEIGHT_MM, Tree
from standmap.store.stand_file import StandFile

Judged = tuple[GroundContext, TreeFacts]

AT_ONCE = 1500
"""Up to so many trees a card is filled without leaving the GUI thread: it takes a few hundredths of a second."""


class TreeCard(Panel):
    """Shows what is chosen on the desk and puts it right; its forms open inside it."""

    def __init__(self, desk: Desk, canvas: QWidget) -> None:
        super().__init__("card", tr("tree card"))
        self.desk = desk
        self._canvas = canvas
        self.facts: TreeFacts | None = None
        self.form: Form | None = None
        self._shown: frozenset[str] = frozenset()
        self._drafts: dict[tuple[frozenset[str], str], Draft] = {}
        self._ground: tuple[Seen, int, GroundContext] | None = None
        self._work: Work[Judged] | None = None
        self.head, self.reasons, self.record = Head(desk.theme), Reasons(), Record(desk.theme)
        self.several = Several()
        self.pictures = Pictures(self.show_picture)
        self._pictured: tuple[str, Seen] | None = None
        for part in (self.head, self.several, self.reasons, self.record, self.pictures):
            self.down.addWidget(part)
        self.down.addStretch(1)
        self._actions = {action.id: action for action in actions(desk, self)}
        self.mark = button("", lambda: mark_or_unmark(desk), "quiet")
        self.write_down = self._menu_button(tr("write down"), WRITE_DOWN)
        self.put_right = self._menu_button(tr("put right"), CORRECT)
        self.of_several = self._menu_button(tr("note of all"), FOR_SEVERAL)
        self.foot.addWidget(self.mark)
        self.menus = side_by_side(self.write_down, self.put_right, self.of_several)
        self.foot.addWidget(self.menus)
        desk.chosen_changed.connect(self.refresh)
        desk.seen_changed.connect(self.refresh)
        desk.season_changed.connect(self.refresh)
        desk.settings_changed.connect(self.refresh)
        self.refresh()

    def actions(self) -> Sequence[Action]:  # type: ignore[override] # a page says it so; Qt's own list is not used
        """Return what can be done with the chosen trees."""
        return tuple(self._actions.values())

    @property
    def measured_at_mm(self) -> float:
        """Height at which the rules of the stand read a girth."""
        seen = self.desk.seen
        return seen.rules.value("measuring_height_mm") if seen is not None else BREAST_HEIGHT_MM

    # What is shown

    def refresh(self) -> None:
        """Show what the desk has chosen now."""
        trees = chosen_trees(self.desk)
        shown = frozenset(tree.key for tree in trees)
        if shown != self._shown:
            self.close_form()
            self._shown = shown
            self.scroller.verticalScrollBar().setValue(0)
        one = len(trees) == 1
        of_one: Sequence[QWidget] = (self.head, self.reasons, self.record, self.write_down, self.put_right)
        of_several: Sequence[QWidget] = (self.several, self.of_several)
        for part in of_one:
            part.setVisible(one)
        for part in of_several:
            part.setVisible(len(trees) > 1)
        self._tell_pictures(trees[0] if one else None)
        self._drop_work()
        if one:
            self._show_one(trees[0])
        elif self.desk.seen is not None and trees:
            self.facts = None
            rows = self.desk.seen.rows_of([t.key for t in trees])
            self.several.tell(trees, self.desk.codes[rows], self.desk.theme)
        self._tell_mark(trees)

    def _show_one(self, tree: Tree) -> None:
        seen, season, desk = self.desk.seen, self.desk.season, self.desk
        assert seen is not None  # noqa: S101 - a tree is chosen
        row = seen.row_of[tree.key]
        verdict = CODES[int(desk.codes[row])]
        back = int(desk.back_in[row])
        rest = float(desk.rest[row])
        sentence = f"{verdict}, back in {back}" if back > 0 else str(verdict)
        self.head.tell(tree, verdict, sentence, rest if rest == rest else 0.0, desk.theme)
        known = self._ground_for(seen, season)
        if known is not None or len(seen.trees) <= AT_ONCE:
            context = known or ground_context(seen.stand, season, seen.rules)
            self._ground = (seen, season, context)
            self._fill(tree_facts(seen.stand, tree, season, seen.rules, seen.plans, context))
            return
        if self.facts is None or self.facts.tree.key != tree.key:
            self.reasons.clear()

        def judged(answer: Judged) -> None:
            if desk.seen is seen and desk.season == season and self._shown == {tree.key}:
                self._ground = (seen, season, answer[0])
                self._fill(answer[1])

        def judge(_: object) -> Judged:
            context = ground_context(seen.stand, season, seen.rules)
            return context, tree_facts(seen.stand, tree, season, seen.rules, seen.plans, context)

        self._work = desk.compute(judge, "", judged)

    def _tell_pictures(self, tree: Tree | None) -> None:
        """Fetch the pictures of the one chosen tree, off the GUI thread: a stand may keep thousands."""
        seen = self.desk.seen
        wanted = None if tree is None or seen is None else (tree.key, seen)
        held, self._pictured = self._pictured, wanted
        if wanted is None:
            self.pictures.tell(())
            return
        key = wanted[0]
        if held is not None and held[0] == key and held[1] is seen:
            return
        if held is None or held[0] != key:
            self.pictures.tell(())
        dpr = self.devicePixelRatioF()

        def small(file: StandFile, _: object) -> list[Small]:
            return [(one, thumbnail(one, dpr)) for one in photos_of(file, key)]

        def show(found: list[Small]) -> None:
            if self._pictured == wanted:
                self.pictures.tell(found)

        self.desk.run(small, "", while_there(self, show))

    def show_picture(self, number: int = 0) -> None:
        """Show one of the tree's pictures large."""
        trees = chosen_trees(self.desk)
        if not self.pictures.media or len(trees) != 1:
            return
        tree = trees[0]

        def remove(one: Media) -> None:
            def take_out(file: StandFile, _: object) -> str:
                return remove_photo(file, tree.key, one.key, self.desk.now())

            about = ("remove picture", one.key)
            guard_of(self.desk).once(about, take_out, tr("removing a picture"), lambda told: self.desk.tell(said(told)))

        removal = None if self.desk.read_only else remove
        view = PictureView(tree.name, self.pictures.media, number, removal, self.window())
        view.open()

    def _ground_for(self, seen: Seen, season: int) -> GroundContext | None:
        held = self._ground
        return held[2] if held is not None and held[0] is seen and held[1] == season else None

    def _fill(self, facts: TreeFacts) -> None:
        self.facts = facts
        words = (
            ""
            if self.desk.rotation is None
            else plan_words(self.desk.rotation, self.desk.chosen[-1] if self.desk.chosen else "")
        )
        if words:
            facts = replace(facts, cautions=(words, *facts.cautions))
        self.reasons.tell(facts, units_of(self.desk))
        self.record.tell(facts, units_of(self.desk), self.desk.today.year, self.desk.theme)

    def _drop_work(self) -> None:
        if self._work is not None:
            self._work.cancel()
        self._work = None

    def _tell_mark(self, trees: Sequence[Tree]) -> None:
        desk = self.desk
        off = would_unmark(desk)
        what = tr("unmark for {season}", season=desk.season) if off else tr("mark for {season}", season=desk.season)
        self.mark.setText(what)
        self.mark.setAccessibleName(what)
        why = why_not(desk)
        self.mark.setEnabled(not why)
        self.mark.setToolTip(why)
        self.mark.setAccessibleDescription(why)
        for menu_button in (self.write_down, self.put_right, self.of_several):
            menu_button.setEnabled(bool(trees) and not desk.read_only)

    # Forms

    def show_form(self, form: Form) -> None:
        """Open a form below the head, in place of one that is open; what was typed in it before is put back."""
        self.close_form()
        self.form = form
        form.draft = self._drafts.setdefault((self._shown, type(form).__name__), Draft())
        form.put_back(form.draft.texts)
        form.saved.connect(self._give_up)
        form.left.connect(self._give_up)
        self.down.insertWidget(self.down.indexOf(self.reasons), form)
        form.show()
        self.foot_sheet.hide()  # a form has its own buttons, and needs the room
        form.begin()
        QTimer.singleShot(0, form, self._form_into_sight)

    def _form_into_sight(self) -> None:
        """Scroll so that the whole form is seen, or its beginning where it is too long for that."""
        form = self.form
        if form is not None:
            bar = self.scroller.verticalScrollBar()
            below = form.y() + form.height() - self.scroller.viewport().height()
            bar.setValue(min(max(below, 0), form.y()))

    def close_form(self) -> None:
        """Take the open form away, and keep what was typed in it for the next time."""
        form = self.form
        if form is None:
            return
        self.form = None
        held = QApplication.focusWidget()
        if held is not None and form.isAncestorOf(held):
            self._canvas.setFocus()  # not wherever Qt would go: in a field, undo would mean its letters
        self.foot_sheet.show()
        self.down.removeWidget(form)
        form.put_away()

    def _give_up(self) -> None:
        """Take the open form away, and what was typed in it with it."""
        form = self.form
        if form is not None:
            self.close_form()
            form.draft.texts = []
            self.setFocus()

    # Buttons and keys

    def _menu_button(self, text: str, ids: Sequence[str]) -> QPushButton:
        made = button(text, None, "plain")
        menu = QMenu(made)
        menu.setAccessibleName(text)
        shown: list[tuple[Action, Callable[[bool], None]]] = []
        for action_id in ids:
            if not action_id:
                menu.addSeparator()
                continue
            action = self._actions[action_id]
            entry = menu.addAction(action.title)
            entry.triggered.connect(lambda _=False, a=action: a.run())
            shown.append((action, entry.setEnabled))
        menu.aboutToShow.connect(lambda: [enable(action.enabled()) for action, enable in shown])
        made.setMenu(menu)
        return made

    def setFocus(self, reason: Qt.FocusReason = Qt.FocusReason.OtherFocusReason) -> None:  # noqa: N802 - Qt's name
        """Give the focus to the first thing that can be done here."""
        wanted = (self.reasons.fold, self.mark, self.write_down, self.of_several)
        first = next((b for b in wanted if b.isVisible() and b.isEnabled()), None)
        if first is not None:
            first.setFocus(reason)

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: N802 - Qt's name
        """Page through the card, or go back to the map."""
        bar = self.scroller.verticalScrollBar()
        if event.key() == Qt.Key.Key_PageDown:
            bar.setValue(bar.value() + bar.pageStep())
        elif event.key() == Qt.Key.Key_PageUp:
            bar.setValue(bar.value() - bar.pageStep())
        elif event.key() == Qt.Key.Key_Escape:
            self._canvas.setFocus()
        else:
            super().keyPressEvent(event)
