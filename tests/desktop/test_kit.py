"""The shared parts: a field says beside itself what is wrong and keeps what was typed."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication, QWidget
from pytestqt.qtbot import QtBot

from standmap.desktop.kit import Field, Panel, button, clear, fact_row, label, side_by_side
from standmap.errors import UserError


def girth(text: str) -> int:
    if not text.strip().isdigit():
        raise UserError(f"'{text[:10]}' is not a girth", "write it like 842")
    return int(text)


def test_what_is_wrong_stands_beside_the_field_and_what_was_typed_is_kept(qtbot: QtBot) -> None:
    field = Field("girth", girth)
    qtbot.addWidget(field)
    field.show()
    qtbot.keyClicks(field.edit, "thick")
    assert not field.wrong.isVisible()  # nobody is blamed while still typing
    qtbot.keyClick(field.edit, Qt.Key.Key_Return)
    assert field.wrong.isVisible()
    assert field.wrong.text() == "'thick' is not a girth; write it like 842"
    assert field.text() == "thick"
    assert field.edit.accessibleDescription() == field.wrong.text()
    field.edit.selectAll()
    qtbot.keyClicks(field.edit, "842")
    assert not field.wrong.isVisible()
    assert field.value() == 842


@pytest.mark.parametrize(
    "text", ["x" * 10_000, "\U0001f333" * 50, "\u05e2\u05e5 \u05e8\u05d0\u05e9\u05d5\u05df", "<b>1</b>"]
)
def test_odd_texts_are_kept_as_typed(qtbot: QtBot, text: str) -> None:
    field = Field("girth", girth)
    qtbot.addWidget(field)
    field.show()
    clipboard = QApplication.clipboard()
    clipboard.setText(text)
    field.edit.setFocus()
    field.edit.paste()
    assert field.value() is None
    assert field.text() == text
    assert field.wrong.textFormat() is Qt.TextFormat.PlainText


def test_a_panel_never_makes_its_content_wider_than_itself(qtbot: QtBot) -> None:
    panel = Panel("panel", "a page")
    qtbot.addWidget(panel)
    panel.down.addWidget(label("a long sentence that has to be wrapped " * 6))
    panel.down.addWidget(fact_row("girth at 1.3 m", "842 mm"))
    panel.resize(300, 400)
    panel.show()
    qtbot.waitExposed(panel)
    assert panel.body.width() <= panel.scroller.viewport().width()
    assert panel.accessibleName() == "a page"
    clear(panel.down)
    assert panel.down.count() == 0


def test_buttons_stand_one_below_the_other_where_the_row_is_too_narrow_for_their_texts(qtbot: QtBot) -> None:
    one, other = button("save the returns of the morning"), button("leave them as they are")
    row, sheet = side_by_side(one, other), QWidget()
    qtbot.addWidget(sheet)
    row.setParent(sheet)
    needed = one.minimumSizeHint().width() + other.minimumSizeHint().width()
    row.resize(needed + 40, 80)
    sheet.show()
    assert one.y() == other.y()
    row.resize(needed - 40, 80)
    qtbot.waitUntil(lambda: other.y() >= one.geometry().bottom())
    assert one.width() >= one.minimumSizeHint().width()
    row.resize(needed + 40, 80)
    qtbot.waitUntil(lambda: one.y() == other.y())


def test_rows_may_reach_beyond_the_line_on_which_the_foot_stands(qtbot: QtBot) -> None:
    panel = Panel()
    qtbot.addWidget(panel)
    panel.resize(300, 300)
    panel.reach_beyond(8)
    text, foot = label("above"), label("below")
    panel.down.addWidget(text)
    panel.foot.addWidget(foot)
    panel.show()
    assert panel.down.contentsMargins().left() + 8 == panel.foot.contentsMargins().left()
