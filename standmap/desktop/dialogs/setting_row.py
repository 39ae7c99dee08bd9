"""One setting: its title and help at the left, the way to set it at the right, what is wrong below."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QObject, Qt, Signal
from PySide6.QtGui import QResizeEvent, QWheelEvent
from PySide6.QtWidgets import (
    QBoxLayout,
    QCheckBox,
    QComboBox,
    QFileDialog,
    QHBoxLayout,
    QLineEdit,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from standmap.desktop.desk import wording
from standmap.desktop.dialogs.settings_form import bounds, read, shown, unit_of
from standmap.desktop.kit import button, label, second, set_error_mark
from standmap.desktop.words import said, tr
from standmap.errors import UserError
from standmap.settings import Kind, Setting, Value
from standmap.units_shown import UnitsShown

CHOICE_PX, FIELD_PX, FOLDER_PX, UNIT_PX, LEAST_WORDS_PX = 188, 104, 188, 78, 180


class SettingRow(QWidget):
    """Asks for one setting in the way of its kind.

    Attributes
    ----------
    value
        As it was typed last when it was right.
    control
        The part that takes the focus.
    """

    changed = Signal(str)
    reached = Signal()

    def __init__(self, setting: Setting, value: Value, units: UnitsShown, scale: float) -> None:
        super().__init__()
        self._setting = setting
        self._units = units
        self._scale = scale
        self.value = value
        self.choose_button: QPushButton | None = None
        self._right = QHBoxLayout()
        self._right.setSpacing(6)
        self._unit = second("")
        self._bounds = second("")
        self.wrong = label("", "error")
        self.wrong.hide()
        self.control = self._made()
        self.control.setAccessibleName(said(setting.title))
        self.control.setAccessibleDescription(said(setting.help))
        self.control.installEventFilter(self)
        self.setFocusProxy(self.control)

        words = QVBoxLayout()
        words.setSpacing(2)
        title = label(said(setting.title))
        title.setBuddy(self.control)
        words.addWidget(title)
        words.addWidget(second(said(setting.help)))
        if self._is_number:
            words.addWidget(self._bounds)
        words.addWidget(self.wrong)
        right = QVBoxLayout()
        right.addLayout(self._right)
        right.addStretch(1)
        self._halves = QBoxLayout(QBoxLayout.Direction.LeftToRight, self)
        self._halves.setContentsMargins(0, 0, 0, 0)
        self._halves.setSpacing(16)
        self._halves.addLayout(words, 1)
        self._halves.addLayout(right)
        self.put(value)

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802 - Qt's name
        """Put the way to set it below the words where there is no room beside them."""
        super().resizeEvent(event)
        wide = self.width() >= self._px(CHOICE_PX + LEAST_WORDS_PX)
        self._halves.setDirection(QBoxLayout.Direction.LeftToRight if wide else QBoxLayout.Direction.TopToBottom)
        self._halves.setSpacing(16 if wide else 6)
        self._right.setAlignment(Qt.AlignmentFlag.AlignLeft)

    @property
    def _is_number(self) -> bool:
        return self._setting.kind in (Kind.NUMBER, Kind.WHOLE)

    def put(self, value: Value) -> None:
        """Put a value in, as right."""
        self.value = value
        control = self.control
        if isinstance(control, QComboBox):
            control.setCurrentIndex(control.findData(value))
        elif isinstance(control, QCheckBox):
            control.setChecked(bool(value))
        elif isinstance(control, QLineEdit):
            control.setText(shown(self._setting, value, self._units))
        self._tell_bounds()
        self.say("")

    def show_in(self, units: UnitsShown) -> None:
        """Go over to other units; what was typed wrongly is kept as it is."""
        right = self.check()
        self._units = units
        if right:
            self.put(self.value)
        self._tell_bounds()

    def check(self) -> bool:
        """Return whether what was typed is right; says so beside it if not."""
        if not isinstance(self.control, QLineEdit):
            return True
        try:
            self.value = read(self._setting, self.control.text(), self.value, self._units)
        except UserError as error:
            self.say(wording(error))
            return False
        self.say("")
        return True

    def say(self, text: str) -> None:
        """Show what is wrong, or nothing."""
        self.wrong.setText(text)
        self.wrong.setVisible(bool(text))
        self.control.setAccessibleDescription(text or said(self._setting.help))
        if isinstance(self.control, QLineEdit):
            set_error_mark(self.control, bool(text))

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:  # noqa: N802 - Qt's name
        """Tell when the focus has come here, so that the row can be scrolled into sight."""
        if watched is self.control and event.type() is QEvent.Type.FocusIn:
            self.reached.emit()
        return super().eventFilter(watched, event)

    def _made(self) -> QComboBox | QCheckBox | QLineEdit:
        match self._setting.kind:
            case Kind.CHOICE:
                return self._made_choice()
            case Kind.YES_NO:
                box = QCheckBox(tr("yes"))
                box.toggled.connect(self._ticked)
                box.setMinimumWidth(self._px(CHOICE_PX))
                self._right.addWidget(box)
                return box
            case Kind.FOLDER:
                return self._made_folder()
            case _:
                edit = self._line(FIELD_PX)
                self._unit.setFixedWidth(self._px(UNIT_PX))
                self._right.addWidget(edit)
                self._right.addWidget(self._unit)
                return edit

    def _made_choice(self) -> QComboBox:
        choice = _Choice()
        choice.setFixedWidth(self._px(CHOICE_PX))
        for value, title in self._setting.choices.items():
            choice.addItem(said(title), value)
        choice.currentIndexChanged.connect(self._picked)
        self._right.addWidget(choice)
        return choice

    def _made_folder(self) -> QLineEdit:
        edit = self._line(FOLDER_PX)
        edit.setPlaceholderText(tr("its own"))
        column = QVBoxLayout()
        column.setSpacing(4)
        column.addWidget(edit)
        self.choose_button = button(tr("choose a folder..."), self._choose_folder, "link")
        column.addWidget(self.choose_button)
        self._right.addLayout(column)
        return edit

    def _line(self, width_px: int) -> QLineEdit:
        edit = QLineEdit()
        edit.setFixedWidth(self._px(width_px))
        if self._is_number:
            edit.setAlignment(Qt.AlignmentFlag.AlignRight)
        if self._setting.optional:
            edit.setPlaceholderText(tr("not set"))
        edit.textEdited.connect(self._typed)
        edit.editingFinished.connect(self.check)
        return edit

    def _px(self, width_px: int) -> int:
        return round(width_px * self._scale)

    def _picked(self) -> None:
        assert isinstance(self.control, QComboBox)  # noqa: S101 - its own signal
        self.value = self.control.currentData()
        self.changed.emit(self._setting.name)

    def _ticked(self, on: bool) -> None:
        self.value = on
        self.changed.emit(self._setting.name)

    def _typed(self) -> None:
        self.check()
        self.changed.emit(self._setting.name)

    def _choose_folder(self) -> None:
        folder = QFileDialog.getExistingDirectory(self, said(self._setting.title), str(self.value or ""))
        if folder:
            self.put(folder)
            self.check()
            self.changed.emit(self._setting.name)

    def _tell_bounds(self) -> None:
        if not self._is_number:
            return
        unit = unit_of(self._setting, self._units)
        least, most = bounds(self._setting, self._units)
        self._unit.setText(unit)
        self._bounds.setText(tr("{least} to {most} {unit}", least=least, most=most, unit=unit).strip())


class _Choice(QComboBox):
    """A choice that the wheel does not change while the sheet is scrolled past it."""

    def __init__(self) -> None:
        super().__init__()
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)

    def wheelEvent(self, event: QWheelEvent) -> None:  # noqa: N802 - Qt's name
        if self.hasFocus():
            super().wheelEvent(event)
        else:
            event.ignore()
