"""What is chosen: a ring around the dial, and four short ticks at the tree that is on the card."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QColor, QPainter, QPen

from standmap.desktop.canvas.camera import Camera
from standmap.desktop.canvas.dials import paint_dial
from standmap.desktop.canvas.labels import Label, Rank
from standmap.desktop.canvas.trees import Trees, full_radius_px
from standmap.desktop.theme import Theme
from standmap.rules.columns import CODES

RING_OFF_PX = 4.5
TICK_PX = 5.0
POINTED_OFF_PX = 9.0
MOST_RINGS = 60
"""Of more chosen trees the dials themselves tell it: see `Trees.marked`."""

_SLANT = 0.5**0.5


@dataclass(frozen=True, slots=True, eq=False)
class ChosenRing:
    """An overlay: the chosen trees, drawn in full from however far away.

    Attributes
    ----------
    rows
        The chosen trees; the last is on the card.
    pointed
        The tree that the keyboard stands on, or None.
    hovered
        The tree under the pointer, or None.
    """

    trees: Trees
    rows: Sequence[int]
    pointed: int | None = None
    hovered: int | None = None
    scale: float = 1.0

    @property
    def ringed(self) -> Sequence[int]:
        """The trees that get a ring of their own: the last one last."""
        return self.rows if len(self.rows) <= MOST_RINGS else self.rows[-1:]

    def ring_px(self, row: int) -> float:
        """Return the radius of the ring of a tree, logical pixels."""
        return self.scale * (full_radius_px(float(self.trees.sizes[row])) + RING_OFF_PX)

    def places(self, camera: Camera, rows: Sequence[int]) -> list[tuple[int, float, float]]:
        """Return which of these trees are in sight, and where in the view."""
        if not len(rows):
            return []
        at = camera.to_screen(self.trees.xy[list(rows)]).tolist()
        return [
            (row, x, y)
            for row, (x, y) in zip(rows, at, strict=True)
            if -40 < x < camera.width + 40 and -40 < y < camera.height + 40
        ]

    def paint(self, painter: QPainter, camera: Camera, theme: Theme) -> None:
        """Draw dials, rings and ticks."""
        painter.save()
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        card = self.rows[-1] if len(self.rows) else None
        for row, x, y in self.places(camera, self.ringed):
            self._paint_ring(painter, QPointF(x, y), row, theme, ticks=row == card)
        if self.pointed is not None:
            for row, x, y in self.places(camera, [self.pointed]):
                pen = QPen(QColor(theme.accent), 2.0)
                pen.setDashPattern([2.0, 1.6])
                away = self.scale * (full_radius_px(float(self.trees.sizes[row])) + POINTED_OFF_PX)
                painter.setBrush(Qt.BrushStyle.NoBrush)
                for each in (QPen(QColor(theme.ground), 4.0), pen):
                    painter.setPen(each)
                    painter.drawEllipse(QPointF(x, y), away, away)
        painter.restore()

    def _paint_ring(self, painter: QPainter, at: QPointF, row: int, theme: Theme, *, ticks: bool) -> None:
        ring = self.ring_px(row)
        painter.setBrush(QColor(theme.ground))
        painter.setPen(Qt.PenStyle.NoPen)
        painter.drawEllipse(at, ring, ring)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        for colour, width in ((theme.ground, 5.0), (theme.ink, 1.8)):
            pen = QPen(QColor(colour), width)
            pen.setCapStyle(Qt.PenCapStyle.RoundCap)
            painter.setPen(pen)
            painter.drawEllipse(at, ring, ring)
            if ticks:
                for right, down in ((1, 1), (1, -1), (-1, 1), (-1, -1)):
                    along = QPointF(right * _SLANT, down * _SLANT)
                    painter.drawLine(at + along * (ring - 2.0), at + along * (ring + TICK_PX - 1.0))
        rest = float(self.trees.rest[row])
        verdict = CODES[int(self.trees.codes[row])]
        radius = self.scale * full_radius_px(float(self.trees.sizes[row]))
        paint_dial(painter, at, radius, verdict, theme, rest if rest == rest else 0.0, halo=False)

    def labels(self, camera: Camera) -> list[Label]:
        """Return the names of the tree on the card and the one pointed at, then of the others chosen."""
        card = self.rows[-1] if len(self.rows) else None
        found = []
        for row in dict.fromkeys([*self.ringed[::-1], *(r for r in (self.pointed, self.hovered) if r is not None)]):
            rank = Rank.CHOSEN if row == card else Rank.POINTED
            ringed = self.ring_px(row) + TICK_PX * (row == card)
            for _, x, y in self.places(camera, [row]):
                found.append(Label(self.trees.names[row], x, y, ringed, rank, strong=True))
        return found
