"""Survey: what files bring is looked through and stored, trees and ground are put on the map by hand."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path

from PySide6.QtWidgets import QFileDialog, QWidget

from standmap.desktop.actions import Action, always
from standmap.desktop.canvas.canvas import MapCanvas
from standmap.desktop.desk import Desk
from standmap.desktop.guard import guard_of
from standmap.desktop.pages.page import Page
from standmap.desktop.pages.survey.bringing import Bringing
from standmap.desktop.pages.survey.by_hand import ByHand
from standmap.desktop.pages.survey.drafts import KINDS
from standmap.desktop.pages.survey.draw_sheet import kind_words
from standmap.desktop.pages.survey.drop_hint import DropHint
from standmap.desktop.pages.survey.ground_mark import GroundMark
from standmap.desktop.pages.survey.home_sheet import HomeSheet
from standmap.desktop.pages.survey.review_words import fate_word
from standmap.desktop.pages.survey.sight import bring_into_sight
from standmap.desktop.words import tr, tr_n
from standmap.jobs.correct import confirm
from standmap.jobs.ground_by_hand import ground_called
from standmap.jobs.review import Fate, Verb
from standmap.stand.tree import Tree

FILES = "*.gpx *.geojson *.json *.csv *.tsv *.txt"


class SurveyPage(Page):
    """The panel holds one sheet at a time: what there is to do, files being read, their review, or a form."""

    name = "survey"

    def __init__(self, desk: Desk, canvas: MapCanvas) -> None:
        super().__init__(desk, canvas, tr("Survey"))
        self.home = HomeSheet(desk)
        self.bringing = Bringing(desk, canvas, self._show, self.go_home)
        self.by_hand = ByHand(desk, canvas, self._show, self.go_home)
        hand, files = self.by_hand, self.bringing
        self._sheets: dict[QWidget, QWidget] = {
            sheet: sheet.foot for sheet in (self.home, files.reading, files.sheet, hand.place, hand.move, hand.draw)
        }
        for sheet, foot in self._sheets.items():
            self.panel.down.addWidget(sheet, 1)
            self.panel.foot.addWidget(foot)
        self._mark: GroundMark | None = None
        self._join()
        self._show(self.home)

    def _join(self) -> None:
        home, hand, files = self.home, self.by_hand, self.bringing
        home.files_wanted.connect(self.choose_files)
        home.tree_wanted.connect(hand.begin_place)
        home.move_wanted.connect(hand.begin_move)
        home.draw_wanted.connect(hand.begin_draw)
        home.edit_wanted.connect(hand.begin_change)
        home.remove_wanted.connect(hand.remove)
        home.ground_looked_at.connect(self._look_at_ground)
        home.confirm_wanted.connect(lambda everyone: self.confirm(everyone=everyone))
        home.back_wanted.connect(files.show)
        files.overlay_changed.connect(self._set_map)
        self.desk.seen_changed.connect(self._stand_changed)
        self.desk.chosen_changed.connect(self._tell_home)
        self.desk.settings_changed.connect(self._settings_changed)

    # Sheets

    @property
    def sheet(self) -> QWidget:
        """The sheet that is shown."""
        return next(sheet for sheet in self._sheets if not sheet.isHidden())

    def _show(self, shown: object) -> None:
        if shown not in (self.by_hand.place, self.by_hand.move, self.by_hand.draw):
            self.by_hand.gesture = None
        for sheet, foot in self._sheets.items():
            sheet.setVisible(sheet is shown)
            foot.setVisible(sheet is shown and foot is not self.home.foot)
        self.panel.foot_sheet.setVisible(shown is not self.home)
        self.panel.scroller.verticalScrollBar().setValue(0)
        self._set_map()

    def unfinished(self) -> bool:
        """Return whether files are in review, or a form is open."""
        return self.bringing.review is not None or self.sheet is not self.home

    def go_home(self) -> None:
        """Show what there is to do; a review that waits is kept."""
        self._tell_home()
        self._show(self.home)

    def _tell_home(self) -> None:
        if not self.shown:
            return  # told when it is entered
        self.home.tell(self.desk.chosen_tree, review_waits=self.bringing.review is not None)

    def _set_map(self) -> None:
        if not self.shown:
            return
        review = self.bringing.overlay
        on_top = [] if review is None or self.bringing.sheet.isHidden() else [review]
        marked = [] if self._mark is None or self.home.isHidden() else [self._mark]
        empty = self.canvas.frame is None and not on_top and not self.home.isHidden()
        hint = [DropHint(self.canvas, self.desk.settings.text_size_percent / 100)] if empty else []
        self.canvas.set_overlays([*hint, *marked, *on_top])
        self.canvas.set_gesture(self.by_hand.gesture or (self.bringing.picking if on_top else None))

    def entered(self) -> None:
        """Show the page as it was left."""
        self._tell_home()
        self._set_map()

    def _stand_changed(self) -> None:
        self._mark = None
        self.bringing.stand_changed()
        if self.desk.seen is None:
            self.go_home()
            return
        self._tell_home()
        self._set_map()

    def _settings_changed(self) -> None:
        self._tell_home()
        self.bringing.sheet.tell()

    # What is done here

    def bring_files(self, paths: Sequence[Path]) -> None:
        """Read files and show what they bring; nothing is stored yet."""
        self.bringing.bring(paths)

    def choose_files(self) -> None:
        """Ask for files and read them."""
        folder = str(self.desk.path.parent) if self.desk.path is not None else ""
        names, _ = QFileDialog.getOpenFileNames(
            self.panel.window(), tr("files to bring in"), folder, tr("GPX, GeoJSON, CSV") + f" ({FILES})"
        )
        if names:
            self.bring_files([Path(name) for name in names])

    def confirm(self, *, everyone: bool) -> None:
        """Confirm the trees that walks suggested, all or those chosen: they are trees from now on."""
        now, keys = self.desk.now(), self._waiting_chosen()

        def confirmed(trees: Sequence[Tree]) -> None:
            self.desk.tell(tr_n("{n} tree confirmed", "{n} trees confirmed", len(trees)))

        guard_of(self.desk).once(
            "confirm", lambda file, _: confirm(file, keys, now, everyone=everyone), tr("confirming trees"), confirmed
        )

    def _waiting_chosen(self) -> list[str]:
        seen = self.desk.seen
        if seen is None:
            return []
        wanted = self.home.proposed.keys or self.desk.chosen
        return [key for key in wanted if key in seen.stand.by_key and seen.stand.by_key[key].proposed]

    def _look_at_ground(self, key: str) -> None:
        seen = self.desk.seen
        if seen is None or seen.frame is None:
            return
        self._mark = GroundMark(ground_called(seen.stand, key), seen.frame)
        self._set_map()
        if len(self._mark.places) == 1:
            self.canvas.centre_on(*self._mark.places[0].tolist())
        elif len(self._mark.places):
            bring_into_sight(self.canvas, self._mark.places)

    # In the list of all that can be done

    def actions(self) -> Sequence[Action]:
        """Return what can be done here."""
        desk, files, hand, review = self.desk, self.bringing, self.by_hand, self.bringing.sheet

        def writable() -> bool:
            return not desk.read_only

        def waiting() -> bool:
            return writable() and desk.seen is not None and any(t.proposed for t in desk.seen.trees)

        def reviewing() -> bool:
            return review.review is not None and review.isVisible()

        def action(
            name: str,
            title: str,
            run: Callable[[], object],
            keys: str = "",
            enabled: Callable[[], bool] = always,
            words: str = "",
        ) -> Action:
            return Action(f"survey.{name}", title, run, keys, self.name, enabled, words)

        fates = [
            action(
                f"only_{fate.name.lower()}",
                tr("review: show only what is {fate}", fate=fate_word(fate)),
                partial(review.show_only, fate),
                f"Alt+{number}",
                reviewing,
            )
            for number, fate in enumerate(Fate, 1)
        ]
        draws = [
            action(
                f"draw_{kind.name.lower()}",
                tr("draw: {kind}", kind=kind_words(kind)),
                partial(hand.begin_draw, kind),
                enabled=writable,
            )
            for kind in KINDS
        ]
        return [
            action(
                "files", tr("bring files in..."), self.choose_files, "Alt+F", writable, tr("GPX GeoJSON CSV import")
            ),
            action("place", tr("place a tree by hand"), hand.begin_place, "Alt+T", writable),
            action("move", tr("move the chosen tree..."), hand.begin_move, "Alt+M", self._can_move),
            action("confirm_all", tr("confirm all proposed trees"), partial(self.confirm, everyone=True), "", waiting),
            action(
                "confirm",
                tr("confirm the chosen proposed trees"),
                partial(self.confirm, everyone=False),
                "Alt+C",
                lambda: writable() and bool(self._waiting_chosen()),
            ),
            *draws,
            action("review", tr("go on with the review"), files.show, "Alt+R", lambda: review.review is not None),
            action("aside", tr("review: put it aside, nothing is stored"), self.go_home, "Alt+Left", reviewing),
            action("accept", tr("review: accept"), review.accept_chosen, "A", lambda: review.can(Verb.ACCEPT)),
            action("merge", tr("review: merge with..."), review.begin_merge, "M", lambda: review.can(Verb.MERGE)),
            action("split", tr("review: split"), review.split_chosen, "S", lambda: review.can(Verb.SPLIT)),
            action("ignore", tr("review: ignore"), review.ignore_chosen, "I; Del", lambda: review.can(Verb.IGNORE)),
            action("doubtful", tr("review: next doubtful"), review.next_doubtful, "D", reviewing),
            *fates,
            action("store", tr("review: store"), files.store, "Ctrl+Return; Ctrl+Enter", reviewing),
            action("discard", tr("review: leave all"), files.discard, "", reviewing),
            action("stop", tr("stop reading files"), files.stop_reading, "", lambda: files.under_way),
        ]

    def _can_move(self) -> bool:
        return not self.desk.read_only and self.desk.chosen_tree is not None
