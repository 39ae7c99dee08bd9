"""One batch of sap: how long it keeps, what is measured of it later, what becomes of it, and a part taken out."""

from __future__ import annotations

from typing import Any

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QVBoxLayout, QWidget

from standmap.desktop.card import typed
from standmap.desktop.card.forms import Choice
from standmap.desktop.desk import Desk
from standmap.desktop.kit import Field, button, caution_line, clear, label, second, side_by_side, source_line
from standmap.desktop.pages.collect.ask_more import row_of
from standmap.desktop.words import said, tr
from standmap.jobs.batch_notes import as_measured, as_read, own_note
from standmap.jobs.batch_told import BatchTold
from standmap.jobs.batches import BatchChange, change_batch, split_batch
from standmap.jobs.names import checked_name
from standmap.jobs.sap_cautions import Caution, cautions_for
from standmap.jobs.sap_readings import BrixReading, read_prism_c, read_sap_brix, read_sap_volume, read_temperature_c
from standmap.sap.keeping import Keeps
from standmap.stand.fates import Fate, fate_of


class BatchView(QWidget):
    """What is known of the chosen batch, and fields for what is not.

    Signals: `changed` (something was typed), `remove_wanted`.

    Attributes
    ----------
    rest
        What else may be done with it, to be laid elsewhere.
    """

    changed = Signal()
    remove_wanted = Signal()

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self._desk = desk
        self.told: BatchTold | None = None
        unit = desk.units.volume_unit
        self._lines = QVBoxLayout()
        self._lines.setSpacing(4)
        self._cautions = QVBoxLayout()
        self._cautions.setSpacing(4)
        fates = [(tr("it still waits"), None), *((tr(str(fate)), fate) for fate in Fate)]
        self.fate = Choice(tr("what became of it"), fates)
        self.on = Field(tr("on which day"), lambda text: typed.day(text, desk.today))
        self.measured = Field(tr("measured, {unit}", unit=unit), lambda text: read_sap_volume(text, desk.units))
        self.warm = Field(tr("how warm, °C"), read_temperature_c)
        self.brix = Field(tr("sugar, °Bx"), read_sap_brix)
        self.read_at = Field(tr("read at, °C"), read_prism_c, hint=tr("it corrects itself"))
        self.part_name = Field(tr("a part of it, called"), lambda text: checked_name(text, "name"))
        self.part_volume = Field(tr("so much, {unit}", unit=unit), lambda text: read_sap_volume(text, desk.units))
        self.part_button = button(tr("take it out"), self._split, "plain")
        self.remove_button = button(tr("remove the batch"), self.remove_wanted.emit, "link")
        self.part = _below(row_of(self.part_name, self.part_volume), side_by_side(self.part_button, stretch=False))
        self.rest = _below(self.part, self.remove_button)
        down = QVBoxLayout(self)
        down.setContentsMargins(0, 0, 0, 0)
        down.setSpacing(6)
        down.addLayout(self._lines)
        down.addWidget(row_of(self.fate, self.on))
        down.addWidget(row_of(self.brix, self.read_at))
        down.addWidget(row_of(self.measured, self.warm))
        down.addLayout(self._cautions)
        self.fate.changed.connect(self._fate_chosen)
        for field in self.fields:
            field.changed.connect(self.changed)
            field.entered.connect(self.write)
        for field in (self.part_name, self.part_volume):
            field.entered.connect(self._split)

    @property
    def fields(self) -> tuple[Field[Any], ...]:
        """What is typed of the batch itself."""
        return (self.on, self.brix, self.read_at, self.measured, self.warm)

    def show_batch(self, told: BatchTold) -> None:
        """Show a batch; what was typed of another is let go."""
        other = self.told is None or self.told.batch != told.batch
        self.told = told
        unit = self._desk.units.volume_unit
        self.measured.rename(tr("measured, {unit}", unit=unit))
        self.part_volume.rename(tr("so much, {unit}", unit=unit))
        self._tell_lines(told)
        if other:
            for field in (*self.fields, self.part_name, self.part_volume):
                field.set_text("")
            batch, mark = told.batch, self._desk.units.decimal_mark
            self.fate.box.setCurrentIndex([None, *Fate].index(fate_of(batch.fate)))
            self.on.set_text("" if batch.fate_on is None else batch.fate_on.isoformat())
            self.measured.edit.setPlaceholderText(as_measured(batch.note) or tr("as the returns"))
            warm = "" if batch.temperature_c is None else f"{batch.temperature_c:g}".replace(".", mark)
            self.warm.edit.setPlaceholderText(warm or tr("not known"))
            sugar = "" if batch.sugar_brix is None else f"{batch.sugar_brix:g}".replace(".", mark)
            self.brix.edit.setPlaceholderText(sugar or tr("not read"))
        self._tell_fate()

    @property
    def anything(self) -> bool:
        """Whether something would be written."""
        return self.told is not None and (any(f.text().strip() for f in self.fields[1:]) or self._fate_is_other)

    @property
    def _fate_is_other(self) -> bool:
        batch = self.told.batch if self.told is not None else None
        if batch is None:
            return False
        fate: Fate | None = self.fate.value()
        was = "" if batch.fate_on is None else batch.fate_on.isoformat()
        return (str(fate) if fate else "") != batch.fate or (fate is not None and self.on.text().strip() != was)

    # Told

    def _tell_lines(self, told: BatchTold) -> None:
        clear(self._lines)
        units, batch = self._desk.units, told.batch
        for one in told.kept:
            text = units.in_sentence(said(one.text))
            self._lines.addWidget(label(text) if one.level is Keeps.GOOD else caution_line(text))
            self._lines.addWidget(source_line(said(one.source)))
        for text in told.doubts:
            self._lines.addWidget(caution_line(units.in_sentence(said(text))))
        names = ", ".join(tree.name for tree in told.trees)
        if told.whole is not None:
            names = tr("part of {batch}: {trees}", batch=told.whole, trees=names)
        self._lines.addWidget(second(names))
        read = as_read(batch.note)
        if read is not None:
            self._lines.addWidget(second(tr("refractometer: {read}", read=said(read))))
        if own_note(batch.note):
            self._lines.addWidget(second(own_note(batch.note)))

    def _fate_chosen(self) -> None:
        if self.fate.value() is not None and not self.on.text().strip():
            self.on.set_text(self._desk.today.isoformat())
        self._tell_fate()
        self.changed.emit()

    def _tell_fate(self) -> None:
        fate: Fate | None = self.fate.value()
        self.on.setVisible(fate is not None)
        waits = self.told is not None and not self.told.batch.fate
        self.part.setVisible(waits)
        clear(self._cautions)
        for one in cautions_for(fate):
            self._cautions.addWidget(caution_of(one))

    # Written

    def write(self) -> None:
        """Write down what was typed, as one edit, or go to what is wrong."""
        if self.told is None or not self.anything or self._desk.read_only:
            return
        fate: Fate | None = self.fate.value()
        on = self.on.value() if fate is not None else None
        brix, read_at = self.brix.given(), self.read_at.given()
        volume, warm = self.measured.given(), self.warm.given()
        if brix is None and read_at is not None and not self.brix.wrong.text():
            self.brix.say(tr("what did it show?"))
        wrong = next((field for field in self.fields if field.wrong.text() and field.isVisible()), None)
        if wrong is not None:
            wrong.setFocus()
            return
        waits = fate is None and bool(self.told.batch.fate)
        reading = None if brix is None else BrixReading(brix, read_at)
        change = BatchChange(volume, reading, warm, fate if self._fate_is_other else None, on, waits)
        key, today, now = self.told.batch.key, self._desk.today, self._desk.now()
        self._desk.run(
            lambda file, _: change_batch(file, key, change, today, now),
            tr("writing a batch down"),
            lambda told: self._desk.tell(tr("batch {name}: written down", name=told.batch.name)),
        )

    def _split(self) -> None:
        if self.told is None or self._desk.read_only:
            return
        name, volume = self.part_name.value(), self.part_volume.value()
        if name is None or volume is None:
            (self.part_name if name is None else self.part_volume).setFocus()
            return
        key, today, now = self.told.batch.key, self._desk.today, self._desk.now()
        self._desk.run(
            lambda file, _: split_batch(file, key, name, volume, today, now),
            tr("taking a part out of a batch"),
            lambda told: self._desk.tell(tr("batch {name} is made", name=told.batch.name)),
        )


def caution_of(one: Caution) -> QWidget:
    """Return a caution with its source below it."""
    return _below(caution_line(said(one.text)), source_line(said(one.source)), spacing=0)


def _below(*parts: QWidget, spacing: int = 6) -> QWidget:
    """Return parts one below the other as one."""
    whole = QWidget()
    down = QVBoxLayout(whole)
    down.setContentsMargins(0, 0, 0, 0)
    down.setSpacing(spacing)
    for part in parts:
        down.addWidget(part)
    return whole
