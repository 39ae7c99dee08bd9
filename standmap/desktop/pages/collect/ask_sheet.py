"""What a walk is asked for with: day, place to start from, load, collectors; the rest is folded away."""

from __future__ import annotations

from datetime import date

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QComboBox, QHBoxLayout, QVBoxLayout, QWidget

from standmap.desktop.desk import Desk
from standmap.desktop.kit import Field, button, caution_line, heading, label, second
from standmap.desktop.words import day_text, said, tr, tr_n
from standmap.errors import UserError
from standmap.jobs.preferences import round_options
from standmap.jobs.round import CAPACITY_BOUNDS_KG, RoundOptions
from standmap.jobs.round_options import check
from standmap.stand.ground import PlaceKind
from standmap.units import decimal_number
from standmap.units_shown import UnitsShown

MOST_COLLECTORS = 20
STARTS = (PlaceKind.TANK, PlaceKind.GATE)


class AskSheet(QWidget):
    """The form; what was typed stays as it is while other pages are shown.

    Signals: `entered` (Enter in a field), `choose_wanted`, `place_wanted`.
    """

    entered = Signal()
    choose_wanted = Signal()
    place_wanted = Signal()
    day_changed = Signal()

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self._desk = desk
        usual = round_options(desk.settings)
        self.title = heading(tr("The walk of a day"))
        self.about = second("")
        self.day = Field(tr("day"), self._read_day, text=desk.today.isoformat(), hint=tr("such as 2026-03-28"))
        self.start = QComboBox()
        self.start.setAccessibleName(tr("from"))
        self.load = Field(tr("load"), self._read_load)
        self.collectors = Field(tr("collectors"), _read_collectors, text=str(usual.collectors))
        self.more = button(tr("more"), lambda: self._fold(shown=self.folded.isHidden()), "link")
        self.cans = Field(tr("empty cans"), self._read_cans)
        self.vessel = Field(tr("a vessel holds"), self._read_vessel)
        self.run = Field(tr("a hole gives"), self._read_run, hint=tr("as recorded"))
        self.seed = Field(tr("seed"), _read_seed, text=str(usual.seed), hint=tr("same seed, same walk"))
        self.folded = QWidget()
        folded = QVBoxLayout(self.folded)
        folded.setContentsMargins(0, 0, 0, 0)
        folded.addWidget(_row(self.cans, self.vessel))
        folded.addWidget(_row(self.run, self.seed))
        self.folded.hide()
        self.nothing = caution_line("")
        self.to_choose = button(tr("go to the trees"), self.choose_wanted.emit, "plain")
        self.to_survey = button(tr("place a gate or tank"), self.place_wanted.emit, "plain")
        self._usual: dict[str, float] = {}
        """Values of the texts that were put in, which are rounded."""
        self._place_names: tuple[tuple[str, str], ...] = ()
        self._build()
        self.put_usual()
        desk.settings_changed.connect(self.put_usual)
        for field in self.fields:
            field.entered.connect(self.entered)
        self.day.edit.editingFinished.connect(self.tell)

    def _build(self) -> None:
        down = QVBoxLayout(self)
        down.setContentsMargins(0, 0, 0, 0)
        down.setSpacing(8)
        start = QWidget()
        beside = QVBoxLayout(start)
        beside.setContentsMargins(0, 0, 0, 0)
        beside.setSpacing(2)
        name = label(tr("from"), "second")
        name.setBuddy(self.start)
        beside.addWidget(name)
        beside.addWidget(self.start)
        for part in (
            self.title,
            self.about,
            self.day,
            start,
            _row(self.load, self.collectors),
            self.more,
            self.folded,
            self.nothing,
            self.to_choose,
            self.to_survey,
        ):
            down.addWidget(part)

    @property
    def fields(self) -> tuple[Field[object], ...]:
        """Every field of the form."""
        return (self.day, self.load, self.collectors, self.cans, self.vessel, self.run, self.seed)  # type: ignore[return-value]

    @property
    def units(self) -> UnitsShown:
        """How measures are shown and typed."""
        return self._desk.units

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
        can_kg, vessel_ml, run_ml, seed = self.cans.value(), self.vessel.value(), self.run.value(), self.seed.value()
        if (
            day is None
            or capacity_kg is None
            or collectors is None
            or can_kg is None
            or vessel_ml is None
            or seed is None
            or self.run.wrong.text()
        ):
            self._look_at_wrong()
            return None
        options = RoundOptions(
            start=self.start.currentData(),
            capacity_kg=capacity_kg,
            can_kg=can_kg,
            collectors=collectors,
            run_ml=run_ml,
            vessel_ml=vessel_ml,
            seed=seed,
        )
        try:
            check(options)
        except UserError as error:
            self.cans.say(f"{said(error.what)}; {said(error.remedy)}")
            self._look_at_wrong()
            return None
        return day, options

    def _look_at_wrong(self) -> None:
        wrong = next(field for field in self.fields if field.wrong.text())
        if wrong in (self.cans, self.vessel, self.run, self.seed):
            self._fold(shown=True)
        wrong.setFocus()

    def tell(self) -> None:
        """Say how many holes are open that day, and what to do if none is, or nowhere to start from."""
        seen = self._desk.seen
        if seen is None:
            return
        self._list_places()
        day = self.chosen_day
        tapped = {hole.tree_key for hole in seen.stand.holes if hole.season == day.year}
        holes = sum(len(seen.stand.open_holes(key, day)) for key in tapped if key in seen.row_of)
        self.about.setText(tr_n("{n} open hole on this day", "{n} open holes on this day", holes))
        no_start = not self._place_names
        self.to_choose.setVisible(not holes)
        self.to_survey.setVisible(bool(holes) and no_start)
        self.nothing.setVisible(not holes or no_start)
        if not holes:
            seasons = sorted({hole.season for hole in seen.stand.holes})
            last = tr("the last holes are of {season}", season=seasons[-1]) if seasons else tr("none was ever noted")
            self.nothing.setText(
                tr(
                    "no hole is open on {day}; {last}. Note what was tapped on a tree's card, or choose another day.",
                    day=day_text(day),
                    last=last,
                )
            )
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
        usual, units = round_options(self._desk.settings), self.units
        before, self._usual = self._usual, {}
        for field, value, shown in (
            (self.load, usual.capacity_kg, units.mass(usual.capacity_kg)),
            (self.cans, usual.can_kg, units.mass(usual.can_kg)),
            (self.vessel, usual.vessel_ml, units.volume(usual.vessel_ml)),
        ):
            if not field.text() or field.text() in before:
                field.set_text(shown)
            self._usual[shown] = value

    def _list_places(self) -> None:
        seen = self._desk.seen
        places = seen.stand.places if seen is not None else ()
        # The first is where a walk starts unless told otherwise, as on the command line.
        ordered = [p for kind in STARTS for p in places if p.kind is kind]
        named = tuple((p.key, p.name or tr(str(p.kind))) for p in ordered)
        if named == self._place_names:
            return
        before = self.start.currentData()
        self._place_names = named
        self.start.clear()
        for key, name in named:
            self.start.addItem(name, key)
        self.start.setCurrentIndex(max(self.start.findData(before), 0))

    def _fold(self, *, shown: bool) -> None:
        self.folded.setVisible(shown)
        self.more.setText(tr("less") if shown else tr("more"))

    # What may be typed

    @staticmethod
    def _read_day(text: str) -> date:
        try:
            return date.fromisoformat(text.strip())
        except ValueError:
            raise UserError(f"'{text.strip()[:30]}' is not a date", "write it like 2026-03-28") from None

    def _read_load(self, text: str) -> float:
        kg = self._read_mass(text)
        low, high = CAPACITY_BOUNDS_KG
        if not low <= kg <= high:
            units = self.units
            raise UserError(f"{text.strip()[:30]} is out of bounds", f"choose {units.mass(low)} to {units.mass(high)}")
        return kg

    def _read_cans(self, text: str) -> float:
        kg = self._read_mass(text)
        if kg < 0:
            raise UserError(f"{text.strip()[:30]} is less than nothing", "write 0 or more")
        return kg

    def _read_vessel(self, text: str) -> float:
        return self._read_volume(text)

    def _read_run(self, text: str) -> float | None:
        return self._read_volume(text) if text.strip() else None

    def _read_mass(self, text: str) -> float:
        known = self._usual.get(text)
        return self.units.read_mass_kg(text) if known is None else known

    def _read_volume(self, text: str) -> float:
        if text in self._usual:
            return self._usual[text]
        ml = self.units.read_volume(text)[0]
        if not 0 < ml <= 60_000:
            raise UserError(f"{text.strip()[:30]} is out of bounds", f"choose up to {self.units.volume(60_000)}")
        return ml


def _row(*fields: QWidget) -> QWidget:
    """Return fields side by side, whose lines stay level when something is said below one of them."""
    row = QWidget()
    across = QHBoxLayout(row)
    across.setContentsMargins(0, 0, 0, 0)
    across.setSpacing(8)
    for field in fields:
        across.addWidget(field, 1, Qt.AlignmentFlag.AlignTop)
    return row


def _read_collectors(text: str) -> int:
    number = decimal_number(text)
    if number != number.to_integral_value() or not 1 <= number <= MOST_COLLECTORS:
        raise UserError(f"{text.strip()[:30]} collectors are out of bounds", f"choose 1 to {MOST_COLLECTORS}")
    return int(number)


def _read_seed(text: str) -> int:
    number = decimal_number(text)
    if number != number.to_integral_value() or not 0 <= number < 2**31:
        raise UserError(f"'{text.strip()[:30]}' is no seed", "write a whole number, 0 or more")
    return int(number)
