"""What a person may ask of the map on any page: measures, where a point is, north and scale."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from PySide6.QtCore import QObject, QPoint

from standmap.desktop.actions import Action
from standmap.desktop.canvas.canvas import MapCanvas
from standmap.desktop.desk import Desk
from standmap.desktop.measuring.corner_mark import CornerMark
from standmap.desktop.measuring.measure import Measure, Point, What
from standmap.desktop.measuring.measure_gesture import MeasureGesture
from standmap.desktop.measuring.told import measure_lines
from standmap.desktop.measuring.where_card import WhereCard
from standmap.desktop.measuring.where_gesture import WhereGesture
from standmap.desktop.words import tr
from standmap.errors import UserError
from standmap.survey.north import Declination, declination
from standmap.units_shown import UnitsShown


class MapTools(QObject):
    """Offers the measures of one map.

    Attributes
    ----------
    mark
        North and scale in the corner.
    card
        Where a point is.
    measuring
        The measure being taken, None when none is.
    """

    def __init__(self, desk: Desk, canvas: MapCanvas) -> None:
        super().__init__(canvas)
        self._desk = desk
        self._canvas = canvas
        self._north: tuple[object, Declination | None] = (None, None)
        self.measuring: MeasureGesture | None = None
        self.mark = CornerMark(canvas, self.north, self.units, lambda: self._desk.theme)
        self.card = WhereCard(desk, canvas)
        self.card.closed.connect(self._end)
        canvas.handed_back.connect(self._ended)
        desk.seen_changed.connect(self._stand_changed)
        desk.settings_changed.connect(self.mark.follow)

    def actions(self) -> Sequence[Action]:
        """Return what can be asked of the map."""
        desk = self._desk

        def placed() -> bool:
            return desk.seen is not None and desk.seen.frame is not None

        return [
            Action("measure.line", tr("measure a line"), lambda: self.measure(What.LINE), "Ctrl+J", enabled=placed,
                   words=tr("distance length bearing")),
            Action("measure.area", tr("measure an area"), lambda: self.measure(What.AREA), "Ctrl+Shift+J",
                   enabled=placed, words=tr("hectares acres size")),
            Action("measure.chosen", tr("measure from tree to tree, as chosen"), self.measure_chosen,
                   enabled=lambda: placed() and len(desk.chosen) > 1, words=tr("distance")),
            Action("where.point", tr("where is a point?"), self.ask_where, "Ctrl+Shift+L", enabled=placed,
                   words=tr("coordinates position latitude longitude UTM grid")),
            Action("where.tree", tr("where is the chosen tree?"), self.ask_where_tree,
                   enabled=lambda: placed() and bool(desk.chosen), words=tr("coordinates position UTM grid")),
            Action("map.mark", tr("show north and scale, or hide them"), self.mark.toggle, "Ctrl+Shift+M",
                   enabled=placed, words=tr("compass declination magnetic scale bar")),
        ]  # fmt: skip

    def units(self) -> UnitsShown:
        """Return the person's units."""
        return self._desk.units

    def north(self) -> Declination | None:
        """Return where a compass points in this stand today; None where that is not known."""
        seen = self._desk.seen
        if seen is None or seen.frame is None:
            return None
        asked = (seen.frame, self._desk.today)
        if self._north[0] != asked:
            try:
                found = declination(seen.frame.lon0, seen.frame.lat0, self._desk.today)
            except UserError:
                found = None
            self._north = (asked, found)
        return self._north[1]

    # Measuring

    def measure(self, what: What) -> None:
        """Begin to measure."""
        self.card.put_away()
        gesture = MeasureGesture(
            what,
            margins=lambda: self._canvas.margins,
            told=self._told,
            position_of=self._position,
            next_point=self._chosen_point,
            ended=self._end,
            finished=lambda lines: self._desk.tell(" · ".join(lines)),
        )
        self._canvas.lend(gesture)
        self._canvas.setFocus()
        self.measuring = gesture

    def measure_chosen(self) -> None:
        """Measure from tree to tree, in the order in which they were chosen."""
        seen = self._desk.seen
        if seen is None:
            return
        self.measure(What.LINE)
        gesture = self.measuring
        if gesture is None:
            return
        for row in seen.rows_of(self._desk.chosen):
            point = self._position(row)
            if point is not None:
                gesture.take(point)
        gesture.finish()
        self._canvas.update()

    def _told(self, measure: Measure, hover: Point | None) -> list[str]:
        seen = self._desk.seen
        if seen is None or seen.frame is None:
            return []
        magnetic = self.north() if self._desk.settings.bearings == "magnetic" else None
        return measure_lines(measure, hover, seen.frame, self.units(), magnetic)

    def _position(self, row: int) -> Point | None:
        seen = self._desk.seen
        if seen is None or row >= len(seen.xy) or not np.isfinite(seen.xy[row]).all():
            return None
        return float(seen.xy[row, 0]), float(seen.xy[row, 1])

    def _chosen_point(self) -> Point | None:
        seen = self._desk.seen
        if seen is None or not self._desk.chosen:
            return None
        rows = seen.rows_of(self._desk.chosen[-1:])
        return self._position(rows[0]) if rows else None

    def _end(self) -> None:
        self._canvas.lend(None)
        self._ended()

    def _ended(self) -> None:
        self.measuring = None
        self.card.put_away()

    # Where

    def ask_where(self) -> None:
        """Ask where the next clicked point is."""
        self._canvas.lend(WhereGesture(self._asked, self._end, lambda: self._canvas.margins))
        self._canvas.setFocus()

    def ask_where_tree(self) -> None:
        """Tell where the tree on the card is."""
        tree, point = self._desk.chosen_tree, self._chosen_point()
        if tree is None:
            return
        self._end()
        at = self._canvas.camera.point_to_screen(*point) if point is not None else (0.0, 0.0)
        self.card.show_point(tree.at, tree.name, QPoint(round(at[0]), round(at[1])))
        self.card.setFocus()

    def _asked(self, row: int | None, point: Point) -> None:
        seen = self._desk.seen
        if seen is None or seen.frame is None:
            return
        beside = self._canvas.camera.point_to_screen(*point)
        if row is not None and row < len(seen.trees):
            tree = seen.trees[row]
            at, title = tree.at, tree.name
        else:
            try:
                lon, lat = seen.frame.to_lonlat(np.array([point[0]]), np.array([point[1]]))
            except ValueError:
                self._desk.caution(tr("this point lies too far from the stand"))
                return
            at, title = (float(lon[0]), float(lat[0])), tr("this point")
        self.card.show_point(at, title, QPoint(round(beside[0]), round(beside[1])))

    def _stand_changed(self) -> None:
        if self._desk.seen is None:
            self._end()
        self.mark.follow()
