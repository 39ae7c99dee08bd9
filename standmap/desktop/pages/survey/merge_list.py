"""The list of what two copies of a stand both changed: two lines each; thousands cost no more than those in sight."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from PySide6.QtCore import (
    QAbstractListModel,
    QItemSelectionModel,
    QModelIndex,
    QPersistentModelIndex,
    QRect,
    QSize,
    Qt,
    Signal,
)
from PySide6.QtGui import QColor, QFont, QFontMetrics, QPainter
from PySide6.QtWidgets import QAbstractItemView, QListView, QStyle, QStyledItemDelegate, QStyleOptionViewItem, QWidget

from standmap.desktop.desk import Desk
from standmap.desktop.words import said, tr
from standmap.jobs.merge_copies import MergeConflict, Side

Index = QModelIndex | QPersistentModelIndex
ROW_PX = 44
ROWS_SEEN = 3


def what_words(conflict: MergeConflict) -> str:
    """Return what was changed twice: the kind of thing and its field."""
    kind = said(conflict.kind)
    return tr("{kind}: {field}", kind=kind, field=said(conflict.field)) if conflict.field else kind


def value_words(desk: Desk, conflict: MergeConflict, side: Side) -> str:
    """Return what one side has, in the person's language and units."""
    text = conflict.ours if side is Side.OURS else conflict.theirs
    return text if conflict.typed else desk.units.in_sentence(said(text))


def side_words(side: Side | None) -> str:
    """Return whose word holds."""
    if side is None:
        return tr("to decide")
    return tr("ours") if side is Side.OURS else tr("theirs")


class ConflictModel(QAbstractListModel):
    """The conflicts and how they were decided."""

    def __init__(self, desk: Desk, parent: QWidget) -> None:
        super().__init__(parent)
        self._desk = desk
        self.conflicts: Sequence[MergeConflict] = ()
        self.decisions: Mapping[str, Side] = {}

    def show(self, conflicts: Sequence[MergeConflict], decisions: Mapping[str, Side]) -> None:
        """Show conflicts; the decisions are looked up anew whenever `refresh` is called."""
        self.beginResetModel()
        self.conflicts, self.decisions = conflicts, decisions
        self.endResetModel()

    def refresh(self) -> None:
        """Show the decisions anew."""
        if self.conflicts:
            self.dataChanged.emit(self.index(0), self.index(len(self.conflicts) - 1))

    def rowCount(self, parent: Index = QModelIndex()) -> int:  # noqa: N802, B008 - Qt's name and signature
        """Return how many there are."""
        return 0 if parent.isValid() else len(self.conflicts)

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> object:
        """Return what is read out for a row."""
        if not index.isValid() or role not in (Qt.ItemDataRole.DisplayRole, Qt.ItemDataRole.AccessibleTextRole):
            return None
        conflict = self.conflicts[index.row()]
        return tr(
            "{name}, {what}: ours {ours}, theirs {theirs}; {decided}",
            name=conflict.name,
            what=what_words(conflict),
            ours=value_words(self._desk, conflict, Side.OURS),
            theirs=value_words(self._desk, conflict, Side.THEIRS),
            decided=side_words(self.decisions.get(conflict.id)),
        )


class ConflictRow(QStyledItemDelegate):
    """Draws one conflict: what it is about and how it was decided, and below what the two have."""

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
        assert isinstance(model, ConflictModel)  # noqa: S101 - the only model of this list
        conflict = model.conflicts[index.row()]
        decided = model.decisions.get(conflict.id)
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
        ink, second = (theme.on_chosen, theme.second_on_chosen) if chosen else (theme.ink, theme.second_ink)
        text = whole.adjusted(round(8 * scale), round(4 * scale), -round(8 * scale), -round(4 * scale))
        half = text.height() // 2
        upper = QRect(text.left(), text.top(), text.width(), half)
        lower = QRect(text.left(), text.top() + half, text.width(), text.height() - half)
        small, strong = self._font(11.5), self._font(13, strong=True)
        answer = side_words(decided)
        heavy = self._font(11.5, strong=decided is None)
        wide = QFontMetrics(heavy).horizontalAdvance(answer) + 2
        self._write(painter, upper.adjusted(upper.width() - wide, 0, 0, 0), answer, heavy, second if decided else ink)
        self._write(painter, upper.adjusted(0, 0, -wide - round(8 * scale), 0), conflict.name, strong, ink)
        self._write(painter, lower, what_words(conflict), small, second)
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
        short = QFontMetrics(font).elidedText(" ".join(text.split())[:300], Qt.TextElideMode.ElideRight, room.width())
        painter.drawText(room, Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft, short)


class ConflictList(QListView):
    """The conflicts; the current one is told in full below the list."""

    looked_at = Signal(int)

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self._scale = desk.settings.text_size_percent / 100
        self.items = ConflictModel(desk, self)
        self.setModel(self.items)
        self.setItemDelegate(ConflictRow(desk, self))
        self.setUniformItemSizes(True)
        self.setMouseTracking(True)
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setAccessibleName(tr("what both copies changed"))
        self.selectionModel().currentChanged.connect(lambda now, _: self.looked_at.emit(now.row()))

    def show_conflicts(self, conflicts: Sequence[MergeConflict], decisions: Mapping[str, Side]) -> None:
        """Show conflicts, the first as current."""
        self.items.show(conflicts, decisions)
        rows = min(max(len(conflicts), 1), ROWS_SEEN)
        self.setFixedHeight(round(ROW_PX * self._scale) * rows + 8)
        if conflicts:
            self.look_at(0)

    def look_at(self, row: int) -> None:
        """Make a conflict current."""
        index = self.items.index(row)
        self.selectionModel().setCurrentIndex(index, QItemSelectionModel.SelectionFlag.ClearAndSelect)
        self.scrollTo(index)
