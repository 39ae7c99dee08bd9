"""One figure of a rule set: what is printed and by whom, within which bounds, and the stand's own value."""

from __future__ import annotations

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QHBoxLayout, QVBoxLayout, QWidget

from standmap.desktop.dialogs.figure_words import figure_title, unit_word
from standmap.desktop.dialogs.rules_form import YES_NO, can_be_set, own_value, printed, typed
from standmap.desktop.kit import Field, label, second, source_line
from standmap.desktop.words import said, tr
from standmap.errors import UserError
from standmap.rules.ruleset import Figure, RuleSet

FIELD_PX = 108
UNIT_PX = 64


class FigureRow(QWidget):
    """A figure with a field for the stand's own value; an empty field leaves it as printed.

    Parameters
    ----------
    own
        The value that the stand's people have set, if any.
    scale
        Size of the text, 1.0 to 2.0.
    """

    changed = Signal()

    def __init__(self, rules: RuleSet, figure: Figure, own: float | None, *, can_write: bool, scale: float) -> None:
        super().__init__()
        self._rules, self._figure = rules, figure
        self.sound = True
        title = figure_title(figure.name)
        unit = unit_word(figure.unit)
        hint = self._word(printed(figure))
        self.field: Field[float | None] = Field(
            "", self._read, text="" if own is None else self._word(typed(own, figure)), hint=hint
        )
        self.field.edit.setAccessibleName(
            tr("{figure}: own value in {unit}", figure=title, unit=unit) if unit else title
        )
        self.field.setEnabled(can_write and can_be_set(figure))
        self.field.changed.connect(self._typed)
        words = QVBoxLayout()
        words.setSpacing(2)
        words.addWidget(label(title))
        value = f"{hint} {unit}".strip()
        told = figure.unit == YES_NO or figure.given in (value, f"{figure.value:g} {figure.unit}")
        given = "" if told else f" ({said(figure.given)})"
        words.addWidget(
            second(tr("printed: {value}{given}; {bounds}", value=value, given=given, bounds=self._bounds(unit)))
        )
        self.whose = source_line("")
        words.addWidget(self.whose)
        words.addWidget(self.field.wrong)
        across = QHBoxLayout(self)
        across.setContentsMargins(0, 0, 0, 0)
        across.setSpacing(12)
        across.addLayout(words, 1)
        entry = QHBoxLayout()
        entry.setSpacing(6)
        self.field.setFixedWidth(round(FIELD_PX * scale))
        entry.addWidget(self.field)
        beside = second(unit)
        beside.setFixedWidth(round(UNIT_PX * scale))
        entry.addWidget(beside)
        across.addLayout(entry)
        self._say_whose()

    def value(self) -> float | None:
        """Return the own value, None where there is none or it cannot be; then `sound` is False."""
        found = self.field.value()
        self.sound = not self.field.wrong.text()
        return found

    def _read(self, text: str) -> float | None:
        words = {"yes": True, "no": False, tr("yes").casefold(): True, tr("no").casefold(): False}
        try:
            return own_value(self._rules.id, self._figure.name, text, words)
        except UserError as error:
            # Beside the field the figure needs no name.
            what = error.what.removeprefix(f"{self._figure.name} ")
            raise UserError(what, error.remedy) from None

    def _typed(self) -> None:
        self._say_whose()
        self.changed.emit()

    def _say_whose(self) -> None:
        own = bool(self.field.text().strip())
        source = said(self._figure.source)
        self.whose.setText(tr("this stand's own value, in place of: {source}", source=source) if own else source)

    def _bounds(self, unit: str) -> str:
        figure = self._figure
        if not can_be_set(figure):
            return tr("not to be changed under this set")
        if figure.unit == YES_NO:
            return tr("yes or no")
        return tr("{least} to {most} {unit} may be set", least=f"{figure.least:g}", most=f"{figure.most:g}", unit=unit)

    @staticmethod
    def _word(text: str) -> str:
        return {"yes": tr("yes"), "no": tr("no")}.get(text, text)
