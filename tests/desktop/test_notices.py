"""Notices at the foot of the map: every sentence is read whole, however many there are."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from PySide6.QtWidgets import QLabel, QWidget
from pytestqt.qtbot import QtBot

from standmap.desktop.canvas.canvas import MapCanvas
from standmap.desktop.desk import Desk
from standmap.desktop.map_area import MapArea
from standmap.desktop.theme import LIGHT, style_sheet
from standmap.settings import Settings

LONG = "B09 was not ready in 2026: resting (tapped in 2024, returns after 4 years: back in 2028) " * 2


@pytest.fixture
def desk() -> Iterator[Desk]:
    made = Desk(Settings())
    yield made
    made.close_stand()
    made.deleteLater()


@pytest.mark.parametrize("width", [1280, 720])
def test_sentences_are_shown_whole_one_above_the_other(qtbot: QtBot, desk: Desk, width: int) -> None:
    area = MapArea(desk, MapCanvas(LIGHT), QWidget(), 1.0)
    qtbot.addWidget(area)
    area.setStyleSheet(style_sheet(LIGHT))
    area.resize(width, 600)
    area.show()
    for number, tell in enumerate((desk.tell, desk.caution, desk.caution)):
        tell(f"{number}: {LONG if number else 'all is stored'}")
    labels = [one for one in area.notices.findChildren(QLabel) if one.isVisible()]
    assert len(labels) == 3
    qtbot.waitUntil(lambda: all(one.height() >= one.heightForWidth(one.width()) for one in labels))
    assert area.rect().contains(area.notices.geometry())
