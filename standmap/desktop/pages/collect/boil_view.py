"""What boiling a batch would give: litres of syrup, fuel, hours and bottles, with all that they rest on."""

from __future__ import annotations

from typing import Any

from PySide6.QtWidgets import QVBoxLayout, QWidget

from standmap.desktop.card.forms import Choice
from standmap.desktop.desk import Desk, wording
from standmap.desktop.kit import Field, caution_line, clear, fact_row, heading, second, source_line
from standmap.desktop.pages.collect.ask_more import row_of
from standmap.desktop.pages.collect.batch_view import caution_of
from standmap.desktop.pages.collect.wording import duration
from standmap.desktop.words import said, tr, tr_n
from standmap.jobs.batch_told import BatchTold
from standmap.jobs.boil import USUAL_BOTTLE_ML, BoilAsked, BoilTold, boil, read_pan
from standmap.jobs.sap_readings import read_sap_volume
from standmap.sap.boiling import Fuel
from standmap.sap.sugar import SYRUP_BRIX
from standmap.stand.fates import Fate
from standmap.units import decimal_number


class BoilView(QWidget):
    """Asks how it would be boiled, and tells what that would give; nothing of it is written."""

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self._desk = desk
        self._batch: BatchTold | None = None
        self._token = object()
        self.told: BoilTold | None = None
        unit = desk.units.volume_unit
        self.heading = heading(tr("Boiling it would give"))
        self.lacking = second(tr("Write down its sugar, and what boiling would give is told here."))
        fuels = {Fuel.WOOD: tr("wood"), Fuel.GAS: tr("gas"), Fuel.ELECTRIC: tr("electricity")}
        self.fuel = Choice(tr("heated with"), [(text, fuel) for fuel, text in fuels.items()])
        self.reaches = Field(tr("reaches the sap, %"), _read_percent, hint=tr("assumed"))
        self.rate = Field(tr("goes in an hour, {unit}", unit=unit), self._read_rate, hint=tr("not known"))
        self.power = Field(tr("or a power, kW"), _read_number, hint=tr("not known"))
        self.pan = Field(tr("pan: length, width and height in cm"), read_pan, hint="60 x 40 x 20")
        self.to = Field(tr("syrup, °Bx"), _read_number, hint=f"{SYRUP_BRIX:g}")
        self.bottle = Field(tr("a bottle, {unit}", unit=unit), self._read_bottle, hint=self._usual_bottle())
        self._facts = QVBoxLayout()
        self._facts.setSpacing(4)
        self.asking = QWidget()
        below = QVBoxLayout(self.asking)
        below.setContentsMargins(0, 0, 0, 0)
        below.setSpacing(6)
        for pair in ((self.to, self.bottle), (self.fuel, self.reaches), (self.rate, self.power), (self.pan,)):
            below.addWidget(row_of(*pair))
        down = QVBoxLayout(self)
        down.setContentsMargins(0, 8, 0, 0)
        down.setSpacing(6)
        for part in (self.heading, self.lacking, self.asking):
            down.addWidget(part)
        down.addLayout(self._facts)
        self.fuel.changed.connect(self._ask)
        for field in self.fields:
            field.edit.editingFinished.connect(self._ask)

    @property
    def fields(self) -> tuple[Field[Any], ...]:
        """What may be stated."""
        return (self.to, self.bottle, self.reaches, self.rate, self.power, self.pan)

    def show_batch(self, told: BatchTold) -> None:
        """Tell it of another batch; one that was drunk or poured away is no longer boiled."""
        self._batch = told
        unit = self._desk.units.volume_unit
        self.rate.rename(tr("goes in an hour, {unit}", unit=unit))
        self.bottle.rename(tr("a bottle, {unit}", unit=unit))
        self.bottle.edit.setPlaceholderText(self._usual_bottle())
        boils = told.batch.fate in ("", str(Fate.BOILED), str(Fate.FROZEN))
        sweet = told.batch.sugar_brix is not None
        self.heading.setVisible(boils)
        self.lacking.setVisible(boils and not sweet)
        self.asking.setVisible(boils and sweet)
        self._ask()

    def _ask(self) -> None:
        batch = self._batch
        token = self._token = object()
        if batch is None or batch.batch.sugar_brix is None or self.asking.isHidden():
            self._show(None)
            return
        reaches, rate, power = self.reaches.given(), self.rate.given(), self.power.given()
        pan, bottle, to = self.pan.given(), self.bottle.given(), self.to.given()
        if any(field.wrong.text() for field in self.fields):
            return
        asked = BoilAsked(
            batch.volume_ml / 1000,
            batch.batch.sugar_brix,
            to or SYRUP_BRIX,
            batch.batch.temperature_c,
            self.fuel.value(),
            reaches,
            power_kw=power,
            rate_l=rate,
            pan=pan,
            bottle_ml=bottle or USUAL_BOTTLE_ML,
        )

        def told(found: BoilTold) -> None:
            if self._token is token:
                self._show(found)

        def refused(error: Exception) -> None:
            if self._token is token:
                self._show(None)
                self._facts.addWidget(caution_line(self._desk.units.in_sentence(wording(error))))

        # The tables are read by a library that takes a moment when it is first wanted.
        self._desk.compute(lambda _: boil(asked), "", told, refused)

    def _show(self, told: BoilTold | None) -> None:
        clear(self._facts)
        self.told = told
        if told is None:
            return
        units, made, fuel = self._desk.units, told.made, told.fuel

        def number(value: float, digits: int) -> str:
            return f"{value:.{digits}f}".replace(".", units.decimal_mark)

        about = tr("about {volume}", volume=units.fine_volume(made.syrup_l * 1000))
        burnt = tr("{n} kWh", n=number(fuel.kwh, 0)) if fuel.kg is None else units.mass(fuel.kg)
        facts = [
            (tr("syrup of {brix} °Bx", brix=number(made.syrup_brix, 1)), about),
            (tr("by the rule of 86"), tr("about {volume}", volume=units.fine_volume(told.rules[0].syrup_l * 1000))),
            (tr("water to drive off"), units.volume(made.water_kg * 1000)),
            (tr(_BURNT[fuel.fuel]), burnt),
            (tr("hours of boiling"), tr("not known") if told.hours is None else duration(told.hours * 60)),
            (
                tr("bottles of {volume}", volume=units.fine_volume(told.asked.bottle_ml)),
                tr_n("{n} bottle", "{n} bottles", told.bottles),
            ),
        ]
        for place, (name, value) in enumerate(facts):
            self._facts.addWidget(fact_row(name, value, strong=place == 0))
        for text in (*told.assumptions, *told.notes, told.hours_basis):
            self._facts.addWidget(source_line(units.in_sentence(said(text))))
        for one in told.cautions:
            self._facts.addWidget(caution_of(one))

    # What may be typed

    def _usual_bottle(self) -> str:
        units = self._desk.units
        return units.number(units.fine_volume(USUAL_BOTTLE_ML))

    def _read_rate(self, text: str) -> float:
        return read_sap_volume(text, self._desk.units).ml / 1000

    def _read_bottle(self, text: str) -> float:
        ml, _, _ = self._desk.units.read_volume(text)
        return ml


_BURNT = {Fuel.WOOD: "wood", Fuel.GAS: "gas", Fuel.ELECTRIC: "electricity"}


def _read_number(text: str) -> float:
    return float(decimal_number(text))


def _read_percent(text: str) -> float:
    return float(decimal_number(text.rstrip("% "))) / 100
