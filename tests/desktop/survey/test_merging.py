"""Another copy of the stand in the window: asked about, compared, decided by mouse or by keys, stored, taken back."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QFileDialog, QWidget
from pytestqt.qtbot import QtBot

from standmap.desktop.desk import Desk
from standmap.desktop.pages.survey.page import SurveyPage
from standmap.desktop.window import Window
from standmap.jobs import correct
from standmap.jobs.merge_copies import Side
from standmap.jobs.opening import new_stand, open_stand
from standmap.jobs.trees_by_hand import add_tree
from standmap.settings import Settings
from standmap.stand.tree import Soundness
from tests.desktop.survey.test_dropped import drop
from tests.jobs.stand_rows import rows

Key, Modifier = Qt.Key, Qt.KeyboardModifier
LEFT = Qt.MouseButton.LeftButton
NOW = datetime(2026, 3, 28, 7, 30, tzinfo=UTC)
DAY = date(2026, 3, 28)


@pytest.fixture
def ours(alder_brook: Path) -> Path:
    """Return a stand whose copy beside it, anna.gpkg, has news; three names were changed in both."""
    theirs = alder_brook.with_name("anna.gpkg")
    shutil.copy(alder_brook, theirs)
    for path, letter in ((alder_brook, "a"), (theirs, "b")):
        with open_stand(path) as file:
            for tree in file.stand().present[:3]:
                correct.retag(file, tree.name, tree.name + letter, DAY, NOW)
    with open_stand(theirs) as file:
        tree = file.stand().present[5]
        correct.set_soundness(file, [tree.name], Soundness.UNSOUND, NOW)
        add_tree(file, "N1", (tree.at[0] + 0.00005, tree.at[1]), DAY, NOW)
    return alder_brook


@pytest.fixture
def window(qtbot: QtBot, ours: Path) -> Iterator[Window]:
    made = Window(Desk(Settings()))
    qtbot.addWidget(made)
    made.show()
    made.desk.open_stand(ours)
    qtbot.waitUntil(lambda: made.desk.seen is not None, timeout=15_000)
    made.show_page("choose")
    made.activateWindow()
    QTest.qWaitForWindowActive(made)
    yield made
    made.desk.close_stand()


@pytest.fixture
def page(window: Window) -> SurveyPage:
    page = window.pages["survey"]
    assert isinstance(page, SurveyPage)
    return page


def shown(page: SurveyPage) -> QWidget:
    return page.sheet


def names(window: Window) -> set[str]:
    assert window.desk.seen is not None
    return {t.name for t in window.desk.seen.trees}


def compared(page: SurveyPage, qtbot: QtBot) -> None:
    qtbot.waitUntil(lambda: page.merging.waits, timeout=30_000)
    qtbot.waitUntil(lambda: shown(page) is page.merging.sheet, timeout=5_000)
    QApplication.processEvents()


def test_a_copy_dropped_is_asked_about_and_merged_by_mouse(
    window: Window, page: SurveyPage, ours: Path, qtbot: QtBot
) -> None:
    before = rows(ours)
    drop(window, [ours.with_name("anna.gpkg")])
    assert window.page is page
    assert shown(page) is page.merging.question
    assert page.unfinished()
    QTest.mouseClick(page.merging.question.merge, LEFT)
    compared(page, qtbot)
    sheet = page.merging.sheet
    assert (sheet.undecided, sheet.store.isEnabled(), sheet.list.items.rowCount()) == (3, False, 3)
    assert rows(ours) == before
    first = sheet.conflict
    assert first is not None
    assert (sheet.ours.value.text(), sheet.theirs.value.text()) == (first.ours, first.theirs)
    QTest.mouseClick(sheet.theirs, LEFT)
    assert sheet.decisions == {first.id: Side.THEIRS}
    assert sheet.conflict is not first  # on to the next that waits
    QTest.mouseClick(sheet.all_ours, LEFT)
    assert (sheet.undecided, set(sheet.decisions.values())) == (0, {Side.OURS})
    sheet.list.look_at(0)
    QTest.mouseClick(sheet.theirs, LEFT)
    QTest.mouseClick(sheet.store, LEFT)
    qtbot.waitUntil(lambda: not page.merging.waits and not window.desk.busy, timeout=30_000)
    assert shown(page) is page.home
    assert {"N1", first.theirs} <= names(window)
    assert first.ours not in names(window)
    qtbot.keyClick(window, Key.Key_Z, Modifier.ControlModifier)
    qtbot.waitUntil(lambda: "N1" not in names(window), timeout=30_000)
    assert rows(ours) == before


def test_a_copy_is_chosen_and_merged_by_keys(
    window: Window, page: SurveyPage, ours: Path, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    chosen = (str(ours.with_name("anna.gpkg")), "")
    monkeypatch.setattr(QFileDialog, "getOpenFileName", lambda *_: chosen)
    window.actions_list.run(window.actions_list.get("survey.merge_copy"))
    compared(page, qtbot)
    sheet = page.merging.sheet
    assert sheet.list.hasFocus()
    qtbot.keyClick(sheet.list, Key.Key_Down)
    second = sheet.conflict
    assert second is not None
    assert window.desk.chosen == (second.tree_key,)  # the tree is shown on the map and on its card
    qtbot.keyClick(window, Key.Key_Return, Modifier.ControlModifier)
    assert page.merging.waits  # two still wait: nothing is stored
    qtbot.keyClick(sheet.list, Key.Key_T)
    qtbot.keyClick(sheet.list, Key.Key_O)
    qtbot.keyClick(sheet.list, Key.Key_O)
    assert sheet.decisions[second.id] is Side.THEIRS
    assert sheet.undecided == 0
    qtbot.keyClick(window, Key.Key_Return, Modifier.ControlModifier)
    qtbot.keyClick(window, Key.Key_Return, Modifier.ControlModifier)  # pressed twice, stored once
    qtbot.waitUntil(lambda: not page.merging.waits and not window.desk.busy, timeout=30_000)
    assert second.theirs in names(window)
    with open_stand(ours, read_only=True) as file:
        assert [e.label for e in file.history()].count("merge anna.gpkg") == 1


def test_not_now_stores_nothing_and_the_sheet_waits_meanwhile(
    window: Window, page: SurveyPage, ours: Path, qtbot: QtBot
) -> None:
    before = rows(ours)
    page.bring_files([ours.with_name("anna.gpkg")])
    qtbot.keyClick(page.merging.question.merge, Key.Key_Space)
    compared(page, qtbot)
    window.show_page("choose")
    window.show_page("survey")
    assert shown(page) is page.merging.sheet
    page.by_hand.begin_place()
    page.go_home()
    QTest.mouseClick(page.home.back, LEFT)
    assert shown(page) is page.merging.sheet
    QTest.mouseClick(page.merging.sheet.leave, LEFT)
    assert shown(page) is page.home
    assert not page.unfinished()
    assert rows(ours) == before


def test_the_other_stand_can_be_opened_instead(window: Window, page: SurveyPage, ours: Path, qtbot: QtBot) -> None:
    other = ours.with_name("anna.gpkg")
    drop(window, [other])
    QTest.mouseClick(page.merging.question.open, LEFT)
    qtbot.waitUntil(lambda: window.desk.path == other and window.desk.seen is not None, timeout=15_000)


def test_what_is_no_copy_is_said_and_nothing_is_left_waiting(
    window: Window, page: SurveyPage, ours: Path, qtbot: QtBot
) -> None:
    other = ours.with_name("else.gpkg")
    new_stand(other)
    with open_stand(other) as file:
        add_tree(file, "X1", (26.0, 58.0), DAY, NOW)
    drop(window, [other])
    QTest.mouseClick(page.merging.question.merge, LEFT)
    question = page.merging.question
    qtbot.waitUntil(lambda: bool(question.wrong.text()), timeout=15_000)
    assert "these are two stands, not copies of one" in question.wrong.text()
    assert question.merge.isHidden()
    QTest.mouseClick(question.leave, LEFT)
    assert shown(page) is page.home


def test_a_stand_changed_meanwhile_is_compared_again_with_what_was_decided(
    window: Window, page: SurveyPage, ours: Path, qtbot: QtBot
) -> None:
    page.bring_files([ours.with_name("anna.gpkg")])
    page.merging.compare()
    compared(page, qtbot)
    sheet = page.merging.sheet
    sheet.decide_all(Side.THEIRS)
    desk = window.desk
    desk.run(lambda file, _: correct.set_soundness(file, ["B20"], Soundness.SOUND, NOW), "a change")
    qtbot.waitUntil(lambda: not desk.busy, timeout=15_000)
    proposal = sheet.proposal
    page.merging.store()
    qtbot.waitUntil(lambda: page.merging.waits and sheet.proposal is not proposal, timeout=30_000)
    assert sheet.undecided == 0
    page.merging.store()
    qtbot.waitUntil(lambda: not page.merging.waits and not desk.busy, timeout=30_000)
    assert "N1" in names(window)
