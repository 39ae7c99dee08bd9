"""A tree's name in one line, cut short where there is no room for it; the whole of it is its tip."""

from __future__ import annotations

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QPainter, QPaintEvent
from PySide6.QtWidgets import QLabel, QSizePolicy


class NameLabel(QLabel):
    """The name of a line in a narrow grid."""

    def __init__(self, name: str) -> None:
        super().__init__(name)
        self.setProperty("role", "text")
        self.setTextFormat(Qt.TextFormat.PlainText)  # what a person typed is never markup
        self.setToolTip(name)
        self.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Preferred)

    def minimumSizeHint(self) -> QSize:  # noqa: N802 - Qt's name
        """Return that it may be as narrow as there is room."""
        return QSize(24, super().minimumSizeHint().height())

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802 - Qt's name
        """Draw as much of the name as there is room for."""
        del event
        text = self.fontMetrics().elidedText(self.text(), Qt.TextElideMode.ElideRight, self.width())
        painter = QPainter(self)
        painter.setPen(self.palette().color(self.foregroundRole()))
        painter.drawText(self.rect(), int(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter), text)
        painter.end()
