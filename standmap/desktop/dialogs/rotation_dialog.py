"""The coming seasons: which trees are tapped in which, how much each gives, and what binds; beside the map."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Qt
from PySide6.QtWidgets import (
    QAbstractItemView,
    QCheckBox,
    QDialog,
    QHBoxLayout,
    QHeaderView,
    QTableWidget,
    QTableWidgetItem,
    QVBoxLayout,
    QWidget,
)

from standmap.desktop.desk import Desk, wording
from standmap.desktop.kit import Field, button, caution_line, clear, heading, label, second, side_by_side
from standmap.desktop.marking import mark_planned, planned_marks
from standmap.desktop.words import said, tr, tr_n
from standmap.desktop.working import Watch, Work
from standmap.errors import UserError
from standmap.jobs.rotation import MOST_SEASONS, PlannedRotation, PlannedSeason, RotationOptions, plan_rotation
from standmap.units import decimal_number

WIDTH_PX, HEIGHT_PX = 660, 620
FIRST_SEASONS = 8


class RotationDialog(QDialog):
    """Asks, plans off the GUI thread, shows a row a season; a row that is chosen colours the map for its season.

    Attributes
    ----------
    planned
        The plan that is shown on map and year strip, None where none is.
    """

    def __init__(self, desk: Desk, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._desk = desk
        self.planned = desk.rotation
        self._work: Work[PlannedRotation] | None = None
        self.setWindowTitle(tr("the coming seasons"))
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.setModal(False)  # the map beside it is looked at
        years = FIRST_SEASONS if self.planned is None else len(self.planned.seasons)
        self.years = Field(tr("seasons"), _read_years, text=str(years))
        self.litres = Field(tr("litres of a season"), self._read_litres, hint=tr("as many as there are"))
        self.growth = Field(tr("girth grows, mm a year"), _read_growth, hint=tr("as measured"))
        self.most = QCheckBox(tr("as much as there is in all, not the leanest season first"))
        self.plan_button = button(tr("plan"), self.plan, "primary")
        self.stop_button = button(tr("stop and keep the best so far"), self._stop, "quiet")
        self.told = label("", "strong")
        self.table = QTableWidget(0, 5)
        self.more = QVBoxLayout()
        self.mark_button = button("", self.mark, "primary")
        self._build()
        for field in (self.years, self.litres, self.growth):
            field.entered.connect(self.plan)
        self.table.itemSelectionChanged.connect(self._look_at)
        scale = desk.settings.text_size_percent / 100
        room = self.screen().availableSize()
        self.resize(min(round(WIDTH_PX * scale), room.width()), min(round(HEIGHT_PX * scale), room.height()))
        desk.seen_changed.connect(self._stand_changed)
        desk.rotation_changed.connect(self._put_away)
        self._tell()

    def _build(self) -> None:
        down = QVBoxLayout(self)
        down.setContentsMargins(24, 20, 24, 20)
        down.setSpacing(8)
        self.table.setHorizontalHeaderLabels(
            [tr("season"), tr("trees"), tr("holes"), self._desk.units.volume_unit, tr("without a plan")]
        )
        for column in range(self.table.columnCount()):
            side = Qt.AlignmentFlag.AlignLeft if column == 0 else Qt.AlignmentFlag.AlignRight
            heading_of = self.table.horizontalHeaderItem(column)
            if heading_of is not None:
                heading_of.setTextAlignment(side | Qt.AlignmentFlag.AlignVCenter)
        self.table.setAccessibleName(tr("the coming seasons"))
        self.table.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.table.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.table.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.table.verticalHeader().hide()
        self.table.horizontalHeader().setSectionResizeMode(QHeaderView.ResizeMode.Stretch)
        self.more.setSpacing(4)
        asked = QHBoxLayout()
        asked.setSpacing(8)
        for field in (self.years, self.litres, self.growth):
            asked.addWidget(field, 1, Qt.AlignmentFlag.AlignTop)
        down.addWidget(heading(tr("the coming seasons")))
        down.addWidget(
            second(tr("which trees in which season, so that every root rests and the leanest year gives most"))
        )
        down.addLayout(asked)
        down.addWidget(self.most)
        down.addWidget(side_by_side(self.plan_button, self.stop_button))
        down.addWidget(self.told)
        down.addWidget(self.table, 1)
        down.addLayout(self.more)
        down.addWidget(
            caution_line(tr("look at every tree before you drill; a plan knows no rot and no owner's change of mind"))
        )
        down.addWidget(side_by_side(self.mark_button, button(tr("close"), self.reject, "quiet")))

    # Planning

    def plan(self) -> None:
        """Plan what the fields ask for."""
        seen = self._desk.seen
        years, litres, growth = self.years.value(), self.litres.value(), self.growth.value()
        wrong = next((field for field in (self.years, self.litres, self.growth) if field.wrong.text()), None)
        if seen is None or self._work is not None or wrong is not None or years is None:
            if wrong is not None:
                wrong.setFocus()
            return
        options = RotationOptions(years, wanted_l=litres, most=self.most.isChecked(), growth_mm=growth)
        stand, day = seen.stand, self._desk.today

        def search(watch: Watch) -> PlannedRotation:
            return plan_rotation(stand, day, options, progress=watch)

        self._work = self._desk.compute(search, tr("planning the coming seasons"), self._take, self._refuse)
        self._work.progressed.connect(lambda _done, _total, what: self.told.setText(said(what)))
        self._tell()

    def _stop(self) -> None:
        if self._work is not None:
            self._work.cancel()

    def _take(self, planned: PlannedRotation) -> None:
        self.planned, self._work = planned, None
        self._desk.show_rotation(planned)
        self._tell()

    def _refuse(self, error: Exception) -> None:
        self.planned, self._work = None, None
        self._desk.show_rotation(None)
        self._tell()
        self.told.setText(wording(error))

    # What is shown

    def _tell(self) -> None:
        planned, busy = self.planned, self._work is not None
        self.plan_button.setEnabled(not busy)
        self.stop_button.setVisible(busy)
        marks = planned_marks(self._desk, planned)
        self.mark_button.setVisible(bool(marks) and not busy)
        self.mark_button.setText(marks)
        self.mark_button.setAccessibleName(marks)
        self.table.setVisible(planned is not None)
        if busy:
            self.told.setText(tr("planning the coming seasons"))
            return
        clear(self.more)
        if planned is None:
            self.told.setText("")
            return
        self.told.setText(self._sentence(planned))
        self._fill(planned.seasons)
        for text in self._below(planned):
            self.more.addWidget(second(text))

    def _sentence(self, planned: PlannedRotation) -> str:
        leanest = self._desk.units.volume(planned.leanest_l * 1000)
        sure = (
            tr("no better plan exists")
            if planned.proved
            else tr("at most {n} % below the best possible", n=f"{planned.gap_percent:.1f}")
        )
        return tr("{litres} or more a season; {sure}", litres=leanest, sure=sure)

    def _fill(self, seasons: Sequence[PlannedSeason]) -> None:
        units = self._desk.units
        self.table.setRowCount(len(seasons))
        for row, season in enumerate(seasons):
            loose = tr_n("{n} tree", "{n} trees", season.unplanned_trees)
            cells = (
                str(season.season),
                str(len(season.trees)),
                str(season.holes),
                units.volume(season.litres * 1000),
                f"{loose}, {units.volume(season.unplanned_l * 1000)}",
            )
            for column, text in enumerate(cells):
                item = QTableWidgetItem(text)
                side = Qt.AlignmentFlag.AlignLeft if column == 0 else Qt.AlignmentFlag.AlignRight
                item.setTextAlignment(side | Qt.AlignmentFlag.AlignVCenter)
                item.setToolTip(", ".join(tree.name for tree, _ in season.trees))
                self.table.setItem(row, column, item)

    def _below(self, planned: PlannedRotation) -> list[str]:
        units = self._desk.units
        lines = []
        shut = [str(season.season) for season in planned.seasons if not season.possible]
        if shut:
            lines.append(tr("no tree may be tapped in {years}", years=", ".join(shut)))
        if planned.short and planned.wanted_l is not None:
            wanted = units.volume(planned.wanted_l * 1000)
            lines.append(tr("{litres} a season cannot be had", litres=wanted))
            for without in planned.binding:
                rule = said(without.rule)
                if without.leanest_l > planned.leanest_l + 1e-6:
                    gives = units.volume(without.leanest_l * 1000)
                    lines.append(tr("without the {rule}: {litres}", rule=rule, litres=gives))
                else:
                    lines.append(tr("it is the {rule}", rule=rule))
        return [*lines, *(units.in_sentence(said(text)) for text in planned.assumptions)]

    def _look_at(self) -> None:
        """Colour the map for the season of the row, and choose its trees."""
        rows = self.table.selectionModel().selectedRows()
        if not rows or self.planned is None:
            return
        season = self.planned.seasons[rows[0].row()]
        self._desk.set_season(season.season)
        self._desk.choose([tree.key for tree, _ in season.trees])

    def mark(self) -> None:
        """Mark the trees of the first season, as one step that can be taken back."""
        mark_planned(self._desk, self.planned)

    def _put_away(self) -> None:
        if self._desk.rotation is None and self.planned is not None:
            self.planned = None
            self._tell()

    def _stand_changed(self) -> None:
        if self._desk.seen is None:
            self.reject()

    def reject(self) -> None:
        """Close; a search on its way is ended."""
        self._stop()
        super().reject()

    def _read_litres(self, text: str) -> float | None:
        if not text.strip():
            return None
        bare = text.strip().replace(".", "").replace(",", "").isdecimal()
        ml = float(decimal_number(text)) * 1000 if bare else self._desk.units.read_volume(text)[0]
        if not 0 < ml <= 1e9:
            raise UserError(f"{text.strip()[:30]} is out of bounds", "write more than 0")
        return ml / 1000


def open_rotation(desk: Desk, window: QWidget) -> None:
    """Show the coming seasons beside the map: those that are shown already, or a new dialog."""
    shown = window.findChild(RotationDialog)
    if shown is None:
        RotationDialog(desk, window).show()
    else:
        shown.raise_()
        shown.activateWindow()


def _read_years(text: str) -> int:
    number = decimal_number(text)
    if number != number.to_integral_value() or not 1 <= number <= MOST_SEASONS:
        raise UserError(f"{text.strip()[:30]} seasons are out of bounds", f"choose 1 to {MOST_SEASONS}")
    return int(number)


def _read_growth(text: str) -> float | None:
    if not text.strip():
        return None
    number = float(decimal_number(text))
    if not 0 <= number <= 40:
        raise UserError(f"{text.strip()[:30]} is out of bounds", "choose 0 to 40 mm")
    return number
