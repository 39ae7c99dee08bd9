"""What of the stand is on the map, whichever page is shown: trees, ground, and what is chosen; it follows the desk."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from standmap.desktop.actions import Action
from standmap.desktop.canvas.canvas import MapCanvas
from standmap.desktop.canvas.enclosing import Lasso, Rectangle
from standmap.desktop.desk import Desk
from standmap.desktop.words import said, tr
from standmap.jobs.first_look import FirstLook
from standmap.jobs.positions import xy
from standmap.rules.columns import CODES
from standmap.rules.judgement import Verdict

TURN_DEG = 15
"""By how much one press turns the map; what points up turns the other way."""


class MapContent:
    """Keeps the canvas true to the desk, and the desk to what is clicked on the canvas."""

    def __init__(self, desk: Desk, canvas: MapCanvas) -> None:
        self._desk = desk
        self._canvas = canvas
        self._path: object = None
        self._ellipses = False
        canvas.set_spoken(self._described)
        desk.settings_changed.connect(self._set)
        self._set()
        desk.first_look_ready.connect(self._first_look)
        desk.seen_changed.connect(self._stand_changed)
        desk.season_changed.connect(self._recolour)
        desk.chosen_changed.connect(self._chosen_changed)
        canvas.tree_clicked.connect(lambda key, add: desk.choose([key], add=add))
        canvas.trees_enclosed.connect(lambda keys, add: desk.choose([*(desk.chosen if add else ()), *keys]))
        canvas.ground_clicked.connect(lambda *_: desk.choose(()))

    def clear_for_page(self) -> None:
        """Take off what a page had put on the map."""
        self._canvas.clear()

    def look_at_tree(self, key: str) -> None:
        """Bring a tree into sight."""
        seen = self._desk.seen
        if seen is not None and key in seen.row_of:
            self._canvas.centre_on(*seen.xy[seen.row_of[key]])

    def look_at_place(self, key: str) -> None:
        """Bring a place into sight."""
        seen = self._desk.seen
        if seen is None or seen.frame is None:
            return
        for place in seen.stand.places:
            if place.key == key:
                self._canvas.centre_on(*xy(seen.frame, [place.at])[0])

    def actions(self) -> Sequence[Action]:
        """Return what can be done with the map on every page."""
        canvas, desk = self._canvas, self._desk

        def is_open() -> bool:
            return desk.seen is not None

        def fit_chosen() -> None:
            if desk.seen is not None and desk.chosen:
                canvas.fit(desk.seen.rows_of(desk.chosen))

        return [
            Action("map.fit", tr("show the whole stand"), canvas.fit, "Ctrl+0", enabled=is_open),
            Action(
                "map.fit_chosen",
                tr("show the chosen trees"),
                fit_chosen,
                "Ctrl+Shift+0",
                enabled=lambda: bool(desk.chosen),
            ),
            Action("map.closer", tr("nearer"), lambda: canvas.zoom_by(1.5), "Ctrl++; Ctrl+=", enabled=is_open),
            Action("map.farther", tr("farther away"), lambda: canvas.zoom_by(1 / 1.5), "Ctrl+-", enabled=is_open),
            Action(
                "map.turn_left",
                tr("turn the map to the left"),
                lambda: canvas.turn_to(canvas.camera.turn_deg + TURN_DEG),
                "Ctrl+[",
                enabled=is_open,
            ),
            Action(
                "map.turn_right",
                tr("turn the map to the right"),
                lambda: canvas.turn_to(canvas.camera.turn_deg - TURN_DEG),
                "Ctrl+]",
                enabled=is_open,
            ),
            Action(
                "map.round",
                tr("choose by drawing round trees"),
                lambda: self._enclose(Lasso(once=True)),
                "Ctrl+Shift+D",
                enabled=is_open,
                words=tr("lasso outline"),
            ),
            Action(
                "map.rectangle",
                tr("choose by drawing a rectangle"),
                lambda: self._enclose(Rectangle(once=True)),
                "Ctrl+Shift+K",
                enabled=is_open,
            ),
            Action("map.north", tr("north up"), lambda: canvas.turn_to(0), "Ctrl+Shift+N", enabled=is_open),
            Action("map.all_trees", tr("choose all trees"), self._choose_all, "Ctrl+A", enabled=is_open),
            Action(
                "map.ellipses",
                tr("show how sure positions are, or hide it"),
                self._turn_ellipses,
                enabled=is_open,
                words=tr("accuracy"),
            ),
        ]

    def _enclose(self, gesture: Lasso | Rectangle) -> None:
        self._canvas.lend(gesture)
        self._canvas.setFocus()

    def _set(self) -> None:
        settings = self._desk.settings
        self._canvas.show_names(settings.names_on_map)
        self._canvas.set_calm(settings.motion == "less")

    def _described(self, row: int) -> str:
        """Return a tree in words for a screen reader."""
        desk, seen = self._desk, self._desk.seen
        if seen is None or row >= min(len(seen.trees), len(desk.codes)):
            return ""
        name, verdict, back = seen.trees[row].name, CODES[desk.codes[row]], int(desk.back_in[row])
        if verdict is Verdict.RESTING:
            return tr("tree {name}, resting, back in {season}", name=name, season=back)
        return tr("tree {name}, {verdict}", name=name, verdict=said(str(verdict)))

    def _choose_all(self) -> None:
        if self._desk.seen is not None:
            self._desk.choose([t.key for t in self._desk.seen.trees])

    def _turn_ellipses(self) -> None:
        self._ellipses = not self._ellipses
        self._canvas.show_ellipses(self._ellipses)

    def _first_look(self, look: FirstLook) -> None:
        self._canvas.show_trees(look.keys, look.names, look.xy, look.girth_mm, look.codes, look.rest)
        if self._path != self._desk.path:
            self._path = self._desk.path
            self._canvas.fit()

    def _stand_changed(self) -> None:
        desk, canvas = self._desk, self._canvas
        seen = desk.seen
        if seen is None:
            canvas.show_trees((), (), np.zeros((0, 2)), np.zeros(0), np.zeros(0, np.uint8), np.zeros(0))
            canvas.show_ground((), (), (), None)
            canvas.show_walks((), (), None)
            self._path = None
            return
        trees = seen.trees
        canvas.show_trees(
            [t.key for t in trees], [t.name for t in trees], seen.xy, seen.girth_mm, desk.codes, desk.rest
        )
        canvas.set_spread(np.array([(t.var_e_m2, t.var_n_m2, t.cov_en_m2) for t in trees], float).reshape(-1, 3))
        canvas.show_ground(seen.stand.places, seen.stand.lines, seen.stand.areas, seen.frame)
        canvas.show_walks(seen.walks, seen.stops, seen.frame)
        if self._path != desk.path:
            self._path = desk.path
            canvas.fit()

    def _recolour(self) -> None:
        self._canvas.recolour(self._desk.codes, self._desk.rest)

    def _chosen_changed(self) -> None:
        seen = self._desk.seen
        self._canvas.set_chosen([] if seen is None else seen.rows_of(self._desk.chosen))
