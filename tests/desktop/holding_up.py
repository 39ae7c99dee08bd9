"""Holds up what is written to a stand, so that a person is quicker than the file."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from pytestqt.qtbot import QtBot

from standmap.desktop.desk import Desk
from standmap.store.stand_file import StandFile


@contextmanager
def held_up(qtbot: QtBot, desk: Desk, at_last: Callable[[StandFile], object] | None = None) -> Iterator[None]:
    """Let nothing be written inside the block; wait after it until all is. `at_last` is done just before it goes on."""
    go_on = threading.Event()

    def hold(file: StandFile, _: object) -> None:
        go_on.wait(20)
        if at_last is not None:
            at_last(file)

    desk.run(hold, "holding up")
    try:
        yield
    finally:
        go_on.set()
    qtbot.waitUntil(lambda: not desk.busy)
