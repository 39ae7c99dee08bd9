"""The line at the top: which stand, the four pages in the order of the job, undo, and the find field."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from PySide6.QtCore import QSize, Qt, Signal
from PySide6.QtGui import QFont, QFontMetrics, QResizeEvent
from PySide6.QtWidgets import (
    QButtonGroup,
    QFrame,
    QHBoxLayout,
    QLabel,
    QMenu,
    QPushButton,
    QSizePolicy,
    QToolButton,
    QWidget,
)

from standmap.desktop.actions import Action
from standmap.desktop.desk import Desk
from standmap.desktop.find_field import FindField
from standmap.desktop.kit import SHORTEST_CELL, button, keys_text, label
from standmap.desktop.pages.page import Page
from standmap.desktop.words import said, tr, tr_n

LONGEST_NAME_PX = 180
UNDO_PX = 170
SPACIOUS_PX = 1200
"""From this width on there is room to say what would be taken back."""

ROOMY_PX = 900
"""From this width on there is room for the number of trees and the dashes between the pages."""


class Header(QFrame):
    """The header of a window."""

    page_wanted = Signal(str)

    def __init__(self, desk: Desk, pages: Sequence[Page], find: FindField, stand_actions: Sequence[Action]) -> None:
        super().__init__()
        self.setObjectName("header")
        self._desk = desk
        self._pages: dict[str, QPushButton] = {}
        across = QHBoxLayout(self)
        across.setContentsMargins(16, 0, 16, 0)
        across.setSpacing(16)

        self.stand = QToolButton()
        self.stand.setObjectName("stand-name")
        self.stand.setProperty("role", "row")
        self.stand.setPopupMode(QToolButton.ToolButtonPopupMode.InstantPopup)
        self.stand.setMenu(_menu(self, stand_actions))
        self.stand.setToolTip(tr("open, keep safe, hand on, settings"))
        self.count = label("", "second", wrap=False)
        left = QWidget()
        at_left = QHBoxLayout(left)
        at_left.setContentsMargins(0, 0, 0, 0)
        at_left.setSpacing(8)
        at_left.addWidget(self.stand)
        at_left.addWidget(self.count)
        at_left.addStretch(1)

        self._middle = middle = QWidget()
        middle.setObjectName("pages")
        in_middle = QHBoxLayout(middle)
        in_middle.setContentsMargins(0, 0, 0, 0)
        in_middle.setSpacing(12)
        self._group = QButtonGroup(self)
        self._dashes: list[QLabel] = []
        for number, page in enumerate(pages):
            if number:
                in_middle.addWidget(dash := _dash())
                self._dashes.append(dash)
            to_page = _PageButton(page.title)
            to_page.setToolTip(keys_text(f"Ctrl+{number + 1}"))
            to_page.clicked.connect(self._asking(page.name))
            to_page.setSizePolicy(QSizePolicy.Policy.Minimum, QSizePolicy.Policy.Fixed)
            self._group.addButton(to_page)
            self._pages[page.name] = to_page
            in_middle.addWidget(to_page)

        right = QWidget()
        at_right = QHBoxLayout(right)
        at_right.setContentsMargins(0, 0, 0, 0)
        at_right.setSpacing(8)
        at_right.addStretch(1)
        self.undo = button(tr("undo"), desk.undo, "link")
        self.redo = button(tr("redo"), desk.redo, "link")
        find.setMinimumWidth(96)
        find.setMaximumWidth(260)
        at_right.addWidget(self.undo)
        at_right.addWidget(self.redo)
        at_right.addWidget(find, 2)

        for side in (left, right):
            side.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Preferred)
        across.addWidget(left, 1)
        across.addWidget(middle, 0)
        across.addWidget(right, 1)
        desk.seen_changed.connect(self.tell)
        self.tell()

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802 - Qt's name
        """Leave out what only decorates where there is little room."""
        super().resizeEvent(event)
        roomy = self.width() >= ROOMY_PX * self._desk.settings.text_size_percent / 100
        self.count.setVisible(roomy)
        for dash in self._dashes:
            dash.setVisible(roomy)
        self._tell_undo()

    def show_page(self, name: str) -> None:
        """Mark the page that is shown."""
        if name in self._pages:
            self._pages[name].setChecked(True)

    def tell(self) -> None:
        """Say which stand is open and what would be taken back."""
        seen = self._desk.seen
        path = self._desk.path
        name = path.stem.replace("-", " ").replace("_", " ") if path is not None else tr("no stand")
        self.stand.setText(self.fontMetrics().elidedText(name, Qt.TextElideMode.ElideRight, LONGEST_NAME_PX))
        self.stand.setAccessibleName(tr("stand {name}", name=name))
        self.count.setText("" if seen is None else tr_n("{n} tree", "{n} trees", len(seen.trees)))
        if seen is not None and seen.read_only:
            self.count.setText(tr("{trees} · to look at only", trees=self.count.text()))
        for part in (self._middle, self.undo, self.redo):
            part.setVisible(path is not None)  # without a stand there is nowhere to go and nothing to take back
        for page in self._pages.values():
            page.setEnabled(seen is not None)
        self._tell_undo()

    def _tell_undo(self) -> None:
        """Say what would be taken back, in full to who asks, and as far as there is room to everybody."""
        seen, scale = self._desk.seen, self._desk.settings.text_size_percent / 100
        can_write = seen is not None and not seen.read_only
        spacious = self.width() >= SPACIOUS_PX * scale
        for what, turn, words in (
            (seen.undo_label if seen else None, self.undo, tr("undo")),
            (seen.redo_label if seen else None, self.redo, tr("redo")),
        ):
            turn.setEnabled(can_write and what is not None)
            told = f"{words}: {said(what)}" if what else words
            turn.setToolTip(told)
            turn.setAccessibleName(told)
            short = turn.fontMetrics().elidedText(told, Qt.TextElideMode.ElideRight, round(UNDO_PX * scale))
            turn.setText(short if spacious else words)
        self.redo.setVisible(can_write and seen is not None and seen.redo_label is not None)

    def _asking(self, name: str) -> Callable[[], None]:
        return lambda: self.page_wanted.emit(name)


class _PageButton(QPushButton):
    """Leads to a page; as wide as its bold text, so that the one that is shown is not cut off and nothing shifts."""

    def __init__(self, title: str) -> None:
        super().__init__(title)
        self.setProperty("role", "page")
        self.setMinimumHeight(SHORTEST_CELL)
        self.setAccessibleName(title)
        self.setCursor(Qt.CursorShape.PointingHandCursor)
        self.setAutoDefault(False)
        self.setCheckable(True)
        self.setAutoExclusive(True)

    def sizeHint(self) -> QSize:  # noqa: N802 - Qt's name
        """Return the room of the bold text: Qt counts the regular one."""
        bold = QFont(self.font())
        bold.setWeight(QFont.Weight.DemiBold)
        wider = QFontMetrics(bold).horizontalAdvance(self.text()) - self.fontMetrics().horizontalAdvance(self.text())
        return super().sizeHint() + QSize(max(wider, 0), 0)

    def minimumSizeHint(self) -> QSize:  # noqa: N802 - Qt's name
        """Return the same: it is never cut off."""
        return self.sizeHint()


def _dash() -> QLabel:
    dash = label("—", "second", wrap=False)
    dash.setEnabled(False)
    dash.setAccessibleName("")
    return dash


def _menu(parent: QWidget, actions: Sequence[Action]) -> QMenu:
    menu = QMenu(parent)
    for action in actions:
        item = menu.addAction(action.title, action.run)
        if action.keys:
            item.setText(f"{action.title}\t{keys_text(action.keys)}")
        menu.aboutToShow.connect(lambda item=item, action=action: item.setEnabled(action.enabled()))
    return menu
