"""What lies on the map, and how it is drawn: on the screen with pictures, on paper with lines alone."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter

from standmap.desktop.canvas.camera import NO_MARGINS, Camera, Margins
from standmap.desktop.canvas.chosen_ring import ChosenRing
from standmap.desktop.canvas.detail import detail
from standmap.desktop.canvas.dials import paint_dial, paint_dot
from standmap.desktop.canvas.ground import Ground, Walked
from standmap.desktop.canvas.labels import Label, Placed, Rank, Room, place
from standmap.desktop.canvas.lettering import Lettering
from standmap.desktop.canvas.overlay import Backdrop, Overlay
from standmap.desktop.canvas.spreads import paint_spreads
from standmap.desktop.canvas.trees import Trees, full_radius_px
from standmap.desktop.theme import FADED, Theme
from standmap.rules.columns import CODES

MOST_NAMED = 160
"""Trees that are looked at for a name in one frame; the thickest first."""

VEIL = 0.85
"""How much of the backdrop its attribution covers, so that it can be read over any picture."""

NO_TREES = Trees((), (), np.zeros((0, 2)), np.zeros(0), np.zeros(0, np.uint8), np.zeros(0))


@dataclass(slots=True)
class Scene:
    """Everything on the map but the view of it.

    Attributes
    ----------
    spread
        Variances east and north and covariance of each tree's position, square metres, NaN unknown, shape (n, 3).
    """

    theme: Theme
    scale: float = 1.0
    trees: Trees = NO_TREES
    ground: Ground = field(default_factory=Ground)
    walked: Walked = field(default_factory=Walked)
    backdrop: Backdrop | None = None
    overlays: Sequence[Overlay] = ()
    spread: NDArray[np.float64] | None = None
    spread_shown: bool = False
    names_shown: bool = True
    chosen: Sequence[int] = ()
    pointed: int | None = None
    hovered: int | None = None

    @property
    def ring(self) -> ChosenRing:
        """The overlay that shows what is chosen."""
        return ChosenRing(self.trees, self.chosen, self.pointed, self.hovered, self.scale)

    def paint_below(self, painter: QPainter, camera: Camera) -> None:
        """Draw what lies under the trees."""
        painter.fillRect(QRectF(0, 0, camera.width, camera.height), QColor(self.theme.ground))
        if self.backdrop is not None:
            painter.save()
            self.backdrop.paint(painter, camera)
            painter.restore()
        self.ground.paint(painter, camera, self.theme)
        self.walked.paint(painter, camera, self.theme)
        self.ground.paint_places(painter, camera, self.theme)
        if self.spread_shown and self.spread is not None and len(self.spread) == len(self.trees):
            rows = self.in_sight(camera)
            if len(rows):
                paint_spreads(painter, self.trees.xy[rows], self.spread[rows], camera, self.theme)

    def paint_above(self, painter: QPainter, camera: Camera) -> None:
        """Draw what lies over the trees, labels apart."""
        for overlay in (*self.overlays, self.ring):
            painter.save()
            overlay.paint(painter, camera, self.theme)
            painter.restore()

    def paint_attribution(self, painter: QPainter, camera: Camera, margins: Margins) -> None:
        """Write whose the backdrop is into the lower right corner of the free part."""
        if self.backdrop is None or not self.backdrop.attribution:
            return
        left, top, right, bottom = margins
        box = QRectF(left + 12, top, camera.width - left - right - 24, camera.height - top - bottom - 8)
        flags = int(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignBottom | Qt.TextFlag.TextWordWrap)
        covered = painter.boundingRect(box, flags, self.backdrop.attribution)
        veil = QColor(self.theme.ground)
        veil.setAlphaF(VEIL)
        painter.fillRect(covered.adjusted(-4, -1, 4, 1), veil)
        painter.setPen(QColor(self.theme.ink))
        painter.drawText(box, flags, self.backdrop.attribution)

    def in_sight(self, camera: Camera, beyond_px: float = 16.0) -> NDArray[np.int64]:
        """Return the rows of the trees in sight."""
        rows = self.trees.nearby.within(camera.box_m(beyond_px))
        if not camera.turn_deg % 90.0:
            return rows
        at = camera.to_screen(self.trees.xy[rows])
        return rows[((at > -beyond_px) & (at < (camera.width + beyond_px, camera.height + beyond_px))).all(axis=1)]

    def labels(self, camera: Camera, lettering: Lettering, margins: Margins = NO_MARGINS) -> list[Placed]:
        """Set all labels of a view: those of chosen trees may lie over other dials, no other label does.

        Parameters
        ----------
        margins
            Left, top, right and bottom of the view, logical pixels, that sheets lie over: no label is set there.
        """
        ring = self.ring
        room = Room(camera.width, camera.height)
        free = QRectF(0, 0, camera.width, camera.height).adjusted(margins[0], margins[1], -margins[2], -margins[3])
        for taken in (
            (0.0, 0.0, free.left(), camera.height),
            (free.right(), 0.0, camera.width, camera.height),
            (0.0, 0.0, camera.width, free.top()),
            (0.0, free.bottom(), camera.width, camera.height),
        ):
            if taken[0] < taken[2] and taken[1] < taken[3]:
                room.take(*taken)
        for row, x, y in ring.places(camera, ring.ringed):
            r = ring.ring_px(row) + 2
            room.take(x - r, y - r, x + r, y + r)
        wanted = ring.labels(camera)
        for overlay in self.overlays:
            wanted += overlay.labels(camera)
        wanted += self.ground.labels(camera)
        wanted = [w for w in wanted if free.contains(w.x, w.y)]  # no name of what a sheet hides
        placed = place([w for w in wanted if w.rank <= Rank.POINTED], room, lettering.measure)
        for box in self.ground.place_boxes(camera):
            room.take(box.left(), box.top(), box.right(), box.bottom())
        level = detail(self.trees.spacing_m, camera.px_per_m, self.scale)
        if level.dial_scale is not None:
            rows = self.in_sight(camera)
            if len(rows) > MOST_NAMED:
                rows = rows[np.argsort(-self.trees.sizes[rows], kind="stable")[:MOST_NAMED]]
            at = camera.to_screen(self.trees.xy[rows])
            sizes = self.trees.sizes[rows]
            radii = np.array([level.radius_px(full_radius_px(s)) for s in sizes.tolist()])
            room.take_dials(at, radii)
            if level.names and self.names_shown:
                told = {*self.chosen, self.pointed, self.hovered}
                faded = self.trees.faded
                for row, (x, y), r in zip(rows.tolist(), at.tolist(), radii.tolist(), strict=True):
                    if row not in told and free.contains(x, y) and (faded is None or not faded[row]):
                        wanted.append(Label(self.trees.names[row], x, y, r, Rank.TREE))
        return placed + place([w for w in wanted if w.rank > Rank.POINTED], room, lettering.measure)

    def paint_whole(self, painter: QPainter, camera: Camera, lettering: Lettering) -> None:
        """Draw the map with lines, fills and text alone, so that it can be printed at any size."""
        painter.save()
        painter.setClipRect(QRectF(0, 0, camera.width, camera.height))
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        self.paint_below(painter, camera)
        self._paint_trees(painter, camera)
        self.paint_above(painter, camera)
        lettering.paint_outlines(painter, self.labels(camera, lettering))
        self.paint_attribution(painter, camera, NO_MARGINS)
        painter.restore()

    def _paint_trees(self, painter: QPainter, camera: Camera) -> None:
        trees = self.trees
        level = detail(trees.spacing_m, camera.px_per_m, self.scale)
        rows = self.in_sight(camera)
        rows = rows[np.argsort(trees.looks[rows], kind="stable")]
        for row, (x, y) in zip(rows.tolist(), camera.to_screen(trees.xy[rows]).tolist(), strict=True):
            verdict = CODES[int(trees.codes[row])]
            radius = level.radius_px(full_radius_px(float(trees.sizes[row])))
            painter.setOpacity(FADED if trees.faded is not None and trees.faded[row] else 1.0)
            if level.dial_scale is None:
                paint_dot(painter, QPointF(x, y), radius, verdict, self.theme)
            else:
                rest = float(trees.rest[row])
                paint_dial(painter, QPointF(x, y), radius, verdict, self.theme, rest if rest == rest else 0.0)
        painter.setOpacity(1.0)
