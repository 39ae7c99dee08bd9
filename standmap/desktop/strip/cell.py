"""How a season's cell is drawn: a bar of its verdicts, the year, a box around the chosen one."""

from __future__ import annotations

from PySide6.QtCore import QModelIndex, QObject, QPersistentModelIndex, QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFont, QPainter, QPen
from PySide6.QtWidgets import QStyle, QStyledItemDelegate, QStyleOptionViewItem

from standmap.desktop.desk import Desk
from standmap.desktop.strip.bar import stretches
from standmap.desktop.theme import Theme
from standmap.jobs.seasons import SeasonCounts, When
from standmap.rules.judgement import Verdict

BAR_PX = (56, 17)
"""Width and height of the bar."""

BAR_TOP_PX = 14
THIN_PX, THIN_GAP_PX = 3, 2
"""Height of the bar of a season without the plan, and how far it lies below."""
YEAR_TOP_PX = 36
BOX_MARGIN_PX = 4
MARK_FROM_PX = 9
"""A stretch as wide as this has room for its mark."""

AHEAD_STRENGTH = 0.6
"""How much of a fill is left in a season that has not come yet."""


def mixed(colour: str, ground: str, part: float) -> QColor:
    """Return a colour of which so much is left, laid over a ground."""
    a, b = QColor(colour), QColor(ground)
    return QColor.fromRgbF(*(part * x + (1 - part) * y for x, y in zip(_rgb(a), _rgb(b), strict=True)))


def _rgb(colour: QColor) -> tuple[float, float, float]:
    return colour.redF(), colour.greenF(), colour.blueF()


def bar_fill(theme: Theme, verdict: Verdict) -> str | None:
    """Return the fill of a verdict's stretch: that of its dial, but for resting the colour of the ring."""
    return theme.rest_ring if verdict is Verdict.RESTING else theme.fill(verdict)


class SeasonCell(QStyledItemDelegate):
    """Draws one season; the item's first user role holds its counts.

    Attributes
    ----------
    size
        Of every cell.
    """

    def __init__(self, desk: Desk, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._desk = desk
        self.size = QSize()

    def sizeHint(self, option: QStyleOptionViewItem, index: QModelIndex | QPersistentModelIndex) -> QSize:  # noqa: N802
        """Return the size that the strip gives every cell."""
        del option, index
        return self.size

    def paint(
        self, painter: QPainter, option: QStyleOptionViewItem, index: QModelIndex | QPersistentModelIndex
    ) -> None:
        """Draw the cell."""
        counted: SeasonCounts = index.data(Qt.ItemDataRole.UserRole)
        theme, scale = self._desk.theme, self._desk.settings.text_size_percent / 100
        state = option.state
        cell = QRectF(option.rect)
        chosen = counted.season == self._desk.season
        painter.save()
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        if chosen or state & QStyle.StateFlag.State_MouseOver:
            focused = bool(state & QStyle.StateFlag.State_HasFocus)
            self._box(painter, cell, theme, chosen=chosen, focused=focused)
        self._bar(painter, cell, counted, theme, scale, chosen=chosen)
        as_now: SeasonCounts | None = index.data(Qt.ItemDataRole.UserRole + 1)
        if as_now is not None:
            self._thin_bar(painter, cell, as_now, theme, scale)
        self._year(painter, cell, counted, theme, scale, chosen=chosen)
        painter.restore()

    def _box(self, painter: QPainter, cell: QRectF, theme: Theme, *, chosen: bool, focused: bool) -> None:
        m = BOX_MARGIN_PX
        box = cell.adjusted(m, m, -m, -m)
        edge = QPen(QColor(theme.accent), 2.5 if focused else 1.5)
        painter.setPen(edge if chosen else QPen(QColor(theme.hairline), 1))
        painter.setBrush(QColor(theme.chosen) if chosen else Qt.BrushStyle.NoBrush)
        painter.drawRoundedRect(box, 6, 6)

    def _bar(
        self, painter: QPainter, cell: QRectF, counted: SeasonCounts, theme: Theme, scale: float, *, chosen: bool
    ) -> None:
        width, height = round(BAR_PX[0] * scale), round(BAR_PX[1] * scale)
        left, top = round(cell.center().x() - width / 2), round(cell.top() + BAR_TOP_PX * scale)
        ahead = counted.when is When.AHEAD
        ink = mixed(theme.ink, theme.background, AHEAD_STRENGTH if ahead else 1.0)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, on=False)
        if chosen and theme.plates:
            painter.fillRect(QRectF(left - 2, top - 2, width + 5, height + 4), QColor(theme.panel))
        parts = stretches(counted.counts, width)
        for part in parts:
            fill = bar_fill(theme, part.verdict)
            strength = AHEAD_STRENGTH if ahead else 1.0
            colour = mixed(fill or theme.panel, theme.background, strength)
            painter.fillRect(left + part.start_px, top, part.width_px, height, colour)
        painter.setPen(QPen(ink, 1))
        for part in parts:
            _mark(painter, part.verdict, QRectF(left + part.start_px, top, part.width_px, height), scale)
        for part in parts[1:]:
            painter.drawLine(left + part.start_px, top, left + part.start_px, top + height - 1)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawRect(left, top, width, height - 1)

    def _thin_bar(self, painter: QPainter, cell: QRectF, as_now: SeasonCounts, theme: Theme, scale: float) -> None:
        """Draw below the bar how the season would stand without the plan."""
        width, height = round(BAR_PX[0] * scale), max(2, round(THIN_PX * scale))
        left = round(cell.center().x() - width / 2)
        top = round(cell.top() + (BAR_TOP_PX + BAR_PX[1] + THIN_GAP_PX) * scale)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, on=False)
        for part in stretches(as_now.counts, width):
            fill = bar_fill(theme, part.verdict)
            colour = mixed(fill or theme.hairline, theme.background, AHEAD_STRENGTH)
            painter.fillRect(left + part.start_px, top, part.width_px, height, colour)

    def _year(
        self, painter: QPainter, cell: QRectF, counted: SeasonCounts, theme: Theme, scale: float, *, chosen: bool
    ) -> None:
        now = counted.when is When.NOW
        font = QFont(painter.font())
        font.setPixelSize(round(12.5 * scale))
        font.setWeight(QFont.Weight.DemiBold if chosen or now else QFont.Weight.Normal)
        painter.setFont(font)
        painter.setPen(QColor(theme.on_chosen if chosen else theme.ink if now else theme.second_ink))
        line = QRectF(cell.left(), cell.top() + YEAR_TOP_PX * scale, cell.width(), 18 * scale)
        painter.drawText(line, Qt.AlignmentFlag.AlignCenter, str(counted.season))
        if now:
            half, y = 12 * scale, line.bottom() + 1
            mark = theme.on_chosen if chosen and theme.plates else theme.accent
            painter.fillRect(QRectF(cell.center().x() - half, y, 2 * half, 2 * scale), QColor(mark))


def _mark(painter: QPainter, verdict: Verdict, stretch: QRectF, scale: float) -> None:
    """Draw the mark that a dial of this verdict has where it has no fill, if there is room for it."""
    if stretch.width() < MARK_FROM_PX * scale:
        return
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    middle, half = stretch.center(), 3 * scale
    if verdict is Verdict.UNSURE:
        painter.setBrush(painter.pen().color())
        painter.drawEllipse(middle, 0.8 * scale, 0.8 * scale)
    elif verdict is Verdict.GROWING_ON:
        top = middle - QPointF(0, half / 2)
        painter.drawPolyline([top + QPointF(-half, half), top, top + QPointF(half, half)])
    elif verdict is Verdict.OFF_LIMITS:
        for aside in (-half, 0.0, half):
            across = QPointF(aside, 0)
            painter.drawLine(middle + across + QPointF(-half, half), middle + across + QPointF(half, -half))
    painter.restore()
