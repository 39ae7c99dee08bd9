"""Following a receiver: a pseudo-terminal, a socket of this machine and a log; unplugged and plugged in again."""

from __future__ import annotations

import os
import socket
import threading
import time
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import pytest

from standmap.errors import UserError
from standmap.formats.nmea_fixes import NmeaFix
from standmap.jobs.receiver import Receiver, ReceiverState
from standmap.jobs.receiver_sources import ReplaySource, SerialSource, SocketSource, tcp_source
from tests.nmea_logs import sentence, standing

MORNING = datetime(2026, 3, 28, 7, 30, tzinfo=UTC)
LONG_S = 30.0
LOG = standing(MORNING, 29.7636, 62.601, 5)


def until(true: Callable[[], bool], again: Callable[[], object] = lambda: None) -> None:
    """Wait until something holds, doing something again and again meanwhile."""
    end = time.monotonic() + LONG_S
    while not true():
        assert time.monotonic() < end, "it never came about"
        again()
        time.sleep(0.05)


def state_is(receiver: Receiver, state: ReceiverState) -> Callable[[], bool]:
    return lambda: receiver.heard().state is state


def test_a_log_is_replayed_to_its_end(tmp_path: Path) -> None:
    path = tmp_path / "still.log"
    path.write_bytes(LOG)
    receiver = Receiver(ReplaySource(path, 0)).start()
    until(state_is(receiver, ReceiverState.ENDED))
    assert len(receiver.take()) == 5
    assert receiver.take() == []
    assert receiver.heard().words == "still.log has come to its end"
    receiver.stop()
    assert not receiver.alive


def test_a_replay_keeps_the_pace_of_the_log(tmp_path: Path) -> None:
    path = tmp_path / "still.log"
    path.write_bytes(standing(MORNING, 29.7636, 62.601, 40))
    receiver = Receiver(ReplaySource(path, 100)).start()
    begun = time.monotonic()
    until(state_is(receiver, ReceiverState.ENDED))
    assert time.monotonic() - begun >= 0.35  # 39 s of log at a hundredfold
    receiver.stop()


def test_a_log_that_is_not_there_is_said_and_not_tried_again(tmp_path: Path) -> None:
    receiver = Receiver(ReplaySource(tmp_path / "no.log", 0)).start()
    until(lambda: not receiver.alive)
    assert "there is no such file" in receiver.heard().words


def test_a_serial_port_is_followed_unplugged_and_found_again() -> None:
    ours, theirs = os.openpty()
    names = [os.ttyname(theirs)]

    class Plug(SerialSource):
        """The same receiver, whatever the system calls its port now."""

        def open(self, stop_wanted: Callable[[], bool]):  # type: ignore[no-untyped-def]
            return SerialSource(names[0], listen_s=1.0).open(stop_wanted)

    receiver = Receiver(Plug("receiver"), pauses_s=(0.1,)).start()
    until(state_is(receiver, ReceiverState.FOLLOWING), lambda: os.write(ours, LOG))
    assert receiver.take()
    os.close(ours)
    os.close(theirs)
    until(state_is(receiver, ReceiverState.GONE))
    assert "is gone" in receiver.heard().words
    ours, theirs = os.openpty()
    names[0] = os.ttyname(theirs)
    receiver.take()
    until(state_is(receiver, ReceiverState.FOLLOWING), lambda: os.write(ours, LOG))
    assert receiver.take()
    receiver.stop()
    assert not receiver.alive
    os.close(ours)
    os.close(theirs)


def test_a_port_that_is_not_there_is_sought_until_a_stop_is_wanted(tmp_path: Path) -> None:
    receiver = Receiver(SerialSource(str(tmp_path / "ttyUSB7")), pauses_s=(0.05,)).start()
    until(state_is(receiver, ReceiverState.GONE))
    assert "it is not plugged in" in receiver.heard().words
    receiver.stop()
    assert not receiver.alive
    assert receiver.heard().state is ReceiverState.STOPPED


def test_a_socket_is_followed_and_found_again() -> None:
    listening = socket.create_server(("127.0.0.1", 0))
    lines: list[socket.socket] = []

    def serve() -> None:
        for _ in range(2):
            line, _ = listening.accept()
            line.sendall(LOG)
            lines.append(line)

    threading.Thread(target=serve, daemon=True).start()
    receiver = Receiver(SocketSource("127.0.0.1", listening.getsockname()[1]), pauses_s=(0.1,)).start()
    until(state_is(receiver, ReceiverState.FOLLOWING))
    until(lambda: len(lines) == 1)
    lines[0].close()
    until(lambda: len(lines) == 2)
    until(state_is(receiver, ReceiverState.FOLLOWING))
    # The last moment of the first line was still open: it is not lost.
    fixes: list[NmeaFix] = []
    until(lambda: len(fixes) >= 9, lambda: fixes.extend(receiver.take()))
    assert receiver.heard().good >= 24
    receiver.stop()
    lines[1].close()
    listening.close()


def test_no_fix_is_told_in_words(tmp_path: Path) -> None:
    path = tmp_path / "start.log"
    path.write_bytes(sentence("GPGGA,073000,,,,,0,03,99.9,,,,,,") + sentence("GPGGA,073001,,,,,0,04,99.9,,,,,,"))
    receiver = Receiver(ReplaySource(path, 0))
    states = []
    receiver.start()
    until(lambda: not receiver.alive, lambda: states.append(receiver.heard().words))
    assert receiver.heard().satellites == 4
    assert receiver.heard().fix is None


@pytest.mark.parametrize("text", ["127.0.0.1:10110", "localhost:2947", "[::1]:2947", ":2947", "127.9.9.9:1"])
def test_this_machine_is_followed(text: str) -> None:
    assert tcp_source(text).port > 0


@pytest.mark.parametrize("text", ["192.0.2.1:10110", "example.org:80", "[2001:db8::1]:5"])
def test_another_machine_is_refused_unless_allowed(text: str) -> None:
    with pytest.raises(UserError, match="another machine"):
        tcp_source(text)
    assert tcp_source(text, other_machines=True).port > 0


@pytest.mark.parametrize(
    "text", ["", "localhost", "localhost:0", "localhost:99999", "localhost:abc", "a b:80", "x;y:80"]
)
def test_what_is_no_host_and_port_is_refused(text: str) -> None:
    with pytest.raises(UserError, match="no host and port"):
        tcp_source(text, other_machines=True)
