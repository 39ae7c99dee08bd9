"""Files dropped anywhere on the real window are looked through on the survey page, and leaving it keeps the review."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path

import pytest
from PySide6.QtCore import QMimeData, QPointF, Qt, QUrl
from PySide6.QtGui import QDragEnterEvent, QDropEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from standmap.assets import sample_stand
from standmap.desktop.desk import Desk
from standmap.desktop.pages.survey.page import SurveyPage
from standmap.desktop.window import Window
from standmap.jobs.opening import new_stand
from standmap.settings import Settings

Key, Modifier = Qt.Key, Qt.KeyboardModifier


@pytest.fixture
def window(qtbot: QtBot, tmp_path: Path) -> Iterator[Window]:
    path = tmp_path / "wood.gpkg"
    new_stand(path)
    desk = Desk(Settings())
    made = Window(desk)
    qtbot.addWidget(made)
    made.show()
    desk.open_stand(path)
    qtbot.waitUntil(lambda: desk.seen is not None, timeout=15_000)
    made.activateWindow()
    QTest.qWaitForWindowActive(made)
    yield made
    desk.close_stand()


def drop(window: Window, paths: Sequence[Path]) -> None:
    """Drag files over the window and let them go."""
    carried = QMimeData()
    carried.setUrls([QUrl.fromLocalFile(str(p)) for p in paths])
    copy, left, none = Qt.DropAction.CopyAction, Qt.MouseButton.LeftButton, Modifier.NoModifier
    over = QDragEnterEvent(QPointF(700, 400).toPoint(), copy, carried, left, none)
    QApplication.sendEvent(window, over)
    assert over.isAccepted()
    QApplication.sendEvent(window, QDropEvent(QPointF(700, 400), copy, carried, left, none))


def test_dropped_files_are_looked_through_and_wait_while_another_page_is_shown(window: Window, qtbot: QtBot) -> None:
    desk, page = window.desk, window.pages["survey"]
    assert isinstance(page, SurveyPage)
    window.show_page("choose")
    drop(window, [sample_stand("alder-brook", name) for name in ("trees.csv", "walk.gpx")])
    qtbot.waitUntil(lambda: page.bringing.review is not None, timeout=30_000)
    assert window.page is page
    assert page.sheet is page.bringing.sheet
    assert desk.seen is not None
    assert desk.seen.trees == ()
    assert len(window.canvas.scene.overlays) == 1
    review = page.bringing.review
    assert review is not None
    qtbot.keyClick(window, Key.Key_I)
    assert len(review.decisions) == 1

    qtbot.keyClick(window, Key.Key_2, Modifier.ControlModifier)
    assert window.page is window.pages["choose"]
    assert len(window.canvas.scene.overlays) == 0
    qtbot.keyClick(window, Key.Key_I)  # no key of a page that is not shown
    qtbot.keyClick(window, Key.Key_1, Modifier.ControlModifier)
    assert page.bringing.review is review
    assert page.sheet is page.bringing.sheet
    assert len(review.decisions) == 1

    expected = review.new_trees
    notices: list[str] = []
    desk.notice.connect(lambda kind, _: notices.append(kind))
    qtbot.keyClick(window, Key.Key_Return, Modifier.ControlModifier)
    qtbot.keyClick(window, Key.Key_Return, Modifier.ControlModifier)  # pressed twice, stored once
    qtbot.waitUntil(lambda: page.bringing.review is None and not desk.busy, timeout=30_000)
    assert notices == ["tell"]
    assert page.bringing.sheet.list.items.rowCount() == 0
    assert desk.seen is not None
    assert len(desk.seen.trees) == expected
    qtbot.keyClick(window, Key.Key_Z, Modifier.ControlModifier)
    qtbot.waitUntil(lambda: desk.seen is not None and desk.seen.trees == (), timeout=30_000)


def test_everything_of_the_page_is_in_the_list_of_what_can_be_done(window: Window) -> None:
    page = window.pages["survey"]
    titles = [a.title for a in window.actions_list if a.page == "survey"]
    assert len(titles) == len(set(titles)) == len(page.actions())
    assert {"place a tree by hand", "draw: bridge", "review: merge with...", "confirm all proposed trees"} <= set(
        titles
    )
