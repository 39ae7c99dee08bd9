"""The header: the page that is shown is written in bold, and never cut off."""

from __future__ import annotations

import pytest
from PySide6.QtGui import QFont, QFontMetrics
from pytestqt.qtbot import QtBot

from standmap.desktop.desk import Desk
from standmap.desktop.window import Window
from standmap.settings import Settings


@pytest.mark.parametrize("percent", [100, 200])
def test_there_is_room_for_every_page_in_bold_and_nothing_shifts(percent: int, qtbot: QtBot) -> None:
    window = Window(Desk(Settings(text_size_percent=percent)))
    qtbot.addWidget(window)
    window.show()
    titles = [page.title for page in window.pages.values()]
    buttons = [b for b in window.header._pages.values() if b.text() in titles]
    assert len(buttons) == 4
    for made in buttons:
        made.ensurePolished()
        bold = QFont(made.font())
        bold.setWeight(QFont.Weight.DemiBold)
        regular = made.fontMetrics().horizontalAdvance(made.text())
        around = made.sizeHint().width() - QFontMetrics(bold).horizontalAdvance(made.text())
        assert QFontMetrics(bold).horizontalAdvance(made.text()) > regular
        assert around >= 0
        assert made.minimumSizeHint() == made.sizeHint()
        before = made.sizeHint()
        made.setChecked(True)
        assert made.sizeHint() == before
