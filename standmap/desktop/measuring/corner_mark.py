"""A small sheet in the corner of the map with north and scale; there when asked for, or when the map is turned."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QWidget

from standmap.desktop.canvas.canvas import MapCanvas
from standmap.desktop.measuring.signs import draw_bar, draw_north
from standmap.desktop.measuring.told import north_text
from standmap.desktop.theme import MARGIN_PX, Theme
from standmap.desktop.words import tr
from standmap.survey.north import Declination
from standmap.survey.scale_bar import scale_bar
from standmap.units_shown import UnitsShown

BAR_PX = 132
NEEDLE_PX = 22
PADDING_PX = 12


class CornerMark(QWidget):
    """North and scale over the map; the pointer goes through it.

    Parameters
    ----------
    north
        Returns where a compass points in this stand today; None where that is not known.
    units
        Returns the person's units.
    theme
        Returns the look.
    """

    def __init__(
        self,
        canvas: MapCanvas,
        north: Callable[[], Declination | None],
        units: Callable[[], UnitsShown],
        theme: Callable[[], Theme],
    ) -> None:
        super().__init__(canvas)
        self._canvas = canvas
        self._north = north
        self._units = units
        self._theme = theme
        self.wanted = False
        self.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        canvas.view_changed.connect(self.follow)
        self.follow()

    def toggle(self) -> None:
        """Show it, or hide it."""
        self.wanted = not self.wanted
        self.follow()

    def follow(self) -> None:
        """Be there or not, in the free corner of the map, as the view is now."""
        turned = abs((self._canvas.camera.turn_deg + 180) % 360 - 180) > 0.05
        self.setVisible(self.wanted or turned)
        if not (self.wanted or turned):
            return
        left, _, _, bottom = self._canvas.margins
        metrics = QFontMetricsF(self.font())
        lines = self._lines()
        words = max((metrics.horizontalAdvance(t) for t in lines), default=0.0)
        wide = round(2 * PADDING_PX + 3.2 * NEEDLE_PX + max(BAR_PX, words))
        high = round(2 * PADDING_PX + max(3.1 * NEEDLE_PX, metrics.height() * (2.2 + len(lines))))
        foot = self._canvas.height() - round(bottom) - MARGIN_PX
        self.setGeometry(round(left) + MARGIN_PX, foot - high, wide, high)
        self.setAccessibleName(tr("north and scale"))
        self.setAccessibleDescription("; ".join([self._bar()[1], *lines]))
        self.update()

    def _lines(self) -> list[str]:
        north = self._north()
        lines = [] if north is None else [north_text(north)]
        turn = round(self._canvas.camera.turn_deg) % 360
        return [*lines, tr("{degrees}° is up", degrees=f"{turn:03d}")] if turn else lines

    def _bar(self) -> tuple[float, str]:
        """Return the length in pixels and the words of the scale bar."""
        px_per_m = self._canvas.camera.px_per_m
        bar = scale_bar(BAR_PX / px_per_m, self._units())
        return bar.metres * px_per_m, bar.text

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802 - Qt's name
        """Draw the sheet."""
        del event
        theme, north = self._theme(), self._north()
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(QPen(QColor(theme.hairline), 1))
        painter.setBrush(QColor(theme.panel))
        painter.drawRoundedRect(self.rect().adjusted(0, 0, -1, -1), 8, 8)
        ink, second = QColor(theme.ink), QColor(theme.second_ink)
        middle = QPointF(PADDING_PX + 1.5 * NEEDLE_PX, self.height() / 2)
        declination = None if north is None else north.deg
        draw_north(painter, middle, NEEDLE_PX, self._canvas.camera.turn_deg, declination, ink, second, tr("N"))
        length, text = self._bar()
        left = PADDING_PX + 3.2 * NEEDLE_PX
        metrics = QFontMetricsF(self.font())
        lines = self._lines()
        top = (self.height() - metrics.height() * (1.6 + len(lines))) / 2
        painter.setPen(ink)
        draw_bar(painter, left, top + 1.5 * metrics.height(), length, text, ink)
        painter.setPen(second)
        down = top + 1.6 * metrics.height() + metrics.ascent() + 2
        for line in lines:
            painter.drawText(QPointF(left, down), line)
            down += metrics.height()
