"""A volume with its spread as a thin bar: eight times of ten it lies in the thick part, the tick is the middle."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QWidget

from standmap.desktop.desk import Desk

HEIGHT_PX = 18
THICK_PX = 7.0
TICK_PX = 2.0


class SpreadBar(QWidget):
    """Shows least, middle and most on a line from nothing to all that there is room for."""

    def __init__(self, desk: Desk, name: str) -> None:
        super().__init__()
        self._desk = desk
        self.parts: tuple[float, float, float] = (0.0, 0.0, 0.0)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setAccessibleName(name)

    def show_spread(self, least: float, middle: float, most: float, room: float, said: str) -> None:
        """Show three figures up to `room`, the most that there can be; `said` tells them in words."""
        whole = max(room, most, 1e-9)
        self.parts = (least / whole, middle / whole, most / whole)
        self.setAccessibleDescription(said)
        self.setToolTip(said)
        self.update()

    def sizeHint(self) -> QSize:  # noqa: N802 - Qt's name
        """Return a height that grows with the text."""
        return QSize(200, round(HEIGHT_PX * self._desk.settings.text_size_percent / 100))

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802 - Qt's name
        """Draw it."""
        del event
        theme, scale = self._desk.theme, self._desk.settings.text_size_percent / 100
        left, middle, right = (part * self.width() for part in self.parts)
        thick, level, edge = THICK_PX * scale, self.height() / 2, TICK_PX * scale
        middle = min(max(middle, edge), self.width() - edge)
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(QPen(QColor(theme.second_ink), 1.0))
        painter.drawLine(QPointF(0, level), QPointF(self.width(), level))
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(theme.accent))
        painter.drawRoundedRect(QRectF(left, level - thick / 2, max(right - left, 2.0), thick), 2, 2)
        painter.setPen(QPen(QColor(theme.panel), (TICK_PX + 3) * scale))
        painter.drawLine(QPointF(middle, level - thick), QPointF(middle, level + thick))
        painter.setPen(QPen(QColor(theme.ink), TICK_PX * scale))
        painter.drawLine(QPointF(middle, level - thick), QPointF(middle, level + thick))
        painter.end()
