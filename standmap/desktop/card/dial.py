"""One dial as a widget, beside a verdict in words."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QSize
from PySide6.QtGui import QPainter, QPaintEvent
from PySide6.QtWidgets import QSizePolicy, QWidget

from standmap.desktop.canvas.dials import paint_dial
from standmap.desktop.theme import Theme
from standmap.rules.judgement import Verdict

RIM_PX = 1.5


class Dial(QWidget):
    """The dial of a verdict; the words beside it say the same, so it has no name of its own."""

    def __init__(self, theme: Theme, side_px: int = 24) -> None:
        super().__init__()
        self._theme = theme
        self._side = side_px
        self._verdict = Verdict.UNSURE
        self._rest = 0.0
        self.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Fixed)

    def tell(self, verdict: Verdict, rest: float, theme: Theme) -> None:
        """Show another verdict."""
        self._verdict, self._rest, self._theme = verdict, rest, theme
        self.update()

    def sizeHint(self) -> QSize:  # noqa: N802 - Qt's name
        """Return a square that grows with the text."""
        side = max(self._side, round(self._side * self.fontMetrics().height() / 16))
        return QSize(side, side)

    def paintEvent(self, _: QPaintEvent) -> None:  # noqa: N802 - Qt's name
        """Draw it."""
        painter = QPainter(self)
        middle = QPointF(self.width() / 2, self.height() / 2)
        radius = min(self.width(), self.height()) / 2 - RIM_PX
        paint_dial(painter, middle, radius, self._verdict, self._theme, self._rest, halo=False)
        painter.end()
