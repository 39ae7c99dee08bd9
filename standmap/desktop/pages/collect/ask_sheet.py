"""What a walk is asked for with: what it is for, day, place to start from, load, people; the rest is folded away."""

from __future__ import annotations

from datetime import date
from typing import Any

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QButtonGroup, QComboBox, QHBoxLayout, QVBoxLayout, QWidget

from standmap.desktop.desk import Desk
from standmap.desktop.kit import Field, button, caution_line, heading, second, side_by_side
from standmap.desktop.pages.collect.ask_more import AskMore, named, read_time, row_of
from standmap.desktop.pages.collect.ask_open import open_that_day
from standmap.desktop.words import said, tr
from standmap.errors import UserError
from standmap.jobs.planned_round import Purpose
from standmap.jobs.preferences import round_options
from standmap.jobs.round_options import CAPACITY_BOUNDS_KG, MOST_COLLECTORS, RoundOptions, check
from standmap.stand.ground import PlaceKind
from standmap.units import decimal_number
from standmap.units_shown import UnitsShown

STARTS = (PlaceKind.TANK, PlaceKind.GATE)


class AskSheet(QWidget):
    """The form; what was typed stays as it is while other pages are shown.

    Signals: `entered` (Enter in a field), `choose_wanted`, `place_wanted`, `tank_wanted` (where would one stand best?),
    `given_wanted` (the walks given out), `batches_wanted`, `season_wanted` (when to tap), `tonight_wanted`,
    `day_changed`.
    """

    entered = Signal()
    choose_wanted = Signal()
    place_wanted = Signal()
    tank_wanted = Signal()
    given_wanted = Signal()
    batches_wanted = Signal()
    season_wanted = Signal()
    tonight_wanted = Signal()
    day_changed = Signal()

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self._desk = desk
        usual = round_options(desk.settings)
        self.title = heading(tr("The walk of a day"))
        self.purposes = {
            purpose: button(text, None, "row")
            for purpose, text in (
                (Purpose.COLLECTING, tr("collecting")),
                (Purpose.TAPPING, tr("tapping")),
                (Purpose.CLOSING, tr("closing")),
            )
        }
        self._group = QButtonGroup(self)
        for one in self.purposes.values():
            one.setCheckable(True)
            self._group.addButton(one)
        self.purposes[Purpose.COLLECTING].setChecked(True)
        self.about = second("")
        self.day = Field(tr("day"), self._read_day, text=desk.today.isoformat(), hint=tr("such as 2026-03-28"))
        self.sets_out = Field(tr("sets out"), read_time, hint=tr("by first light"))
        self.start = QComboBox()
        self.load = Field(tr("load"), self._read_load)
        self.collectors = Field(tr("collectors"), _read_collectors, text=str(usual.collectors))
        self.folded = AskMore(desk)
        self.nothing = caution_line("")
        self.to_choose = button(tr("go to the trees"), self.choose_wanted.emit, "plain")
        self.to_survey = button(tr("place a gate or tank"), self.place_wanted.emit, "plain")
        self.to_tank = button(tr("where would a tank stand best?"), self.tank_wanted.emit, "link")
        self.to_given = button(tr("walks given out"), self.given_wanted.emit, "link")
        self.to_batches = button(tr("batches of sap"), self.batches_wanted.emit, "link")
        self.to_season = button(tr("when to tap"), self.season_wanted.emit, "link")
        self.to_tonight = button(tr("tonight"), self.tonight_wanted.emit, "link")
        self.sheet_lines = (
            self.to_season,
            side_by_side(self.to_tonight, self.to_batches, stretch=False),
            self.to_given,
        )
        """What else lies on this page."""
        self._usual_load: tuple[str, float] = ("", 0.0)
        """The text that was put in for the load, which is rounded, and its value."""
        self._place_names: tuple[tuple[str, str], ...] = ()
        self._build()
        self.put_usual()
        desk.settings_changed.connect(self.put_usual)
        for field in (self.day, self.sets_out, self.load, self.collectors):
            field.entered.connect(self.entered)
        self.folded.entered.connect(self.entered)
        self.day.edit.editingFinished.connect(self.tell)
        self._group.buttonClicked.connect(lambda _: self.tell())

    def _build(self) -> None:
        down = QVBoxLayout(self)
        down.setContentsMargins(0, 0, 0, 0)
        down.setSpacing(8)
        choices = QWidget()
        choices.setAccessibleName(tr("what the walk is for"))
        across = QHBoxLayout(choices)
        across.setContentsMargins(0, 0, 0, 0)
        across.setSpacing(4)
        for one in self.purposes.values():
            across.addWidget(one)
        across.addStretch(1)
        for part in (
            self.title,
            choices,
            self.about,
            row_of(self.day, self.sets_out),
            named(tr("from"), self.start),
            row_of(self.load, self.collectors),
            self.folded,
            self.nothing,
            self.to_choose,
            self.to_survey,
            self.to_tank,
            *self.sheet_lines,
        ):
            down.addWidget(part)

    @property
    def fields(self) -> tuple[Field[Any], ...]:
        """Every field of the form."""
        return (self.day, self.sets_out, self.load, self.collectors, *self.folded.fields)

    @property
    def units(self) -> UnitsShown:
        """How measures are shown and typed."""
        return self._desk.units

    @property
    def purpose(self) -> Purpose:
        """What the walk is for."""
        return next(purpose for purpose, one in self.purposes.items() if one.isChecked())

    @property
    def chosen_day(self) -> date:
        """The day typed, today while it is none."""
        try:
            return self._read_day(self.day.text())
        except UserError:
            return self._desk.today

    def asked(self) -> tuple[date, RoundOptions] | None:
        """Return what is asked for, or None after saying beside a field what is wrong with it."""
        day, capacity_kg, collectors = self.day.value(), self.load.value(), self.collectors.value()
        sets_out = self.sets_out.value()
        wrong = next((field for field in self.fields[:4] if field.wrong.text()), None)
        if wrong is not None or day is None or capacity_kg is None or collectors is None:
            if wrong is not None:
                wrong.setFocus()
            return None
        options = self.folded.with_these(
            RoundOptions(
                purpose=self.purpose,
                start=self.start.currentData(),
                capacity_kg=capacity_kg,
                capacity_as_given=self.load.text() != self._usual_load[0],
                collectors=collectors,
                sets_out=sets_out,
            )
        )
        if options is None:
            return None
        try:
            check(options)
        except UserError as error:
            self.folded.unfold_to(self.folded.cans)
            self.folded.cans.say(f"{said(error.what)}; {said(error.remedy)}")
            self.folded.cans.setFocus()
            return None
        return day, options

    def tell(self) -> None:
        """Say what there is to do that day, and what to do if nothing is, or nowhere to start from."""
        seen = self._desk.seen
        if seen is None:
            return
        self._list_places()
        self.folded.show_for(self.purpose)
        found = open_that_day(seen, self.purpose, self.chosen_day)
        self.about.setText(found.about)
        no_start = not self._place_names
        self.to_tank.setVisible(bool(found.count) and self.purpose is Purpose.COLLECTING)
        self.to_choose.setVisible(not found.count)
        self.to_survey.setVisible(bool(found.count) and no_start)
        self.nothing.setVisible(not found.count or no_start)
        if not found.count:
            self.nothing.setText(found.what_to_do)
        elif no_start:
            self.nothing.setText(tr("there is no gate or tank to start from: place one on the survey page"))
        self.day_changed.emit()

    def say_refused(self, text: str) -> None:
        """Show why there is no walk."""
        self.nothing.setText(text)
        self.nothing.show()

    @property
    def can_plan(self) -> bool:
        """Whether there is something to start from."""
        return bool(self._place_names)

    def put_usual(self) -> None:
        """Put what is set into the fields in which nothing else was typed."""
        usual = round_options(self._desk.settings).capacity_kg
        shown = self.units.mass(usual)
        if self.load.text() in ("", self._usual_load[0]):
            self.load.set_text(shown)
        self._usual_load = (shown, usual)
        self.folded.put_usual()

    def start_from(self, key: str) -> None:
        """Let the walk start from a place."""
        self._list_places()
        self.start.setCurrentIndex(max(self.start.findData(key), 0))

    def _list_places(self) -> None:
        seen = self._desk.seen
        places = seen.stand.places if seen is not None else ()
        # The first is where a walk starts unless told otherwise, as on the command line.
        ordered = [p for kind in STARTS for p in places if p.kind is kind]
        named_places = tuple((p.key, p.name or tr(str(p.kind))) for p in ordered)
        if named_places == self._place_names:
            return
        before = self.start.currentData()
        self._place_names = named_places
        self.start.clear()
        for key, name in named_places:
            self.start.addItem(name, key)
        self.start.setCurrentIndex(max(self.start.findData(before), 0))

    # What may be typed

    @staticmethod
    def _read_day(text: str) -> date:
        try:
            return date.fromisoformat(text.strip())
        except ValueError:
            raise UserError(f"'{text.strip()[:30]}' is not a date", "write it like 2026-03-28") from None

    def _read_load(self, text: str) -> float:
        kg = self._usual_load[1] if text == self._usual_load[0] else self.units.read_mass_kg(text)
        low, high = CAPACITY_BOUNDS_KG
        if not low <= kg <= high:
            units = self.units
            raise UserError(f"{text.strip()[:30]} is out of bounds", f"choose {units.mass(low)} to {units.mass(high)}")
        return kg


def _read_collectors(text: str) -> int:
    number = decimal_number(text)
    if number != number.to_integral_value() or not 1 <= number <= MOST_COLLECTORS:
        raise UserError(f"{text.strip()[:30]} collectors are out of bounds", f"choose 1 to {MOST_COLLECTORS}")
    return int(number)
