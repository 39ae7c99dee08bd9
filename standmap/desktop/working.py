"""Work off the GUI thread: it reports, can be asked to stop, and is waited for on close."""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable
from typing import Generic, TypeVar

from PySide6.QtCore import QObject, Qt, Signal

Result = TypeVar("Result")


class Watch:
    """What a job is handed: it tells its progress and messages here, and asks whether to go on."""

    def __init__(self, work: Work[object], tell: Callable[[Work[object], str, tuple[object, ...]], None]) -> None:
        self._work = work
        self._tell = tell

    def at(self, done: float, total: float, what: str) -> None:
        """Pass progress on to the window."""
        self._tell(self._work, "progressed", (float(done), float(total), what))

    def stop_wanted(self) -> bool:
        """Return whether the person has asked to stop, or the window is closing."""
        return self._work.stopping

    def tell(self, text: str) -> None:
        """Pass a sentence on to the window."""
        self._tell(self._work, "said", ("tell", text))

    def caution(self, text: str) -> None:
        """Pass a sentence that asks for care on to the window."""
        self._tell(self._work, "said", ("caution", text))


class CautionsOf:
    """Messages of a job of which only those that ask for care are shown."""

    def __init__(self, watch: Watch) -> None:
        self._watch = watch

    def tell(self, text: str) -> None:
        """Drop the text."""

    def caution(self, text: str) -> None:
        """Pass it on to the window."""
        self._watch.caution(text)


class Work(QObject, Generic[Result]):
    """One piece of work as the window sees it; its signals are emitted on the GUI thread.

    Parameters
    ----------
    what
        What is being done, for the progress line.
    """

    progressed = Signal(float, float, str)
    said = Signal(str, str)
    done = Signal(object)
    failed = Signal(object)
    ended = Signal()

    def __init__(self, what: str, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.what = what
        self.running = True
        self._stop = threading.Event()

    @property
    def stopping(self) -> bool:
        """Whether a stop was asked for."""
        return self._stop.is_set()

    def cancel(self) -> None:
        """Ask it to stop at the next good place."""
        self._stop.set()


class _Relay(QObject):
    """Brings what a thread tells to the GUI thread; it outlives the thread, so neither meets the other half gone."""

    told = Signal(object, str, object)

    def __init__(self) -> None:
        super().__init__()
        self.heard = True
        self.told.connect(self._pass_on, Qt.ConnectionType.QueuedConnection)

    def _pass_on(self, work: Work[object], signal: str, values: tuple[object, ...]) -> None:
        if self.heard:
            getattr(work, signal).emit(*values)


class WorkThread:
    """A thread that does pieces of work one after another."""

    def __init__(self, name: str) -> None:
        self._waiting: deque[tuple[Work[object], Callable[[Watch], object]]] = deque()
        self._wake = threading.Condition()
        self._closing = False
        self._now: Work[object] | None = None
        self._relay = _Relay()
        self._thread = threading.Thread(target=self._work, name=name, daemon=True)
        self._thread.start()

    def add(self, work: Work[object], job: Callable[[Watch], object]) -> None:
        """Put a job at the end of the row."""
        with self._wake:
            self._waiting.append((work, job))
            self._wake.notify()

    @property
    def idle(self) -> bool:
        """Whether nothing is being done or waiting."""
        with self._wake:
            return self._now is None and not self._waiting

    @property
    def alive(self) -> bool:
        """Whether the thread is still there."""
        return self._thread.is_alive()

    def leave(self) -> None:
        """Ask what is running to stop, leave what is waiting undone, and do not wait: nothing is told any more."""
        with self._wake:
            self._waiting.clear()
            if self._now is not None:
                self._now.cancel()
            self._closing = True
            self._wake.notify()
        self._relay.heard = False

    def close(self, last: Callable[[], None] | None = None, *, drop: bool = False) -> None:
        """Finish and end the thread; wait for it. What it had still to tell is not told.

        Parameters
        ----------
        last
            Called on the thread at the very end.
        drop
            Ask what is running to stop and leave what is waiting undone.
        """
        with self._wake:
            if drop:
                self._waiting.clear()
                if self._now is not None:
                    self._now.cancel()
            self._last = last
            self._closing = True
            self._wake.notify()
        self._thread.join()
        self._relay.heard = False

    _last: Callable[[], None] | None = None

    def _work(self) -> None:
        while True:
            with self._wake:
                self._now = None
                while not self._waiting and not self._closing:
                    self._wake.wait()
                if not self._waiting:
                    break
                work, job = self._waiting.popleft()
                self._now = work
            self._do(work, job)
        if self._last is not None:
            self._last()

    def _do(self, work: Work[object], job: Callable[[Watch], object]) -> None:
        tell = self._relay.told.emit
        try:
            result = job(Watch(work, tell))
        except Exception as error:  # noqa: BLE001 - the window tells a person's mistake from one of ours
            tell(work, "failed", (error,))
        else:
            tell(work, "done", (result,))
        tell(work, "ended", ())
