"""The list of a review's items: two lines each, with the sign of its fate; 100,000 cost no more than those in sight."""

from __future__ import annotations

from PySide6.QtCore import (
    QAbstractListModel,
    QEvent,
    QItemSelectionModel,
    QModelIndex,
    QPersistentModelIndex,
    QPointF,
    QRect,
    QSize,
    Qt,
    Signal,
)
from PySide6.QtGui import QColor, QFont, QFontMetrics, QKeyEvent, QKeySequence, QPainter
from PySide6.QtWidgets import QAbstractItemView, QListView, QStyle, QStyledItemDelegate, QStyleOptionViewItem, QWidget

from standmap.desktop.desk import Desk
from standmap.desktop.pages.survey.review_state import Review, Will
from standmap.desktop.pages.survey.review_words import outcome_words, spoken, where_words
from standmap.desktop.pages.survey.signs import paint_sign
from standmap.desktop.words import said, tr
from standmap.jobs.review import Item
from standmap.units_shown import UnitsShown

Index = QModelIndex | QPersistentModelIndex
ITEM = Qt.ItemDataRole.UserRole
ROW_PX = 44
SIGN_ROOM_PX = 26
CHOOSING = QItemSelectionModel.SelectionFlag


def units_of(desk: Desk) -> UnitsShown:
    """Return how measures are shown."""
    return desk.units


class ReviewModel(QAbstractListModel):
    """The rows of a review that are shown."""

    def __init__(self, desk: Desk, parent: QWidget) -> None:
        super().__init__(parent)
        self._desk = desk
        self.review: Review | None = None
        self.rows: list[int] = []
        self._place: dict[int, int] = {}

    def show(self, review: Review | None, rows: list[int]) -> None:
        """Show these rows of a review."""
        self.beginResetModel()
        self.review, self.rows = review, rows
        self._place = {row: place for place, row in enumerate(rows)}
        self.endResetModel()

    def place_of(self, row: int) -> int | None:
        """Return where a row of the review is in the list."""
        return self._place.get(row)

    def refresh(self) -> None:
        """Show decisions anew."""
        if self.rows:
            self.dataChanged.emit(self.index(0), self.index(len(self.rows) - 1))

    def item(self, index: Index) -> Item | None:
        """Return the item of an index."""
        if self.review is None or not index.isValid():
            return None
        return self.review.items[self.rows[index.row()]]

    def rowCount(self, parent: Index = QModelIndex()) -> int:  # noqa: N802, B008 - Qt's name and signature
        """Return how many items are shown."""
        return 0 if parent.isValid() else len(self.rows)

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> object:
        """Return an item, its name, or what it says aloud."""
        item = self.item(index)
        if item is None or self.review is None:
            return None
        if role == ITEM:
            return item
        if role == Qt.ItemDataRole.DisplayRole:
            return item.name
        if role in (Qt.ItemDataRole.AccessibleTextRole, Qt.ItemDataRole.ToolTipRole):
            return spoken(self.review, item, units_of(self._desk))
        return None


class ItemRow(QStyledItemDelegate):
    """Draws one item: its sign, its name and what happens to it, and below where it comes from or why it is doubted."""

    def __init__(self, desk: Desk, parent: QWidget) -> None:
        super().__init__(parent)
        self._desk = desk

    @property
    def _scale(self) -> float:
        return self._desk.settings.text_size_percent / 100

    def sizeHint(self, option: QStyleOptionViewItem, index: Index) -> QSize:  # noqa: N802 - Qt's name
        """Return the room of a row."""
        del option, index
        return QSize(100, round(ROW_PX * self._scale))

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: Index) -> None:
        """Draw the row."""
        model = index.model()
        assert isinstance(model, ReviewModel)  # noqa: S101 - the only model of this list
        item, review = model.item(index), model.review
        if item is None or review is None:
            return
        theme, scale = self._desk.theme, self._scale
        painter.save()
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        whole: QRect = option.rect  # type: ignore[attr-defined,unused-ignore]
        state: QStyle.StateFlag = option.state  # type: ignore[attr-defined,unused-ignore]
        chosen = bool(state & QStyle.StateFlag.State_Selected)
        if chosen or state & QStyle.StateFlag.State_MouseOver:
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(QColor(theme.chosen if chosen else theme.ground))
            painter.drawRoundedRect(whole.adjusted(2, 1, -2, -1), 6, 6)
        left = review.will(item) is Will.LEFT
        room = round(SIGN_ROOM_PX * scale)
        middle = QPointF(whole.left() + 2 + room / 2, whole.top() + whole.height() / 2)
        if chosen and theme.plates:
            painter.setBrush(QColor(theme.panel))
            painter.drawEllipse(middle, 11 * scale, 11 * scale)
        paint_sign(painter, middle, 6.5 * scale, item.fate, theme, left=left)
        text = whole.adjusted(room + round(4 * scale), round(4 * scale), -round(6 * scale), -round(4 * scale))
        upper = QRect(text.left(), text.top(), text.width(), text.height() // 2)
        lower = QRect(text.left(), text.top() + text.height() // 2, text.width(), text.height() - text.height() // 2)
        small, strong = self._font(11.5), self._font(13, strong=True)
        ink, second = (theme.on_chosen, theme.second_on_chosen) if chosen else (theme.ink, theme.second_ink)
        outcome = outcome_words(review, item, units_of(self._desk))
        wide = min(QFontMetrics(small).horizontalAdvance(outcome), upper.width() * 6 // 10)
        self._write(painter, upper.adjusted(upper.width() - wide - 1, 0, 0, 0), outcome, small, second)
        faded = second if left else ink
        self._write(painter, upper.adjusted(0, 0, -wide - round(8 * scale), 0), item.name, strong, faded)
        self._write(painter, lower, said(item.why) or where_words(item), small, second)
        painter.restore()

    def _font(self, size: float, *, strong: bool = False) -> QFont:
        font = QFont()
        font.setPixelSize(round(size * self._scale))
        font.setWeight(QFont.Weight.DemiBold if strong else QFont.Weight.Normal)
        return font

    @staticmethod
    def _write(painter: QPainter, room: QRect, text: str, font: QFont, colour: str) -> None:
        painter.setFont(font)
        painter.setPen(QColor(colour))
        plain = " ".join(text.split())
        short = QFontMetrics(font).elidedText(plain[:300], Qt.TextElideMode.ElideRight, room.width())
        painter.drawText(room, Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft, short)


class ReviewList(QListView):
    """The items; the one that is current is the one that is looked at on the map."""

    looked_at = Signal(int)

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self._items = ReviewModel(desk, self)
        self._still = False
        self.setModel(self._items)
        self.setItemDelegate(ItemRow(desk, self))
        self.setUniformItemSizes(True)
        self.setMouseTracking(True)
        self.setSelectionMode(QAbstractItemView.SelectionMode.ExtendedSelection)
        self.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setAccessibleName(tr("what the files bring"))
        self.setMinimumHeight(4 * ROW_PX)
        self.selectionModel().currentChanged.connect(lambda now, _: self._moved(now))

    def event(self, event: QEvent) -> bool:
        """Keep the key for all: in the list it means all rows, not all trees of the stand."""
        if (
            event.type() is QEvent.Type.ShortcutOverride
            and isinstance(event, QKeyEvent)
            and event.matches(QKeySequence.StandardKey.SelectAll)
        ):
            event.accept()
            return True
        return super().event(event)

    @property
    def items(self) -> ReviewModel:
        """The rows."""
        return self._items

    def show_rows(self, review: Review | None, rows: list[int], current: int | None) -> None:
        """Show these rows of a review, one of them as current."""
        self._still = True
        self._items.show(review, rows)
        self._still = False
        if current is not None:
            self.look_at(current)

    def look_at(self, row: int) -> bool:
        """Make a row of the review current; return whether it is in the list."""
        place = self._items.place_of(row)
        if place is None:
            return False
        index = self._items.index(place)
        self._still = True
        self.selectionModel().setCurrentIndex(index, CHOOSING.ClearAndSelect)
        self._still = False
        self.scrollTo(index)
        return True

    @property
    def chosen(self) -> list[int]:
        """The rows of the review that are chosen."""
        return sorted(self._items.rows[index.row()] for index in self.selectionModel().selectedIndexes())

    def _moved(self, index: QModelIndex) -> None:
        if not self._still and index.isValid():
            self.looked_at.emit(self._items.rows[index.row()])
