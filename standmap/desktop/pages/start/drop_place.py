"""The place on the start where a stand may be dropped."""

from __future__ import annotations

from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QPushButton, QVBoxLayout, QWidget

from standmap.desktop.desk import Desk
from standmap.desktop.kit import label
from standmap.desktop.theme import CORNER_PX
from standmap.desktop.words import tr


class DropPlace(QWidget):
    """A dashed field that lights up while a file is held over it, and a way to choose one instead."""

    def __init__(self, desk: Desk, choose: QPushButton) -> None:
        super().__init__()
        self._desk = desk
        self._lit = False
        down = QVBoxLayout(self)
        down.setContentsMargins(20, 24, 20, 24)
        down.setSpacing(4)
        asked = label(tr("drop a stand here"), "strong")
        asked.setAlignment(Qt.AlignmentFlag.AlignHCenter)
        down.addWidget(asked)
        down.addWidget(choose, 0, Qt.AlignmentFlag.AlignHCenter)

    def light(self, on: bool) -> None:
        """Show whether a file is held over it."""
        self._lit = on
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802 - Qt's name
        """Draw the dashed edge."""
        del event
        theme = self._desk.theme
        with QPainter(self) as painter:
            painter.setRenderHint(QPainter.RenderHint.Antialiasing)
            pen = QPen(QColor(theme.accent if self._lit else theme.second_ink), 2.0 if self._lit else 1.2)
            pen.setDashPattern([4, 4])
            painter.setPen(pen)
            painter.setBrush(QColor(theme.soft_accent if self._lit else theme.panel))
            painter.drawRoundedRect(QRectF(self.rect()).adjusted(1, 1, -1, -1), CORNER_PX, CORNER_PX)
