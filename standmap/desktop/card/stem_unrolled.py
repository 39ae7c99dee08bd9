"""The stem unrolled, in plain ink: old holes, what they left without sap, and where the next has most room."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping

from PySide6.QtCore import QEvent, QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QHelpEvent, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QToolTip, QWidget

from standmap.desktop.card.stem_disc import LEFT_STRENGTH, NEAR_PX
from standmap.desktop.card.unrolled_view import OldMark, UnrolledView
from standmap.desktop.theme import Theme
from standmap.desktop.words import tr
from standmap.units_shown import UnitsShown

TALL_PX = 190.0
"""Height of the sheet at a text size of 100 %; its width follows to the same scale, within the card."""

LEFT_PX, BELOW_PX, ABOVE_PX = 52.0, 18.0, 6.0
DOT_PX = 3.0
RING_PX = 6.0


At = Callable[[float, float], QPointF]
"""From part of the girth and height to a point of the drawing."""


class StemUnrolled(QWidget):
    """Draws the bark from north round to north, to one scale both ways where there is room."""

    def __init__(self, theme: Theme) -> None:
        super().__init__()
        self._theme = theme
        self._view: UnrolledView | None = None
        self._units = UnitsShown()
        self._lines: Mapping[str, str] = {}
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Fixed)
        self.setAccessibleName(tr("stem unrolled"))
        self.hide()

    @property
    def view(self) -> UnrolledView | None:
        """What is drawn."""
        return self._view

    def show_stem(
        self, view: UnrolledView | None, told: str, lines: Mapping[str, str], units: UnitsShown, theme: Theme
    ) -> None:
        """Draw another stem; `told` says in words what is drawn, `lines` by its key what is told of each hole."""
        self._view, self._units, self._theme, self._lines = view, units, theme, lines
        self.setAccessibleDescription(told)
        self.setVisible(view is not None)
        self.updateGeometry()
        self.update()

    @property
    def _scale(self) -> float:
        return max(1.0, self.fontMetrics().height() / 16.0)

    def sizeHint(self) -> QSize:  # noqa: N802 - Qt's name
        """Return the size of the sheet with its measures beside it."""
        around = (BELOW_PX + ABOVE_PX) * self._scale
        return QSize(200, round(TALL_PX * self._scale + around))

    def _sheet(self, view: UnrolledView) -> QRectF:
        """Return where the bark lies: to scale, as wide as the card lets it be."""
        scale = self._scale
        high = self.height() - (BELOW_PX + ABOVE_PX) * scale
        room = self.width() - LEFT_PX * scale - 4
        wide = min(room, high * view.girth_mm / (view.high_mm - view.low_mm))
        return QRectF(LEFT_PX * scale, ABOVE_PX * scale, max(wide, 40.0), high)

    def paintEvent(self, _: QPaintEvent) -> None:  # noqa: N802 - Qt's name
        """Draw the sheet, the band, old holes and the next place."""
        painter = QPainter(self)
        self.draw(painter)
        painter.end()

    def draw(self, painter: QPainter) -> None:
        """Draw the same on anything that can be drawn on."""
        view = self._view
        if view is None:
            return
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        sheet = self._sheet(view)
        at = self._at(view, sheet)
        ink, faint = QColor(self._theme.ink), QColor(self._theme.second_ink)
        painter.setPen(QPen(QColor(self._theme.hairline), 1.0))
        painter.drawRect(sheet)
        painter.setPen(QPen(faint, 1.0, Qt.PenStyle.DashLine))
        for height in view.band_mm:
            painter.drawLine(at(0, height), at(1, height))
        self._write(painter, sheet, view, at)
        painter.save()
        painter.setClipRect(sheet)
        for mark in view.old:
            self._paint_left(painter, mark, view, at)
        self._paint_clearance(painter, view, at, sheet)
        painter.restore()
        painter.setPen(QPen(ink, 1.4))
        for mark in view.old:
            spot = at(mark.around, mark.height_mm)
            if mark.slit:
                painter.drawLine(spot + QPointF(-4, 4), spot + QPointF(4, -4))
            else:
                painter.setBrush(Qt.BrushStyle.NoBrush if mark.buried else ink)
                painter.drawEllipse(spot, DOT_PX, DOT_PX)
        self._write_years(painter, view, at, sheet)
        if view.next_around is not None and view.next_height_mm is not None:
            spot = at(view.next_around, view.next_height_mm)
            painter.setBrush(QColor(self._theme.panel))
            painter.setPen(QPen(QColor(self._theme.accent), 2.0))
            painter.drawEllipse(spot, RING_PX, RING_PX)
            painter.drawLine(spot + QPointF(-RING_PX, 0), spot + QPointF(RING_PX, 0))
            painter.drawLine(spot + QPointF(0, -RING_PX), spot + QPointF(0, RING_PX))

    def _paint_left(self, painter: QPainter, mark: OldMark, view: UnrolledView, at: At) -> None:
        """Draw what a hole left, on both edges where it reaches over north."""
        if not mark.wide:
            return
        painter.setPen(Qt.PenStyle.NoPen)
        tint = QColor(self._theme.second_ink)
        if mark.buried:
            painter.setPen(QPen(tint, 1.0, Qt.PenStyle.DotLine))
            painter.setBrush(Qt.BrushStyle.NoBrush)
        else:
            tint.setAlphaF(LEFT_STRENGTH)
            painter.setBrush(tint)
        for turn in _turns(mark):
            low, high = mark.height_mm - mark.long_mm / 2, mark.height_mm + mark.long_mm / 2
            painter.drawRect(
                QRectF(
                    at(turn - mark.wide / 2, min(high, view.high_mm)), at(turn + mark.wide / 2, max(low, view.low_mm))
                )
            )

    def _paint_clearance(self, painter: QPainter, view: UnrolledView, at: At, sheet: QRectF) -> None:
        """Draw how far round the next place no old hole is, again on the other edge where it reaches over north."""
        if view.next_around is None or view.next_height_mm is None or view.clearance_mm is None:
            return
        wide = view.clearance_mm / view.girth_mm * sheet.width()
        high = view.clearance_mm / (view.high_mm - view.low_mm) * sheet.height()
        painter.setPen(QPen(QColor(self._theme.accent), 1.0, Qt.PenStyle.DotLine))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        for turn in (-1, 0, 1):
            painter.drawEllipse(at(view.next_around + turn, view.next_height_mm), wide, high)

    def _write_years(self, painter: QPainter, view: UnrolledView, at: At, sheet: QRectF) -> None:
        """Write the year of each hole beside it, the newest first; one that would cover another is left out."""
        painter.setPen(QColor(self._theme.ink))
        metrics = painter.fontMetrics()
        taken: list[QRectF] = []
        for mark in view.old:
            spot = at(mark.around, mark.height_mm)
            wide, high = metrics.horizontalAdvance(mark.year) + 2.0, float(metrics.height())
            right = spot.x() + RING_PX + wide < sheet.right()
            box = QRectF(spot.x() + RING_PX if right else spot.x() - RING_PX - wide, spot.y() - high / 2, wide, high)
            if not any(box.adjusted(0, 2, 0, -2).intersects(other) for other in taken):
                painter.drawText(box, Qt.AlignmentFlag.AlignCenter, mark.year)
                taken.append(box)

    def event(self, event: QEvent) -> bool:
        """Tell of the hole under the pointer."""
        if isinstance(event, QHelpEvent) and event.type() is QEvent.Type.ToolTip:
            QToolTip.showText(event.globalPos(), self.told_at(QPointF(event.pos())), self)
            return True
        return super().event(event)

    def told_at(self, pos: QPointF) -> str:
        """Return what is told of the holes at a point of the drawing."""
        view = self._view
        if view is None:
            return ""
        at = self._at(view, self._sheet(view))
        near = [m for m in view.old if (at(m.around, m.height_mm) - pos).manhattanLength() <= NEAR_PX]
        return "\n".join(self._lines[m.key] for m in near if m.key in self._lines)

    @staticmethod
    def _at(view: UnrolledView, sheet: QRectF) -> At:
        def at(around: float, height_mm: float) -> QPointF:
            part = (height_mm - view.low_mm) / (view.high_mm - view.low_mm)
            return QPointF(sheet.left() + around * sheet.width(), sheet.bottom() - part * sheet.height())

        return at

    def _write(self, painter: QPainter, sheet: QRectF, view: UnrolledView, at: At) -> None:
        """Write the sides below and the heights of the band beside."""
        painter.setPen(QColor(self._theme.second_ink))
        high = painter.fontMetrics().height()
        for part, name in ((0.0, tr("N")), (0.25, tr("E")), (0.5, tr("S")), (0.75, tr("W")), (1.0, tr("N"))):
            x = sheet.left() + part * sheet.width()
            painter.drawText(QRectF(x - 20, sheet.bottom() + 1, 40, high), Qt.AlignmentFlag.AlignCenter, name)
        right = int(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
        for height in view.band_mm:
            y = at(0, height).y()
            text = self._units.height(height)
            painter.drawText(QRectF(0, y - high / 2, sheet.left() - 6, high), right, text)


def _turns(mark: OldMark) -> Iterator[float]:
    """Return where a mark lies, and where again on the other edge."""
    yield mark.around
    if mark.around - mark.wide / 2 < 0:
        yield mark.around + 1
    if mark.around + mark.wide / 2 > 1:
        yield mark.around - 1
