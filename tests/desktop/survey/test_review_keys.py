"""Keys in the review's list: what is meant for the list is not heard as something else by the window."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

from PySide6.QtCore import QPoint, Qt
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from standmap.desktop.desk import Desk
from standmap.desktop.pages.survey.page import SurveyPage
from standmap.desktop.window import Window
from standmap.jobs.opening import new_stand, open_stand
from standmap.jobs.review import Verb
from standmap.jobs.trees_by_hand import add_tree
from standmap.settings import Settings
from tests.jobs.stand_rows import walk_text

Key = Qt.Key
NOW = datetime(2026, 3, 28, 7, 30, tzinfo=UTC)


def reviewing(qtbot: QtBot, folder: Path) -> tuple[Window, SurveyPage]:
    """Return a window in which a walk of three stops is looked through, in a stand of one tree."""
    stand, walk = folder / "wood.gpkg", folder / "walk.gpx"
    walk.write_text(walk_text(0, 30, 60))
    new_stand(stand)
    with open_stand(stand) as file:
        add_tree(file, "B1", (27.6, 61.9), NOW.date(), NOW)
    window = Window(Desk(Settings(motion="less")))
    qtbot.addWidget(window)
    window.resize(1280, 800)
    window.show()
    window.desk.open_stand(stand)
    qtbot.waitUntil(lambda: window.desk.seen is not None, timeout=15_000)
    window.show_page("survey")
    window.activateWindow()
    page = window.pages["survey"]
    assert isinstance(page, SurveyPage)
    page.bring_files([walk])
    qtbot.waitUntil(lambda: page.bringing.review is not None and page.bringing.sheet.isVisible(), timeout=20_000)
    qtbot.waitUntil(lambda: not window.desk.busy, timeout=20_000)
    return window, page


def test_all_in_the_list_are_chosen_and_decided_at_once(qtbot: QtBot, tmp_path: Path) -> None:
    window, page = reviewing(qtbot, tmp_path)
    sheet, review = page.bringing.sheet, page.bringing.review
    assert review is not None
    assert len(review.items) == 4
    assert review.taken > 0
    sheet.list.setFocus()
    qtbot.keyClick(sheet.list, Key.Key_A, Qt.KeyboardModifier.ControlModifier)
    assert sheet.list.chosen == list(range(len(review.items)))
    assert window.desk.chosen == ()  # no tree of the stand was meant
    qtbot.keyClick(sheet.list, Key.Key_I)
    assert {review.decision(item).verb for item in review.items} == {Verb.IGNORE}
    assert not sheet.store.isEnabled()
    window.desk.close_stand()


def test_where_a_name_is_asked_for_the_field_is_in_sight(qtbot: QtBot, tmp_path: Path) -> None:
    window, page = reviewing(qtbot, tmp_path)
    window.resize(800, 600)
    sheet, review = page.bringing.sheet, page.bringing.review
    assert review is not None
    sheet.look_at(next(row for row, item in enumerate(review.items) if Verb.MERGE in item.choices))
    sheet.list.setFocus()
    qtbot.keyClick(sheet.list, Key.Key_M)
    edit, port = sheet.merge_into.edit, page.panel.scroller.viewport()

    def in_sight() -> bool:
        QApplication.processEvents()
        below = edit.mapTo(port, QPoint(0, edit.height())).y()
        return edit.hasFocus() and 0 < below <= port.height()

    qtbot.waitUntil(in_sight, timeout=5_000)
    window.desk.close_stand()
