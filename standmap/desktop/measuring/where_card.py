"""A small card that tells where a point is, each figure ready to be copied."""

from __future__ import annotations

from PySide6.QtCore import QPoint, Qt, Signal
from PySide6.QtGui import QGuiApplication, QKeyEvent
from PySide6.QtWidgets import QFrame, QGridLayout, QHBoxLayout, QVBoxLayout, QWidget

from standmap.desktop.canvas.canvas import MapCanvas
from standmap.desktop.desk import Desk, wording
from standmap.desktop.kit import Field, button, caution_line, clear, label, second
from standmap.desktop.measuring.fitting import fit_height
from standmap.desktop.measuring.told import north_text
from standmap.desktop.theme import MARGIN_PX
from standmap.desktop.words import day_text, said, tr
from standmap.jobs.where import Where, where
from standmap.stand.tree import LonLat
from standmap.survey.coordinates import GridPosition, grid_number

WIDTH_PX = 348
BESIDE_PX = 24


class WhereCard(QFrame):
    """Tells where one point is.

    Attributes
    ----------
    values
        What is shown, by its label.
    grid
        The field for a national grid's EPSG code.
    """

    closed = Signal()

    def __init__(self, desk: Desk, canvas: MapCanvas) -> None:
        super().__init__(canvas)
        self._desk = desk
        self._canvas = canvas
        self._at: LonLat | None = None
        self.values: dict[str, str] = {}
        self.setObjectName("card")
        self.setAttribute(Qt.WidgetAttribute.WA_StyledBackground)
        self.setAccessibleName(tr("where this point is"))
        down = QVBoxLayout(self)
        down.setContentsMargins(16, 12, 16, 12)
        down.setSpacing(8)
        top = QHBoxLayout()
        self._title = label("", "heading")
        self.shut = button(tr("close"), self.close_card, "link")
        top.addWidget(self._title, 1)
        top.addWidget(self.shut)
        down.addLayout(top)
        self._rows = QWidget()
        self._down = QVBoxLayout(self._rows)
        self._down.setContentsMargins(0, 0, 0, 0)
        self._down.setSpacing(6)
        down.addWidget(self._rows)
        kept = desk.settings.national_grid_epsg
        self.grid: Field[int | None] = Field(
            tr("national grid"), _grid, text="" if kept is None else str(kept), hint=tr("EPSG code, such as 3067")
        )
        self.grid.entered.connect(self._ask)
        down.addWidget(self.grid)
        self.hide()

    def show_point(self, at: LonLat, title: str, beside: QPoint) -> None:
        """Tell where a point is.

        Parameters
        ----------
        at
            Longitude and latitude.
        title
            What the point is.
        beside
            Where it stands on the map; the card lies beside it.
        """
        self._at = at
        self._title.setText(title)
        self._beside = beside
        self._ask()

    _beside = QPoint()

    def put_away(self) -> None:
        """Hide the card; what is still being worked out for it is not shown."""
        self._at = None
        self.hide()

    def close_card(self) -> None:
        """Put the card away, and say so."""
        self.put_away()
        self._canvas.setFocus()
        self.closed.emit()

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: N802 - Qt's name
        """Close on Escape."""
        if event.key() == Qt.Key.Key_Escape:
            self.close_card()
        else:
            super().keyPressEvent(event)

    def _ask(self) -> None:
        at = self._at
        if at is None:
            return
        epsg = self.grid.value() if self.grid.text().strip() else None
        day = self._desk.today

        def failed(error: Exception) -> None:
            if epsg is not None:
                self.grid.say(wording(error))
                self._desk.compute(lambda _: where(at, day), "", lambda found: self._show(at, found))
            else:
                self._desk.error(error)

        self._desk.compute(lambda _: where(at, day, epsg), "", lambda found: self._show(at, found), failed)

    def _show(self, at: LonLat, found: Where) -> None:
        if at != self._at:
            return
        clear(self._down)
        self.values = {}
        self._row("WGS 84", found.decimal)
        self._row(tr("degrees, minutes, seconds"), found.sexagesimal)
        if found.utm is not None:
            self._row(utm_text(found.utm), found.utm.text)
        if found.grid is not None:
            self._row(found.grid.grid, found.grid.text + ("" if found.grid.unit == "m" else f" {found.grid.unit}"))
            self._cautions(found.grid)
        north = said(found.north_unknown) if found.north is None else north_text(found.north)
        self._row(tr("compass, {day}", day=day_text(self._desk.today)), north)
        if found.north is not None:
            self._down.addWidget(label(said(found.north_footing), "source"))
        self._place()

    def _row(self, name: str, value: str) -> None:
        self.values[name] = value
        box = QWidget()
        cells = QGridLayout(box)
        cells.setContentsMargins(0, 0, 0, 0)
        cells.setHorizontalSpacing(8)
        cells.setVerticalSpacing(0)
        shown = label(value, wrap=False)
        shown.setTextInteractionFlags(
            Qt.TextInteractionFlag.TextSelectableByMouse | Qt.TextInteractionFlag.TextSelectableByKeyboard
        )
        shown.setAccessibleName(f"{name}: {value}")
        copy = button(tr("copy"), lambda: QGuiApplication.clipboard().setText(value), "link")
        copy.setAccessibleName(tr("copy {what}", what=name))
        cells.addWidget(second(name), 0, 0)
        cells.addWidget(shown, 1, 0)
        cells.addWidget(copy, 0, 1, 2, 1)
        cells.setColumnStretch(0, 1)
        self._down.addWidget(box)

    def _cautions(self, grid: GridPosition) -> None:
        if grid.approximate and grid.accuracy_m is not None:
            text = tr("approximate, within about {metres} m: the exact way needs a file that is not here",
                      metres=f"{grid.accuracy_m:g}")  # fmt: skip
            self._down.addWidget(caution_line(text))
        elif grid.approximate:
            self._down.addWidget(caution_line(tr("approximate: nobody states how good")))
        if not grid.inside:
            self._down.addWidget(caution_line(tr("outside the area that this grid is made for")))

    def _place(self) -> None:
        """Lie beside the point, within the part of the map that is free."""
        scale = self._desk.settings.text_size_percent / 100
        self.show()
        fit_height(self, round(WIDTH_PX * scale))
        left, top, right, bottom = (round(m) for m in self._canvas.margins)
        most_x = self._canvas.width() - right - MARGIN_PX - self.width()
        most_y = self._canvas.height() - bottom - MARGIN_PX - self.height()
        x, y = self._beside.x() + BESIDE_PX, self._beside.y() - 40
        if x > most_x:
            x = self._beside.x() - BESIDE_PX - self.width()
        if x < left + MARGIN_PX:  # no room at either side: above the point, or below it
            above = self._beside.y() - BESIDE_PX - self.height()
            y = above if above >= top + MARGIN_PX else self._beside.y() + BESIDE_PX
        self.move(max(left + MARGIN_PX, min(x, most_x)), max(top + MARGIN_PX, min(y, most_y)))
        self.raise_()


def _grid(text: str) -> int | None:
    return grid_number(text) if text.strip() else None


def utm_text(position: GridPosition) -> str:
    """Return the name of a UTM zone in the person's language."""
    zone = position.grid.split()[1]
    return tr("UTM {zone} north", zone=zone) if position.grid.endswith("north") else tr("UTM {zone} south", zone=zone)
