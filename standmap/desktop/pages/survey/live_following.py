"""Joins a receiver with the sheet and the map: it is listened to on its own thread, and asked now and then."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

from PySide6.QtCore import QObject, QTimer
from PySide6.QtWidgets import QFileDialog

from standmap.desktop.actions import Action
from standmap.desktop.canvas.canvas import MapCanvas
from standmap.desktop.desk import Desk, wording
from standmap.desktop.guard import guard_of, while_there
from standmap.desktop.pages.survey.live_overlay import LiveOverlay
from standmap.desktop.pages.survey.live_sheet import PORT, TCP, LiveSheet
from standmap.desktop.words import day_text, said, tr
from standmap.errors import UserError
from standmap.formats.nmea_fixes import NmeaFix
from standmap.jobs.live import (
    Near,
    PinnedTreeError,
    Spot,
    Took,
    frame_here,
    keep_track,
    near,
    settled_from,
    spot_of,
    take_position,
)
from standmap.jobs.preferences import read_last_receiver, write_last_receiver
from standmap.jobs.receiver import Heard, Receiver, ReceiverState
from standmap.jobs.receiver_sources import ReplaySource, SerialSource, Source, serial_ports, tcp_source
from standmap.jobs.trees_by_hand import DoubtfulPositionError, next_tree_name
from standmap.stand.walks import Walk
from standmap.survey.frame import WorkingFrame
from standmap.survey.settling import Settled

ASK_MS = 250
"""How often the receiver's thread is asked what it has heard."""

MOST_TRACK = 200_000
MOST_STILL = 3600


class LiveFollowing(QObject):
    """Holds the receiver that is followed, the track, and the position being taken.

    Parameters
    ----------
    show_sheet
        Shows a sheet in the panel.
    go_home
        Shows what else there is to do on the page.
    set_map
        Puts the overlays of the page onto the map anew.
    """

    def __init__(
        self,
        desk: Desk,
        canvas: MapCanvas,
        show_sheet: Callable[[object], None],
        go_home: Callable[[], None],
        set_map: Callable[[], None],
    ) -> None:
        super().__init__(desk)
        self._desk = desk
        self._canvas = canvas
        self._show_sheet = show_sheet
        self._set_map = set_map
        self.sheet = LiveSheet(desk)
        self.overlay: LiveOverlay | None = None
        self.receiver: Receiver | None = None
        self.speed = 1.0
        self._path: Path | None = None
        self._track: list[NmeaFix] = []
        self._still: list[NmeaFix] | None = None
        self._settled: tuple[Settled, Spot] | None = None
        self._near: list[Near] = []
        self._spot: Spot | None = None
        self._frame: WorkingFrame | None = None
        self._asked_about: Exception | None = None
        self._sure = False
        self._state = ReceiverState.STOPPED
        self._clock = QTimer(self.sheet)  # it goes with the window, the desk may stay
        self._clock.setInterval(ASK_MS)
        self._clock.timeout.connect(self.listen)
        sheet = self.sheet
        sheet.destroyed.connect(self._gone)
        sheet.connect_wanted.connect(self.connect_receiver)
        sheet.disconnect_wanted.connect(self.disconnect_receiver)
        sheet.ports_wanted.connect(self.look_for_ports)
        sheet.log_wanted.connect(self._choose_log)
        sheet.settle_wanted.connect(self.begin_settling)
        sheet.settle_stopped.connect(self.end_settling)
        sheet.take_wanted.connect(self.take)
        sheet.of.currentIndexChanged.connect(self._be_unsure)
        sheet.answered.connect(self._answered)
        sheet.track_wanted.connect(self.keep_track)
        sheet.tree_looked_at.connect(lambda key: desk.choose([key]))
        sheet.left.connect(go_home)

    @property
    def connected(self) -> bool:
        """Whether a receiver is followed, or sought."""
        return self.receiver is not None

    @property
    def settling(self) -> bool:
        """Whether a position is being taken."""
        return self._still is not None

    @property
    def can_take(self) -> bool:
        """Whether a position has settled and is shown."""
        return self._settled is not None and self.sheet.isVisible()

    def actions(self, action: Callable[..., Action]) -> list[Action]:
        """Return what can be done here."""

        def standing() -> bool:
            return self._spot is not None and not self._desk.read_only

        words = tr("GPS GNSS live NMEA position")
        return [
            action("live", tr("follow a receiver..."), self.begin, "Alt+G", lambda: self._desk.seen is not None, words),
            action("live_end", tr("receiver: disconnect"), self.disconnect_receiver, "", lambda: self.connected),
            action("live_take", tr("receiver: take a position here"), self.settle_here, "Alt+P", standing),
            action("live_track", tr("receiver: keep the track as a walk"), self.keep_track, "", standing),
        ]

    def settle_here(self) -> None:
        """Show the sheet and begin to take a position."""
        self.begin()
        self.begin_settling()

    # The receiver

    def begin(self) -> None:
        """Show the sheet."""
        if self._desk.seen is None:
            return
        self._show_sheet(self.sheet)
        if not self.connected:
            self.sheet.show_source(*read_last_receiver())
            self.look_for_ports()
        self._tell()
        (self.sheet.settle if self.connected else self.sheet.way).setFocus()

    def look_for_ports(self) -> None:
        """Look which ports there are, off this thread."""
        self._desk.compute(lambda _: serial_ports(), "", while_there(self.sheet, self.sheet.show_ports))

    def _choose_log(self) -> None:
        name, _ = QFileDialog.getOpenFileName(
            self.sheet.window(), tr("log of a receiver"), "", tr("all files") + " (*)"
        )
        if name:
            self.sheet.log.set_text(name)

    def _source(self) -> Source:
        way, at = self.sheet.chosen_way, self.sheet.chosen_at
        if not at:
            raise UserError("nothing is chosen that could be followed", "choose or type it first")
        if way == PORT:
            return SerialSource(at)
        return tcp_source(at) if way == TCP else ReplaySource(Path(at).expanduser(), self.speed)

    def connect_receiver(self) -> None:
        """Follow what is chosen."""
        if self.connected:
            return
        try:
            source = self._source()
        except UserError as error:
            self.sheet.say_wrong(wording(error))
            return
        write_last_receiver(self.sheet.chosen_way, self.sheet.chosen_at)
        self._path = self._desk.path
        self._track, self._state = [], ReceiverState.STOPPED
        self.receiver = Receiver(source).start()
        self._clock.start()
        self._hear(self.receiver.heard(), [])

    def disconnect_receiver(self) -> None:
        """Let the receiver go."""
        if self.receiver is not None:
            self.receiver.stop(wait_s=0)  # its thread lets the port go by itself
        self.receiver = None
        self._clock.stop()
        self._still, self._settled, self._spot, self._near, self._frame = None, None, None, [], None
        self.overlay = None
        self._set_map()
        self._tell()

    def _gone(self) -> None:
        if self.receiver is not None:
            self.receiver.stop(wait_s=0)

    def listen(self) -> None:
        """Take in what the receiver's thread has heard."""
        if self.receiver is not None:
            self._hear(self.receiver.heard(), self.receiver.take())

    def _hear(self, heard: Heard, fixes: list[NmeaFix]) -> None:
        self.sheet.state.setText(said(heard.words))
        self._track = (self._track + fixes)[-MOST_TRACK:] if fixes else self._track
        if fixes:
            self._spot = spot_of(fixes[-1])
            if self._still is not None:
                self._still = (self._still + fixes)[-MOST_STILL:]
                self._settle()
            self._look_round()
        if fixes or heard.state is not self._state:
            self._state = heard.state
            self._draw(fresh=heard.state is ReceiverState.FOLLOWING)
            self._tell()

    def _look_round(self) -> None:
        seen, spot = self._desk.seen, self._spot
        if seen is None or spot is None:
            return
        self._near = near(seen.stand, spot, places=seen.xy if seen.frame is not None else None)
        self.sheet.show_here(spot, self._near)

    def _draw(self, *, fresh: bool) -> None:
        seen = self._desk.seen
        spot = self._settled[1] if self._settled is not None else self._spot
        if spot is None or seen is None:
            return
        if seen.frame is None and self._frame is None:
            self._frame = WorkingFrame(*spot.at)  # an empty stand is looked at about where the person is
        frame = seen.frame or self._frame
        assert frame is not None  # noqa: S101 - one of the two, for the type checker
        if self.overlay is None:
            self.overlay = LiveOverlay(self._desk.settings.text_size_percent / 100)
            self._set_map()
            self.overlay.show(spot, frame, fresh=fresh)
            x, y = self.overlay.at
            if x == x and y == y and not self.sheet.isHidden():  # not NaN: it lies within reach
                self._canvas.centre_on(x, y)
        self.overlay.show(spot, frame, fresh=fresh)
        self._canvas.update()

    def _tell(self) -> None:
        ended = self._state is ReceiverState.ENDED
        has_fix = self._spot is not None
        self.sheet.tell(connected=self.connected, settling=self.settling, has_fix=has_fix, ended=ended)

    # Taking a position

    def begin_settling(self) -> None:
        """Begin to take a position: the person stands still from now on."""
        seen = self._desk.seen
        over = self._state is ReceiverState.ENDED  # nothing more is to come
        if self._spot is None or over or seen is None or self._desk.read_only:
            return
        self._still, self._settled, self._sure = [], None, False
        self.sheet.begin_settling(self._near, self.sheet.looked_at, next_tree_name(seen.stand))
        self._tell()
        self.sheet.of.setFocus()

    def end_settling(self) -> None:
        """Stop taking a position; nothing is stored."""
        self._still, self._settled = None, None
        self._tell()
        self.sheet.settle.setFocus()

    def _settle(self) -> None:
        seen = self._desk.seen
        if not self._still or seen is None:
            return
        if self._settled is not None and self._settled[0].walked_off:
            return  # what was known when the person left is what counts
        frame = frame_here(seen.stand, (self._still[0].lon, self._still[0].lat))
        self._settled = settled_from(self._still, frame, self.sheet.wanted_m())
        if self._settled is not None:
            self.sheet.show_settled(self._settled[0])

    def take(self, *, move_pinned: bool | None = None) -> None:
        """Keep the position that has settled, as one edit."""
        settled, seen = self._settled, self._desk.seen
        if settled is None or seen is None or not self.sheet.take.isEnabled():
            return
        key, name = self.sheet.tree_key, None
        if key is None:
            name = self.sheet.name.value()
            if name is None:
                return
        elif key not in seen.stand.by_key:
            return
        tree = None if key is None else seen.stand.by_key[key].name
        last = self._still[-1] if self._still else None
        at = datetime.fromtimestamp(last.time_s, UTC) if last is not None and last.day is not None else self._desk.now()
        spot, now, sure = settled[1], self._desk.now(), self._sure

        guard_of(self._desk).once(
            "take a position",
            lambda file, _: take_position(
                file, spot, at, now, tree=tree, name=name, sure=sure, move_pinned=move_pinned
            ),
            tr("keeping the position"),
            while_there(self.sheet, self._took),
            while_there(self.sheet, self._refused),
        )

    def _be_unsure(self, _row: int) -> None:
        self._sure = False  # what was said was of another tree

    def _took(self, took: Took) -> None:
        if took.new:
            self._desk.tell(tr("{tree} is on the map", tree=took.tree.name))
        elif took.moved:
            moved = self._desk.units.distance(took.moved_m)
            self._desk.tell(tr("{tree} moved by {distance}", tree=took.tree.name, distance=moved))
        else:
            self._desk.tell(tr("the position is kept beside {tree}, which stays", tree=took.tree.name))
        self._asked_about = None
        self.end_settling()
        self._desk.choose([took.tree.key])

    def _refused(self, error: Exception) -> None:
        self._asked_about = error
        text = self._desk.units.in_sentence(wording(error))
        if isinstance(error, PinnedTreeError):
            self.sheet.ask(text, tr("move it"), beside=True)
        elif isinstance(error, DoubtfulPositionError):
            self.sheet.ask(text, tr("I am sure: it is this tree"))
        else:
            self.sheet.ask(text)

    def _answered(self, answer: str) -> None:
        pinned = isinstance(self._asked_about, PinnedTreeError)
        self._sure |= isinstance(self._asked_about, DoubtfulPositionError)
        self.sheet.ask("")
        self.take(move_pinned=answer == "yes" if pinned else None)

    def keep_track(self) -> None:
        """Keep what was followed so far as a walk."""
        track, now = list(self._track), self._desk.now()
        name = tr("walk of {day}", day=day_text(self._desk.today))

        def kept(walk: Walk) -> None:
            self._desk.tell(tr("{name} is kept", name=walk.name))

        guard_of(self._desk).once(
            "keep a track",
            lambda file, _: keep_track(file, track, name, now),
            tr("keeping the track"),
            while_there(self.sheet, kept),
        )

    # The stand

    def stand_changed(self) -> None:
        """Look round anew; with another stand the receiver is let go."""
        if self._desk.seen is None or (self.connected and self._desk.path != self._path):
            if self.connected:
                self.disconnect_receiver()
            return
        if self.connected:
            self._look_round()
            self._tell()
