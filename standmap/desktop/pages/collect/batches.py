"""Batches of sap on the collect page: the sheets for them, and what leads from one to another."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date

from PySide6.QtCore import QObject

from standmap.desktop.desk import Desk
from standmap.desktop.pages.collect.batch_form import BatchForm
from standmap.desktop.pages.collect.batches_sheet import BatchesSheet
from standmap.desktop.pages.collect.over_sheet import OverSheet


class Batches(QObject):
    """The list of batches, and the form for a new one.

    Parameters
    ----------
    lay
        Lays a sheet over the page.
    """

    def __init__(self, desk: Desk, lay: Callable[[OverSheet], None], parent: QObject) -> None:
        super().__init__(parent)
        self._lay = lay
        self.list = BatchesSheet(desk)
        self.form = BatchForm(desk)
        self._day: date = desk.today
        self.list.new_wanted.connect(lambda: self.make(self._day))
        self.form.made.connect(self._made)

    @property
    def sheets(self) -> tuple[OverSheet, ...]:
        """All of them."""
        return (self.list, self.form)

    def show(self, day: date) -> None:
        """Show the batches; a new one is made of what was collected on this day unless another is typed."""
        self._day = day
        self._lay(self.list)
        self.list.tell()
        self.list.focus_first()

    def make(self, day: date) -> None:
        """Ask for a batch of what was collected on a day."""
        self._lay(self.form)
        self.form.show_day(day)

    def forget(self) -> None:
        """Let go of what was typed: another stand is open."""
        self.form.forget()
        self.list.choose_key(None)

    def _made(self, key: str) -> None:
        self.list.choose_key(key)
        self._lay(self.list)
        self.list.tell()
        self.list.focus_first()
