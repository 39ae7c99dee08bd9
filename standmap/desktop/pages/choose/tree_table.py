"""The tree table: what is chosen in it is chosen on the map, and the other way round."""

from __future__ import annotations

from collections.abc import Iterable
from typing import cast

from PySide6.QtCore import (
    QEvent,
    QItemSelectionModel,
    QItemSelectionRange,
    QModelIndex,
    QObject,
    QPersistentModelIndex,
    QPointF,
    QRect,
    QRectF,
    Qt,
    Signal,
)
from PySide6.QtGui import QColor, QKeyEvent, QKeySequence, QPainter, QPaintEvent, QPixmap, QResizeEvent
from PySide6.QtWidgets import QAbstractItemView, QHeaderView, QStyle, QStyledItemDelegate, QStyleOptionViewItem

from standmap.desktop.desk import Desk
from standmap.desktop.pages.choose.rows import Column
from standmap.desktop.pages.choose.tree_model import COLUMNS, DIAL_ROLE, TreeModel
from standmap.desktop.row_table import RowTable
from standmap.desktop.theme import ROW_PX
from standmap.desktop.words import tr

SHARES = {Column.TREE: 0.23, Column.GIRTH: 0.27, Column.BACK_IN: 0.24, Column.VERDICT: 0.1, Column.TAPS: 0.16}
"""Which part of the width each column takes."""

LEAST_ROWS = 3
CHOOSING = QItemSelectionModel.SelectionFlag


class DialCell(QStyledItemDelegate):
    """Draws a dial as it is, in a chosen row too."""

    def __init__(self, desk: Desk, parent: QObject) -> None:
        super().__init__(parent)
        self._desk = desk

    def paint(
        self, painter: QPainter, option: QStyleOptionViewItem, index: QModelIndex | QPersistentModelIndex
    ) -> None:
        """Draw the row's shade, then the dial in the middle."""
        super().paint(painter, option, index)
        dial: QPixmap = index.data(DIAL_ROLE)
        box = QRectF(QPointF(), dial.deviceIndependentSize())
        box.moveCenter(QRectF(option.rect).center())
        if option.state & QStyle.StateFlag.State_Selected and self._desk.theme.plates:
            painter.save()
            painter.setRenderHint(QPainter.RenderHint.Antialiasing)
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(QColor(self._desk.theme.panel))
            painter.drawEllipse(box.adjusted(-1, -1, 1, 1))
            painter.restore()
        painter.drawPixmap(box.topLeft(), dial)


class Headings(QHeaderView):
    """Headings that mark the column which orders the rows below their text, where it takes no room from it."""

    def __init__(self, desk: Desk) -> None:
        super().__init__(Qt.Orientation.Horizontal)
        self._desk = desk
        self.setSectionsClickable(True)
        self.setSectionResizeMode(QHeaderView.ResizeMode.Fixed)
        self.setHighlightSections(False)
        self.setMinimumSectionSize(1)
        self.setStyleSheet("QHeaderView::section { padding-left: 7px; padding-right: 6px; }")  # in line with the cells

    def paintSection(self, painter: QPainter, rect: QRect, logicalIndex: int) -> None:  # noqa: N802, N803 - Qt's names
        """Draw the heading, and a small wedge that points the way in which the values grow."""
        painter.save()
        super().paintSection(painter, rect, logicalIndex)
        painter.restore()
        if logicalIndex != self.sortIndicatorSection():
            return
        grows_down = self.sortIndicatorOrder() == Qt.SortOrder.AscendingOrder
        half = 3 * self._desk.settings.text_size_percent / 100
        on_right = COLUMNS[logicalIndex] in (Column.GIRTH, Column.TAPS)
        x = rect.right() - 7 - half if on_right else rect.left() + 7 + half
        x = rect.center().x() if COLUMNS[logicalIndex] is Column.VERDICT else x
        flat, tip = (rect.bottom() - half, rect.bottom()) if grows_down else (rect.bottom(), rect.bottom() - half)
        painter.save()
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(self._desk.theme.accent))
        painter.drawPolygon([QPointF(x - half, flat), QPointF(x + half, flat), QPointF(x, tip)])
        painter.restore()


class TreeTable(RowTable):
    """The table of the choose page; Space marks or unmarks what is chosen."""

    mark_wanted = Signal()
    looked_at = Signal(str)

    def __init__(self, desk: Desk, model: TreeModel) -> None:
        super().__init__()
        self._desk = desk
        self._trees = model
        self._following = False
        self.setModel(model)
        self.setItemDelegateForColumn(COLUMNS.index(Column.VERDICT), DialCell(desk, self))
        self.setAccessibleName(tr("trees"))
        self.setAccessibleDescription(tr("choosing rows chooses trees on the map; Space marks them for tapping"))
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.setSelectionMode(QAbstractItemView.SelectionMode.ExtendedSelection)
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.setTabKeyNavigation(False)
        self.setShowGrid(False)
        self.setWordWrap(False)
        self.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        across = Headings(desk)
        self.setHorizontalHeader(across)
        # A heading does not show what is chosen below it: asking that of every row at each paint takes seconds.
        across.setSelectionModel(QItemSelectionModel(model, self))
        across.setMinimumSectionSize(1)
        down = self.verticalHeader()
        down.hide()
        down.setSectionResizeMode(QHeaderView.ResizeMode.Fixed)
        self.setSortingEnabled(True)
        self.sortByColumn(COLUMNS.index(Column.TREE), Qt.SortOrder.AscendingOrder)
        across.setSortIndicatorShown(False)
        model.ordered.connect(self.follow)
        desk.chosen_changed.connect(self.follow)
        desk.settings_changed.connect(self._scale)
        self.selectionModel().selectionChanged.connect(lambda *_: self._chosen_here())
        self._scale()

    def follow(self) -> None:
        """Show what is chosen on the desk, and bring the tree on the card into sight."""
        if self._following:
            return
        seen = self._desk.seen
        rows = seen.rows_of(self._desk.chosen) if seen is not None else []
        self._following = True
        self.selectionModel().select(self._trees.selection_of(rows), CHOOSING.ClearAndSelect | CHOOSING.Rows)
        place = self._trees.place_of(rows[-1]) if rows else None
        if place is not None:
            index = self._trees.index(place, 0)
            self.selectionModel().setCurrentIndex(index, CHOOSING.NoUpdate)
            self.scrollTo(index)
        self._following = False

    def order_by(self, column: Column) -> None:
        """Order by a column; once more, and it is the other way round."""
        header = self.horizontalHeader()
        section = COLUMNS.index(column)
        again = header.sortIndicatorSection() == section
        forward = header.sortIndicatorOrder() == Qt.SortOrder.AscendingOrder
        order = Qt.SortOrder.DescendingOrder if again and forward else Qt.SortOrder.AscendingOrder
        self.sortByColumn(section, order)

    def _chosen_here(self) -> None:
        seen = self._desk.seen
        if self._following or seen is None:
            return
        ranges = cast("Iterable[QItemSelectionRange]", self.selectionModel().selection())
        places = [place for r in ranges for place in range(r.top(), r.bottom() + 1)]
        current = self.currentIndex()
        if current.isValid() and self.selectionModel().isRowSelected(current.row(), QModelIndex()):
            places = [*(p for p in places if p != current.row()), current.row()]
        keys = [seen.trees[int(row)].key for row in self._trees.order[places]]
        self._following = True
        self._desk.choose(keys)
        self._following = False
        if keys:
            self.looked_at.emit(keys[-1])

    # Keys and measures

    def event(self, event: QEvent) -> bool:
        """Keep "choose all" for the trees that are shown here."""
        if isinstance(event, QKeyEvent) and event.type() == QEvent.Type.ShortcutOverride and _is_choose_all(event):
            event.accept()
            return True
        return super().event(event)

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: N802 - Qt's name
        """Mark with Space, else as any table does."""
        if event.key() == Qt.Key.Key_Space and not event.modifiers():
            self.mark_wanted.emit()
            return
        super().keyPressEvent(event)

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802 - Qt's name
        """Draw the rows, or say that there are none."""
        super().paintEvent(event)
        if not self._trees.rowCount():
            painter = QPainter(self.viewport())
            painter.setPen(QColor(self._desk.theme.second_ink))
            room = self.viewport().rect().adjusted(8, 8, -8, -8)
            painter.drawText(room, Qt.AlignmentFlag.AlignHCenter | Qt.TextFlag.TextWordWrap, tr("no tree is like this"))

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802 - Qt's name
        """Share the width among the columns."""
        super().resizeEvent(event)
        self._share_width()

    def _share_width(self) -> None:
        width = self.viewport().width()
        for section, column in enumerate(COLUMNS):
            self.setColumnWidth(section, int(width * SHARES[column]))

    def _scale(self) -> None:
        row_px = round(ROW_PX * self._desk.settings.text_size_percent / 100)
        self.verticalHeader().setMinimumSectionSize(row_px)
        self.verticalHeader().setDefaultSectionSize(row_px)
        self.setMinimumHeight((LEAST_ROWS + 1) * row_px)
        self.viewport().update()


def _is_choose_all(event: QKeyEvent) -> bool:
    return event.matches(QKeySequence.StandardKey.SelectAll)
