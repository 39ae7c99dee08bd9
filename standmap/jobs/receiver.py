"""Following a receiver on a thread of its own: it survives unplugging, and whoever asks is never kept waiting."""

from __future__ import annotations

import threading
import time
from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from enum import StrEnum

from standmap.errors import UserError
from standmap.formats.nmea_fixes import NmeaEvent, NmeaFix, NmeaStream, NoFix
from standmap.jobs.receiver_sources import Connection, EndedError, LostError, Source

PAUSES_S = (1.0, 2.0, 4.0, 8.0, 15.0, 30.0)
"""How long to wait before trying again, each time longer; the last is kept."""

MOST_WAITING = 20_000
"""Fixes kept for whoever does not ask for them; the oldest go."""

QUIET_AFTER_S = 10.0
"""A receiver that tells nothing for so long is called silent."""


class ReceiverState(StrEnum):
    """How things stand between us and a receiver."""

    STOPPED = "stopped"
    SEARCHING = "searching"
    SILENT = "silent"
    NO_FIX = "no fix yet"
    FOLLOWING = "following"
    GONE = "gone"
    ENDED = "ended"


@dataclass(frozen=True, slots=True)
class Heard:
    """What is known of a receiver at a moment.

    Attributes
    ----------
    name
        What is followed.
    why
        Why it is gone.
    again_s
        After so many seconds it is tried again.
    fix
        The latest fix.
    good, bad
        Sentences that could be read, and those that could not.
    lost
        Fixes that nobody fetched in time.
    """

    state: ReceiverState = ReceiverState.STOPPED
    name: str = ""
    why: str = ""
    again_s: float = 0.0
    fix: NmeaFix | None = None
    satellites: int | None = None
    good: int = 0
    bad: int = 0
    lost: int = 0

    @property
    def words(self) -> str:
        """The state in plain words."""
        match self.state:
            case ReceiverState.STOPPED:
                return "no receiver is followed"
            case ReceiverState.SEARCHING:
                return f"looking for {self.name}"
            case ReceiverState.SILENT:
                return f"{self.name} is there, but tells nothing yet"
            case ReceiverState.NO_FIX:
                used = f": {self.satellites} satellites" if self.satellites else ""
                return f"no fix yet{used}"
            case ReceiverState.FOLLOWING:
                return f"following {self.name}"
            case ReceiverState.GONE:
                return f"{self.name} is gone ({self.why}); trying again every few seconds"
            case ReceiverState.ENDED:
                return f"{self.name} has come to its end"


class Receiver:
    """A receiver that is followed until it is stopped.

    Parameters
    ----------
    source
        What to connect to.
    day
        The day by UTC on which it begins, for a log that tells none.
    pauses_s
        How long to wait before each new try.
    """

    def __init__(self, source: Source, day: date | None = None, pauses_s: Sequence[float] = PAUSES_S) -> None:
        self.source = source
        self._day = day
        self._pauses_s = pauses_s
        self._heard = Heard(ReceiverState.SEARCHING, source.name)
        self._waiting: deque[NmeaFix] = deque(maxlen=MOST_WAITING)
        self._news = threading.Condition()
        self._number = 0
        self._followed = False  # whether this connection has given a fix
        self._before = (0, 0)  # sentences of connections that are gone
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._follow, name="receiver", daemon=True)

    def start(self) -> Receiver:
        """Begin to follow."""
        self._thread.start()
        return self

    def stop(self, wait_s: float = 10.0) -> None:
        """End, and wait until the port is let go."""
        self._stop.set()
        with self._news:
            self._news.notify_all()
        if self._thread.is_alive():
            self._thread.join(wait_s)

    @property
    def alive(self) -> bool:
        """Whether it is still followed."""
        return self._thread.is_alive()

    def heard(self) -> Heard:
        """Return what is known now."""
        with self._news:
            return self._heard

    def take(self) -> list[NmeaFix]:
        """Return the fixes that have come since this was last asked."""
        with self._news:
            found = list(self._waiting)
            self._waiting.clear()
            return found

    @property
    def take_waits(self) -> bool:
        """Whether there are fixes that nobody has fetched yet."""
        with self._news:
            return bool(self._waiting)

    def wait(self, seconds: float) -> bool:
        """Wait until there is something new, at most so long; return whether there is."""
        with self._news:
            before = self._number
            return self._news.wait_for(lambda: self._number != before or self._stop.is_set(), seconds)

    # On the thread

    def _follow(self) -> None:
        tries = 0
        while not self._stop.is_set():
            self._followed = False
            try:
                self._once()
            except EndedError:
                self._tell(state=ReceiverState.ENDED)
                return
            except UserError as error:  # a log that cannot be read will not get better
                self._tell(state=ReceiverState.GONE, why=str(error))
                return
            except LostError as error:
                tries = 0 if self._followed else tries
                pause_s = self._pauses_s[min(tries, len(self._pauses_s) - 1)]
                tries += 1
                self._tell(state=ReceiverState.GONE, why=str(error), again_s=pause_s)
                self._stop.wait(pause_s)
        self._tell(state=ReceiverState.STOPPED)

    def _once(self) -> None:
        """Connect, and pass on what is heard until the connection is lost or a stop is wanted."""
        connection = self.source.open(self._stop.is_set)
        try:
            self._tell(state=ReceiverState.SILENT, why="", again_s=0.0)
            self._listen(connection)
        finally:
            connection.close()

    def _listen(self, connection: Connection) -> None:
        stream = NmeaStream(self._day)
        told_at = time.monotonic()
        try:
            while not self._stop.is_set():
                data = connection.read()
                events = stream.feed(data) if data else []
                if events:
                    told_at = time.monotonic()
                    self._pass_on(events, stream)
                elif time.monotonic() - told_at > QUIET_AFTER_S and self._heard.state is not ReceiverState.SILENT:
                    self._tell(state=ReceiverState.SILENT)
        except (LostError, EndedError):
            self._pass_on(stream.close(), stream)
            self._before = (self._heard.good, self._heard.bad)
            raise

    def _pass_on(self, events: Sequence[NmeaEvent], stream: NmeaStream) -> None:
        counts = stream.sentences.counts
        good = self._before[0] + counts.good
        bad = self._before[1] + counts.bad_checksum + counts.no_checksum + counts.malformed
        fixes = [e for e in events if isinstance(e, NmeaFix)]
        self._followed |= bool(fixes)
        changes: dict[str, object] = {"good": good, "bad": bad}
        if fixes:
            changes |= {"fix": fixes[-1]}
        if events:
            last = events[-1]
            following = not isinstance(last, NoFix)
            changes |= {
                "state": ReceiverState.FOLLOWING if following else ReceiverState.NO_FIX,
                "satellites": last.satellites,
            }
        with self._news:
            lost = max(0, len(self._waiting) + len(fixes) - MOST_WAITING)
            self._waiting.extend(fixes)
            changes["lost"] = self._heard.lost + lost
        self._tell(**changes)

    def _tell(self, **changes: object) -> None:
        with self._news:
            self._heard = replace(self._heard, **changes)  # type: ignore[arg-type]
            self._number += 1
            self._news.notify_all()
