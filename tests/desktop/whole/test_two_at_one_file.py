"""Two at one file: the second window only reads and says so; what the command line writes is read by the window."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QPushButton

from tests.desktop.whole.whole_window import CTRL, Whole, exact_rows, tell_command


def test_the_second_window_reads_only_and_says_so(begin: Callable[..., Whole], alder_brook: Path) -> None:
    first = begin(alder_brook)
    second = begin(alder_brook)
    assert not first.desk.read_only
    assert second.desk.read_only
    assert ("caution", "this stand is open in another window: here it can be looked at, not changed") in second.told
    assert "to look at only" in second.window.header.count.text()
    before = exact_rows(alder_brook)
    second.find("B04")
    assert second.on_card == "B04"
    for page in (1, 2, 3, 4):
        second.go(page)
        for key in (Qt.Key.Key_M, Qt.Key.Key_G, Qt.Key.Key_H, Qt.Key.Key_L, Qt.Key.Key_Z, Qt.Key.Key_D):
            second.key(key, CTRL)
            second.idle()
            assert second.window.card.form is None
    second.go(1)
    for button in second.survey.panel.findChildren(QPushButton):
        if button.isVisible() and button in (second.survey.home.files, second.survey.home.tree):
            assert not button.isEnabled()
    assert exact_rows(alder_brook) == before
    writing = {"undo", "redo", "survey.files", "survey.place", "aftercare.done"}
    for action in second.window.actions_list:
        if action.id in writing or (action.id.startswith("card.") and action.id != "card.focus"):
            assert not action.enabled(), action.id
    second.window.close()
    third = begin(alder_brook)
    assert third.desk.read_only  # the first one still writes
    first.window.close()
    third.window.close()
    fourth = begin(alder_brook)
    assert not fourth.desk.read_only


def test_the_second_window_sees_what_the_first_one_writes(begin: Callable[..., Whole], alder_brook: Path) -> None:
    first, second = begin(alder_brook), begin(alder_brook)
    first.to_front()
    first.find("B04")
    first.key(Qt.Key.Key_M, CTRL)
    first.until(lambda: len(first.seen.plans) == 1)
    second.until(lambda: len(second.seen.plans) == 1)
    assert second.desk.read_only


def test_what_a_command_writes_is_read_again(begin: Callable[..., Whole], alder_brook: Path) -> None:
    whole = begin(alder_brook)
    whole.go(2)
    whole.find("B04")
    before = whole.choose.model.rowCount()
    tell_command("add", "tree", alder_brook, "58.3168", "26.0495", "--name", "N1", "--girth", "840")
    tell_command("correct", "re-tag", alder_brook, "B04", "K4")
    whole.until(lambda: "N1" in whole.window.canvas.scene.trees.names and whole.on_card == "K4")
    whole.idle()
    assert whole.choose.model.rowCount() == before + 1
    assert whole.window.card.head.name.text() == "K4"
    assert ("tell", "another program has changed the stand: it was read again") in whole.told
    # The window may take back what the command did, and goes on to write.
    whole.key(Qt.Key.Key_Z, CTRL)
    whole.until(lambda: whole.on_card == "B04")
    whole.key(Qt.Key.Key_M, CTRL)
    whole.until(lambda: len(whole.seen.plans) == 1)
    whole.idle()


def test_a_review_of_a_stand_that_changed_since_is_looked_through_once_more(
    begin: Callable[..., Whole], alder_brook: Path, tmp_path: Path
) -> None:
    whole = begin(alder_brook)
    whole.go(1)
    more = tmp_path / "more.csv"
    more.write_text("name,lon,lat,girth_mm\nN1,26.0495,58.3168,800\n")
    whole.survey.bring_files([more])
    sheet = whole.survey.bringing.sheet
    whole.until(sheet.isVisible)
    tell_command("add", "tree", alder_brook, "58.3169", "26.0496", "--name", "N1")
    whole.key(Qt.Key.Key_Return, CTRL)
    whole.until(lambda: any("has changed since" in text for _, text in whole.told))
    whole.until(lambda: sheet.isVisible() and not whole.desk.busy)
    whole.key(Qt.Key.Key_Return, CTRL)
    whole.until(lambda: whole.seen.undo_label is not None and "more.csv" in whole.seen.undo_label)
    assert [t.name for t in whole.seen.trees].count("N1") == 1
