"""The real window on the small sample wood, on its collect page."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from pytestqt.qtbot import QtBot

from standmap.desktop.desk import Desk
from standmap.desktop.pages.collect import planning as planning_room
from standmap.desktop.pages.collect.page import CollectPage
from standmap.desktop.pages.collect.planning import Stage
from standmap.desktop.window import Window
from standmap.rounds.solve import plan
from standmap.settings import Settings

PATIENCE_MS = 30_000


@pytest.fixture
def window(qtbot: QtBot, alder_brook: Path) -> Iterator[Window]:
    desk = Desk(Settings(motion="less"))
    made = Window(desk)
    qtbot.addWidget(made)
    made.show()
    with qtbot.waitSignal(desk.stand_opened, timeout=PATIENCE_MS):
        desk.open_stand(alder_brook)
    made.show_page("collect")
    qtbot.waitUntil(lambda: not desk.busy, timeout=PATIENCE_MS)
    yield made
    desk.close_stand()


@pytest.fixture
def page(window: Window) -> CollectPage:
    found = window.pages["collect"]
    assert isinstance(found, CollectPage)
    return found


@pytest.fixture
def planned(qtbot: QtBot, page: CollectPage, monkeypatch: pytest.MonkeyPatch) -> CollectPage:
    """Plan a walk; the search in a process of its own has its own test."""
    monkeypatch.setattr(planning_room, "solve_apart", plan)
    page.plan()
    qtbot.waitUntil(lambda: page.planning.stage is Stage.PLANNED, timeout=PATIENCE_MS)
    return page
