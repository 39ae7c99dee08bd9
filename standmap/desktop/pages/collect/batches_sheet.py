"""The batches of sap: how old each is and how long it keeps, what became of it, and what boiling it would give."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QButtonGroup, QVBoxLayout

from standmap.desktop.desk import Desk
from standmap.desktop.kit import button, clear, hairline, heading, keys_text, label, second, side_by_side
from standmap.desktop.pages.collect.batch_view import BatchView
from standmap.desktop.pages.collect.boil_view import BoilView
from standmap.desktop.pages.collect.over_sheet import OverSheet
from standmap.desktop.words import day_text, said, tr, tr_n
from standmap.jobs.batch_told import BatchTold, batches_told
from standmap.jobs.batches import remove_batch


class BatchesSheet(OverSheet):
    """Lists those of this year and those that still wait, the newest first; the chosen one is shown and changed.

    Signals: `new_wanted`.
    """

    new_wanted = Signal()

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk)
        self.told: tuple[BatchTold, ...] = ()
        self.rows = QButtonGroup(self)
        self._key: str | None = None
        self.heading = heading(tr("Batches of sap"))
        self.nothing = second(tr("None yet. Write down what came home, then bring it together: see how long it keeps."))
        self._rows = QVBoxLayout()
        self._rows.setSpacing(2)
        self._with_earlier = False
        self.earlier = button("", self._show_earlier, "link")
        self.line = hairline()
        self.view = BatchView(desk)
        self.boil = BoilView(desk)
        self.down.addWidget(self.heading)
        self.down.addWidget(self.nothing)
        self.down.addLayout(self._rows)
        self.down.addWidget(self.earlier)
        for part in (self.line, self.view, self.boil, self.view.rest, self.back):
            self.down.addWidget(part)
        self.new_button = button(tr("make a batch..."), self.new_wanted.emit, "primary")
        self.write_button = button(tr("write it down"), self.go, "quiet", keys_text("Ctrl+Return"))
        self.foot_line.addWidget(side_by_side(self.new_button, self.write_button))
        self.view.changed.connect(self._tell_ready)
        self.view.remove_wanted.connect(self._remove)
        self.rows.idToggled.connect(lambda number, on: self._chosen(number) if on else None)

    @property
    def chosen(self) -> BatchTold | None:
        """The batch that is looked at."""
        return next((one for one in self.told if one.batch.key == self._key), None)

    def choose_key(self, key: str | None) -> None:
        """Look at the batch with this key when it is shown."""
        self._key = key

    def focus_first(self) -> None:
        """Go to the chosen row, or to the button where there is none."""
        row = self.rows.checkedButton()
        (row if row is not None else self.new_button).setFocus(Qt.FocusReason.ShortcutFocusReason)

    def tell(self) -> None:
        """Show it as it stands."""
        seen = self._desk.seen
        before = self.rows.checkedButton()
        had = before is not None and before.hasFocus()
        told = () if seen is None else batches_told(seen.stand, self._desk.today)
        lately = tuple(one for one in told if not one.batch.fate or one.batch.made_on.year == self._desk.today.year)
        self.earlier.setText(tr("earlier batches ({n})", n=len(told) - len(lately)))
        self.earlier.setVisible(len(lately) < len(told) and not self._with_earlier)
        self.told = tuple(reversed(told if self._with_earlier else lately))
        if self.chosen is None:
            self._key = self.told[0].batch.key if self.told else None
        for row in self.rows.buttons():
            self.rows.removeButton(row)
        clear(self._rows)
        for number, one in enumerate(self.told):
            row = button(one.batch.name, None, "row")
            row.setCheckable(True)
            about = self._about(one)
            row.setAccessibleDescription(about)
            self.rows.addButton(row, number)
            self._rows.addWidget(row)
            below = label(about, "source")
            below.setContentsMargins(10, 0, 0, 4)
            self._rows.addWidget(below)
            if one.batch.key == self._key:
                row.setChecked(True)
                if had:
                    row.setFocus()
        self._show()

    def _about(self, one: BatchTold) -> str:
        batch = one.batch
        volume = self.units.volume(one.volume_ml)
        parts = [day_text(batch.made_on), tr("at least {volume}", volume=volume) if one.at_least else volume]
        if batch.sugar_brix is not None:
            parts.append(tr("{brix} °Bx", brix=f"{batch.sugar_brix:g}".replace(".", self.units.decimal_mark)))
        parts.append(tr_n("{n} tree", "{n} trees", len(one.trees)))
        if batch.fate:
            on = "" if batch.fate_on is None else f" {day_text(batch.fate_on)}"
            parts.append(f"{said(batch.fate)}{on}")
        else:
            parts.append(tr_n("{n} day old", "{n} days old", one.age_days))
        return " · ".join(parts)

    def _chosen(self, number: int) -> None:
        key = self.told[number].batch.key
        if key != self._key:
            self._key = key
            self._show()

    def _show_earlier(self) -> None:
        self._with_earlier = True
        self.tell()
        self.focus_first()

    def _show(self) -> None:
        one = self.chosen
        self.nothing.setVisible(not self.told)
        for part in (self.line, self.view, self.boil, self.view.rest, self.write_button):
            part.setVisible(one is not None)
        if one is not None:
            self.view.show_batch(one)
            self.boil.show_batch(one)
        self._tell_ready()

    def _tell_ready(self) -> None:
        self.new_button.setEnabled(not self._desk.read_only)
        self.write_button.setEnabled(self.view.anything and not self._desk.read_only)

    def go(self) -> None:
        """Write down what was typed of the chosen batch; with nothing typed, ask for a new one."""
        if self.write_button.isVisible() and self.write_button.isEnabled():
            self.view.write()
        elif self.new_button.isEnabled() and not self.told:
            self.new_wanted.emit()

    def _remove(self) -> None:
        one, now = self.chosen, self._desk.now()
        if one is None or self._desk.read_only:
            return
        key, name = one.batch.key, one.batch.name
        self._desk.run(
            lambda file, _: remove_batch(file, key, now),
            tr("removing a batch"),
            lambda _: self._desk.tell(
                tr("batch {name} is taken out; what was collected for it is in no batch", name=name)
            ),
        )
