"""Small parts that every page is built of, so that they look and behave alike."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Generic, TypeVar

from PySide6.QtCore import QEvent, QSize, Qt, QTimer, Signal
from PySide6.QtGui import QAccessible, QAccessibleValueChangeEvent, QKeySequence, QResizeEvent
from PySide6.QtWidgets import (
    QBoxLayout,
    QFrame,
    QHBoxLayout,
    QLabel,
    QLayout,
    QLineEdit,
    QPushButton,
    QScrollArea,
    QSizePolicy,
    QVBoxLayout,
    QWidget,
)

from standmap.desktop.theme import PADDING_PX
from standmap.desktop.words import said
from standmap.errors import UserError

Value = TypeVar("Value")

LINE_PX = 12
"""Middles nearer to each other than this are read as one line."""

SHORTEST_CELL = 24
"""Smallest height of anything that is pressed, logical pixels (WCAG 2.2, 2.5.8)."""


def label(text: str, role: str = "text", *, wrap: bool = True) -> QLabel:
    """Return a text; `role` is one of name, heading, strong, text, second, source, error, caution."""
    made = QLabel(text)
    made.setProperty("role", role)
    made.setTextFormat(Qt.TextFormat.PlainText)  # what a person typed is never markup
    made.setWordWrap(wrap)
    if wrap:
        made.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Preferred)
        made.setMinimumWidth(1)
    return made


def heading(text: str) -> QLabel:
    """Return a heading."""
    return label(text, "heading")


def second(text: str) -> QLabel:
    """Return a text of less weight."""
    return label(text, "second")


def source_line(text: str) -> QLabel:
    """Return the small line that names a rule and its source."""
    return label(text, "source")


def caution_line(text: str) -> QLabel:
    """Return a text that asks for care, with a bar of ink beside it."""
    return label(text, "caution")


def hairline() -> QFrame:
    """Return a thin line between two parts of a panel."""
    line = QFrame()
    line.setProperty("role", "hairline")
    line.setFixedHeight(1)
    return line


def fact_row(name: str, value: str, *, strong: bool = False) -> QWidget:
    """Return a row with a name at the left and its value, with its unit, at the right."""
    row = QWidget()
    across = QHBoxLayout(row)
    across.setContentsMargins(0, 0, 0, 0)
    left, right = label(name, "second"), label(value, "strong" if strong else "text", wrap=False)
    right.setAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
    right.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
    across.addWidget(left, 1)
    across.addWidget(right)
    row.setAccessibleName(f"{name}: {value}")
    return row


def button(text: str, pressed: Callable[[], object] | None = None, role: str = "plain", hint: str = "") -> QPushButton:
    """Return a button; `role` is one of primary, quiet, plain, link, row."""
    made = QPushButton(text)
    made.setProperty("role", role)
    made.setMinimumHeight(SHORTEST_CELL)
    made.setAccessibleName(text)
    made.setToolTip(hint)
    made.setCursor(Qt.CursorShape.PointingHandCursor)
    made.setAutoDefault(False)
    if pressed is not None:
        made.clicked.connect(pressed)
    return made


def keys_text(keys: str) -> str:
    """Return the first of an action's keys as this system and language write them."""
    return QKeySequence(keys.split("; ")[0]).toString(QKeySequence.SequenceFormat.NativeText) if keys else ""


def side_by_side(*widgets: QWidget, stretch: bool = True) -> QWidget:
    """Return widgets in one row, or one below the other while the row is too narrow for their texts."""
    return _Beside(widgets, stretch=stretch)


def set_error_mark(edit: QWidget, wrong: bool) -> None:
    """Draw the edge of a field as wrong, or right again."""
    edit.setProperty("wrong", "true" if wrong else "false")
    edit.style().unpolish(edit)
    edit.style().polish(edit)


class Field(QWidget, Generic[Value]):
    """A labelled line to type in; what is wrong stands beside it, and what was typed is kept.

    Parameters
    ----------
    name
        The label.
    parse
        Turns the text into a value; a `UserError` says what is wrong with it.
    hint
        Shown while the line is empty.
    """

    changed = Signal()
    entered = Signal()

    def __init__(self, name: str, parse: Callable[[str], Value], *, text: str = "", hint: str = "") -> None:
        super().__init__()
        self._parse = parse
        self.edit = QLineEdit(text)
        self.edit.setPlaceholderText(hint)
        self.edit.setAccessibleName(name)
        self.edit.setMaxLength(32767)  # too long is said, not cut in silence
        self.wrong = label("", "error")
        self.wrong.hide()
        down = QVBoxLayout(self)
        down.setContentsMargins(0, 0, 0, 0)
        down.setSpacing(2)
        self._name = label(name, "second")
        self._name.setBuddy(self.edit)
        if name:
            down.addWidget(self._name)
        down.addWidget(self.edit)
        down.addWidget(self.wrong)
        self.edit.textEdited.connect(self._typed)
        self.edit.editingFinished.connect(self.check)
        self.edit.returnPressed.connect(self.entered)
        self.setFocusProxy(self.edit)

    def text(self) -> str:
        """Return what was typed."""
        return self.edit.text()

    def rename(self, name: str) -> None:
        """Change the label, as where it names another unit."""
        self._name.setText(name)
        self.edit.setAccessibleName(name)

    def set_text(self, text: str) -> None:
        """Put a text in, as right."""
        self.edit.setText(text)
        self.say("")

    def value(self) -> Value | None:
        """Return the value, or None after saying beside the field what is wrong with it."""
        try:
            value = self._parse(self.edit.text())
        except UserError as error:
            self.say(f"{said(error.what)}; {said(error.remedy)}" if error.remedy else said(error.what))
            return None
        self.say("")
        return value

    def given(self) -> Value | None:
        """Return the value, None where nothing was typed or it is wrong, which is said beside the field."""
        if self.edit.text().strip():
            return self.value()
        self.say("")
        return None

    def check(self) -> bool:
        """Return whether what was typed is right; says so beside the field if not. An untouched field is not blamed."""
        if not self.edit.text() and not self.wrong.text():
            return True
        return self.value() is not None or not self.wrong.text()

    def say(self, text: str) -> None:
        """Show what is wrong beside the field, or nothing."""
        self.wrong.setText(text)
        self.wrong.setVisible(bool(text))
        self.edit.setAccessibleDescription(text)
        set_error_mark(self.edit, bool(text))
        if text:
            QAccessible.updateAccessibility(QAccessibleValueChangeEvent(self.edit, text))

    def _typed(self) -> None:
        if self.wrong.text():
            self.value()
        self.changed.emit()


class Panel(QFrame):
    """A floating sheet over the map whose content scrolls inside it: add to `.down`; `.foot` stays in sight below.

    Parameters
    ----------
    name
        "panel" or "card": what the style sheet calls it.
    title
        Its accessible name.
    """

    def __init__(self, name: str = "panel", title: str = "") -> None:
        super().__init__()
        self.setObjectName(name)
        self.setAccessibleName(title)
        self.setAttribute(Qt.WidgetAttribute.WA_StyledBackground)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(1, 8, 1, 12)
        outer.setSpacing(0)
        self.scroller = QScrollArea()
        self.scroller.setWidgetResizable(True)
        self.scroller.setFrameShape(QFrame.Shape.NoFrame)
        self.scroller.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.scroller.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.body = _Body()
        self.down = QVBoxLayout(self.body)
        self._beyond = 0
        self.down.setContentsMargins(PADDING_PX, 12, PADDING_PX, 8)
        self.down.setSpacing(8)
        self.scroller.setWidget(self.body)
        outer.addWidget(self.scroller, 1)
        self.scroller.verticalScrollBar().rangeChanged.connect(lambda *_: QTimer.singleShot(0, self, self._make_room))
        self.foot_sheet = QWidget()
        self.foot = QVBoxLayout(self.foot_sheet)
        self.foot.setContentsMargins(PADDING_PX, 8, PADDING_PX, 0)
        self.foot.setSpacing(8)
        outer.addWidget(self.foot_sheet)

    def reach_beyond(self, px: int) -> None:
        """Let the content reach so far beyond the line on which the foot stands: shades of rows do, texts do not."""
        self._beyond = px
        self._make_room()

    def _make_room(self) -> None:
        """Let the content end where the foot ends, whether or not there is a scroll bar in its margin."""
        bar = self.scroller.verticalScrollBar()
        taken = bar.sizeHint().width() if bar.maximum() > bar.minimum() else 0  # it may not be shown yet
        side = PADDING_PX - self._beyond
        self.down.setContentsMargins(side, 12, max(side - taken, 4), 8)


class _Beside(QWidget):
    """Widgets in one row where there is room for it."""

    def __init__(self, widgets: Sequence[QWidget], *, stretch: bool) -> None:
        super().__init__()
        self._widgets = widgets
        self._line = QBoxLayout(QBoxLayout.Direction.LeftToRight, self)
        self._line.setContentsMargins(0, 0, 0, 0)
        self._line.setSpacing(8)
        for widget in widgets:
            self._line.addWidget(widget, 1 if stretch else 0)
        if not stretch:
            self._line.addStretch(1)

    def minimumSizeHint(self) -> QSize:  # noqa: N802 - Qt's name
        return QSize(0, super().minimumSizeHint().height())

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802 - Qt's name
        super().resizeEvent(event)
        self._turn()

    def event(self, event: QEvent) -> bool:
        if event.type() is QEvent.Type.LayoutRequest:
            self._turn()
        return super().event(event)

    def _turn(self) -> None:
        shown = [widget.minimumSizeHint().width() for widget in self._widgets if not widget.isHidden()]
        gaps = self._line.spacing() * (len(shown) - 1)
        fits = sum(shown) + gaps <= self.width()
        direction = QBoxLayout.Direction.LeftToRight if fits else QBoxLayout.Direction.TopToBottom
        if self._line.direction() != direction:
            self._line.setDirection(direction)
            self.updateGeometry()  # one below the other they are higher, which those around must know


class _Body(QWidget):
    """Content that takes the width it is given, so that texts wrap and are not cut."""

    def minimumSizeHint(self) -> QSize:  # noqa: N802 - Qt's name
        return QSize(0, super().minimumSizeHint().height())


def tab_stops(part: QWidget, window: QWidget) -> list[QWidget]:
    """Return what the Tab key stops at in a part of a window, in reading order."""
    found = [part, *part.findChildren(QWidget)]
    stops = [
        w
        for w in found
        if w.focusPolicy() & Qt.FocusPolicy.TabFocus and w.isVisible() and w.isEnabled() and w.focusProxy() is None
    ]

    def place(widget: QWidget) -> tuple[int, int]:
        middle = widget.mapTo(window, widget.rect().center())
        return middle.y() // LINE_PX, middle.x()

    return sorted(stops, key=place)


def clear(layout: QLayout) -> None:
    """Take everything out of a layout."""
    while layout.count():
        item = layout.takeAt(0)
        widget = item.widget() if item is not None else None
        if widget is not None:
            widget.hide()
            widget.deleteLater()
