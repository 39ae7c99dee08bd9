"""A small form inside the card: fields with their errors beside them, kept as typed until it is right or left."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QComboBox, QFrame, QHBoxLayout, QVBoxLayout, QWidget

from standmap.desktop.desk import Desk, wording
from standmap.desktop.kit import Field, button, heading, label, second, side_by_side
from standmap.desktop.list_box import ListBox
from standmap.desktop.words import tr
from standmap.desktop.working import Watch
from standmap.errors import BugError, NothingToDo, UserError
from standmap.store.stand_file import StandFile

Job = Callable[[StandFile, Watch], str]
"""Writes one edit and returns what was done, in one sentence."""


class Draft:
    """What was typed in a form that was left; it outlives the form."""

    def __init__(self) -> None:
        self.texts: list[str] = []


class Choice(QWidget):
    """A labelled list to choose one thing from."""

    changed = Signal()

    def __init__(self, name: str, options: Sequence[tuple[str, Any]]) -> None:
        super().__init__()
        self.box = ListBox()
        self.box.setAccessibleName(name)
        # The list may be wider than the card; the closed box never is.
        self.box.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        self.box.setMinimumContentsLength(8)
        # Kept here: Qt would hand an enum back as its text.
        self._values = [value for _, value in options]
        self.box.addItems([text for text, _ in options])
        down = QVBoxLayout(self)
        down.setContentsMargins(0, 0, 0, 0)
        down.setSpacing(2)
        title = second(name)
        title.setBuddy(self.box)
        down.addWidget(title)
        down.addWidget(self.box)
        self.box.currentIndexChanged.connect(lambda _: self.changed.emit())
        self.setFocusProxy(self.box)

    def value(self) -> Any:
        """Return what is chosen."""
        return self._values[self.box.currentIndex()]


class Form(QFrame):
    """Asks for what one edit needs and writes it.

    Parameters
    ----------
    title
        What the edit does; also its name in the list of work.
    about
        A line below it, if any.

    Attributes
    ----------
    draft
        Takes what was typed when the form is put away, unless that is being written; then only if it is refused.
    saving
        Whether what was typed is being written.
    away
        Whether it was put away: its widgets go with it.
    """

    saved = Signal()
    left = Signal()

    def __init__(self, desk: Desk, title: str, about: str = "") -> None:
        super().__init__()
        self.desk = desk
        self.title = title
        self.draft = Draft()
        self.saving = False
        self._sent: list[str] = []
        self.away = False
        self.setAccessibleName(title)
        self.fields: list[Field[Any]] = []
        self.choices: list[Choice] = []
        self._down = QVBoxLayout(self)
        self._down.setContentsMargins(0, 4, 0, 8)
        self._down.setSpacing(8)
        self._down.addWidget(heading(title))
        if about:
            self._down.addWidget(second(about))
        self.wrong = label("", "error")
        self.wrong.hide()
        self.save = button(tr("save"), self.submit, "primary")
        self.cancel = button(tr("cancel"), self.left.emit, "link")
        self._row = side_by_side(self.save, self.cancel, stretch=False)
        self._down.addWidget(self.wrong)
        self._down.addWidget(self._row)

    def put(self, widget: QWidget) -> None:
        """Add a part above the buttons."""
        self._down.insertWidget(self._down.indexOf(self.wrong), widget)

    def ask(self, *fields: Field[Any]) -> None:
        """Add a field, or two in one row; Enter in it saves."""
        for field in fields:
            self.fields.append(field)
            field.entered.connect(self.submit)
            field.changed.connect(lambda: self.tell(""))
        self.put(fields[0] if len(fields) == 1 else _in_one_row(fields))

    def choose(self, choice: Choice) -> None:
        """Add a list to choose from."""
        self.choices.append(choice)
        choice.changed.connect(lambda: self.tell(""))
        self.put(choice)

    def job(self) -> Job:
        """Return the edit for what was typed, once all fields are right."""
        raise BugError(f"{type(self).__name__} has nothing to write")

    def begin(self) -> None:
        """Put the focus where typing begins."""
        first = self.choices[0] if self.choices else None
        target: QWidget = self.fields[0].edit if self.fields else first.box if first is not None else self.save
        target.setFocus(Qt.FocusReason.OtherFocusReason)

    def submit(self) -> None:
        """Write the edit, or say beside the fields what is wrong."""
        if self.saving or self.away:
            return
        for field in self.fields:
            field.value()
        first = next((f for f in self.fields if f.wrong.text()), None)
        if first is not None:
            first.edit.setFocus()
            return
        job, self._sent = self.job(), self.texts()
        self._set_saving(True)
        self.desk.run(job, self.title, self._was_written, self._was_refused)

    def put_away(self) -> None:
        """Leave the card; what is being written is told of all the same."""
        self.away = True
        self.draft.texts = [] if self.saving else self.texts()
        self.hide()
        self.deleteLater()

    def tell(self, text: str) -> None:
        """Show what is wrong with the whole, or nothing."""
        self.wrong.setText(text)
        self.wrong.setVisible(bool(text))
        self.setAccessibleDescription(text)

    def texts(self) -> list[str]:
        """Return what was typed and chosen, to be put back later."""
        return [*(f.text() for f in self.fields), *(str(c.box.currentIndex()) for c in self.choices)]

    def put_back(self, texts: Sequence[str]) -> None:
        """Put back what was typed."""
        for field, text in zip(self.fields, texts, strict=False):
            field.edit.setText(text)
        for choice, text in zip(self.choices, texts[len(self.fields) :], strict=False):
            choice.box.setCurrentIndex(min(int(text), choice.box.count() - 1))

    # What comes back finds the form on the card, or put away and its widgets gone.

    def _was_written(self, told: str) -> None:
        self.draft.texts = []
        self.desk.tell(told)
        self.written()
        if not self.away:
            self._set_saving(False)
            self.saved.emit()

    def _was_refused(self, error: Exception) -> None:
        if self.away:
            self.draft.texts = self._sent
            self.desk.error(error)
        elif isinstance(error, UserError | NothingToDo):
            self._set_saving(False)
            self.refused(error)

    def _set_saving(self, saving: bool) -> None:
        self.saving = saving
        self.save.setEnabled(not saving)

    def written(self) -> None:
        """Follow what was written; the form may be put away by then."""

    def refused(self, error: UserError | NothingToDo) -> None:
        """Show why the edit was not written; what was typed stays."""
        self.tell(self.desk.units.in_sentence(wording(error)))
        self.fields[0].edit.setFocus() if self.fields else self.save.setFocus()

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: N802 - Qt's name
        """Leave on Escape."""
        if event.key() == Qt.Key.Key_Escape:
            self.left.emit()
            return
        super().keyPressEvent(event)


def _in_one_row(fields: Sequence[QWidget]) -> QWidget:
    """Return fields side by side, their tops in one line whatever is said below one of them."""
    row = QWidget()
    across = QHBoxLayout(row)
    across.setContentsMargins(0, 0, 0, 0)
    across.setSpacing(12)
    for field in fields:
        across.addWidget(field, 1, Qt.AlignmentFlag.AlignTop)
    return row
