"""The rest of what a walk may be asked with, in parts of which one is open at a time: hours, people, load, trees."""

from __future__ import annotations

from dataclasses import replace
from datetime import time
from typing import Any

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QCheckBox, QComboBox, QHBoxLayout, QPushButton, QVBoxLayout, QWidget

from standmap.desktop.desk import Desk
from standmap.desktop.kit import Field, button, label, side_by_side
from standmap.desktop.words import tr
from standmap.errors import UserError
from standmap.jobs.planned_round import Purpose
from standmap.jobs.preferences import round_options
from standmap.jobs.round_options import AIMS, BARROW_BOUNDS_KG, RoundOptions, Walker
from standmap.jobs.who_walks import walker_of
from standmap.units import decimal_number
from standmap.units_shown import UnitsShown

MOST_LISTED = 500
"""Names in one line; more is a slip."""


def row_of(*fields: QWidget) -> QWidget:
    """Return fields side by side, whose lines stay level when something is said below one of them."""
    row = QWidget()
    across = QHBoxLayout(row)
    across.setContentsMargins(0, 0, 0, 0)
    across.setSpacing(8)
    for field in fields:
        across.addWidget(field, 1, Qt.AlignmentFlag.AlignTop)
    return row


def named(name: str, box: QComboBox) -> QWidget:
    """Return a box to choose in, with its name above it."""
    part = QWidget()
    down = QVBoxLayout(part)
    down.setContentsMargins(0, 0, 0, 0)
    down.setSpacing(2)
    above = label(name, "second")
    above.setBuddy(box)
    box.setAccessibleName(name)
    down.addWidget(above)
    down.addWidget(box)
    return part


class AskMore(QWidget):
    """The parts of the form that are folded away until wanted.

    Signals: `entered` (Enter in a field).
    """

    entered = Signal()

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self._desk = desk
        usual = round_options(desk.settings)
        self.aim = QComboBox()
        for key, words in zip(AIMS, (tr("least time"), tr("least carrying"), tr("shortest way")), strict=True):
            self.aim.addItem(words, key)
        self.aim.setCurrentIndex(AIMS.index(usual.aim))
        self.handling = Field(tr("minutes a stop"), _read_minutes, hint=tr("as usual"))
        self.latest = Field(tr("back at the latest"), read_time, hint=tr("such as 08:30"))
        self.contact = Field(tr("who is told"), str.strip, hint=tr("name and number"))
        self.cans = Field(tr("empty cans"), self._read_cans)
        self.vessel = Field(tr("a vessel holds"), self._read_vessel)
        self.run = Field(tr("a hole gives"), self._read_run, hint=tr("as recorded"))
        self.seed = Field(tr("seed"), _read_seed, text=str(usual.seed), hint=tr("same seed, same walk"))
        self.barrow = Field(tr("sledge or barrow"), self._read_barrow, hint=tr("none: carried by hand"))
        self.tanks = Field(tr("emptied at"), read_names, hint=tr("tanks; where it begins"))
        self.not_today = Field(tr("not today"), read_names, hint=tr("trees, with commas between"))
        self.people = Field(tr("who walks"), self._read_people, hint=tr("if they differ: Ilse, 12 kg, 06:10; Per"))
        self.together = Field(tr("on one trip"), _read_groups, hint="B1, B2; B7, B8")
        self.swap = QCheckBox(tr("vessels are swapped, not poured out"))
        self.dark = QCheckBox(tr("in the dark"))
        self.wet = QCheckBox(tr("wet or icy ground"))
        self.heads: list[QPushButton] = []
        """What folds each part open, or away."""
        self._names: list[str] = []
        self._sheets: list[QWidget] = []
        self._usual: dict[str, float] = {}
        """Values of the texts that were put in, which are rounded."""
        self._build()
        self._aim_chosen = False
        self.aim.activated.connect(self._choose_aim)
        self.people.edit.editingFinished.connect(self._aim_for_people)
        for field in self.fields:
            field.entered.connect(self.entered)

    def _build(self) -> None:
        down = QVBoxLayout(self)
        down.setContentsMargins(0, 0, 0, 0)
        down.setSpacing(8)
        parts: tuple[tuple[str, tuple[QWidget, ...]], ...] = (
            (tr("hours"), (row_of(self.latest, self.handling),)),
            (tr("people"), (self.people, self.contact)),
            (
                tr("load"),
                (
                    row_of(self.cans, self.vessel),
                    row_of(self.run, self.barrow),
                    self.tanks,
                    self.swap,
                    row_of(self.dark, self.wet),
                ),
            ),
            (tr("trees"), (self.not_today, self.together)),
            (tr("search"), (row_of(named(tr("what is least"), self.aim), self.seed),)),
        )
        sheets = []
        for name, widgets in parts:
            sheet = QWidget()
            within = QVBoxLayout(sheet)
            within.setContentsMargins(0, 0, 0, 0)
            within.setSpacing(8)
            for widget in widgets:
                within.addWidget(widget)
            sheet.hide()
            head = button(name, None, "link")
            head.clicked.connect(lambda _=False, s=sheet: self.unfold(s if s.isHidden() else None))
            self.heads.append(head)
            self._names.append(name)
            sheets.append(sheet)
        for few in (self.heads[:3], self.heads[3:]):  # all in one line would be too wide in larger type
            down.addWidget(side_by_side(*few, stretch=False))
        for sheet in sheets:
            down.addWidget(sheet)
        self._sheets = sheets
        self.unfold(None)

    def unfold(self, sheet: QWidget | None) -> None:
        """Show one part, and fold the others away."""
        for one in self._sheets:
            one.setVisible(one is sheet)
        self._tell_heads()

    def unfold_to(self, part: QWidget) -> None:
        """Show the part in which something stands."""
        self.unfold(next(sheet for sheet in self._sheets if sheet.isAncestorOf(part)))

    def _tell_heads(self) -> None:
        for head, name, sheet in zip(self.heads, self._names, self._sheets, strict=True):
            head.setText(f"{name} {'▸' if sheet.isHidden() else '▾'}")
            head.setAccessibleName(name)
            head.setAccessibleDescription(tr("folded away") if sheet.isHidden() else tr("unfolded"))

    @property
    def fields(self) -> tuple[Field[Any], ...]:
        """Every field to type in."""
        return (
            *(self.latest, self.handling, self.contact, self.cans, self.vessel, self.run, self.barrow),
            *(self.tanks, self.not_today, self.together, self.seed, self.people),
        )

    @property
    def units(self) -> UnitsShown:
        """How measures are shown and typed."""
        return self._desk.units

    def show_for(self, purpose: Purpose) -> None:
        """Show what a purpose asks for: vessels run only where sap is collected."""
        collecting = purpose is Purpose.COLLECTING
        for part in (self.run, self.swap, self.tanks):
            part.setVisible(collecting)
        self.vessel.setVisible(purpose is not Purpose.CLOSING)
        self.cans.setVisible(collecting)

    def with_these(self, options: RoundOptions) -> RoundOptions | None:
        """Return options with what is typed here, or None after saying beside a field what is wrong with it."""
        values = [field.value() for field in self.fields]
        wrong = next((field for field in self.fields if field.wrong.text()), None)
        if wrong is not None:
            self.unfold_to(wrong)
            wrong.setFocus()
            return None
        names = ("latest", "handling_min", "contact", "can_kg", "vessel_ml", "run_ml", "barrow_kg")
        typed: dict[str, Any] = dict(
            zip((*names, "tanks", "not_today", "together", "seed", "walkers"), values, strict=True)
        )
        return replace(
            options,
            **typed,
            aim=self.aim.currentData(),
            swap_vessels=self.swap.isChecked(),
            dark=self.dark.isChecked(),
            wet=self.wet.isChecked(),
        )

    def put_usual(self) -> None:
        """Put what is set into the fields in which nothing else was typed."""
        usual, units = round_options(self._desk.settings), self.units
        before, self._usual = self._usual, {}
        for field, value, shown in (
            (self.cans, usual.can_kg, units.mass(usual.can_kg)),
            (self.vessel, usual.vessel_ml, units.volume(usual.vessel_ml)),
        ):
            if not field.text() or field.text() in before:
                field.set_text(shown)
            self._usual[shown] = value

    def _choose_aim(self) -> None:
        self._aim_chosen = True

    def _aim_for_people(self) -> None:
        """Aim at the least time where people differ: in metres of all together one of them would walk everything."""
        if len(self.people.text().split(";")) > 1 and not self._aim_chosen:
            self.aim.setCurrentIndex(AIMS.index("time"))

    # What may be typed

    def _read_people(self, text: str) -> tuple[Walker, ...]:
        return tuple(walker_of(part, self.units.read_mass_kg) for part in text.split(";") if part.strip())

    def _read_cans(self, text: str) -> float:
        kg = self._read_mass(text)
        if kg < 0:
            raise UserError(f"{text.strip()[:30]} is less than nothing", "write 0 or more")
        return kg

    def _read_vessel(self, text: str) -> float:
        return self._read_volume(text)

    def _read_run(self, text: str) -> float | None:
        return self._read_volume(text) if text.strip() else None

    def _read_barrow(self, text: str) -> float | None:
        if not text.strip():
            return None
        kg = self.units.read_mass_kg(text)
        low, high = BARROW_BOUNDS_KG
        if not low <= kg <= high:
            shown = f"choose {self.units.mass(low)} to {self.units.mass(high)}"
            raise UserError(f"{text.strip()[:30]} is out of bounds", shown)
        return kg

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


def read_time(text: str) -> time | None:
    """Return a time of day that was typed, None where nothing was.

    Raises
    ------
    UserError
        If it is none.
    """
    text = text.strip()
    if not text:
        return None
    try:
        return time.fromisoformat(text.replace(".", ":").zfill(5))
    except ValueError:
        raise UserError(f"'{text[:30]}' is not a time of day", "write it like 06:30") from None


def read_names(text: str) -> tuple[str, ...]:
    """Return the names in a line, with commas between."""
    names = tuple(name.strip() for name in text.split(",") if name.strip())
    if len(names) > MOST_LISTED:
        raise UserError(f"{len(names)} names are too many", f"name at most {MOST_LISTED}")
    return names


def _read_groups(text: str) -> tuple[tuple[str, ...], ...]:
    groups = tuple(read_names(group) for group in text.split(";") if group.strip())
    if any(len(group) < 2 for group in groups):
        raise UserError("one tree is always on one trip with itself", "name two or more, such as B1, B2; B7, B8")
    return groups


def _read_minutes(text: str) -> float | None:
    return _between(text, 0, 120, "minutes at a stop") if text.strip() else None


def _between(text: str, least: float, most: float, what: str) -> float:
    number = float(decimal_number(text))
    if not least <= number <= most:
        raise UserError(f"{text.strip()[:30]} {what} are out of bounds", f"choose {least:g} to {most:g}")
    return number


def _read_seed(text: str) -> int:
    number = decimal_number(text)
    if number != number.to_integral_value() or not 0 <= number < 2**31:
        raise UserError(f"'{text.strip()[:30]}' is no seed", "write a whole number, 0 or more")
    return int(number)
