"""The find field of the header: any tree, place or action by a few letters, all by keyboard."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from PySide6.QtCore import QEvent, QModelIndex, QObject, QPersistentModelIndex, QPoint, Qt, Signal
from PySide6.QtGui import QColor, QFocusEvent, QKeyEvent, QPainter
from PySide6.QtWidgets import (
    QFrame,
    QLineEdit,
    QListWidget,
    QListWidgetItem,
    QStyle,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QVBoxLayout,
    QWidget,
)

from standmap.desktop.finding import Findable, Found, find
from standmap.desktop.kit import keys_text
from standmap.desktop.theme import Theme
from standmap.desktop.words import tr

SIDE_PX = 8
"""Between a text and the edge of its row."""


class AnswerRow(QStyledItemDelegate):
    """Draws what was found at the left, and at the right what is told beside it: its keys, its verdict."""

    def __init__(self, theme: Callable[[], Theme], parent: QObject) -> None:
        super().__init__(parent)
        self._theme = theme

    def paint(
        self, painter: QPainter, option: QStyleOptionViewItem, index: QModelIndex | QPersistentModelIndex
    ) -> None:
        """Draw the row."""
        found: Found | None = index.data(Qt.ItemDataRole.UserRole)
        room = option.rect.adjusted(0, 0, -SIDE_PX, 0)
        beside = found.beside if found is not None else ""
        theme, chosen = self._theme(), bool(option.state & QStyle.StateFlag.State_Selected)
        super().paint(painter, option, index)
        painter.save()
        painter.setFont(option.font)
        painter.setPen(QColor(theme.second_on_chosen if chosen else theme.second_ink))
        painter.drawText(room, Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter, beside)
        painter.restore()

    def initStyleOption(  # noqa: N802 - Qt's name
        self, option: QStyleOptionViewItem, index: QModelIndex | QPersistentModelIndex
    ) -> None:
        """Cut the title off before what stands beside it."""
        super().initStyleOption(option, index)
        found: Found | None = index.data(Qt.ItemDataRole.UserRole)
        if found is not None:
            taken = option.fontMetrics.horizontalAdvance(found.beside) + 4 * SIDE_PX
            option.text = option.fontMetrics.elidedText(
                found.title, Qt.TextElideMode.ElideRight, max(option.rect.width() - taken, 60)
            )


class FindField(QLineEdit):
    """A line to type in, with a list of what answers below it.

    Signals: `picked` with what was found, `done` when the focus may go elsewhere.

    Parameters
    ----------
    things
        Returns everything that can be found; asked when the field is entered.
    actions
        Returns what is listed while nothing is typed.
    theme
        Returns the colours.
    """

    picked = Signal(object)
    done = Signal()

    def __init__(
        self,
        window: QWidget,
        things: Callable[[], Sequence[Findable]],
        actions: Callable[[], Sequence[Found]],
        theme: Callable[[], Theme],
    ) -> None:
        super().__init__()
        self.setObjectName("find")
        self.setPlaceholderText(tr("find a tree, a place, an action"))
        self.setAccessibleName(tr("find a tree, a place, an action"))
        self.setToolTip(keys_text("Ctrl+F"))
        self._window = window
        self._things = things
        self._actions = actions
        self._known: Sequence[Findable] = ()
        self.answers = QListWidget()
        self.answers.setAccessibleName(tr("what was found"))
        self.answers.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.answers.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.answers.setItemDelegate(AnswerRow(theme, self.answers))
        self._sheet = QFrame(window)
        self._sheet.setObjectName("found")
        down = QVBoxLayout(self._sheet)
        down.setContentsMargins(4, 4, 4, 4)
        down.addWidget(self.answers)
        self._sheet.hide()
        self.textEdited.connect(self._look)
        self.answers.itemClicked.connect(self._pick)
        window.installEventFilter(self)

    def begin(self) -> None:
        """Take the focus and show what can be done."""
        self.setFocus(Qt.FocusReason.ShortcutFocusReason)
        self.selectAll()
        self._look(self.text())

    def focusInEvent(self, event: QFocusEvent) -> None:  # noqa: N802 - Qt's name
        """Fetch what can be found now."""
        super().focusInEvent(event)
        self._known = self._things()

    def focusOutEvent(self, event: QFocusEvent) -> None:  # noqa: N802 - Qt's name
        """Put the list away."""
        super().focusOutEvent(event)
        if event.reason() is not Qt.FocusReason.ActiveWindowFocusReason:
            self._sheet.hide()

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:  # noqa: N802 - Qt's name
        """Keep the list under the field when the window changes."""
        if event.type() is QEvent.Type.Resize and self._sheet.isVisible():
            self._place()
        return super().eventFilter(watched, event)

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: N802 - Qt's name
        """Walk through the list, pick, or leave."""
        key, row = event.key(), self.answers.currentRow()
        count = self.answers.count()
        if key == Qt.Key.Key_Down and not self._sheet.isVisible():
            self._look(self.text())
        elif key in (Qt.Key.Key_Down, Qt.Key.Key_Up) and count:
            self.answers.setCurrentRow((row + (1 if key == Qt.Key.Key_Down else -1)) % count)
        elif key in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and row >= 0 and self._sheet.isVisible():
            self._pick(self.answers.item(row))
        elif key == Qt.Key.Key_Escape:
            self.clear()
            self._sheet.hide()
            self.done.emit()
        else:
            super().keyPressEvent(event)

    def _look(self, text: str) -> None:
        found = find(text, self._known) if text.strip() else list(self._actions())
        self.answers.clear()
        for one in found:
            item = QListWidgetItem(one.title)
            item.setData(Qt.ItemDataRole.AccessibleTextRole, f"{one.title}, {one.beside}" if one.beside else one.title)
            item.setData(Qt.ItemDataRole.UserRole, one)
            self.answers.addItem(item)
        if not found:
            item = QListWidgetItem(tr("nothing answers to that"))
            item.setFlags(Qt.ItemFlag.NoItemFlags)
            self.answers.addItem(item)
        else:
            self.answers.setCurrentRow(0)
        self._place()
        self._sheet.show()
        self._sheet.raise_()

    def _place(self) -> None:
        window = self._window
        width = max(self.width(), 380)
        corner = self.mapTo(window, QPoint(self.width() - width, self.height() + 4))
        row = max(self.answers.sizeHintForRow(0), 28)
        height = min(row * self.answers.count() + 16, window.height() - corner.y() - 16)
        self._sheet.setGeometry(max(corner.x(), 8), corner.y(), min(width, window.width() - 16), height)

    def _pick(self, item: QListWidgetItem | None) -> None:
        found = item.data(Qt.ItemDataRole.UserRole) if item is not None else None
        if found is None:
            return
        self.clear()
        self._sheet.hide()
        self.done.emit()
        self.picked.emit(found)
