"""The map with what floats over it: the page's panel at the left, the tree card at the right, notices below."""

from __future__ import annotations

from PySide6.QtCore import QRect, Qt
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QApplication, QWidget

from standmap.desktop.canvas.canvas import MapCanvas
from standmap.desktop.desk import Desk
from standmap.desktop.notices import Notices, WorkLine
from standmap.desktop.theme import MARGIN_PX, PANEL_PX

NARROW_PX = 1100
"""Below this width the card lies over the panel, so that the map keeps half of the width."""


class MapArea(QWidget):
    """Lays out the map and the sheets over it, and tells the map which part of it is in sight.

    Parameters
    ----------
    scale
        Size of the text, 1.0 to 2.0: the sheets grow with it.
    """

    def __init__(self, desk: Desk, canvas: MapCanvas, card: QWidget, scale: float) -> None:
        super().__init__()
        self._canvas = canvas
        self._card = card
        self._scale = scale
        self._panel: QWidget | None = None
        self._cover: QWidget | None = None
        canvas.setParent(self)
        card.setParent(self)
        self.notices = Notices(desk, self)
        self.work_line = WorkLine(desk, self)
        card.hide()
        self._card_wanted = False
        QApplication.instance().focusChanged.connect(self._focus_moved)  # type: ignore[union-attr]

    def show_panel(self, panel: QWidget | None) -> None:
        """Show a page's panel in place of the one shown."""
        if self._panel is not None and self._panel is not panel:
            self._panel.hide()
        self._panel = panel
        if panel is not None:
            panel.setParent(self)
            panel.show()
        self._lay_out()

    def show_card(self, shown: bool) -> None:
        """Show or hide the tree card; where it would cover the panel that is being worked in, it waits for the map."""
        self._card_wanted = shown
        self._focus_moved(None, QApplication.focusWidget())
        self._lay_out()

    def bring_card(self) -> None:
        """Show the card, over the panel where there is no other room, and go to it."""
        if self._card_wanted:
            self._card.show()
            self._lay_out()
            self._card.setFocus(Qt.FocusReason.ShortcutFocusReason)

    def _focus_moved(self, _: QWidget | None, now: QWidget | None) -> None:
        in_panel = self._panel is not None and now is not None and self._panel.isAncestorOf(now)
        shown = self._card_wanted and not (in_panel and self._is_narrow())
        if shown != self._card.isVisibleTo(self):
            self._card.setVisible(shown)
            self._lay_out()

    def _is_narrow(self) -> bool:
        # Room for the sheet at the left, the one at the right, and as much map as both together take.
        both = 2 * round(PANEL_PX * self._scale) + 2 * MARGIN_PX
        return self.width() < max(NARROW_PX, 2 * both if self._scale > 1 else 0)

    def cover(self, sheet: QWidget | None) -> None:
        """Lay a sheet over everything, such as the start, or take it off."""
        if self._cover is not None and self._cover is not sheet:
            self._cover.hide()
        self._cover = sheet
        if sheet is not None:
            sheet.setParent(self)
            sheet.show()
            sheet.raise_()
        self._lay_out()

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802 - Qt's name
        """Lay out anew."""
        super().resizeEvent(event)
        self._lay_out()

    def _lay_out(self) -> None:
        whole = self.rect()
        wide = min(round(PANEL_PX * self._scale), max(whole.width() - 2 * MARGIN_PX, 200))
        high = whole.height() - 2 * MARGIN_PX
        self._canvas.setGeometry(whole)
        left = right = 0
        at_left = QRect(MARGIN_PX, MARGIN_PX, wide, high)
        if self._panel is not None:
            self._panel.setGeometry(at_left)
            left = wide + MARGIN_PX
        if self._card.isVisibleTo(self):
            if self._is_narrow():
                self._card.setGeometry(at_left)
                left = wide + MARGIN_PX
            else:
                self._card.setGeometry(QRect(whole.width() - wide - MARGIN_PX, MARGIN_PX, wide, high))
                right = wide + MARGIN_PX
            self._card.raise_()
        self._canvas.set_margins(left, 0, right, 0)
        if self._cover is not None:
            self._cover.setGeometry(whole)
            self._cover.raise_()
        self.place_notices()

    def place_notices(self) -> None:
        """Put notices and the work line at the foot of the map, in the middle of the part in sight."""
        margins = [round(m) for m in self._canvas.margins]
        room = self.width() - margins[0] - margins[2]
        middle = margins[0] + room // 2
        foot = self.height() - MARGIN_PX
        for sheet in (self.notices, self.work_line):
            if sheet.isHidden():
                continue
            wide = min(max(sheet.sizeHint().width(), 360), max(room - 2 * MARGIN_PX, 240), 560)
            high = sheet.heightForWidth(wide) if sheet.hasHeightForWidth() else sheet.sizeHint().height()
            sheet.setGeometry(middle - wide // 2, foot - high, wide, high)
            sheet.raise_()
            foot -= high + 8
