"""The whole window, as it is started, without what was open lately."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from PySide6.QtCore import QEvent
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from standmap.desktop.start import Shell
from standmap.settings import Settings
from tests.desktop.whole.whole_window import Whole

Begin = Callable[..., Whole]


@pytest.fixture
def begin(qtbot: QtBot, qapp: QApplication) -> Iterator[Begin]:
    """Yield what starts a window, on a stand or on the start; each is closed at the end."""
    begun: list[Whole] = []

    def start(path: Path | None = None, settings: Settings | None = None) -> Whole:
        shell = Shell(qapp, settings or Settings(motion="less"), keep=False)
        whole = Whole(qtbot, shell)
        begun.append(whole)
        shell.show()
        if path is not None:
            whole.open(path)
        whole.to_front()
        return whole

    yield start
    for whole in reversed(begun):
        whole.window.close()
        whole.desk.close_stand()
        whole.window.deleteLater()
        whole.desk.deleteLater()
        whole.shell.deleteLater()
    QApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete.value)
    QApplication.processEvents()
    assert [w.faults for w in begun] == [[]] * len(begun)
