"""What there is to do on this page while nothing is under way: bring files, place trees, draw the ground, confirm."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QAbstractItemView,
    QGridLayout,
    QListWidget,
    QListWidgetItem,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from standmap.desktop.desk import Desk
from standmap.desktop.kit import button, hairline, heading, label, second, side_by_side
from standmap.desktop.pages.survey.drafts import KINDS, GroundKind
from standmap.desktop.pages.survey.draw_sheet import kind_words
from standmap.desktop.words import tr, tr_n
from standmap.jobs.ground_by_hand import Ground
from standmap.stand.tree import Tree

KEY = Qt.ItemDataRole.UserRole
MOST_ROWS_SEEN = 4


class KeyList(QListWidget):
    """A short list of named things."""

    def __init__(self, name: str) -> None:
        super().__init__()
        self.setAccessibleName(name)
        self.setSelectionMode(QAbstractItemView.SelectionMode.ExtendedSelection)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.setUniformItemSizes(True)

    def show_rows(self, rows: Sequence[tuple[str, str]]) -> None:
        """Show texts with their keys; what was chosen stays chosen."""
        chosen = set(self.keys)
        self.blockSignals(True)
        self.clear()
        for text, key in rows:
            item = QListWidgetItem(text)
            item.setData(KEY, key)
            self.addItem(item)
            item.setSelected(key in chosen)
        self.blockSignals(False)
        row_px = max(self.sizeHintForRow(0), 28)
        self.setFixedHeight(row_px * min(max(len(rows), 1), MOST_ROWS_SEEN) + 6)
        self.itemSelectionChanged.emit()

    @property
    def keys(self) -> list[str]:
        """Keys of what is chosen."""
        return [str(item.data(KEY)) for item in self.selectedItems()]


class HomeSheet(QWidget):
    """The ways in, the trees that wait to be confirmed, and the ground."""

    files_wanted = Signal()
    tree_wanted = Signal()
    move_wanted = Signal()
    sights_wanted = Signal()
    live_wanted = Signal()
    adjust_wanted = Signal()
    draw_wanted = Signal(object)
    heights_wanted = Signal()
    edit_wanted = Signal(str)
    remove_wanted = Signal(str)
    ground_looked_at = Signal(str)
    confirm_wanted = Signal(bool)
    back_wanted = Signal()

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self._desk = desk
        self.down = QVBoxLayout(self)
        self.down.setContentsMargins(0, 0, 0, 0)
        self.down.setSpacing(8)
        self.title = heading("")
        self.about = second("")
        self.files = button(
            tr("choose files..."), self.files_wanted.emit, "primary", tr("GPX, NMEA, GeoJSON, CSV or pictures (Alt+F)")
        )
        self.tree = button(
            tr("place a tree"), self.tree_wanted.emit, "quiet", tr("by hand, on the map or typed (Alt+T)")
        )
        self.move_tree = button("", self.move_wanted.emit, hint=tr("click where it stands, then confirm (Alt+M)"))
        self.sights = button(
            tr("tape and compass..."), self.sights_wanted.emit, "link", tr("bearings and distances, typed (Alt+B)")
        )
        self.live = button(
            tr("follow a receiver..."), self.live_wanted.emit, "link", tr("where you stand, on the map (Alt+G)")
        )
        self.adjust = button(
            tr("adjust positions..."), self.adjust_wanted.emit, "link", tr("the best of all that was measured (Alt+J)")
        )
        self.back = button(
            tr("go on with the review"), self.back_wanted.emit, "primary", tr("nothing of it is stored yet")
        )
        for part in (self.title, self.about, self.back, self.files, self.tree, self.move_tree):
            self.down.addWidget(part)
        rarer = QVBoxLayout()  # quieter than what most begin with
        rarer.setSpacing(4)
        for part in (self.live, self.sights, self.adjust):
            rarer.addWidget(part, 0, Qt.AlignmentFlag.AlignLeft)
        self.down.addLayout(rarer)
        self._proposed()
        self._ground()
        self.down.addStretch(1)
        self.foot = QWidget()

    def _proposed(self) -> None:
        self.waiting = QWidget()
        down = QVBoxLayout(self.waiting)
        down.setContentsMargins(0, 0, 0, 0)
        down.setSpacing(8)
        self.waiting_title = label("", "strong")
        self.proposed = KeyList(tr("trees that walks suggest"))
        self.proposed.itemSelectionChanged.connect(self._proposed_chosen)
        self.confirm_all = button("", lambda: self.confirm_wanted.emit(True), hint=tr("they are trees from now on"))
        self.confirm_chosen = button(tr("confirm chosen"), lambda: self.confirm_wanted.emit(False), hint=tr("Alt+C"))
        down.addWidget(hairline())
        down.addWidget(self.waiting_title)
        down.addWidget(second(tr("a walk stopped here: is there a tree?")))
        down.addWidget(self.proposed)
        down.addWidget(side_by_side(self.confirm_all, self.confirm_chosen))
        self.down.addWidget(self.waiting)

    def _ground(self) -> None:
        self.down.addWidget(hairline())
        self.down.addWidget(label(tr("ground"), "strong"))
        self.ground = KeyList(tr("places, lines and areas"))
        self.ground.itemSelectionChanged.connect(self._ground_chosen)
        self.ground.itemActivated.connect(lambda item: self.edit_wanted.emit(str(item.data(KEY))))
        self.edit = button(
            tr("change"), lambda: self.edit_wanted.emit(self.ground.keys[0]), hint=tr("Return in the list")
        )
        self.remove = button(
            tr("remove"), lambda: self.remove_wanted.emit(self.ground.keys[0]), hint=tr("undo brings it back")
        )
        self.down.addWidget(self.ground)
        self.on_ground = side_by_side(self.edit, self.remove)
        self.down.addWidget(self.on_ground)
        self.down.addWidget(second(tr("draw on the map, or type its points:")))
        grid = QGridLayout()
        grid.setSpacing(4)
        self.draw = {}
        for place, kind in enumerate(KINDS):
            made = button(kind_words(kind), self._drawing(kind), "link")
            made.setToolTip(tr("draw: {kind}", kind=kind_words(kind)))
            self.draw[kind] = made
            grid.addWidget(made, place // 2, place % 2)
        self.heights = button(
            tr("heights..."), self.heights_wanted.emit, "link", tr("so that walks reckon with slopes")
        )
        grid.addWidget(self.heights, len(KINDS) // 2, len(KINDS) % 2)
        self.down.addLayout(grid)

    def _drawing(self, kind: GroundKind) -> Callable[[], None]:
        return lambda: self.draw_wanted.emit(kind)

    def tell(self, chosen: Tree | None, *, review_waits: bool) -> None:
        """Show how the stand is by now."""
        seen, read_only = self._desk.seen, self._desk.read_only
        if seen is None:
            return
        trees = seen.trees
        waiting = [t for t in trees if t.proposed]
        things: tuple[Ground, ...] = (*seen.stand.places, *seen.stand.lines, *seen.stand.areas)
        empty = not trees and not things
        self.title.setText(tr("An empty stand") if empty else tr("Survey"))
        begin = tr(
            "Begin with what you have: drop a GPS walk, tables, ground or pictures anywhere on the window, choose them "
            "here, or place the first tree by hand. You look through everything before it is stored."
        )
        counted = tr_n(
            "{n} tree. More files can be dropped on the window.",
            "{n} trees. More files can be dropped on the window.",
            len(trees),
        )
        self.about.setText(begin if empty else counted)
        self.back.setVisible(review_waits)
        _set_role(self.files, "quiet" if review_waits else "primary")  # one thing is asked for at a time
        self.move_tree.setVisible(chosen is not None)
        if chosen is not None:
            self.move_tree.setText(tr("move {tree}...", tree=chosen.name[:20]))
            self.move_tree.setAccessibleName(self.move_tree.text())
        self.waiting.setVisible(bool(waiting))
        self.waiting_title.setText(tr_n("{n} proposed tree", "{n} proposed trees", len(waiting)))
        self.confirm_all.setText(tr("confirm all {n}", n=len(waiting)))
        self.confirm_all.setAccessibleName(self.confirm_all.text())
        self.proposed.show_rows([(t.name, t.key) for t in waiting])
        self.ground.show_rows([(_row(t.kind, t.name), t.key) for t in things])
        self.ground.setVisible(bool(things))
        self.on_ground.setVisible(bool(things))
        self.heights.setEnabled(seen.frame is not None)
        for made in (self.files, self.tree, self.sights, self.move_tree, self.confirm_all, *self.draw.values()):
            made.setEnabled(not read_only)

    def _proposed_chosen(self) -> None:
        keys = self.proposed.keys
        self.confirm_chosen.setEnabled(bool(keys) and not self._desk.read_only)
        if keys and self.isVisible():
            self._desk.choose(keys)

    def _ground_chosen(self) -> None:
        keys = self.ground.keys
        for made in (self.edit, self.remove):
            made.setEnabled(len(keys) == 1 and not self._desk.read_only)
        if len(keys) == 1 and self.isVisible():
            self.ground_looked_at.emit(keys[0])


def _set_role(made: QPushButton, role: str) -> None:
    made.setProperty("role", role)
    made.style().unpolish(made)
    made.style().polish(made)


def _row(kind: GroundKind, name: str) -> str:
    word = kind_words(kind)
    return word if not name or name == word else tr("{name} ({kind})", name=name, kind=word)
