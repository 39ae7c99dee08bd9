"""A tree put on the map by hand, or moved on purpose: its place by a click or typed, its name, species and girth."""

from __future__ import annotations

from dataclasses import dataclass

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QCompleter, QVBoxLayout, QWidget

from standmap.desktop.card.typed import epsg_code, thickness_as_given
from standmap.desktop.desk import Desk
from standmap.desktop.kit import Field, button, heading, second, side_by_side
from standmap.desktop.pages.survey.drafts import position_text
from standmap.desktop.pages.survey.review_list import units_of
from standmap.desktop.words import said, tr
from standmap.errors import UserError
from standmap.formats.quantities import Thickness
from standmap.jobs.names import checked_name, free_tree_name
from standmap.jobs.trees_by_hand import DoubtfulPositionError, next_tree_name
from standmap.jobs.typed_position import typed_position
from standmap.rules.species import known_binomials
from standmap.stand.tree import LonLat, Tree


@dataclass(frozen=True, slots=True)
class TypedTree:
    """What was typed of a new tree.

    Attributes
    ----------
    girth
        Number and unit as given.
    """

    name: str
    at: LonLat
    species: str | None
    girth: tuple[str, str] | None


class SpotFields(QWidget):
    """Where something stands: typed as degrees or on a grid, or set from the map."""

    changed = Signal()
    entered = Signal()

    def __init__(self) -> None:
        super().__init__()
        self._exact: LonLat | None = None
        self.position: Field[LonLat] = Field(
            tr("position"), self._parse, hint=tr("click on the map, or 60.1699 24.9384")
        )
        self.grid: Field[int | None] = Field(tr("grid of the numbers, if not degrees"), epsg_code, hint=tr("EPSG code"))
        self.sure = button(tr("it is right all the same"), hint=tr("keep this unlikely position"))
        self.sure.setCheckable(True)
        self.sure.hide()
        down = QVBoxLayout(self)
        down.setContentsMargins(0, 0, 0, 0)
        down.setSpacing(8)
        for part in (self.position, self.sure, self.grid):
            down.addWidget(part)
        self.position.changed.connect(self._typed)
        self.grid.changed.connect(self._typed)
        self.position.entered.connect(self.entered)

    def clear(self) -> None:
        """Forget what was typed."""
        self._exact = None
        self.position.set_text("")
        self.sure.hide()
        self.sure.setChecked(False)

    def show_spot(self, at: LonLat) -> None:
        """Put in a position from the map."""
        self._exact = at
        self.grid.set_text("")
        self.position.set_text(position_text(at))
        self.sure.hide()

    def value(self) -> LonLat | None:
        """Return the position, or None after saying what is wrong with it."""
        return self._exact or self.position.value()

    def quiet_value(self) -> LonLat | None:
        """Return the position if what was typed is one by now; nobody is blamed while typing."""
        try:
            return self._exact or self._parse(self.position.text())
        except UserError:
            return None

    def doubt(self, error: DoubtfulPositionError) -> None:
        """Say why a position is unlikely; it can be confirmed beside that."""
        self.position.say(said(error.what))
        self.sure.setChecked(False)
        self.sure.show()
        self.sure.setFocus()

    def _parse(self, text: str) -> LonLat:
        return typed_position(text, epsg_code(self.grid.text()))

    def _typed(self) -> None:
        self._exact = None
        self.sure.hide()
        self.sure.setChecked(False)
        self.changed.emit()


class PlaceTreeSheet(QWidget):
    """The form of a new tree."""

    spot_changed = Signal()
    place_wanted = Signal()
    left = Signal()

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self._desk = desk
        self.spot = SpotFields()
        self.name: Field[str] = Field(tr("name"), self._name)
        self.species: Field[str | None] = Field(tr("species"), self._species, hint=tr("if you know it"))
        completer = QCompleter(sorted(known_binomials()), self)
        completer.setCaseSensitivity(Qt.CaseSensitivity.CaseInsensitive)
        completer.setFilterMode(Qt.MatchFlag.MatchContains)
        self.species.edit.setCompleter(completer)
        self.girth: Field[tuple[str, str] | None] = Field(tr("girth today"), self._girth, hint=tr("such as 84 cm"))
        self.place = button(tr("place the tree"), self.place_wanted.emit, "primary", tr("Return in any field"))
        self.leave = button(tr("done"), self.left.emit, "quiet", tr("Escape on the map"))
        down = QVBoxLayout(self)
        down.setContentsMargins(0, 0, 0, 0)
        down.setSpacing(8)
        self.how = second("")
        down.addWidget(heading(tr("Place a tree")))
        down.addWidget(self.how)
        for part in (self.spot, self.name, self.species, self.girth):
            down.addWidget(part)
        down.addStretch(1)
        self.foot = side_by_side(self.place, self.leave)
        self.spot.changed.connect(self.spot_changed)
        for field in (self.spot, self.name, self.species, self.girth):
            field.entered.connect(self.place_wanted)

    @property
    def texts(self) -> tuple[str, ...]:
        """What is typed in all fields."""
        return (self.spot.position.text(), self.name.text(), self.species.text(), self.girth.text())

    def begin(self) -> None:
        """Begin with a fresh tree."""
        self.begin_next(self.texts)

    def begin_next(self, written: tuple[str, ...]) -> None:
        """Begin with the next tree: fields that hold what was written are fresh, others are of the next tree already.

        The species stays: trees of one kind are often put in one after another.
        """
        spot, name, _, girth = (text == before for text, before in zip(self.texts, written, strict=True))
        if spot:
            self.spot.clear()
        if name:
            seen = self._desk.seen
            self.name.set_text("" if seen is None else next_tree_name(seen.stand))
        if girth:
            self.girth.set_text("")

    def tell_how(self, *, on_map: bool) -> None:
        """Say how to begin: the map of an empty stand has no place to click on."""
        by_click = tr("click where it stands; drag to put it right")
        self.how.setText(by_click if on_map else tr("the map has no place yet: type where this first one is"))

    def value(self) -> TypedTree | None:
        """Return what was typed, or None after saying what is wrong, each beside its field."""
        at = self.spot.value()
        name, species, girth = self.name.value(), self.species.value(), self.girth.value()
        wrong = any(f.wrong.text() for f in (self.name, self.species, self.girth))
        if at is None or name is None or wrong:
            return None
        return TypedTree(name, at, species, girth)

    def _name(self, text: str) -> str:
        seen = self._desk.seen
        return text.strip() if seen is None else free_tree_name(seen.stand, text)

    @staticmethod
    def _species(text: str) -> str | None:
        return checked_name(text, "species") if text.strip() else None

    def _girth(self, text: str) -> tuple[str, str] | None:
        return thickness_as_given(text, units_of(self._desk), Thickness.GIRTH) if text.strip() else None


class MoveTreeSheet(QWidget):
    """The confirmation that a tree is to be moved: nothing moves before the button is pressed."""

    spot_changed = Signal()
    move_wanted = Signal()
    left = Signal()

    def __init__(self) -> None:
        super().__init__()
        self.tree: Tree | None = None
        self.title = heading("")
        self.spot = SpotFields()
        self.how_far = second("")
        self.move_it = button(tr("move it"), self.move_wanted.emit, "primary", tr("write the new position"))
        self.leave = button(tr("leave it there"), self.left.emit, "quiet", tr("Escape on the map"))
        down = QVBoxLayout(self)
        down.setContentsMargins(0, 0, 0, 0)
        down.setSpacing(8)
        down.addWidget(self.title)
        down.addWidget(second(tr("click where it stands in truth, or type its position")))
        down.addWidget(self.spot)
        down.addWidget(self.how_far)
        down.addStretch(1)
        self.foot = side_by_side(self.move_it, self.leave)
        self.spot.changed.connect(self.spot_changed)
        self.spot.entered.connect(self.move_wanted)

    def begin(self, tree: Tree) -> None:
        """Begin to move a tree."""
        self.tree = tree
        self.title.setText(tr("Move {tree}", tree=tree.name))
        self.spot.clear()
        self.tell(None, "")

    def tell(self, at: LonLat | None, distance: str) -> None:
        """Say how far the tree would go; without a position it cannot be moved."""
        self.move_it.setEnabled(at is not None)
        self.how_far.setText(tr("{distance} from where it is now", distance=distance) if distance else "")
