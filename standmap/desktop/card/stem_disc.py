"""The stem disc: a stem seen from above in plain ink, with the holes made in it."""

from __future__ import annotations

import math
from collections.abc import Mapping

from PySide6.QtCore import QEvent, QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QHelpEvent, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QToolTip, QWidget

from standmap.desktop.card.stem_view import Mark, StemView, stem_view
from standmap.desktop.theme import Theme
from standmap.desktop.words import tr
from standmap.jobs.tree_facts import HoleFacts

RADIUS_PX = 84.0
"""Radius of the largest stem, at a text size of 100 %."""

BARK_PX = 4.0
LABEL_GAP_PX = 8.0
LEAST_DEPTH_PX = 5.0
LEAST_WIDTH_PX = 3.5
SLIT_DEG = 14.0
"""How far a slit is drawn along the bark."""

NEXT_PX = 5.0
NEAR_PX = 10.0
LEFT_STRENGTH = 0.28
"""How dark wood without sap is drawn, 0 to 1."""


class StemDisc(QWidget):
    """Draws where each hole of a stem goes in: to the scale of its girth, north up."""

    def __init__(self, theme: Theme) -> None:
        super().__init__()
        self._theme = theme
        self._view: StemView = stem_view(None, ())
        self._holes: tuple[HoleFacts, ...] = ()
        self._lines: Mapping[str, str] = {}
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Fixed)
        self.setAccessibleName(tr("stem seen from above"))

    @property
    def view(self) -> StemView:
        """What is drawn."""
        return self._view

    def show_stem(
        self,
        view: StemView,
        holes: tuple[HoleFacts, ...],
        lines: Mapping[str, str],
        theme: Theme,
    ) -> None:
        """Draw another stem; `lines` are what is told of each hole, by its key."""
        self._view, self._holes, self._lines, self._theme = view, holes, lines, theme
        told = [lines[hole.key] for hole in holes]
        self.setAccessibleDescription("; ".join(told) if told else tr("no hole on record"))
        self.updateGeometry()
        self.update()

    @property
    def _scale(self) -> float:
        """How much larger than usual the text is."""
        return max(1.0, self.fontMetrics().height() / 16.0)

    def sizeHint(self) -> QSize:  # noqa: N802 - Qt's name
        """Return the size of the stem with its labels around it."""
        radius = RADIUS_PX * self._scale * self._view.size
        around = 2 * (LABEL_GAP_PX + self.fontMetrics().height() + 2)
        return QSize(round(2 * radius + 100), math.ceil(2 * radius + around))

    def minimumSizeHint(self) -> QSize:  # noqa: N802 - Qt's name
        """Return a size that is never narrower than the stem."""
        hint = self.sizeHint()
        return QSize(round(2 * RADIUS_PX * self._view.size * self._scale), hint.height())

    def _middle(self) -> tuple[QPointF, float]:
        return QPointF(self.width() / 2, self.height() / 2), RADIUS_PX * self._scale * self._view.size

    def paintEvent(self, _: QPaintEvent) -> None:  # noqa: N802 - Qt's name
        """Draw the bark, the holes, their years and north."""
        painter = QPainter(self)
        self.draw(painter)
        painter.end()

    def draw(self, painter: QPainter) -> None:
        """Draw the same on anything that can be drawn on."""
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        middle, radius = self._middle()
        ink, faint = QColor(self._theme.ink), QColor(self._theme.second_ink)
        style = Qt.PenStyle.SolidLine if self._view.measured else Qt.PenStyle.DashLine
        painter.setPen(QPen(ink, 1.6, style))
        painter.drawEllipse(middle, radius, radius)
        painter.setPen(QPen(QColor(self._theme.hairline), 1.0))
        painter.drawEllipse(middle, radius - BARK_PX, radius - BARK_PX)
        for mark in self._view.marks:
            self._paint_left(painter, middle, radius, mark)
        for mark in self._view.marks:
            self._paint_mark(painter, middle, radius, mark)
        if self._view.next_deg is not None:
            self._paint_next(painter, middle, radius, self._view.next_deg)
        painter.setPen(faint)
        self._paint_text(painter, middle, radius, 0.0, tr("N"))
        painter.setPen(ink)
        for label in self._view.labels:
            self._paint_text(painter, middle, radius, label.angle_deg, label.text)

    def _paint_left(self, painter: QPainter, middle: QPointF, radius: float, mark: Mark) -> None:
        """Draw the wood that a hole left without sap: full within a new hole's reach, in outline where it is buried."""
        if not mark.left_depth:
            return
        wood = radius - BARK_PX
        wide, deep = mark.left_width * wood, mark.left_depth * wood
        tint = QColor(self._theme.second_ink)
        painter.save()
        painter.translate(middle)
        painter.rotate(mark.angle_deg)
        if mark.buried:
            painter.setPen(QPen(tint, 1.0, Qt.PenStyle.DotLine))
        else:
            tint.setAlphaF(LEFT_STRENGTH)
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(tint)
        painter.drawRect(QRectF(-wide / 2, -wood * (1 - mark.cover), wide, deep))
        painter.restore()

    def _paint_next(self, painter: QPainter, middle: QPointF, radius: float, angle_deg: float) -> None:
        """Mark the side on which the next hole has most room, on the bark."""
        painter.save()
        painter.translate(middle)
        painter.rotate(angle_deg)
        painter.translate(0, -radius + BARK_PX / 2)
        size = NEXT_PX * self._scale
        painter.setPen(QPen(QColor(self._theme.accent), 2.0))
        painter.setBrush(QColor(self._theme.panel))
        painter.drawEllipse(QPointF(0, 0), size, size)
        painter.drawLine(QPointF(-size, 0), QPointF(size, 0))
        painter.drawLine(QPointF(0, -size), QPointF(0, size))
        painter.restore()

    def _paint_mark(self, painter: QPainter, middle: QPointF, radius: float, mark: Mark) -> None:
        ink = QColor(self._theme.ink)
        wood = radius - BARK_PX
        deep = max(mark.depth * wood, LEAST_DEPTH_PX)
        wide = max(mark.width * wood, LEAST_WIDTH_PX)
        painter.save()
        painter.translate(middle)
        painter.rotate(mark.angle_deg)
        if mark.slit:
            painter.setPen(QPen(ink, 3.0, Qt.PenStyle.SolidLine, Qt.PenCapStyle.FlatCap))
            edge = radius - BARK_PX / 2
            box = QRectF(-edge, -edge, 2 * edge, 2 * edge)
            painter.drawArc(box, round((90 - SLIT_DEG / 2) * 16), round(SLIT_DEG * 16))
        else:
            painter.setPen(QPen(ink, 1.4))
            painter.setBrush(QColor(self._theme.panel) if mark.open else ink)
            # A hole that nothing has grown over goes through the bark.
            begin = -wood * (1 - mark.cover) if mark.cover else -radius
            painter.drawRect(QRectF(-wide / 2, begin, wide, deep if mark.cover else BARK_PX + deep))
        painter.restore()

    def _paint_text(self, painter: QPainter, middle: QPointF, radius: float, angle_deg: float, text: str) -> None:
        """Write a text outside the bark, so that its nearest edge keeps the same distance all round."""
        metrics = QFontMetricsF(painter.font())
        wide, high = metrics.horizontalAdvance(text), metrics.height()
        turn = math.radians(angle_deg)
        east, up = math.sin(turn), math.cos(turn)
        reach = radius + LABEL_GAP_PX
        x = middle.x() + east * (reach + wide / 2)
        y = middle.y() - up * (reach + high / 2)
        north = metrics.horizontalAdvance(tr("N"))
        beside = (wide + north) / 2 + LABEL_GAP_PX
        if text != tr("N") and up > 0 and y < middle.y() - radius and abs(x - middle.x()) < beside:
            x = middle.x() + math.copysign(beside, math.sin(turn) or 1.0)  # not over the N
        x = min(max(x, wide / 2), self.width() - wide / 2)
        painter.drawText(QRectF(x - wide / 2 - 1, y - high / 2, wide + 2, high), Qt.AlignmentFlag.AlignCenter, text)

    def event(self, event: QEvent) -> bool:
        """Tell of the hole under the pointer."""
        if isinstance(event, QHelpEvent) and event.type() is QEvent.Type.ToolTip:
            text = self._told_at(QPointF(event.pos()))
            QToolTip.showText(event.globalPos(), text, self)
            return True
        return super().event(event)

    def _told_at(self, pos: QPointF) -> str:
        middle, radius = self._middle()
        lines = []
        for hole in self._holes:
            if hole.side_deg is not None:
                turn = math.radians(hole.side_deg)
                at = middle + QPointF(math.sin(turn), -math.cos(turn)) * (radius - 8)
                if math.hypot(pos.x() - at.x(), pos.y() - at.y()) <= NEAR_PX:
                    lines.append(self._lines[hole.key])
        return "\n".join(lines)
