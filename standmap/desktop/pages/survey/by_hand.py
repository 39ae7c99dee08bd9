"""Trees and ground put on the map by hand: each by an explicit gesture, written when it is confirmed."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QObject

from standmap.desktop.canvas.canvas import MapCanvas
from standmap.desktop.desk import Desk
from standmap.desktop.guard import guard_of
from standmap.desktop.pages.survey.course import Course
from standmap.desktop.pages.survey.drafts import Draft, GroundKind, draft_of, keep
from standmap.desktop.pages.survey.draw_sheet import DrawSheet
from standmap.desktop.pages.survey.drawing import DrawGesture
from standmap.desktop.pages.survey.review_list import units_of
from standmap.desktop.pages.survey.review_words import distance_words
from standmap.desktop.pages.survey.spot import Spots
from standmap.desktop.pages.survey.tree_sheet import MoveTreeSheet, PlaceTreeSheet, SpotFields
from standmap.desktop.words import said, tr
from standmap.errors import UserError
from standmap.jobs.ground_by_hand import Ground, called, ground_called, remove_ground
from standmap.jobs.positions import apart_m
from standmap.jobs.trees_by_hand import DoubtfulPositionError, TypedGirth, add_tree, move_tree
from standmap.stand.ground import AreaKind
from standmap.stand.tree import LonLat, Tree


class ByHand(QObject):
    """Joins the forms in the panel with the gestures on the map.

    Parameters
    ----------
    show_sheet
        Shows a sheet in the panel.
    go_home
        Shows what else there is to do on the page.
    """

    def __init__(
        self, desk: Desk, canvas: MapCanvas, show_sheet: Callable[[object], None], go_home: Callable[[], None]
    ) -> None:
        super().__init__(desk)
        self._desk = desk
        self._canvas = canvas
        self._show_sheet = show_sheet
        self._go_home = go_home
        self._spots = Spots(None)
        self._course = Course()
        self._begun = 0
        self._guard = guard_of(desk)
        self.gesture: DrawGesture | None = None
        self.place = PlaceTreeSheet(desk)
        self.move = MoveTreeSheet()
        self.draw = DrawSheet()
        self.place.spot_changed.connect(lambda: self._spot_typed(self.place.spot))
        self.place.place_wanted.connect(self.place_tree)
        self.place.left.connect(self.leave)
        self.move.spot_changed.connect(lambda: self._spot_typed(self.move.spot))
        self.move.move_wanted.connect(self.move_the_tree)
        self.move.left.connect(self.leave)
        self.draw.points_changed.connect(self._points_typed)
        self.draw.kind_changed.connect(canvas.update)
        self.draw.keep_wanted.connect(self.keep_drawn)
        self.draw.left.connect(self.leave)
        desk.seen_changed.connect(self._follow)
        desk.chosen_changed.connect(self._follow)

    def leave(self) -> None:
        """Put the gesture away; what was not confirmed is not written."""
        self._begun += 1
        self.gesture = None
        self._go_home()

    def _begin(
        self,
        course: Course,
        changed: Callable[[], object],
        ended: Callable[[], object],
        origin: LonLat | None = None,
    ) -> None:
        self._begun += 1
        self._course = course
        at = self._spots.to_map([origin]) if origin is not None else []
        on_map = self._spots.frame is not None
        gesture = DrawGesture(course, changed, ended, self.leave, at[0] if at else None)
        self.gesture = gesture if on_map else None

    def _leave_if_still(self, begun: int) -> None:
        """Leave a form that was written, unless the person has gone on to another meanwhile."""
        if self._begun == begun:
            self.leave()

    def _fresh_spots(self) -> None:
        seen = self._desk.seen
        self._spots = Spots(None if seen is None else seen.frame)

    def _first_in_sight(self) -> None:
        """Bring what was put into an empty stand into sight: the map had no place before."""
        if self._spots.frame is None:
            self._canvas.fit()

    # A tree

    def begin_place(self) -> None:
        """Begin to place a tree."""
        self.place.begin()
        self._go_on_placing()
        self.place.spot.position.edit.setFocus()

    def _go_on_placing(self) -> None:
        """Take the form as it is; the map of an empty stand has a place from its first tree on."""
        self._fresh_spots()
        self.place.tell_how(on_map=self._spots.frame is not None)
        self._begin(Course(most=1), lambda: self._spot_drawn(self.place.spot), self.place_tree)
        self._spot_typed(self.place.spot)
        self._show_sheet(self.place)

    def place_tree(self) -> None:
        """Write the tree of the form, and begin with the next: where that has begun already, it is left alone."""
        typed = self.place.value()
        if typed is None:
            return
        written, begun, chosen = self.place.texts, self._begun, self._desk.chosen
        today, now, sure = self._desk.today, self._desk.now(), self.place.spot.sure.isChecked()
        girth = None if typed.girth is None else TypedGirth(*typed.girth, today)

        def placed(tree: Tree) -> None:
            self._desk.tell(tr("{tree} is placed", tree=tree.name))
            self._first_in_sight()
            if self._begun != begun:
                return
            untouched = self.place.isVisible() and self.place.texts == written
            self.place.begin_next(written)
            self._go_on_placing()
            if untouched:
                self.place.spot.position.edit.setFocus()
                if self._desk.chosen == chosen:
                    self._desk.choose([tree.key])

        self._guard.once(
            "place a tree",
            lambda file, watch: add_tree(
                file, typed.name, typed.at, today, now, species=typed.species, girth=girth, sure=sure, messages=watch
            ),
            tr("placing a tree"),
            placed,
            lambda error: self._spot_refused(self.place.spot, error),
        )

    def begin_move(self) -> None:
        """Begin to move the tree on the card; it moves when that is confirmed."""
        tree = self._desk.chosen_tree
        if tree is not None and not self._desk.read_only:
            self._begin_move_of(tree)
            self.move.spot.position.edit.setFocus()

    def _follow(self) -> None:
        """Let the form be about the tree on the card, as it stands by now."""
        tree, before = self._desk.chosen_tree, self.move.tree
        if self.move.isHidden() or before is None or self._guard.busy(("move", before.key)):
            return
        if tree is None:
            self.leave()
        elif (tree.key, tree.at, tree.name) != (before.key, before.at, before.name):
            self._begin_move_of(tree)

    def _begin_move_of(self, tree: Tree) -> None:
        self._fresh_spots()
        self.move.begin(tree)
        self._begin(Course(most=1), lambda: self._spot_drawn(self.move.spot), self.move_the_tree, tree.at)
        self._show_sheet(self.move)

    def move_the_tree(self) -> None:
        """Write the new position."""
        tree, at = self.move.tree, self.move.spot.value()
        if tree is None or at is None:
            return
        today, now, sure = self._desk.today, self._desk.now(), self.move.spot.sure.isChecked()
        begun = self._begun

        def moved(fresh: Tree) -> None:
            self._desk.tell(tr("{tree} is moved", tree=fresh.name))
            self._leave_if_still(begun)

        self._guard.once(
            ("move", tree.key),
            lambda file, watch: move_tree(file, tree.key, at, today, now, sure=sure, messages=watch),
            tr("moving a tree"),
            moved,
            lambda error: self._spot_refused(self.move.spot, error),
        )

    def _spot_refused(self, spot: SpotFields, error: Exception) -> None:
        if isinstance(error, DoubtfulPositionError):
            spot.doubt(error)
        elif isinstance(error, UserError):
            spot.position.say(f"{said(error.what)}; {said(error.remedy)}" if error.remedy else said(error.what))
        else:
            self._desk.error(error)

    def _spot_drawn(self, spot: SpotFields) -> None:
        at = self._spots.to_earth(self._course.points)
        if at:
            spot.show_spot(at[-1])
        else:
            spot.clear()
        self._tell_move()

    def _spot_typed(self, spot: SpotFields) -> None:
        at = spot.quiet_value()
        self._course.points = self._spots.to_map([] if at is None else [at])
        self._canvas.update()
        self._tell_move()

    def _tell_move(self) -> None:
        tree, at, frame = self.move.tree, self.move.spot.quiet_value(), self._spots.frame
        if tree is None or not self.move.isVisible():
            return
        far = "" if at is None or frame is None else distance_words(apart_m(frame, tree.at, at), units_of(self._desk))
        self.move.tell(at, far)

    # The ground

    def begin_draw(self, kind: GroundKind) -> None:
        """Begin to draw a thing of the ground."""
        self._begin_draft(Draft(kind))

    def begin_change(self, key: str) -> None:
        """Begin to change a thing of the ground."""
        seen = self._desk.seen
        if seen is not None:
            self._begin_draft(draft_of(ground_called(seen.stand, key)))

    def _begin_draft(self, draft: Draft) -> None:
        if self._desk.read_only:
            return
        self._fresh_spots()
        self.draw.begin(draft, on_map=self._spots.frame is not None)
        most = 1 if draft.of_one_point else 100_000
        course = Course(self._spots.to_map(draft.points), most=most, closed=isinstance(draft.kind, AreaKind))
        self._begin(course, self._points_drawn, self.keep_drawn)
        self._show_sheet(self.draw)
        if self.gesture is None:
            self.draw.points.setFocus()
        else:
            self._canvas.setFocus()

    def _points_drawn(self) -> None:
        self.draw.show_points(self._spots.to_earth(self._course.points))

    def _points_typed(self) -> None:
        self._course.points = self._spots.to_map(self.draw.draft.points)
        self._canvas.update()

    def keep_drawn(self) -> None:
        """Write what was drawn."""
        draft = self.draw.value()
        if draft is None:
            return
        now, sure, begun = self._desk.now(), self.draw.sure.isChecked(), self._begun

        def kept(thing: Ground) -> None:
            self._desk.tell(tr("kept: {what}", what=said(called(thing))))
            self._first_in_sight()
            self._leave_if_still(begun)

        def refused(error: Exception) -> None:
            if not isinstance(error, UserError):
                self._desk.tell(said(str(error)))
                self._leave_if_still(begun)
            elif self._begun == begun:
                self.draw.say(error)
            else:
                self._desk.error(error)

        self._guard.once(
            "keep the ground",
            lambda file, watch: keep(file, draft, now, watch, sure=sure),
            tr("keeping the ground"),
            kept,
            refused,
        )

    def remove(self, key: str) -> None:
        """Take a thing of the ground off the map; undo brings it back."""
        now = self._desk.now()
        self._guard.once(
            ("remove", key),
            lambda file, _: remove_ground(file, key, now),
            tr("removing"),
            lambda thing: self._desk.tell(tr("removed: {what}; undo brings it back", what=said(called(thing)))),
        )
