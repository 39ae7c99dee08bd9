"""The year strip: one cell a season; choosing a cell colours the map for that season."""

from __future__ import annotations

from collections.abc import Mapping

from PySide6.QtCore import QAbstractListModel, QModelIndex, QObject, QPersistentModelIndex, QSize, Qt
from PySide6.QtGui import QKeyEvent, QResizeEvent, QWheelEvent
from PySide6.QtWidgets import QAbstractItemView, QFrame, QHBoxLayout, QListView, QStackedLayout, QVBoxLayout, QWidget

from standmap.desktop.desk import Desk
from standmap.desktop.kit import button, label, second
from standmap.desktop.strip.cell import SeasonCell
from standmap.desktop.strip.counted import CountedSeasons
from standmap.desktop.theme import STRIP_PX
from standmap.desktop.words import said, tr, tr_n
from standmap.jobs.rotation import PlannedSeason
from standmap.jobs.seasons import AHEAD, SeasonCounts, When
from standmap.units_shown import UnitsShown

Index = QModelIndex | QPersistentModelIndex

COUNTS_ROLE = Qt.ItemDataRole.UserRole
AS_NOW_ROLE = COUNTS_ROLE + 1
LEAST_CELL_PX = 76


def season_text(counted: SeasonCounts, planned: PlannedSeason | None, units: UnitsShown) -> str:
    """Return a season in one phrase: the year, when that is, how many trees have each verdict, what a plan taps."""
    when = {
        When.PAST: tr("as recorded by then"),
        When.NOW: tr("this season"),
        When.AHEAD: tr("to come"),
    }[counted.when]
    told = [tr("{verdict} {n}", verdict=said(name), n=n) for name, n in counted.counts.items() if n]
    text = tr("season {year}, {when}: {counts}", year=counted.season, when=when, counts=", ".join(told))
    if planned is None:
        return text
    trees = tr_n("{n} tree", "{n} trees", len(planned.trees))
    return text + tr("; by the plan {trees}, {litres}", trees=trees, litres=units.volume(planned.litres * 1000))


class SeasonModel(QAbstractListModel):
    """The counted seasons as a list, oldest first."""

    def __init__(self, desk: Desk, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._desk = desk
        self.seasons: tuple[SeasonCounts, ...] = ()
        self._as_now: Mapping[int, SeasonCounts] = {}

    def show(self, seasons: tuple[SeasonCounts, ...], as_now: Mapping[int, SeasonCounts]) -> None:
        """Put other counts in, those without a plan beside them; the cells stay where the seasons are the same."""
        self._as_now = as_now
        if [s.season for s in seasons] == [s.season for s in self.seasons]:
            self.seasons = seasons
            self.dataChanged.emit(self.index(0), self.index(len(seasons) - 1))
            return
        self.beginResetModel()
        self.seasons = seasons
        self.endResetModel()

    def rowCount(self, parent: Index = QModelIndex()) -> int:  # noqa: N802, B008 - Qt's name and signature
        """Return the number of seasons."""
        return 0 if parent.isValid() else len(self.seasons)

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> object:
        """Return the year, the counts, or both in words."""
        counted = self.seasons[index.row()]
        if role == Qt.ItemDataRole.DisplayRole:
            return str(counted.season)
        if role == Qt.ItemDataRole.AccessibleTextRole:
            return self._text(counted)
        if role == Qt.ItemDataRole.ToolTipRole:
            return self._text(counted) + self._more(counted)
        if role == AS_NOW_ROLE:
            return None if counted.when is When.PAST else self._as_now.get(counted.season)
        return counted if role == COUNTS_ROLE else None

    def _text(self, counted: SeasonCounts) -> str:
        planned = self._desk.rotation
        mine = next((s for s in planned.seasons if s.season == counted.season), None) if planned is not None else None
        return season_text(counted, mine, self._desk.units)

    def _more(self, counted: SeasonCounts) -> str:
        without = self._as_now.get(counted.season) if counted.when is not When.PAST else None
        if without is None:
            return f"\n{said(AHEAD)}" if counted.when is When.AHEAD else ""
        told = [tr("{verdict} {n}", verdict=said(name), n=n) for name, n in without.counts.items() if n]
        return "\n" + tr("below, if no more trees were tapped: {counts}", counts=", ".join(told))

    def row_of(self, season: int) -> int | None:
        """Return the row of a season, or None where it has no cell."""
        row = season - self.seasons[0].season if self.seasons else -1
        return row if 0 <= row < len(self.seasons) else None


class SeasonCells(QListView):
    """The row of cells; left and right go through the seasons, Home goes to this one."""

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self._desk = desk
        self._showing = False
        self.seasons = SeasonModel(desk, self)
        self.setModel(self.seasons)
        self._cell = SeasonCell(desk, self)
        self.setItemDelegate(self._cell)
        self.setFlow(QListView.Flow.LeftToRight)
        self.setWrapping(False)
        self.setUniformItemSizes(True)
        self.setResizeMode(QListView.ResizeMode.Adjust)
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setStyleSheet("QListView { border: none; padding: 0; }")  # the chosen cell shows the focus
        self.setVerticalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setHorizontalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.setMouseTracking(True)
        self.setAccessibleName(tr("year strip"))
        self.setAccessibleDescription(tr("left and right go through the seasons, Home goes to this one"))
        self.selectionModel().currentChanged.connect(self._went)

    def show_seasons(self, seasons: tuple[SeasonCounts, ...], as_now: Mapping[int, SeasonCounts]) -> None:
        """Show counts, with the season of the map chosen."""
        self._showing = True
        self.seasons.show(seasons, as_now)
        self._fit()
        self._showing = False
        self.follow()

    def follow(self) -> None:
        """Choose the cell of the season that the map is coloured for, and bring it into sight."""
        row = self.seasons.row_of(self._desk.season)
        self._showing = True
        index = self.seasons.index(row) if row is not None else QModelIndex()
        self.setCurrentIndex(index)
        if row is not None:
            self.scrollTo(index)
        else:
            self.clearSelection()
        self._showing = False

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: N802 - Qt's name
        """Go to this season with Home, else as any list does."""
        if event.key() == Qt.Key.Key_Home:
            self._desk.set_season(self._desk.today.year)
            return
        super().keyPressEvent(event)

    def wheelEvent(self, event: QWheelEvent) -> None:  # noqa: N802 - Qt's name
        """Scroll along, whichever way the wheel is turned; the season stays."""
        turned = event.pixelDelta() if not event.pixelDelta().isNull() else event.angleDelta() / 2
        along = turned.x() or turned.y()
        bar = self.horizontalScrollBar()
        bar.setValue(bar.value() - along)
        event.accept()

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802 - Qt's name
        """Share the width among the cells, as long as each is wide enough to be read."""
        super().resizeEvent(event)
        self._fit()
        current = self.currentIndex()
        if current.isValid():
            self.scrollTo(current)

    def _fit(self) -> None:
        scale = self._desk.settings.text_size_percent / 100
        count = max(1, self.seasons.rowCount())
        width = max(round(LEAST_CELL_PX * scale), (self.width() - 1) // count)
        beside = max(self.width() - 1 - width * count, 0)
        self.setViewportMargins(beside // 2, 0, 0, 0)
        self._cell.size = QSize(width, self.viewport().height())
        self.setGridSize(self._cell.size)

    def _went(self, index: QModelIndex, _before: QModelIndex) -> None:
        if index.isValid() and not self._showing:
            self._desk.set_season(self.seasons.seasons[index.row()].season)


class PlanShown(QWidget):
    """Says beside the cells that a plan is shown, and puts it away; hidden while there is none."""

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self._desk = desk
        self.words = label(tr("as planned"), "strong", wrap=False)
        self.below = label(tr("below: as now"), "source", wrap=False)
        self.away = button(tr("put away"), lambda: desk.show_rotation(None), "link")
        self.away.setAccessibleName(tr("put the plan of the coming seasons away"))
        down = QVBoxLayout(self)
        down.setContentsMargins(14, 4, 6, 4)
        down.setSpacing(0)
        for part in (self.words, self.below, self.away):
            down.addWidget(part, 0, Qt.AlignmentFlag.AlignLeft)
        desk.rotation_changed.connect(self._tell)
        desk.seen_changed.connect(self._tell)
        self._tell()

    def _tell(self) -> None:
        self.setVisible(self._desk.rotation is not None)


class YearStrip(QWidget):
    """The strip below the map, with a few words in place of the cells where there is nothing to show."""

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self._desk = desk
        self.setObjectName("strip")
        self.setAttribute(Qt.WidgetAttribute.WA_StyledBackground)
        self.cells = SeasonCells(desk)
        self.words = second("")
        self.words.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self._pages = QStackedLayout()
        self._pages.addWidget(self.words)
        self._pages.addWidget(self.cells)
        self.plan = PlanShown(desk)
        across = QHBoxLayout(self)
        across.setContentsMargins(0, 1, 0, 0)
        across.addWidget(self.plan)
        across.addLayout(self._pages, 1)
        self.counted = CountedSeasons(desk, self)
        self.counted.changed.connect(self._show)
        desk.season_changed.connect(self.cells.follow)
        desk.settings_changed.connect(self._scale)
        self._scale()
        self._show()

    def _scale(self) -> None:
        self.setFixedHeight(round(STRIP_PX * self._desk.settings.text_size_percent / 100))
        self.cells.viewport().update()

    def _show(self) -> None:
        seasons = self.counted.seasons
        self._pages.setCurrentWidget(self.cells if seasons else self.words)
        if seasons:
            self.cells.show_seasons(seasons, self.counted.as_now)
        else:
            self.words.setText(self._why_empty())

    def _why_empty(self) -> str:
        if self.counted.counting:
            return tr("counting the seasons")
        has_trees = self._desk.seen is not None and bool(self._desk.seen.trees)
        return tr("the seasons were not counted") if has_trees else tr("no records yet")
