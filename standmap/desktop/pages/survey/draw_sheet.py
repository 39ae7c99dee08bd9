"""A thing of the ground in the panel while it is drawn: its kind, name and points, and what an area's owner permits."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from PySide6.QtCore import QSize, Signal
from PySide6.QtGui import QFocusEvent
from PySide6.QtWidgets import QComboBox, QPlainTextEdit, QSizePolicy, QVBoxLayout, QWidget

from standmap.desktop.card.typed import epsg_code
from standmap.desktop.kit import Field, button, heading, label, second, set_error_mark, side_by_side
from standmap.desktop.pages.survey.drafts import (
    KINDS,
    Draft,
    GroundKind,
    points_text,
    read_day,
    read_limit,
    read_points,
)
from standmap.desktop.words import said, tr
from standmap.errors import UserError
from standmap.jobs.ground_by_hand import Permission
from standmap.jobs.names import checked_name
from standmap.jobs.trees_by_hand import DoubtfulPositionError
from standmap.stand.ground import AreaKind, LineKind, PlaceKind
from standmap.stand.tree import LonLat


def kind_words(kind: GroundKind) -> str:
    """Return the name of a kind of ground."""
    match kind:
        case LineKind.PATH:
            return tr("path")
        case LineKind.STREAM:
            return tr("stream")
        case LineKind.FENCE:
            return tr("fence")
        case AreaKind.PERMITTED:
            return tr("permitted area")
        case AreaKind.NO_GO:
            return tr("no-go area")
        case PlaceKind.GATE:
            return tr("gate")
        case PlaceKind.TANK:
            return tr("tank")
        case PlaceKind.LANDMARK:
            return tr("landmark")
        case PlaceKind.HAZARD:
            return tr("hazard")
        case PlaceKind.BRIDGE:
            return tr("bridge")
        case PlaceKind.FORD:
            return tr("ford")
    raise ValueError(kind)


LINES_SEEN = 5


class PointsEdit(QPlainTextEdit):
    """Lines to type points in; it tells when it is left."""

    left = Signal()

    def __init__(self) -> None:
        super().__init__()
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)

    def sizeHint(self) -> QSize:  # noqa: N802 - Qt's name
        """Return the room of a few lines: what stands below stays in sight."""
        return QSize(super().sizeHint().width(), LINES_SEEN * self.fontMetrics().lineSpacing() + 24)

    def focusOutEvent(self, event: QFocusEvent) -> None:  # noqa: N802 - Qt's name
        """Tell of it."""
        super().focusOutEvent(event)
        self.left.emit()


class DrawSheet(QWidget):
    """The form of one thing of the ground."""

    points_changed = Signal()
    kind_changed = Signal()
    keep_wanted = Signal()
    left = Signal()

    def __init__(self) -> None:
        super().__init__()
        self._draft = Draft(LineKind.PATH)
        self._still = False
        self._on_map = True
        self.title = heading("")
        self.how = second("")
        self.kind = QComboBox()
        self.kind.setAccessibleName(tr("what it is"))
        self.name: Field[str] = Field(tr("name"), _name, hint=tr("if it has one"))
        self.points = PointsEdit()
        self.points.setAccessibleName(tr("its points, one a line, latitude first"))
        self.points.setPlaceholderText(tr("click on the map, or one a line: 60.1699 24.9384"))
        self.points.setTabChangesFocus(True)
        self.points_wrong = label("", "error")
        self.points_wrong.hide()
        self.grid: Field[int | None] = Field(tr("grid of the numbers, if not degrees"), epsg_code, hint=tr("EPSG code"))
        self.sure = button(tr("it is right all the same"), hint=tr("keep this unlikely position"))
        self.sure.setCheckable(True)
        self.owner: Field[str] = Field(tr("owner"), _owner)
        self.from_day: Field[date | None] = Field(tr("from"), read_day, hint="2026-03-01")
        self.until_day: Field[date | None] = Field(tr("until"), read_day, hint="2026-04-30")
        self.most: Field[int | None] = Field(tr("most trees a season"), read_limit)
        self.permission = self._stack(self.owner, side_by_side(self.from_day, self.until_day), self.most)
        self.keep = button(tr("keep it"), self.keep_wanted.emit, "primary", tr("Return on the map or in a field"))
        self.leave = button(tr("leave"), self.left.emit, "quiet", tr("Escape on the map"))
        self.foot = side_by_side(self.keep, self.leave)
        down = QVBoxLayout(self)
        down.setContentsMargins(0, 0, 0, 0)
        down.setSpacing(8)
        points_name = label(tr("points"), "second")
        points_name.setBuddy(self.points)
        for part in (
            self.title,
            self.how,
            self.kind,
            self.name,
            self.permission,
            points_name,
            self.points,
            self.points_wrong,
            self.sure,
            self.grid,
        ):
            down.addWidget(part)
        down.addStretch(1)
        self.kind.currentIndexChanged.connect(self._kind_chosen)
        self.points.textChanged.connect(self._points_typed)
        self.points.left.connect(self._points_left)
        self.grid.changed.connect(self._points_typed)
        for field in (self.name, self.owner, self.from_day, self.until_day, self.most, self.grid):
            field.entered.connect(self.keep_wanted)

    @staticmethod
    def _stack(*parts: QWidget) -> QWidget:
        sheet = QWidget()
        down = QVBoxLayout(sheet)
        down.setContentsMargins(0, 0, 0, 0)
        down.setSpacing(8)
        for part in parts:
            down.addWidget(part)
        return sheet

    def begin(self, draft: Draft, *, on_map: bool) -> None:
        """Begin with a draft; its kind can become any other of the same shape."""
        self._draft = draft
        self._on_map = on_map
        self._still = True
        self.kind.clear()
        for kind in KINDS:
            if type(kind) is type(draft.kind):
                self.kind.addItem(kind_words(kind), kind)
        self.kind.setCurrentText(kind_words(draft.kind))
        self.name.set_text(draft.name)
        said_of = draft.permission
        self.owner.set_text(said_of.owner)
        self.from_day.set_text("" if said_of.from_date is None else said_of.from_date.isoformat())
        self.until_day.set_text("" if said_of.until_date is None else said_of.until_date.isoformat())
        self.most.set_text("" if said_of.most_trees is None else str(said_of.most_trees))
        self.permission.setVisible(isinstance(draft.kind, AreaKind))
        self.grid.set_text("")
        self.points.setPlainText(points_text(draft.points))
        self._still = False
        self._say_points("")
        self._tell()

    @property
    def draft(self) -> Draft:
        """The draft as it is drawn so far, without what is typed in its fields."""
        return self._draft

    def show_points(self, points: tuple[LonLat, ...]) -> None:
        """Put in the points drawn on the map."""
        self._draft = replace(self._draft, points=points)
        self._still = True
        self.grid.set_text("")
        self.points.setPlainText(points_text(points))
        self._still = False
        self._say_points("")
        self._tell()

    def value(self) -> Draft | None:
        """Return the draft with all that was typed, or None after saying what is wrong, each beside its field."""
        if self.points_wrong.text() and self._draft.points == ():
            return None
        name, owner = self.name.value(), self.owner.value()
        begins, ends, most = self.from_day.value(), self.until_day.value(), self.most.value()
        self.grid.value()
        fields = (self.name, self.owner, self.from_day, self.until_day, self.most, self.grid)
        if any(f.wrong.text() for f in fields) or name is None or owner is None or not self._points_right():
            return None
        if begins is not None and ends is not None and begins > ends:
            self.until_day.say(tr("the permission would end before it begins"))
            return None
        return replace(self._draft, name=name, permission=Permission(owner, begins, ends, most))

    def say(self, error: UserError) -> None:
        """Say beside the points what is wrong with them; an unlikely position can be confirmed there."""
        self._say_points(f"{said(error.what)}; {said(error.remedy)}" if error.remedy else said(error.what))
        if isinstance(error, DoubtfulPositionError):
            self.sure.show()
            self.sure.setFocus()

    def _say_points(self, text: str) -> None:
        self.points_wrong.setText(text)
        self.points_wrong.setVisible(bool(text))
        self.points.setAccessibleDescription(text)
        set_error_mark(self.points, bool(text))
        self.sure.setChecked(False)
        self.sure.hide()

    def _read_points(self) -> tuple[LonLat, ...]:
        return read_points(self.points.toPlainText(), epsg_code(self.grid.text()))

    def _points_right(self) -> bool:
        try:
            self._read_points()
        except UserError as error:
            self.say(error)
            return False
        return True

    def _points_left(self) -> None:
        if not self.points_wrong.text():
            self._points_right()

    def _points_typed(self) -> None:
        if self._still:
            return
        try:
            points = self._read_points()
        except UserError as error:
            # Said when it is left or to be kept: nobody is blamed while typing, but once it was said it stays true.
            if self.points_wrong.text():
                self.say(error)
            self.keep.setEnabled(True)
            return
        self._say_points("")
        self._draft = replace(self._draft, points=points)
        self._tell()
        self.points_changed.emit()

    def _kind_chosen(self) -> None:
        if not self._still:
            self._draft = replace(self._draft, kind=self.kind.currentData())
            self._tell()
            self.kind_changed.emit()

    def _tell(self) -> None:
        draft = self._draft
        word = kind_words(draft.kind)
        self.title.setText(tr("Change: {kind}", kind=word) if draft.key else tr("Draw: {kind}", kind=word))
        if not self._on_map:
            self.how.setText(tr("the map has no place yet: type where this first one is"))
        elif draft.of_one_point:
            crossing = draft.kind in (PlaceKind.BRIDGE, PlaceKind.FORD)
            self.how.setText(tr("click beside the stream: it goes onto it") if crossing else tr("click where it is"))
        else:
            self.how.setText(tr("a click adds a point, Backspace takes one back, Enter ends; drag a point to move it"))
        self.keep.setEnabled(draft.enough)
        lacking = tr("there are not enough points yet")
        self.keep.setToolTip(tr("Return on the map or in a field") if draft.enough else lacking)


def _name(text: str) -> str:
    return checked_name(text, "name") if text.strip() else ""


def _owner(text: str) -> str:
    return checked_name(text, "name of an owner") if text.strip() else ""
