"""The tree table's rows for Qt, made from columns when asked for: 100,000 cost no more than those in sight."""

from __future__ import annotations

from collections.abc import Callable, Iterable

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import (
    QAbstractTableModel,
    QItemSelection,
    QItemSelectionRange,
    QModelIndex,
    QObject,
    QPersistentModelIndex,
    Qt,
    Signal,
)
from PySide6.QtGui import QPixmap

from standmap.desktop.pages.choose.rows import Column, IntArray, TreeRows
from standmap.desktop.words import said, tr, tr_n
from standmap.rules.columns import CODES
from standmap.rules.judgement import Verdict
from standmap.units_shown import UnitsShown

Index = QModelIndex | QPersistentModelIndex

COLUMNS = tuple(Column)
DIAL_ROLE = Qt.ItemDataRole.UserRole
NOT_KNOWN = "–"
RIGHT = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
LEFT = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
MIDDLE = Qt.AlignmentFlag.AlignCenter

MOST_RANGES = 2000
"""More separate stretches of chosen rows than this are not drawn as chosen: the map shows them."""


class TreeModel(QAbstractTableModel):
    """The trees that are shown, in the order asked for.

    Parameters
    ----------
    dial
        Draws the dial of a row of the stand.
    units
        Returns how measures are shown.
    this_season
        Returns the season that it is.
    """

    ordered = Signal()

    def __init__(
        self,
        dial: Callable[[int], QPixmap],
        units: Callable[[], UnitsShown],
        this_season: Callable[[], int],
        parent: QObject | None = None,
    ) -> None:
        super().__init__(parent)
        self._dial = dial
        self._units = units
        self._this_season = this_season
        self._rows: TreeRows | None = None
        self._kept: NDArray[np.bool_] = np.zeros(0, bool)
        self._order: IntArray = np.zeros(0, np.int64)
        self._place: IntArray = np.zeros(0, np.int64)
        self._by, self._backwards = Column.TREE, False
        self._season = 0

    def show(self, rows: TreeRows, kept: NDArray[np.bool_], season: int) -> None:
        """Show these trees of a stand, judged for a season."""
        self._rows, self._kept, self._season = rows, kept, season
        self._put_in_order()

    def sort(self, column: int, order: Qt.SortOrder = Qt.SortOrder.AscendingOrder) -> None:
        """Order by a column, backwards for `DescendingOrder`."""
        self._by, self._backwards = COLUMNS[max(column, 0)], order == Qt.SortOrder.DescendingOrder
        self._put_in_order()

    def look_changed(self) -> None:
        """Tell the view to ask anew: units, words or dials are others."""
        self.headerDataChanged.emit(Qt.Orientation.Horizontal, 0, len(COLUMNS) - 1)
        if len(self._order):
            self.dataChanged.emit(self.index(0, 0), self.index(len(self._order) - 1, len(COLUMNS) - 1))

    @property
    def order(self) -> IntArray:
        """The stand's row of each row of the table."""
        return self._order

    def place_of(self, stand_row: int) -> int | None:
        """Return where in the table a tree stands, None where it is not shown."""
        place = int(self._place[stand_row]) if stand_row < len(self._place) else -1
        return place if place >= 0 else None

    def selection_of(self, stand_rows: Iterable[int]) -> QItemSelection:
        """Return these trees as a selection of whole rows."""
        rows = np.asarray(list(stand_rows), np.int64)
        chosen = np.zeros(len(self._place), bool)
        chosen[rows[rows < len(chosen)]] = True
        places = np.flatnonzero(chosen[self._order])
        stretches = [s for s in np.split(places, np.flatnonzero(np.diff(places) > 1) + 1) if len(s)]
        found = QItemSelection()
        if len(stretches) <= MOST_RANGES:
            for stretch in stretches:
                first, last = self.index(int(stretch[0]), 0), self.index(int(stretch[-1]), len(COLUMNS) - 1)
                found.append(QItemSelectionRange(first, last))
        return found

    def _put_in_order(self) -> None:
        if self._rows is None:
            return
        order = self._rows.ordered(self._kept, self._by, backwards=self._backwards)
        if np.array_equal(order, self._order) and len(self._place) == len(self._kept):
            if len(order):
                self.dataChanged.emit(self.index(0, 0), self.index(len(order) - 1, len(COLUMNS) - 1))
            return
        self.beginResetModel()
        self._order = order
        self._place = np.full(len(self._kept), -1, np.int64)
        self._place[order] = np.arange(len(order))
        self.endResetModel()
        self.ordered.emit()

    # What Qt asks

    def rowCount(self, parent: Index = QModelIndex()) -> int:  # noqa: N802, B008 - Qt's name and signature
        """Return how many trees are shown."""
        return 0 if parent.isValid() else len(self._order)

    def columnCount(self, parent: Index = QModelIndex()) -> int:  # noqa: N802, B008 - Qt's name and signature
        """Return how many columns there are."""
        return 0 if parent.isValid() else len(COLUMNS)

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> object:
        """Return a cell's text, its dial, its side, or what it says aloud."""
        rows = self._rows
        if rows is None or not index.isValid():
            return None
        row, column = int(self._order[index.row()]), COLUMNS[index.column()]
        if role == Qt.ItemDataRole.DisplayRole:
            return None if column is Column.VERDICT else self._text(rows, row, column)
        if role == Qt.ItemDataRole.TextAlignmentRole:
            return {Column.GIRTH: RIGHT, Column.VERDICT: MIDDLE, Column.TAPS: RIGHT}.get(column, LEFT)
        if role == DIAL_ROLE and column is Column.VERDICT:
            return self._dial(row)
        if role == Qt.ItemDataRole.AccessibleTextRole:
            return self._aloud(rows, row, column)
        if role == Qt.ItemDataRole.ToolTipRole:
            return said(str(CODES[rows.codes[row]])) if column is Column.VERDICT else self._text(rows, row, column)
        return None

    def headerData(  # noqa: N802 - Qt's name
        self, section: int, orientation: Qt.Orientation, role: int = Qt.ItemDataRole.DisplayRole
    ) -> object:
        """Return a column's heading."""
        if orientation is not Qt.Orientation.Horizontal:
            return None
        column = COLUMNS[section]
        if role == Qt.ItemDataRole.DisplayRole:
            return "" if column is Column.VERDICT else self._heading(column)
        if role in (Qt.ItemDataRole.ToolTipRole, Qt.ItemDataRole.AccessibleTextRole):
            return self._heading(column)
        if role == Qt.ItemDataRole.TextAlignmentRole:
            return RIGHT if column in (Column.GIRTH, Column.TAPS) else LEFT
        return None

    def _heading(self, column: Column) -> str:
        match column:
            case Column.TREE:
                return tr("tree")
            case Column.GIRTH:
                return tr("girth {unit}", unit=self._units().girth_unit)
            case Column.BACK_IN:
                return tr("back in")
            case Column.VERDICT:
                return tr("verdict")
            case Column.TAPS:
                return tr("taps")

    def _text(self, rows: TreeRows, row: int, column: Column) -> str:
        match column:
            case Column.TREE:
                return rows.names.texts[row]
            case Column.GIRTH:
                girth = float(rows.girth_mm[row])
                units = self._units()
                return NOT_KNOWN if np.isnan(girth) else units.number(units.girth(girth))
            case Column.BACK_IN:
                if CODES[rows.codes[row]] is Verdict.READY:
                    return tr("now") if self._season == self._this_season() else str(self._season)
                return str(rows.back_in[row]) if rows.back_in[row] else NOT_KNOWN
            case Column.VERDICT:
                return said(str(CODES[rows.codes[row]]))
            case Column.TAPS:
                return str(rows.taps[row]) if rows.taps[row] else ""

    def _aloud(self, rows: TreeRows, row: int, column: Column) -> str:
        text = self._text(rows, row, column)
        match column:
            case Column.GIRTH:
                known = not np.isnan(rows.girth_mm[row])
                return (
                    tr("girth {girth}", girth=self._units().girth(float(rows.girth_mm[row])))
                    if known
                    else tr("girth not known")
                )
            case Column.BACK_IN:
                return tr("back in {season}", season=text) if text != NOT_KNOWN else tr("not said when back")
            case Column.TAPS:
                taps = int(rows.taps[row])
                return tr_n("marked for {n} tap", "marked for {n} taps", taps) if taps else tr("not marked")
            case _:
                return text
