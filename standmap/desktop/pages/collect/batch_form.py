"""A new batch of sap: which returns go in, how much it is by another measure, how sweet and how warm."""

from __future__ import annotations

from datetime import date
from typing import Any

from PySide6.QtCore import Signal

from standmap.desktop.card import typed
from standmap.desktop.desk import Desk
from standmap.desktop.kit import Field, button, heading, keys_text, second
from standmap.desktop.pages.collect.ask_more import read_names, row_of
from standmap.desktop.pages.collect.batch_view import caution_of
from standmap.desktop.pages.collect.over_sheet import OverSheet
from standmap.desktop.pages.collect.wording import long_day
from standmap.desktop.words import tr, tr_n
from standmap.jobs.batch_told import BatchTold
from standmap.jobs.batches import BatchAsked, make_batch, waiting_collections
from standmap.jobs.names import checked_name, checked_note
from standmap.jobs.sap_cautions import KEEPING
from standmap.jobs.sap_readings import BrixReading, read_prism_c, read_sap_brix, read_sap_volume, read_temperature_c


class BatchForm(OverSheet):
    """Asks for a batch and makes it; what was typed stays until it is made.

    Signals: `made` (key of the new batch).
    """

    made = Signal(str)

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk)
        self._busy = False
        self.heading = heading(tr("A batch of what came home"))
        self.about = second("")
        self.name = Field(tr("name of the batch"), lambda text: checked_name(text, "name"), hint=tr("such as Saturday"))
        self.day = Field(tr("brought together on"), self._read_day, hint=tr("such as 2026-03-28"))
        self.since = Field(tr("returns from"), self._read_since, hint=tr("that day"))
        self.trees = Field(tr("of these trees only"), read_names, hint=tr("all; else names with commas between"))
        self.measured = Field(
            tr("measured, {unit}", unit=self.units.volume_unit),
            lambda text: read_sap_volume(text, self.units),
            hint=tr("as the returns"),
        )
        self.warm = Field(tr("how warm, °C"), read_temperature_c, hint=tr("if known"))
        self.brix = Field(tr("sugar, °Bx"), read_sap_brix, hint=tr("if read"))
        self.read_at = Field(tr("read at, °C"), read_prism_c, hint=tr("it corrects itself"))
        self.note = Field(tr("note"), checked_note)
        at = tr(
            "Say how warm it was read only where the refractometer neither corrects itself nor was set with cold water."
        )
        for part in (
            self.heading,
            self.about,
            self.name,
            row_of(self.day, self.since),
            self.trees,
            row_of(self.measured, self.warm),
            row_of(self.brix, self.read_at),
            second(at),
            self.note,
            *(caution_of(one) for one in KEEPING),
            self.back,
        ):
            self.down.addWidget(part)
        self.make_button = button(tr("make the batch"), self.go, "primary", keys_text("Ctrl+Return"))
        self.foot_line.addWidget(self.make_button)
        for field in self.fields:
            field.entered.connect(self.go)
        for field in (self.day, self.since, self.trees):
            field.edit.editingFinished.connect(self.tell)

    @property
    def fields(self) -> tuple[Field[Any], ...]:
        """Every field, in reading order."""
        one = (self.name, self.day, self.since, self.trees, self.measured, self.warm, self.brix, self.read_at)
        return (*one, self.note)

    def show_day(self, day: date) -> None:
        """Ask for the batch of a day, or the last one before it that has returns; another that was typed stays."""
        if not self.day.text():
            seen = self._desk.seen
            by = min(day, self._desk.today)
            days = [c.collected_on for c in seen.stand.collections if c.batch_key is None] if seen is not None else []
            self.day.set_text(max((one for one in days if one <= by), default=by).isoformat())
        self.tell()
        self.name.setFocus()

    def forget(self) -> None:
        """Let go of what was typed."""
        for field in self.fields:
            field.set_text("")

    def tell(self) -> None:
        """Say how many returns would go in."""
        self.measured.rename(tr("measured, {unit}", unit=self.units.volume_unit))
        seen = self._desk.seen
        day = self.day.value() if self.day.text() else None
        since = self.since.value() if not self.since.wrong.text() else None
        self.make_button.setEnabled(seen is not None and not self._desk.read_only and not self._busy)
        if seen is None or day is None:
            self.about.setText("")
            return
        waiting = waiting_collections(seen.stand, day, since)
        volume = self.units.volume(sum(one.volume_ml for one in waiting))
        of = tr_n("{n} return, {volume}", "{n} returns, {volume}", len(waiting), volume=volume)
        self.about.setText(
            tr("{day}: {returns}, in no batch yet", day=long_day(day), returns=of)
            if waiting
            else tr("{day}: nothing was collected that is in no batch yet", day=long_day(day))
        )

    def go(self) -> None:
        """Make the batch, or go to what is wrong."""
        if not self.make_button.isEnabled():
            return
        name, day, since, trees = self.name.value(), self.day.value(), self.since.value(), self.trees.value()
        volume, warm, brix, read_at = (
            self.measured.given(),
            self.warm.given(),
            self.brix.given(),
            self.read_at.given(),
        )
        note = self.note.value()
        if brix is None and read_at is not None and not self.brix.wrong.text():
            self.brix.say(tr("what did it show?"))
        wrong = next((field for field in self.fields if field.wrong.text()), None)
        if wrong is not None or name is None or day is None:
            (wrong or self.name).setFocus()
            return
        reading = None if brix is None else BrixReading(brix, read_at)
        asked = BatchAsked(name, day, since, tuple(trees or ()), volume, reading, warm, note or "")
        today, now = self._desk.today, self._desk.now()
        self._busy = True
        self._desk.run(
            lambda file, _: make_batch(file, asked, today, now), tr("making a batch"), self._made, self._refused
        )
        self.tell()

    def _made(self, told: BatchTold) -> None:
        self._busy = False
        self.forget()
        self._desk.tell(tr("batch {name} is made", name=told.batch.name))
        self.made.emit(told.batch.key)

    def _refused(self, error: Exception) -> None:
        self._busy = False
        self.tell()
        self._desk.error(error)

    # What may be typed

    def _read_day(self, text: str) -> date:
        return typed.day(text, self._desk.today)

    def _read_since(self, text: str) -> date | None:
        return typed.day(text, self._desk.today) if text.strip() else None
