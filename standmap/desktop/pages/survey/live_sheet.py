"""Following a receiver: what to follow, where you stand and how sure, the trees near, and a position being taken."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QComboBox, QListWidget, QListWidgetItem, QProgressBar, QVBoxLayout, QWidget

from standmap.desktop.desk import Desk
from standmap.desktop.kit import Field, button, caution_line, hairline, heading, label, second, side_by_side
from standmap.desktop.words import said, tr
from standmap.errors import UserError
from standmap.jobs.live import Near, Spot, sure_words
from standmap.jobs.names import checked_name
from standmap.jobs.receiver_sources import Port
from standmap.jobs.settling_words import settling_words
from standmap.survey.settling import Settled

KEY = Qt.ItemDataRole.UserRole
PORT, TCP, REPLAY = "port", "tcp", "replay"
WANTED_M = 5.0
LEAST_WANTED_M, MOST_WANTED_M = 0.5, 100.0
ROWS_SEEN = 4
LIKELY_SHARE = 0.5
"""From here on a known tree is proposed in place of a new one."""


class LiveSheet(QWidget):
    """What is followed above, where you stand below it, and at the foot what is done with it."""

    connect_wanted = Signal()
    disconnect_wanted = Signal()
    ports_wanted = Signal()
    log_wanted = Signal()
    settle_wanted = Signal()
    settle_stopped = Signal()
    take_wanted = Signal()
    answered = Signal(str)
    track_wanted = Signal()
    tree_looked_at = Signal(str)
    left = Signal()

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self._desk = desk
        self._down = QVBoxLayout(self)
        self._down.setContentsMargins(0, 0, 0, 0)
        self._down.setSpacing(8)
        self._down.addWidget(heading(tr("Where you stand")))
        self._down.addWidget(caution_line(tr("Watch your footing, not the screen.")))
        self._source()
        self.state = label("", "strong")
        self._down.addWidget(self.state)
        self._here()
        self._settling()
        self._down.addStretch(1)
        self.leave = button(tr("leave"), self.left.emit, "quiet", tr("the receiver is followed on"))
        self.connect_now = button(tr("connect"), self.connect_wanted.emit, "primary")
        self.settle = button(tr("take a position here"), self.settle_wanted.emit, "primary", tr("stand still for it"))
        self.take = button(tr("keep this position"), self.take_wanted.emit, "primary", tr("Ctrl+Return"))
        self.stop = button(tr("not now"), self.settle_stopped.emit, "quiet", tr("nothing is stored"))
        self.foot = side_by_side(self.connect_now, self.settle, self.take, self.stop, self.leave)
        self.tell(connected=False, settling=False, has_fix=False)

    def _source(self) -> None:
        self._ports: int | None = None  # nobody has looked yet
        self.choosing = _column()
        name = label(tr("follow"), "second")
        self.way = QComboBox()
        self.way.setAccessibleName(tr("follow"))
        for text, way in (
            (tr("a receiver at this machine"), PORT),
            (tr("a program at this machine"), TCP),
            (tr("a log, replayed"), REPLAY),
        ):
            self.way.addItem(text, way)
        name.setBuddy(self.way)
        self.port = QComboBox()
        self.port.setAccessibleName(tr("port"))
        self.port.setEditable(True)
        self.look = button(tr("look for receivers again"), self.ports_wanted.emit, "link")
        self.tcp: Field[str] = Field(tr("host and port"), str, text="127.0.0.1:10110")
        self.log: Field[str] = Field(tr("log of a receiver"), str, hint=tr("a file of NMEA sentences"))
        self.choose_log = button(tr("choose a log..."), self.log_wanted.emit, "link")
        self.wrong = label("", "error")
        self.wrong.hide()
        self.no_port = second(tr("no port found: plug the receiver in, or follow a program or a log"))
        self.no_port.hide()
        for part in (
            name,
            self.way,
            self.port,
            self.no_port,
            self.look,
            self.tcp,
            self.log,
            self.choose_log,
            self.wrong,
        ):
            _layout(self.choosing).addWidget(part)
        self.way.currentIndexChanged.connect(self._way_chosen)
        self.tcp.entered.connect(self.connect_wanted)
        self.log.entered.connect(self.connect_wanted)
        self._down.addWidget(self.choosing)
        self._way_chosen()

    def _here(self) -> None:
        self.here = _column()
        down = _layout(self.here)
        self.place = label("", "text")
        self.place.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.sure = second("")
        self.near_title = label(tr("trees near you"), "strong")
        self.near = QListWidget()
        self.near.setAccessibleName(tr("trees near you"))
        self.near.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.near.setUniformItemSizes(True)
        self.near.currentItemChanged.connect(self._looked)
        self.track = button(tr("keep the track as a walk"), self.track_wanted.emit, "link")
        self.end = button(tr("disconnect"), self.disconnect_wanted.emit, "link", tr("the port is let go"))
        for part in (self.place, self.sure, hairline(), self.near_title, self.near):
            down.addWidget(part)
        down.addWidget(side_by_side(self.track, self.end))
        self._down.addWidget(self.here)

    def _settling(self) -> None:
        self.settling = _column()
        down = _layout(self.settling)
        self.still = label(tr("Stand still at the stem."), "strong")
        self.bar = QProgressBar()
        self.bar.setTextVisible(False)
        self.bar.setRange(0, 1000)
        self.bar.setAccessibleName(tr("how far the position has settled"))
        self.settled = label("", "text")
        self.wanted: Field[float] = Field(tr("wanted, within"), self._read_wanted)
        self.of = QComboBox()
        self.of.setAccessibleName(tr("position of"))
        of_name = label(tr("position of"), "second")
        of_name.setBuddy(self.of)
        self.name: Field[str] = Field(tr("name on the tag"), lambda text: checked_name(text, "name"))
        self.asked = label("", "error")
        self.yes = button("", lambda: self.answered.emit("yes"), "plain")
        self.beside = button(
            tr("only keep it beside"), lambda: self.answered.emit("beside"), hint=tr("the tree stays where it is")
        )
        self.question = side_by_side(self.yes, self.beside)
        for part in (self.still, self.bar, self.settled, self.wanted, of_name, self.of, self.name, self.asked):
            down.addWidget(part)
        down.addWidget(self.question)
        self.wanted.set_text(self._desk.units.distance(WANTED_M))
        self.name.entered.connect(self.take_wanted)
        self.of.currentIndexChanged.connect(self._of_chosen)
        self._down.addWidget(self.settling)
        self.ask("")

    def _read_wanted(self, text: str) -> float:
        wanted = self._desk.units.read_distance_m(text)
        if not LEAST_WANTED_M <= wanted <= MOST_WANTED_M:
            raise UserError(f"a precision of {wanted:g} m cannot be wanted", "use 0.5 to 100 metres")
        return wanted

    def wanted_m(self) -> float:
        """Return the precision that is wanted; the usual one while what is typed is none."""
        try:
            return self._read_wanted(self.wanted.text())
        except UserError:
            return WANTED_M

    # What is followed

    def _way_chosen(self) -> None:
        way = self.chosen_way
        self.port.setVisible(way == PORT)
        self.look.setVisible(way == PORT)
        self.no_port.setVisible(way == PORT and self._ports == 0)
        self.tcp.setVisible(way == TCP)
        self.log.setVisible(way == REPLAY)
        self.choose_log.setVisible(way == REPLAY)
        self.say_wrong("")

    @property
    def chosen_way(self) -> str:
        """The way that is chosen: `PORT`, `TCP` or `REPLAY`."""
        return str(self.way.currentData())

    @property
    def chosen_at(self) -> str:
        """The port, host or file of that way."""
        if self.chosen_way == PORT:
            row = self.port.findText(self.port.currentText())
            return str(self.port.itemData(row)) if row >= 0 else self.port.currentText().strip()
        return (self.tcp if self.chosen_way == TCP else self.log).text().strip()

    def show_source(self, way: str, at: str) -> None:
        """Put in what was followed last."""
        row = self.way.findData(way)
        if row < 0:
            return
        self.way.setCurrentIndex(row)
        if way == PORT:
            self.port.setEditText(at)
        else:
            (self.tcp if way == TCP else self.log).set_text(at)

    def show_ports(self, ports: Sequence[Port]) -> None:
        """Show the ports that there are; what was typed stays."""
        self._ports = len(ports)
        self.no_port.setVisible(self.chosen_way == PORT and not ports)
        typed, was_there = self.port.currentText(), self.port.count() > 0
        self.port.clear()
        for port in ports:
            self.port.addItem(port.title, port.device)
        row = next((i for i, p in enumerate(ports) if typed in (p.device, p.title)), -1)
        if row >= 0 or (not typed and ports) or (was_there and ports and not typed):
            self.port.setCurrentIndex(max(row, 0))
        else:
            self.port.setEditText(typed)
        line = self.port.lineEdit()
        assert line is not None  # noqa: S101 - it is editable
        line.setPlaceholderText("" if ports else tr("no receiver is plugged in"))

    def say_wrong(self, text: str) -> None:
        """Say what is wrong with what is to be followed, or nothing."""
        self.wrong.setText(text)
        self.wrong.setVisible(bool(text))

    # Where the person stands

    def tell(self, *, connected: bool, settling: bool, has_fix: bool, ended: bool = False) -> None:
        """Show the parts that fit how things stand."""
        self.choosing.setVisible(not connected)
        self.state.setVisible(connected)
        self.here.setVisible(connected and not settling)
        for part in (self.place, self.sure):
            part.setVisible(has_fix)
        self.settling.setVisible(connected and settling)
        self.connect_now.setVisible(not connected)
        self.settle.setVisible(connected and not settling)
        self.settle.setEnabled(has_fix and not ended and not self._desk.read_only)
        self.track.setEnabled(has_fix and not self._desk.read_only)
        self.take.setVisible(connected and settling)
        self.stop.setVisible(connected and settling)
        self.leave.setVisible(not settling)

    def show_here(self, spot: Spot, trees: Sequence[Near]) -> None:
        """Show where the person is, how sure, and the trees near; the one looked at stays so."""
        self.place.setText(f"{spot.at[1]:.6f}  {spot.at[0]:.6f}")
        self.sure.setText(self._desk.units.in_sentence(said(sure_words(spot))))
        self.near_title.setText(tr("trees near you") if trees else tr("no known tree is near"))
        self.near.setVisible(bool(trees))
        key = self.looked_at
        self.near.blockSignals(True)
        while self.near.count() > len(trees):
            self.near.takeItem(self.near.count() - 1)
        for row, one in enumerate(trees):
            item = self.near.item(row)
            if item is None:
                item = QListWidgetItem()
                self.near.addItem(item)
            away = f"{self._desk.units.distance(one.away_m)} {wind(one.bearing_deg)}"
            item.setText(f"{one.tree.name} · {away} · {said(one.words)}")
            item.setToolTip(item.text())
            item.setData(KEY, one.tree.key)
            if one.tree.key == key:
                self.near.setCurrentItem(item)
        self.near.blockSignals(False)
        row_px = max(self.near.sizeHintForRow(0), 28)
        self.near.setFixedHeight(row_px * min(max(len(trees), 1), ROWS_SEEN) + 6)

    @property
    def looked_at(self) -> str | None:
        """Key of the tree that is looked at among those near, None for none."""
        chosen = self.near.selectedItems()
        return str(chosen[0].data(KEY)) if chosen else None

    def _looked(self, item: QListWidgetItem | None) -> None:
        if item is not None:
            self.tree_looked_at.emit(str(item.data(KEY)))

    # Taking a position

    def begin_settling(self, trees: Sequence[Near], chosen_key: str | None, free_name: str) -> None:
        """Begin anew: for the tree looked at, else the one it most likely is, else a new one."""
        self.of.blockSignals(True)
        self.of.clear()
        self.of.addItem(tr("a new tree"), None)
        for one in trees:
            self.of.addItem(f"{one.tree.name} · {self._desk.units.distance(one.away_m)}", one.tree.key)
        best = max((t for t in trees if t.fits), key=lambda t: t.share, default=None)
        likely = best.tree.key if best is not None and best.share >= LIKELY_SHARE else None
        row = max(self.of.findData(chosen_key if chosen_key is not None else likely), 0)
        self.of.setCurrentIndex(row)
        self.of.blockSignals(False)
        self.name.set_text(free_name)
        self.settled.setText(tr("waiting for the first fixes"))
        self.bar.setValue(0)
        self.take.setEnabled(False)
        self.ask("")
        self._of_chosen()

    @property
    def tree_key(self) -> str | None:
        """The known tree that the position is of, None for a new one."""
        key = self.of.currentData()
        return None if key is None else str(key)

    def _of_chosen(self) -> None:
        self.name.setVisible(self.tree_key is None)
        self.ask("")

    def show_settled(self, found: Settled) -> None:
        """Show how far the position has settled."""
        self.settled.setText(self._desk.units.in_sentence(said(settling_words(found))))
        if found.wait_s is None:
            part = 1.0 if found.radius_95_m <= found.best_m * 1.02 else found.best_m / found.radius_95_m
        else:
            part = found.lasted_s / max(found.lasted_s + found.wait_s, 1.0)
        self.bar.setValue(round(1000 * part))
        walked = tr("You have walked off.")
        enough = tr("It is sure enough.")
        still = tr("Stand still at the stem.")
        self.still.setText(walked if found.walked_off else enough if found.wait_s == 0 else still)
        self.take.setEnabled(not self._desk.read_only)

    def ask(self, text: str, yes: str = "", *, beside: bool = False) -> None:
        """Ask before the position is kept, or take a question away."""
        self.asked.setText(text)
        self.asked.setVisible(bool(text))
        self.yes.setText(yes)
        self.yes.setAccessibleName(yes)
        self.yes.setVisible(bool(yes))
        self.beside.setVisible(beside)
        self.question.setVisible(bool(yes) or beside)
        if yes:
            self.yes.setFocus()


def wind(bearing_deg: float) -> str:
    """Return a bearing as one of eight winds."""
    winds = (tr("N"), tr("NE"), tr("E"), tr("SE"), tr("S"), tr("SW"), tr("W"), tr("NW"))
    return winds[round(bearing_deg / 45) % 8]


def _column() -> QWidget:
    made = QWidget()
    down = QVBoxLayout(made)
    down.setContentsMargins(0, 0, 0, 0)
    down.setSpacing(8)
    return made


def _layout(column: QWidget) -> QVBoxLayout:
    down = column.layout()
    assert isinstance(down, QVBoxLayout)  # noqa: S101 - made so by `_column`
    return down
