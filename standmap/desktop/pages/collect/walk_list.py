"""The walk as an ordered list: read, chosen in, and put in order by dragging or by keys."""

from __future__ import annotations

from collections.abc import Sequence
from typing import cast

from PySide6.QtCore import QModelIndex, QPersistentModelIndex, QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QDropEvent, QFont, QFontMetrics, QKeyEvent, QPainter, QPen
from PySide6.QtWidgets import QAbstractItemView, QListView, QStyle, QStyledItemDelegate, QStyleOptionViewItem

from standmap.desktop.desk import Desk
from standmap.desktop.pages.collect.walk_model import ROW_ROLE, WalkModel
from standmap.desktop.pages.collect.wording import WalkRow
from standmap.desktop.theme import ROW_PX, Theme
from standmap.desktop.words import tr

MOST_ROWS = 10
"""A longer list scrolls in itself."""

CIRCLE_PX = 20.0
NAME_LEFT_PX = 28.0
GAP_PX = 10.0
SIDE_PX = 6
"""Between the text of a stop and the edge of its shade."""


class RowPainter(QStyledItemDelegate):
    """Draws trips and stops."""

    def __init__(self, desk: Desk, parent: QListView) -> None:
        super().__init__(parent)
        self._desk = desk
        self._measured: tuple[Sequence[WalkRow], float, float, float] | None = None

    @property
    def scale(self) -> float:
        """Size of the window's text."""
        return self._desk.settings.text_size_percent / 100

    def sizeHint(self, option: QStyleOptionViewItem, index: QModelIndex | QPersistentModelIndex) -> QSize:  # noqa: N802
        """Return the height of a row."""
        del option, index
        return QSize(100, round(ROW_PX * self.scale))

    def paint(
        self, painter: QPainter, option: QStyleOptionViewItem, index: QModelIndex | QPersistentModelIndex
    ) -> None:
        """Draw one row."""
        row: WalkRow = index.data(ROW_ROLE)
        theme = self._desk.theme
        painter.save()
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        box = QRectF(option.rect)
        chosen = bool(option.state & QStyle.StateFlag.State_Selected)
        if chosen:
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(QColor(theme.chosen))
            painter.drawRoundedRect(box.adjusted(0, 1, 0, -1), 6, 6)
        elif option.state & QStyle.StateFlag.State_MouseOver and not row.is_trip:
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(QColor(theme.ground))
            painter.drawRoundedRect(box.adjusted(0, 1, 0, -1), 6, 6)
        view = cast("QListView", self.parent())
        # The focus stands on a stop from the start: the first until another was gone to.
        at = view.currentIndex().row() if view.currentIndex().isValid() else 1
        if view.hasFocus() and index.row() == at and not row.is_trip:
            painter.setPen(QPen(QColor(theme.on_chosen if chosen and theme.plates else theme.accent), 2))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawRoundedRect(box.adjusted(1, 2, -1, -2), 6, 6)
        box.adjust(0 if row.is_trip else SIDE_PX, 0, -SIDE_PX, 0)
        if row.is_trip:
            self._paint_trip(painter, box, row, theme, option.font)
        else:
            self._paint_stop(painter, box, row, theme, option.font, chosen=chosen)
        painter.restore()

    def _paint_trip(self, painter: QPainter, box: QRectF, row: WalkRow, theme: Theme, font: QFont) -> None:
        strong = QFont(font)
        strong.setWeight(QFont.Weight.DemiBold)
        painter.setFont(strong)
        painter.setPen(QColor(theme.ink))
        left = int(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)
        right = int(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
        painter.drawText(box, left, row.name)
        painter.setFont(strong if row.heavy else font)
        painter.setPen(QColor(theme.error if row.heavy else theme.second_ink))
        painter.drawText(box, right, row.amount)

    def _paint_stop(
        self, painter: QPainter, box: QRectF, row: WalkRow, theme: Theme, font: QFont, *, chosen: bool
    ) -> None:
        scale = self.scale
        ink = theme.on_chosen if chosen else theme.ink
        circle = CIRCLE_PX * scale
        middle = QPointF(box.left() + circle / 2, box.center().y())
        painter.setPen(QPen(QColor(ink), 1.2))
        painter.setBrush(QColor(ink) if row.pinned else Qt.BrushStyle.NoBrush)
        painter.drawEllipse(middle, circle / 2 - 1, circle / 2 - 1)
        small = QFont(font)
        small.setPixelSize(max(round((11 if len(row.number) < 3 else 9) * scale), 8))
        small.setWeight(QFont.Weight.DemiBold)
        painter.setFont(small)
        on_circle = theme.chosen if chosen else theme.panel
        painter.setPen(QColor(on_circle if row.pinned else ink))
        painter.drawText(
            QRectF(middle.x() - circle / 2, box.top(), circle, box.height()),
            int(Qt.AlignmentFlag.AlignCenter),
            row.number,
        )
        right = int(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
        painter.setFont(font)
        painter.setPen(QColor(ink))
        metrics = painter.fontMetrics()
        way_px, amount_px = self._columns(metrics)
        amount = QRectF(box.right() - amount_px, box.top(), amount_px, box.height())
        way = QRectF(amount.left() - GAP_PX - way_px, box.top(), way_px, box.height())
        name = QRectF(box.left() + NAME_LEFT_PX * scale, box.top(), 0, box.height())
        name.setRight(way.left() - GAP_PX / 2)
        shown = f"{row.name} · {row.pinned}"
        if not row.pinned or metrics.horizontalAdvance(shown) > name.width():
            shown = row.name  # the filled circle says that it is pinned
        text = metrics.elidedText(shown, Qt.TextElideMode.ElideRight, int(name.width()))
        painter.drawText(name, int(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter), text)
        painter.drawText(amount, right, row.amount)
        painter.setPen(QColor(theme.second_on_chosen if chosen else theme.second_ink))
        painter.drawText(way, right, row.way)

    def _columns(self, metrics: QFontMetrics) -> tuple[float, float]:
        """Return how wide the ways and the amounts of all rows are."""
        model = cast("WalkModel", cast("QListView", self.parent()).model())
        before = self._measured
        if before is None or before[0] is not model.rows or before[1] != metrics.height():
            stops = [row for row in model.rows if not row.is_trip]
            ways = max((metrics.horizontalAdvance(row.way) for row in stops), default=0)
            amounts = max((metrics.horizontalAdvance(row.amount) for row in stops), default=0)
            before = self._measured = (model.rows, metrics.height(), ways + 1.0, amounts + 1.0)
        return before[2], before[3]


class WalkList(QListView):
    """The list; what is asked of it by keys is told by signals.

    Signals: `stepped` (-1 earlier, +1 later), `pin_wanted` (whether first), `looked_at` (key of a tree).
    """

    stepped = Signal(int)
    pin_wanted = Signal(bool)
    looked_at = Signal(str)

    def __init__(self, desk: Desk, model: WalkModel) -> None:
        super().__init__()
        self._desk = desk
        self._walk = model
        self.setModel(model)
        self.setItemDelegate(RowPainter(desk, self))
        self.setAccessibleName(tr("the walk in its order"))
        self.setAccessibleDescription(
            tr("Alt+Up and Alt+Down move a stop; Alt+Home and Alt+End keep it first or last on its trip")
        )
        # The focus is shown by the row it stands on; no frame round the list.
        self.setStyleSheet("QListView, QListView:focus { border: none; }")
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.setDragDropMode(QAbstractItemView.DragDropMode.InternalMove)
        self.setDefaultDropAction(Qt.DropAction.MoveAction)
        self.setDragDropOverwriteMode(False)
        self.setDropIndicatorShown(True)
        self.setMouseTracking(True)
        self.setUniformItemSizes(True)
        self.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.doubleClicked.connect(lambda index: self.looked_at.emit(model.rows[index.row()].tree_key))

    @property
    def chosen_key(self) -> str | None:
        """The key of the stop that is chosen."""
        indexes = self.selectionModel().selectedIndexes()
        return (self._walk.rows[indexes[0].row()].key or None) if indexes else None

    def choose(self, key: str | None) -> None:
        """Choose a stop and bring it into sight; None chooses none."""
        row = None if key is None else self._walk.row_of(key)
        if row is None:
            self.clearSelection()
            return
        index = self._walk.index(row, 0)
        self.setCurrentIndex(index)
        self.scrollTo(index)

    def fit_height(self) -> None:
        """Take as much height as the rows need, up to a limit."""
        row_px = self.itemDelegate().sizeHint(QStyleOptionViewItem(), QModelIndex()).height()
        rows = min(max(len(self._walk.rows), 2), MOST_ROWS)
        self.setFixedHeight(rows * row_px + 4)

    def dropEvent(self, event: QDropEvent) -> None:  # noqa: N802 - Qt's name
        """Take a stop that is let go between two rows."""
        at = event.position().toPoint()
        index = self.indexAt(at)
        row = self._walk.rowCount()
        if index.isValid():
            row = index.row() + (1 if at.y() > self.visualRect(index).center().y() else 0)
        if self._walk.drop(event.mimeData(), row):
            event.setDropAction(Qt.DropAction.CopyAction)  # the list has no row to take out: it was shown anew
            event.accept()

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: N802 - Qt's name
        """Move and pin with Alt; else as any list does."""
        if event.modifiers() == Qt.KeyboardModifier.AltModifier:
            match event.key():
                case Qt.Key.Key_Up:
                    self.stepped.emit(-1)
                    return
                case Qt.Key.Key_Down:
                    self.stepped.emit(1)
                    return
                case Qt.Key.Key_Home:
                    self.pin_wanted.emit(True)
                    return
                case Qt.Key.Key_End:
                    self.pin_wanted.emit(False)
                    return
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and self.chosen_key is not None:
            self.looked_at.emit(self._walk.rows[self.currentIndex().row()].tree_key)
            return
        super().keyPressEvent(event)
