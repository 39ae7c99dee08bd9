"""The load along the walk: a stepped line, with what may be carried dashed above it."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import QSizePolicy, QWidget

from standmap.desktop.desk import Desk
from standmap.desktop.words import tr
from standmap.jobs.planned_round import PlannedRound
from standmap.jobs.round_posed import PosedRound
from standmap.units_shown import UnitsShown

HEIGHT_PX = 84
LABEL_PX = 18.0
ROOM_ABOVE = 1.06
"""The top of the picture, as a part of the greatest load shown."""


def starts_of(posed: PosedRound, planned: PlannedRound) -> tuple[float, ...]:
    """Return what each trip sets out with, kilograms: cans or tools, what is to be hung, what is carried already."""
    starts = []
    for trip in planned.trips:
        first = trip.stops[0]
        asked = posed.stops[first.key]
        starts.append(max(first.load_kg - asked.taken_kg + asked.left_kg, 0.0))
    return tuple(starts)


def steps_of(planned: PlannedRound, starts_kg: Sequence[float]) -> list[list[tuple[float, float]]]:
    """Return for each trip what is carried along it: (metres walked since the start of the round, kilograms)."""
    walked = 0.0
    trips = []
    for trip, start_kg in zip(planned.trips, starts_kg, strict=True):
        here, load = walked, start_kg
        points = [(here, 0.0), (here, load)]
        for stop in trip.stops:
            here += stop.leg_m
            points += [(here, load), (here, stop.load_kg)]
            load = stop.load_kg
        walked += trip.length_m
        points += [(walked, load), (walked, 0.0)]
        trips.append(points)
    return trips


class LoadProfile(QWidget):
    """The profile of one round; its accessible text says the same in words."""

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self._desk = desk
        self._planned: PlannedRound | None = None
        self._capacity_kg = 0.0
        self._starts_kg: tuple[float, ...] = ()
        self._at: int | None = None
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setAccessibleName(tr("load along the walk"))
        desk.settings_changed.connect(self._tell)

    def show_round(self, planned: PlannedRound, capacity_kg: float, starts_kg: tuple[float, ...]) -> None:
        """Show the loads of a round; `starts_kg` as of `starts_of`."""
        self._planned, self._capacity_kg, self._starts_kg = planned, capacity_kg, starts_kg
        self._tell()

    def mark(self, order: int | None) -> None:
        """Mark the stop with this number."""
        if order != self._at:
            self._at = order
            self.update()

    def sizeHint(self) -> QSize:  # noqa: N802 - Qt's name
        """Return a height that grows with the text."""
        return QSize(200, round(HEIGHT_PX * self._desk.settings.text_size_percent / 100))

    def _units(self) -> UnitsShown:
        return self._desk.units

    def _tell(self) -> None:
        if self._planned is None:
            return
        units = self._units()
        trips = [
            tr("trip {n} up to {load}", n=trip.number, load=units.mass(trip.max_load_kg))
            for trip in self._planned.trips
        ]
        limit = tr("limit {load}", load=units.mass(self._capacity_kg))
        self.setAccessibleDescription(", ".join([*trips, limit]))
        self.setToolTip("\n".join([*trips, limit]))
        self.updateGeometry()
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802 - Qt's name
        """Draw it."""
        del event
        planned = self._planned
        if planned is None or planned.length_m <= 0:
            return
        theme = self._desk.theme
        label_px = LABEL_PX * self._desk.settings.text_size_percent / 100
        trips = steps_of(planned, self._starts_kg)
        most = max(self._capacity_kg, *(kg for points in trips for _, kg in points)) * ROOM_ABOVE
        box = QRectF(0.5, label_px, self.width() - 1.0, self.height() - label_px - 2)

        def at(metres: float, kg: float) -> QPointF:
            return QPointF(
                box.left() + box.width() * metres / planned.length_m, box.bottom() - box.height() * kg / most
            )

        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        limit = at(0, self._capacity_kg).y()
        painter.setPen(QPen(QColor(theme.hairline), 1))
        painter.drawLine(QPointF(box.left(), box.bottom()), QPointF(box.right(), box.bottom()))
        dashed = QPen(QColor(theme.second_ink), 1)
        dashed.setDashPattern([4, 3])
        painter.setPen(dashed)
        painter.drawLine(QPointF(box.left(), limit), QPointF(box.right(), limit))
        painter.setPen(QColor(theme.second_ink))
        above = QRectF(box.left(), limit - label_px, box.width(), label_px - 2)
        painter.drawText(
            above,
            int(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignBottom),  # where the walk begins, the load is low
            self._units().mass(self._capacity_kg),
        )
        for trip, points in zip(planned.trips, trips, strict=True):
            heavy = trip.max_load_kg > self._capacity_kg + 1e-6
            line = QPolygonF([at(*point) for point in points])
            under = QColor(theme.error if heavy else theme.accent)
            under.setAlphaF(0.12)
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(under)
            painter.drawPolygon(line)
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.setPen(QPen(QColor(theme.error if heavy else theme.accent), 2.4 if heavy else 1.8))
            painter.drawPolyline(line)
        mark = self._marked()
        if mark is not None:
            painter.setPen(QPen(QColor(theme.panel), 1.5))
            painter.setBrush(QColor(theme.ink))
            painter.drawEllipse(at(*mark), 4, 4)
        painter.end()

    def _marked(self) -> tuple[float, float] | None:
        """Return metres and kilograms at the marked stop."""
        walked = 0.0
        for trip in self._planned.trips if self._planned is not None else ():
            here = walked
            for stop in trip.stops:
                here += stop.leg_m
                if stop.order == self._at:
                    return here, stop.load_kg
            walked += trip.length_m
        return None
