"""What belongs to a walk beside its order: the light, what to do at the chosen stop, and what to take along."""

from __future__ import annotations

from datetime import datetime

from PySide6.QtWidgets import QCheckBox, QVBoxLayout, QWidget

from standmap.desktop.desk import Desk
from standmap.desktop.kit import button, caution_line, clear, label, second, source_line
from standmap.desktop.words import said, tr
from standmap.jobs.planned_round import KitLine, PlannedRound, RoundStop
from standmap.jobs.returns import called
from standmap.jobs.round_hours import hour_told


def light_line(planned: PlannedRound) -> str:
    """Return when a walk sets out, its light, and when it is expected back: "sets out 05:40 · lamp until 06:10"."""
    parts = []
    light = planned.light
    if planned.sets_out is not None:
        parts.append(tr("sets out {time}", time=_clock(planned.sets_out)))
    if light is not None and light.civil_dawn is not None:
        parts.append(tr("first light {time}", time=_clock(light.civil_dawn)))
    if light is not None and light.lamp_until is not None:
        parts.append(tr("lamp until {time}", time=_clock(light.lamp_until)))
    if planned.back_by is not None:
        day = planned.day if planned.sets_out is None else planned.sets_out.date()
        parts.append(tr("back by {time}", time=hour_told(planned.back_by, day)))
    if planned.contact:
        parts.append(tr("told: {contact}", contact=planned.contact))
    return " · ".join(parts)


def gap_text(planned: PlannedRound) -> str:
    """Return how far the walk may be from the best possible; nothing where nothing is proved."""
    if planned.proved:
        return tr("no better round exists") if planned.aim != "distance" else tr("no shorter round exists")
    if planned.gap_percent is not None:
        return tr("at most {n} % longer than the best possible", n=f"{planned.gap_percent:.1f}")
    return tr("the best found; a shorter one may exist")


def _clock(moment: datetime) -> str:
    return f"{moment:%H:%M}"


class StopTold(QWidget):
    """What to do and to mind at the chosen stop; hidden while there is nothing to tell."""

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self._desk = desk
        self._down = QVBoxLayout(self)
        self._down.setContentsMargins(0, 0, 0, 0)
        self._down.setSpacing(4)
        self.hide()

    def show_stop(self, stop: RoundStop | None) -> None:
        """Show what is told of a stop."""
        clear(self._down)
        self.setVisible(stop is not None and bool(stop.todo or stop.cautions))
        if stop is None:
            return
        self._down.addWidget(label(f"{stop.order} · {called(stop.tree.name, stop.hole_number)}", "strong"))
        for text in stop.cautions:
            self._down.addWidget(caution_line(self._told(text)))
        for todo in stop.todo:
            self._down.addWidget(label(self._told(todo.text)))
            if todo.source:
                self._down.addWidget(source_line(self._told(todo.source)))

    def _told(self, text: str) -> str:
        return self._desk.units.in_sentence(said(text))


class KitList(QWidget):
    """What to take along, each line to be ticked off; ticks stay while the same line is asked for."""

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self._desk = desk
        self._ticked: set[str] = set()
        self.boxes: list[QCheckBox] = []
        self.more = button("", self._turn, "link")
        self.lines = QWidget()
        self._down = QVBoxLayout(self.lines)
        self._down.setContentsMargins(0, 0, 0, 0)
        self._down.setSpacing(2)
        self.lines.hide()
        down = QVBoxLayout(self)
        down.setContentsMargins(0, 0, 0, 0)
        down.setSpacing(2)
        down.addWidget(self.more)
        down.addWidget(self.lines)

    def show_kit(self, kit: tuple[KitLine, ...]) -> None:
        """Show what to take along."""
        clear(self._down)
        self.boxes = []
        self.setVisible(bool(kit))
        for line in kit:
            what = self._told(line.what)
            text = what if line.count is None else f"{line.count} × {what}"
            box = QCheckBox(text)
            box.setChecked(text in self._ticked)
            box.toggled.connect(lambda on, text=text: self._tick(text, on=on))
            self.boxes.append(box)
            self._down.addWidget(box)
            if line.note:
                note = second(self._told(line.note))
                note.setContentsMargins(22, 0, 0, 0)
                self._down.addWidget(note)
        self._tell()

    def unfold(self) -> None:
        """Show the lines and go to the first."""
        self.lines.show()
        self._tell()
        if self.boxes:
            self.boxes[0].setFocus()

    def _tick(self, text: str, *, on: bool) -> None:
        (self._ticked.add if on else self._ticked.discard)(text)
        self._tell()

    def _turn(self) -> None:
        self.lines.setVisible(self.lines.isHidden())
        self._tell()

    def _tell(self) -> None:
        ticked = sum(box.isChecked() for box in self.boxes)
        left = len(self.boxes) - ticked
        state = tr("all packed") if not left else tr("{n} of {count} packed", n=ticked, count=len(self.boxes))
        hidden = self.lines.isHidden()
        self.more.setText(tr("what to take along") + f" · {state}" + (" ▸" if hidden else " ▾"))

    def _told(self, text: str) -> str:
        return self._desk.units.in_sentence(said(text))
