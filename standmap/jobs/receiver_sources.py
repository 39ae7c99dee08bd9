"""Where the sentences of a receiver come from: a serial port, a program on this machine, or a log that is replayed."""

from __future__ import annotations

import ipaddress
import re
import time
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Protocol

from standmap.errors import UserError
from standmap.formats.nmea_sentences import SentenceReader

BAUD_RATES = (4800, 9600, 38400, 115200)
"""Rates that are tried: NMEA 0183 itself has 4800; the others are makers' habits (common practice, no source)."""

SLICE_S = 0.1
"""So long is waited at a time, so that a wish to stop is heard soon."""

LISTEN_S = 2.5
"""So long is listened at one rate: most receivers speak every second."""

CONNECT_S = 3.0
LONGEST_PAUSE_S = 5.0
"""Gaps of a replayed log are shortened to this."""

MOST_LOG_BYTES = 64_000_000
_MOMENT = re.compile(rb"\$[A-Z]{2}(?:RMC|GGA|GNS),([0-9]{2})([0-9]{2})([0-9]{2}(?:\.[0-9]*)?)")

StopWanted = Callable[[], bool]


class LostError(Exception):
    """A receiver cannot be reached now; the text says why. It may come back."""


class EndedError(Exception):
    """There is nothing more to come, ever: a log has been replayed."""


class Connection(Protocol):
    """An open way to a receiver."""

    def read(self) -> bytes:
        """Return what has come, b"" if nothing came in a short while.

        Raises
        ------
        LostError, EndedError
            If nothing will come any more on this way.
        """

    def close(self) -> None:
        """Let it go; may be called twice."""


class Source(Protocol):
    """Something that can be connected to, again and again."""

    @property
    def name(self) -> str:
        """What a person calls it."""

    def open(self, stop_wanted: StopWanted) -> Connection:
        """Connect.

        Raises
        ------
        LostError
            If it cannot be reached now.
        """


@dataclass(frozen=True, slots=True)
class Port:
    """A serial port as it can be chosen: its name for the system, and in plain words."""

    device: str
    title: str


def serial_ports() -> tuple[Port, ...]:
    """Return the serial ports of this machine, those that say what they are first."""
    from serial.tools.list_ports import comports

    found = []
    for port in comports():
        about = port.description if port.description not in (None, "", "n/a") else ""
        found.append((not about, Port(port.device, f"{about} ({port.device})" if about else port.device)))
    return tuple(port for _, port in sorted(found, key=lambda f: (f[0], f[1].device)))


@dataclass
class SerialSource:
    """A receiver at a serial port; without a rate those in use are tried one after another.

    Parameters
    ----------
    device
        Such as "/dev/ttyUSB0" or "COM4".
    baud
        Signs a second over the wire, if known.
    """

    device: str
    baud: int | None = None
    listen_s: float = LISTEN_S
    _good: int | None = field(default=None, init=False)

    @property
    def name(self) -> str:
        """The port."""
        return self.device

    def open(self, stop_wanted: StopWanted) -> Connection:
        """Connect at the rate at which sentences can be read."""
        if self.baud is not None:
            return _Serial(self.device, self.baud)
        rates = sorted(BAUD_RATES, key=lambda rate: rate != self._good)  # the one that was right before comes first
        heard = False
        for rate in rates:
            connection = _Serial(self.device, rate)
            try:
                begun = _listened(connection, self.listen_s, stop_wanted)
            except BaseException:
                connection.close()
                raise
            if begun.good:
                self._good = rate
                connection.put_back(begun.data)
                return connection
            heard |= bool(begun.data)
            connection.close()
            if stop_wanted():
                break
        what = "what it sends cannot be read at any usual rate" if heard else "it sends nothing"
        raise LostError(what)


@dataclass(slots=True)
class _Begun:
    data: bytes
    good: bool


def _listened(connection: _Serial, seconds: float, stop_wanted: StopWanted) -> _Begun:
    reader, data = SentenceReader(), b""
    until = time.monotonic() + seconds
    while time.monotonic() < until and not stop_wanted():
        piece = connection.read()
        data += piece
        list(reader.feed(piece))
        if reader.counts.good:
            return _Begun(data, good=True)
    return _Begun(data, good=False)


class _Serial:
    """An open serial port."""

    def __init__(self, device: str, baud: int) -> None:
        import serial

        self._back = b""
        try:
            self._port: Any = serial.Serial(device, baud, timeout=SLICE_S)
        except (OSError, ValueError) as error:
            raise LostError(_why(error)) from None

    def put_back(self, data: bytes) -> None:
        """Give bytes that were heard while listening once more."""
        self._back = data

    def read(self) -> bytes:
        if self._back:
            data, self._back = self._back, b""
            return data
        try:
            return bytes(self._port.read(max(1, self._port.in_waiting)))
        except Exception as error:  # noqa: BLE001 - drivers raise errors of all kinds when a plug is pulled
            raise LostError(_why(error)) from None

    def close(self) -> None:
        with suppress(Exception):  # it is gone, which is what was wanted
            self._port.close()


@dataclass(frozen=True)
class SocketSource:
    """A program that passes sentences on by TCP; see `tcp_source`."""

    host: str
    port: int

    @property
    def name(self) -> str:
        """Host and port."""
        host = f"[{self.host}]" if ":" in self.host else self.host
        return f"{host}:{self.port}"

    def open(self, stop_wanted: StopWanted) -> Connection:  # noqa: ARG002 - it does not take long
        """Connect."""
        import socket

        try:
            return _Socket(socket.create_connection((self.host, self.port), timeout=CONNECT_S))
        except OSError as error:
            raise LostError(_why(error)) from None


class _Socket:
    """An open TCP connection."""

    def __init__(self, made: Any) -> None:
        self._socket = made
        self._socket.settimeout(SLICE_S)

    def read(self) -> bytes:
        try:
            data = bytes(self._socket.recv(65536))
        except TimeoutError:
            return b""
        except OSError as error:
            raise LostError(_why(error)) from None
        if not data:
            raise LostError("the other program closed the connection")
        return data

    def close(self) -> None:
        self._socket.close()


def tcp_source(text: str, *, other_machines: bool = False) -> SocketSource:
    """Return the source for a host and port such as "127.0.0.1:10110"; without a host, this machine.

    Parameters
    ----------
    other_machines
        Whether a person has said that another machine may be asked.

    Raises
    ------
    UserError
        If it is none, or lies on another machine and nobody allowed that.
    """
    host, _, port = text.strip().rpartition(":")
    host = host.removeprefix("[").removesuffix("]") or "127.0.0.1"
    if not (port.isascii() and port.isdecimal() and 1 <= int(port) <= 65535) or not re.fullmatch(r"[\w.:%-]+", host):
        raise UserError(f"'{text[:60]}' is no host and port", "write it like 127.0.0.1:10110")
    if not other_machines and not _is_this_machine(host):
        raise UserError(
            f"'{host[:60]}' is another machine", "follow a receiver of this machine, or allow other machines"
        )
    return SocketSource(host, int(port))


def _is_this_machine(host: str) -> bool:
    if host.casefold() == "localhost":
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


@dataclass(frozen=True)
class ReplaySource:
    """A log that is played as if the receiver were there.

    Parameters
    ----------
    speed
        How many times faster than it was logged; 0 for as fast as can be.
    """

    path: Path
    speed: float = 1.0

    @property
    def name(self) -> str:
        """The file's name."""
        return self.path.name

    def open(self, stop_wanted: StopWanted) -> Connection:  # noqa: ARG002 - it does not take long
        """Read the log."""
        from standmap.formats.faults import within

        within(self.path, MOST_LOG_BYTES, "replay a shorter log")
        try:
            return _Replay(self.path.read_bytes(), self.speed)
        except OSError as error:
            raise LostError(_why(error)) from None


class _Replay:
    """A log on its way, one moment at a time."""

    def __init__(self, log: bytes, speed: float) -> None:
        self._pieces = list(_moments(log))
        self._speed = speed
        self._next = 0
        self._due = time.monotonic()

    def read(self) -> bytes:
        if self._next == len(self._pieces):
            raise EndedError
        wait = self._due - time.monotonic()
        if wait > 0:
            time.sleep(min(wait, SLICE_S))
            return b""
        data, pause_s = self._pieces[self._next]
        self._next += 1
        if self._speed > 0:
            self._due = time.monotonic() + pause_s / self._speed
        return data

    def close(self) -> None:
        self._next = len(self._pieces)


def _moments(log: bytes) -> Sequence[tuple[bytes, float]]:
    """Return a log cut where its clock goes on, with the seconds until the next piece."""
    cuts, pauses, before = [0], [], None
    for found in _MOMENT.finditer(log):
        clock = int(found[1]) * 3600 + int(found[2]) * 60 + float(found[3])
        if before is not None and clock != before:
            cuts.append(found.start())
            pauses.append(min(max(clock - before, 0.0), LONGEST_PAUSE_S))
        before = clock
    ends, pauses = [*cuts[1:], len(log)], [*pauses, 0.0]
    return [(log[a:b], pause) for a, b, pause in zip(cuts, ends, pauses, strict=True)]


def _why(error: Exception) -> str:
    """Return the reason of a failure in one short phrase."""
    import errno

    number = getattr(error, "errno", None)
    known = {
        errno.ENOENT: "it is not plugged in",
        errno.ENODEV: "it is not plugged in",
        errno.EIO: "it was unplugged",
        errno.ENXIO: "it was unplugged",
        errno.EACCES: "this person may not use the port",
        errno.EBUSY: "another program uses it",
        errno.ECONNREFUSED: "no program answers there",
        errno.ECONNRESET: "the other program closed the connection",
    }
    return known.get(number or 0, "it does not answer")
