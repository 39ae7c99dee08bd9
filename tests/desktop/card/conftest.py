"""The card over the small sample wood, with what it tells."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QWidget
from pytestqt.qtbot import QtBot

from standmap.desktop.card.tree_card import TreeCard
from standmap.desktop.desk import Desk
from standmap.desktop.theme import LIGHT, style_sheet
from standmap.settings import Settings


@pytest.fixture
def desk(qtbot: QtBot, alder_brook: Path) -> Iterator[Desk]:
    made = Desk(Settings())
    with qtbot.waitSignal(made.stand_opened):
        made.open_stand(alder_brook)
    yield made
    made.close_stand()


@pytest.fixture
def told(desk: Desk) -> list[tuple[str, str]]:
    heard: list[tuple[str, str]] = []
    desk.notice.connect(lambda kind, text: heard.append((kind, text)))
    return heard


@pytest.fixture
def card(qtbot: QtBot, desk: Desk) -> TreeCard:
    host = QWidget()
    host.setStyleSheet(style_sheet(LIGHT))
    host.resize(332, 800)
    made = TreeCard(desk, host)
    made.setParent(host)
    made.setGeometry(16, 16, 300, 768)
    qtbot.addWidget(host)
    host.show()
    return made


@pytest.fixture
def choose(desk: Desk) -> Callable[..., None]:
    """Choose trees by their names."""

    def by_name(*names: str) -> None:
        assert desk.seen is not None
        desk.choose([desk.seen.stand.tree(name).key for name in names])

    return by_name


@pytest.fixture
def pick(card: TreeCard) -> Callable[[str, str], None]:
    """Open a menu of the card with the keyboard and take the entry of this title."""

    def from_menu(menu_name: str, title: str) -> None:
        button = next(b for b in (card.write_down, card.put_right, card.of_several) if b.text() == menu_name)
        menu = button.menu()
        menu.popup(button.mapToGlobal(button.rect().topLeft()))
        entry = next(a for a in menu.actions() if a.text() == title)
        assert entry.isEnabled()
        menu.setActiveAction(entry)
        QTest.keyClick(menu, Qt.Key.Key_Return)

    return from_menu
