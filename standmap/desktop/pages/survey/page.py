"""Survey: what files bring is looked through and stored, trees and ground are put on the map by hand."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QFileDialog, QWidget

from standmap.desktop.actions import Action, always
from standmap.desktop.canvas.canvas import MapCanvas
from standmap.desktop.desk import Desk
from standmap.desktop.guard import guard_of
from standmap.desktop.pages.page import Page
from standmap.desktop.pages.survey.adjusting import Adjusting
from standmap.desktop.pages.survey.bringing import Bringing
from standmap.desktop.pages.survey.by_hand import ByHand
from standmap.desktop.pages.survey.drafts import KINDS
from standmap.desktop.pages.survey.draw_sheet import kind_words
from standmap.desktop.pages.survey.drop_hint import DropHint
from standmap.desktop.pages.survey.ground_mark import GroundMark
from standmap.desktop.pages.survey.home_sheet import HomeSheet
from standmap.desktop.pages.survey.live_following import LiveFollowing
from standmap.desktop.pages.survey.merging import STANDS, Merging
from standmap.desktop.pages.survey.review_candidates import MOST
from standmap.desktop.pages.survey.review_words import fate_word
from standmap.desktop.pages.survey.sight import bring_into_sight
from standmap.desktop.pages.survey.sight_grid_keeping import SightKeeping
from standmap.desktop.words import tr, tr_n
from standmap.jobs.correct import confirm
from standmap.jobs.ground_by_hand import ground_called
from standmap.jobs.merge_copies import Side
from standmap.jobs.opening import is_copy
from standmap.jobs.review import Fate, Verb
from standmap.stand.tree import Tree

FILES = "*.gpx *.geojson *.json *.csv *.tsv *.txt *.nmea *.log *.jpg *.jpeg *.png *.tif *.tiff *.webp"


class SurveyPage(Page):
    """The panel holds one sheet at a time: what there is to do, files being read, their review, or a form."""

    name = "survey"
    heights_wanted = Signal()

    def __init__(self, desk: Desk, canvas: MapCanvas) -> None:
        super().__init__(desk, canvas, tr("Survey"))
        self.home = HomeSheet(desk)
        self.bringing = Bringing(desk, canvas, self._show, self.go_home)
        self.by_hand = ByHand(desk, canvas, self._show, self.go_home)
        self.merging = Merging(desk, canvas, self._show, self.go_home)
        self.sights = SightKeeping(desk, canvas, self._show, self.go_home, self._set_map)
        self.adjusting = Adjusting(desk, canvas, self._show, self.go_home, self._set_map)
        self.live = LiveFollowing(desk, canvas, self._show, self.go_home, self._set_map)
        hand, files = self.by_hand, self.bringing
        self._sheets: dict[QWidget, QWidget] = {
            sheet: sheet.foot for sheet in (self.home, files.reading, files.sheet, hand.place, hand.move, hand.draw)
        }
        self._sheets |= {sheet: sheet.foot for sheet in (self.merging.question, self.merging.sheet)}
        self._sheets[self.sights.sheet] = self.sights.sheet.foot
        self._sheets[self.live.sheet] = self.live.sheet.foot
        self._sheets[self.adjusting.sheet] = self.adjusting.sheet.foot
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
        home.sights_wanted.connect(self.sights.begin)
        home.live_wanted.connect(self.live.begin)
        home.adjust_wanted.connect(self.adjusting.begin)
        home.draw_wanted.connect(hand.begin_draw)
        home.heights_wanted.connect(self.heights_wanted)
        home.edit_wanted.connect(hand.begin_change)
        home.remove_wanted.connect(hand.remove)
        home.ground_looked_at.connect(self._look_at_ground)
        home.confirm_wanted.connect(lambda everyone: self.confirm(everyone=everyone))
        home.back_wanted.connect(self._go_on)
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
        return self._waiting_to_store or self.sheet is not self.home

    def go_home(self) -> None:
        """Show what there is to do; a review that waits is kept."""
        self._tell_home()
        self._show(self.home)

    @property
    def _waiting_to_store(self) -> bool:
        return self.bringing.review is not None or self.merging.waits

    def _go_on(self) -> None:
        """Show what waits to be stored."""
        (self.bringing if self.bringing.review is not None else self.merging).show()

    def store(self) -> None:
        """Store what is shown: what files bring, or what comes over from another copy."""
        if self.sheet is self.sights.sheet:
            self.sights.keep()
        elif self.sheet is self.live.sheet:
            self.live.take()
        elif self.sheet is self.adjusting.sheet:
            self.adjusting.accept()
        elif self.sheet is self.merging.sheet:
            self.merging.store()
        else:
            self.bringing.store()

    def _tell_home(self) -> None:
        if not self.shown:
            return  # told when it is entered
        self.home.tell(self.desk.chosen_tree, review_waits=self._waiting_to_store)

    def _set_map(self) -> None:
        if not self.shown:
            return
        review = self.bringing.overlay
        on_top = [] if review is None or self.bringing.sheet.isHidden() else [review]
        marked = [] if self._mark is None or self.home.isHidden() else [self._mark]
        sighted = [] if self.sights.overlay is None or self.sights.sheet.isHidden() else [self.sights.overlay]
        adjusted = self.adjusting.overlay
        shifted = [] if adjusted is None or self.adjusting.sheet.isHidden() else [adjusted]
        empty = self.canvas.frame is None and not on_top and not self.home.isHidden()
        hint = [DropHint(self.canvas, self.desk.settings.text_size_percent / 100)] if empty else []
        standing = [] if self.live.overlay is None else [self.live.overlay]
        self.canvas.set_overlays([*hint, *marked, *sighted, *shifted, *on_top, *standing])
        self.canvas.set_gesture(self.by_hand.gesture or (self.bringing.picking if on_top else None))

    def entered(self) -> None:
        """Show the page as it was left."""
        self._tell_home()
        self._set_map()

    def _stand_changed(self) -> None:
        self._mark = None
        self.bringing.stand_changed()
        self.merging.stand_changed()
        self.sights.stand_changed()
        self.live.stand_changed()
        self.adjusting.stand_changed()
        if self.desk.seen is None:
            self.go_home()
            return
        self._tell_home()
        self._set_map()

    def _settings_changed(self) -> None:
        self._tell_home()
        self.bringing.sheet.tell()
        self.merging.sheet.tell()

    # What is done here

    def bring_files(self, paths: Sequence[Path]) -> None:
        """Read files and show what they bring; nothing is stored yet. Of another stand it is asked what to do."""
        stands = [path for path in paths if is_copy(path)]
        if not stands:
            self.bringing.bring(paths)
            return
        self.merging.ask(stands[0])
        if len(paths) > 1:
            left = ", ".join(path.name for path in paths if path != stands[0])
            self.desk.tell(tr("one stand is merged at a time; bring these in after it: {names}", names=left))

    def choose_files(self) -> None:
        """Ask for files and read them."""
        folder = str(self.desk.path.parent) if self.desk.path is not None else ""
        names, _ = QFileDialog.getOpenFileNames(
            self.panel.window(),
            tr("files to bring in"),
            folder,
            tr("walks, tables, ground, pictures") + f" ({FILES} {STANDS})",
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

        def storable() -> bool:
            others = (self.merging.sheet, self.sights.sheet, self.adjusting.sheet)
            return reviewing() or self.live.can_take or any(sheet.isVisible() for sheet in others)

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
        candidates = [
            action(
                f"candidate_{number}",
                tr("review: the stop was at candidate {n}", n=number) if number else tr("review: ask again"),
                partial(review.candidates.choose, number),
                str(number),
                partial(review.candidates.can, number),
            )
            for number in range(MOST + 1)
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
                "files",
                tr("bring files in..."),
                self.choose_files,
                "Alt+F",
                writable,
                tr("GPX NMEA GeoJSON CSV photo import"),
            ),
            action("place", tr("place a tree by hand"), hand.begin_place, "Alt+T", writable),
            action("sights", tr("tape and compass..."), self.sights.begin, "Alt+B", writable, tr("bearing distance")),
            *self.live.actions(action),
            action("adjust", tr("adjust positions..."), self.adjusting.begin, "Alt+J", words=tr("best fit")),
            action("adjust_leave", tr("adjust: not now"), self.adjusting.leave, "", self.adjusting.sheet.isVisible),
            action("adjust_stop", tr("stop adjusting"), self.adjusting.stop, "", lambda: self.adjusting.under_way),
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
            action("review", tr("go on with the review"), self._go_on, "Alt+R", lambda: self._waiting_to_store),
            action("aside", tr("review: put it aside, nothing is stored"), self.go_home, "Alt+Left", reviewing),
            action("accept", tr("review: accept"), review.accept_chosen, "A", lambda: review.can(Verb.ACCEPT)),
            action("merge", tr("review: merge with..."), review.begin_merge, "M", lambda: review.can(Verb.MERGE)),
            action("split", tr("review: split"), review.split_chosen, "S", lambda: review.can(Verb.SPLIT)),
            action("ignore", tr("review: ignore"), review.ignore_chosen, "I; Del", lambda: review.can(Verb.IGNORE)),
            action("doubtful", tr("review: next doubtful"), review.next_doubtful, "D", reviewing),
            *fates,
            *candidates,
            action("store", tr("store what is shown"), self.store, "Ctrl+Return; Ctrl+Enter", storable),
            action("discard", tr("review: leave all"), files.discard, "", reviewing),
            *self._merge_actions(action, writable),
            action("stop", tr("stop reading files"), files.stop_reading, "", lambda: files.under_way),
        ]

    def _merge_actions(self, action: Callable[..., Action], writable: Callable[[], bool]) -> list[Action]:
        """Return what can be done with another copy of the stand."""
        merging, sheet = self.merging, self.merging.sheet

        def deciding() -> bool:
            return sheet.deciding

        every = [
            (Side.OURS, tr("copies: ours in every conflict")),
            (Side.THEIRS, tr("copies: theirs in every conflict")),
        ]
        return [
            action(
                "merge_copy", tr("merge another copy of this stand..."), merging.choose, "", writable, tr("two people")
            ),
            action("ours", tr("copies: keep ours"), partial(merging.decide, Side.OURS), "O", deciding),
            action("theirs", tr("copies: take theirs"), partial(merging.decide, Side.THEIRS), "T", deciding),
            *(action(f"all_{side}", title, partial(sheet.decide_all, side), "", deciding) for side, title in every),
            action("merge_leave", tr("copies: not now"), merging.leave, "", sheet.isVisible),
            action("merge_stop", tr("stop comparing copies"), merging.stop, "", lambda: merging.under_way),
        ]

    def _can_move(self) -> bool:
        return not self.desk.read_only and self.desk.chosen_tree is not None
