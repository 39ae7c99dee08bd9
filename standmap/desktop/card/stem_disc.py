"""The stem disc: a stem seen from above in plain ink, with the holes made in it."""

from __future__ import annotations

import math

from PySide6.QtCore import QEvent, QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QHelpEvent, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QToolTip, QWidget

from standmap.desktop.card.stem_view import Mark, StemView, stem_view
from standmap.desktop.card.wording import hole_line
from standmap.desktop.theme import Theme
from standmap.desktop.words import tr
from standmap.jobs.tree_facts import HoleFacts
from standmap.units_shown import UnitsShown

RADIUS_PX = 66.0
"""Radius of the largest stem, at a text size of 100 %."""

BARK_PX = 4.0
LABEL_GAP_PX = 8.0
LEAST_DEPTH_PX = 5.0
LEAST_WIDTH_PX = 3.5
SLIT_DEG = 14.0
"""How far a slit is drawn along the bark."""

NEAR_PX = 10.0


class StemDisc(QWidget):
    """Draws where each hole of a stem goes in: to the scale of its girth, north up."""

    def __init__(self, theme: Theme) -> None:
        super().__init__()
        self._theme = theme
        self._view: StemView = stem_view(None, ())
        self._holes: tuple[HoleFacts, ...] = ()
        self._units = UnitsShown()
        self._this_season = 0
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Fixed)
        self.setAccessibleName(tr("stem seen from above"))

    @property
    def view(self) -> StemView:
        """What is drawn."""
        return self._view

    def show_stem(
        self,
        girth_mm: float | None,
        holes: tuple[HoleFacts, ...],
        units: UnitsShown,
        this_season: int,
        theme: Theme,
    ) -> None:
        """Draw another stem."""
        self._this_season = this_season
        self._view, self._holes, self._units, self._theme = stem_view(girth_mm, holes), holes, units, theme
        lines = [hole_line(hole, units, this_season) for hole in holes]
        self.setAccessibleDescription("; ".join(lines) if lines else tr("no hole on record"))
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
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        middle, radius = self._middle()
        ink, faint = QColor(self._theme.ink), QColor(self._theme.second_ink)
        style = Qt.PenStyle.SolidLine if self._view.measured else Qt.PenStyle.DashLine
        painter.setPen(QPen(ink, 1.6, style))
        painter.drawEllipse(middle, radius, radius)
        painter.setPen(QPen(QColor(self._theme.hairline), 1.0))
        painter.drawEllipse(middle, radius - BARK_PX, radius - BARK_PX)
        for mark in self._view.marks:
            self._paint_mark(painter, middle, radius, mark)
        painter.setPen(faint)
        self._paint_text(painter, middle, radius, 0.0, tr("N"))
        painter.setPen(ink)
        for label in self._view.labels:
            self._paint_text(painter, middle, radius, label.angle_deg, label.text)
        painter.end()

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
            painter.drawRect(QRectF(-wide / 2, -radius, wide, BARK_PX + deep))
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
                    lines.append(hole_line(hole, self._units, self._this_season))
        return "\n".join(lines)
