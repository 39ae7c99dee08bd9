"""Following a receiver in the window: from a socket, a pseudo-terminal and a log; unplugged, and a position taken."""

from __future__ import annotations

import math
import os
import socket
import threading
from collections.abc import Iterator
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from pytestqt.qtbot import QtBot

from standmap.jobs.opening import new_stand, open_stand
from standmap.jobs.preferences import read_last_receiver
from standmap.jobs.receiver import Receiver
from standmap.jobs.receiver_sources import Port, Source
from standmap.stand.sights import Origin, TakenPosition
from standmap.stand.walks import Walk
from tests.desktop.survey.survey_bench import Bench
from tests.nmea_logs import standing

Key, Button = Qt.Key, Qt.MouseButton
MORNING = datetime(2026, 3, 28, 7, 30, tzinfo=UTC)
LONG_MS = 30_000


@pytest.fixture
def bench(qtbot: QtBot, alder_brook: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Bench]:
    start = Receiver.__init__

    def soon(self: Receiver, source: Source) -> None:
        start(self, source, pauses_s=(0.2,))

    monkeypatch.setattr(Receiver, "__init__", soon)
    made = Bench()
    qtbot.addWidget(made)
    made.open(qtbot, alder_brook)
    made.page.live.speed = 0.0
    yield made
    made.page.live.disconnect_receiver()
    made.desk.close_stand()


class Talker:
    """A program on this machine that passes sentences on, and can hang up."""

    def __init__(self, log: bytes) -> None:
        self._log = log
        self._listening = socket.create_server(("127.0.0.1", 0))
        self.at = f"127.0.0.1:{self._listening.getsockname()[1]}"
        self.lines: list[socket.socket] = []
        self._thread = threading.Thread(target=self._serve, daemon=True)
        self._thread.start()

    def _serve(self) -> None:
        while True:
            try:
                line, _ = self._listening.accept()
            except OSError:
                return
            self.lines.append(line)
            with suppress(OSError):
                line.sendall(self._log)

    def hang_up(self) -> None:
        for line in self.lines:
            line.close()

    def close(self) -> None:
        with suppress(OSError):
            self._listening.shutdown(socket.SHUT_RDWR)
        self._listening.close()
        self._thread.join(10)
        self.hang_up()


@pytest.fixture
def tree_at(bench: Bench) -> tuple[str, float, float]:
    assert bench.desk.seen is not None
    tree = bench.desk.seen.trees[3]
    return tree.name, *tree.at


def follow(qtbot: QtBot, bench: Bench, way: str, at: str) -> None:
    live = bench.page.live
    qtbot.mouseClick(bench.page.home.live, Button.LeftButton)
    assert bench.page.sheet is live.sheet
    live.sheet.show_source(way, at)
    qtbot.mouseClick(live.sheet.connect_now, Button.LeftButton)


def test_a_log_shows_where_you_stand_and_which_trees_are_near(
    bench: Bench, qtbot: QtBot, tmp_path: Path, tree_at: tuple[str, float, float]
) -> None:
    name, lon, lat = tree_at
    log = tmp_path / "morning.log"
    log.write_bytes(standing(MORNING, lon, lat, 20, noise_m=0.5))
    follow(qtbot, bench, "replay", str(log))
    sheet = bench.page.live.sheet
    qtbot.waitUntil(lambda: "has come to its end" in sheet.state.text(), timeout=LONG_MS)
    qtbot.waitUntil(lambda: sheet.near.count() > 0, timeout=LONG_MS)
    assert sheet.sure.text() == "95 % sure within 1.2 m, as the receiver tells"
    rows = [sheet.near.item(i).text() for i in range(sheet.near.count())]
    assert rows[0].startswith(f"{name} · ")
    overlay = bench.page.live.overlay
    assert overlay is not None
    assert overlay in bench.canvas.scene.overlays
    (label,) = overlay.labels(bench.canvas.camera)
    assert label.text == "you, a while ago"  # the log is over
    assert not sheet.settle.isEnabled()  # nothing more is to come to settle from
    assert sheet.track.isEnabled()
    assert read_last_receiver() == ("replay", str(log))
    sheet.near.setCurrentRow(0)
    assert bench.desk.chosen_tree is not None
    assert bench.desk.chosen_tree.name == name


def test_a_position_is_taken_by_keys_for_a_new_tree_and_taken_back(
    bench: Bench, qtbot: QtBot, alder_brook: Path, tree_at: tuple[str, float, float]
) -> None:
    _, lon, lat = tree_at
    first, *rest = standing(MORNING, lon + 0.0006, lat + 0.0003, 60, noise_m=1.0).split(b"$GNGGA")
    moments = [b"$GNGGA" + part for part in rest]
    talker = Talker(first + b"".join(moments[:3]))
    try:
        follow(qtbot, bench, "tcp", talker.at)
        live = bench.page.live
        qtbot.waitUntil(live.sheet.settle.isEnabled, timeout=LONG_MS)
        bench.acts.run(bench.acts.get("survey.live_take"))
        assert live.settling
        assert not live.sheet.take.isEnabled()
        assert live.receiver is not None
        live.sheet.of.setCurrentIndex(0)
        live.sheet.name.set_text("L1")
        talker.lines[0].sendall(b"".join(moments[3:]))
        qtbot.waitUntil(live.sheet.take.isEnabled, timeout=LONG_MS)
        qtbot.waitUntil(lambda: live.sheet.bar.value() > 0, timeout=LONG_MS)
        assert "by now" in live.sheet.settled.text()
        live.sheet.name.edit.setFocus()
        qtbot.keyClick(live.sheet.name.edit, Key.Key_Return)
        qtbot.waitUntil(
            lambda: bench.desk.seen is not None and bool(bench.desk.seen.stand.named("L1")), timeout=LONG_MS
        )
    finally:
        talker.close()
    bench.idle(qtbot)
    with open_stand(alder_brook, read_only=True) as file:
        (tree,) = file.stand().named("L1")
        taken = [t for t in file.rows(TakenPosition) if t.tree_key == tree.key]
        assert [t.origin for t in taken] == [Origin.LIVE]
        assert taken[0].at == tree.at
        assert not tree.pinned
    bench.desk.undo()
    bench.idle(qtbot)
    assert bench.desk.seen is not None
    assert not bench.desk.seen.stand.named("L1")


def test_hanging_up_is_shown_calmly_and_survived(bench: Bench, qtbot: QtBot, tree_at: tuple[str, float, float]) -> None:
    _, lon, lat = tree_at
    talker = Talker(standing(MORNING, lon, lat, 5))
    try:
        follow(qtbot, bench, "tcp", talker.at)
        sheet = bench.page.live.sheet
        qtbot.waitUntil(lambda: "following" in sheet.state.text() and len(talker.lines) == 1, timeout=LONG_MS)
        talker.hang_up()
        qtbot.waitUntil(lambda: len(talker.lines) == 2, timeout=LONG_MS)
        qtbot.waitUntil(lambda: "following" in sheet.state.text(), timeout=LONG_MS)
        assert not [text for text in bench.notices if "gone" in text]
    finally:
        talker.close()
    qtbot.waitUntil(lambda: "is gone" in sheet.state.text(), timeout=LONG_MS)
    qtbot.mouseClick(sheet.end, Button.LeftButton)
    assert not bench.page.live.connected
    assert sheet.connect_now.isVisible()


def test_the_track_is_kept_as_a_walk(
    bench: Bench, qtbot: QtBot, tmp_path: Path, alder_brook: Path, tree_at: tuple[str, float, float]
) -> None:
    _, lon, lat = tree_at
    log = tmp_path / "morning.log"
    log.write_bytes(standing(MORNING, lon, lat, 20))
    follow(qtbot, bench, "replay", str(log))
    sheet = bench.page.live.sheet
    qtbot.waitUntil(lambda: len(bench.page.live._track) == 20, timeout=LONG_MS)
    qtbot.mouseClick(sheet.track, Button.LeftButton)
    qtbot.waitUntil(lambda: any("is kept" in text for text in bench.notices), timeout=LONG_MS)
    with open_stand(alder_brook, read_only=True) as file:
        walk = file.rows(Walk)[-1]
    assert len(walk.fixes) == 20
    assert walk.fixes.timed


def test_a_receiver_at_a_port_that_is_another_machine_is_refused_beside_the_field(bench: Bench, qtbot: QtBot) -> None:
    follow(qtbot, bench, "tcp", "192.0.2.7:10110")
    sheet = bench.page.live.sheet
    assert "is another machine" in sheet.wrong.text()
    assert not bench.page.live.connected


def test_a_serial_port_is_followed(bench: Bench, qtbot: QtBot, tree_at: tuple[str, float, float]) -> None:
    _, lon, lat = tree_at
    ours, theirs = os.openpty()
    try:
        follow(qtbot, bench, "port", os.ttyname(theirs))
        sheet = bench.page.live.sheet
        log = standing(MORNING, lon, lat, 4)

        def followed() -> bool:
            os.write(ours, log)  # a receiver goes on talking; what was said before the port was open is lost
            qtbot.wait(200)
            return "following" in sheet.state.text()

        qtbot.waitUntil(followed, timeout=LONG_MS)
        bench.page.live.disconnect_receiver()
    finally:
        os.close(ours)
        os.close(theirs)


def test_where_you_stand_is_shown_on_an_empty_stand_too(qtbot: QtBot, tmp_path: Path, bench: Bench) -> None:
    path, log = tmp_path / "empty.gpkg", tmp_path / "morning.log"
    new_stand(path)
    bench.open(qtbot, path)
    qtbot.waitUntil(lambda: bench.desk.path == path and bench.desk.seen is not None, timeout=LONG_MS)
    assert bench.desk.seen is not None
    assert bench.desk.seen.frame is None
    log.write_bytes(standing(MORNING, 26.05, 58.318, 10, noise_m=0.5))
    follow(qtbot, bench, "replay", str(log))
    live = bench.page.live
    qtbot.waitUntil(lambda: "has come to its end" in live.sheet.state.text(), timeout=LONG_MS)
    qtbot.waitUntil(lambda: live.overlay is not None, timeout=LONG_MS)
    assert live.overlay is not None
    assert live.overlay in bench.canvas.scene.overlays
    assert math.hypot(*live.overlay.at) < 5  # metres from the first fix
    (label,) = live.overlay.labels(bench.canvas.camera)
    assert 0 < label.x < bench.canvas.width()
    assert 0 < label.y < bench.canvas.height()


def test_that_there_is_no_port_is_said(bench: Bench) -> None:
    sheet = bench.page.live.sheet
    bench.page.live.begin()
    sheet.show_ports(())
    assert sheet.no_port.isVisible()
    assert sheet.no_port.text().startswith("no port found")
    sheet.show_ports([Port("/dev/ttyX", "a receiver")])
    assert not sheet.no_port.isVisible()
