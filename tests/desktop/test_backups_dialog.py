"""The backups dialog as a person uses it: making one, putting one back after a question, leaving it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QFileDialog, QWidget
from pytestqt.qtbot import QtBot

from standmap.desktop.desk import Desk
from standmap.desktop.dialogs.backups_dialog import BackupsDialog
from standmap.jobs.backups import backups_of
from standmap.jobs.correct import fell
from standmap.jobs.opening import open_stand
from standmap.settings import Settings
from standmap.stand.snapshot import Stand
from standmap.stand.tree import Standing

PATIENCE_MS = 10_000


@pytest.fixture
def desk(alder_brook: Path, qtbot: QtBot) -> Iterator[Desk]:
    made = Desk(Settings())
    made.open_stand(alder_brook)
    qtbot.waitUntil(lambda: made.seen is not None, timeout=PATIENCE_MS)
    yield made
    made.close_stand()


@pytest.fixture
def dialog(desk: Desk, qtbot: QtBot) -> BackupsDialog:
    return shown(desk, qtbot)


def shown(desk: Desk, qtbot: QtBot) -> BackupsDialog:
    made = BackupsDialog(desk)
    made.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose, False)
    qtbot.addWidget(made)
    made.open()
    qtbot.waitUntil(lambda: made.nothing.isVisible() or made.table.rowCount() > 0, timeout=PATIENCE_MS)
    return made


def press(button: QWidget) -> None:
    assert button.isVisible()
    assert button.isEnabled()
    QTest.mouseClick(button, Qt.MouseButton.LeftButton)


def make(qtbot: QtBot, dialog: BackupsDialog, rows: int) -> None:
    press(dialog.make_button)
    qtbot.waitUntil(lambda: dialog.table.rowCount() == rows and dialog.buttons.isEnabled(), timeout=PATIENCE_MS)


def felled(stand: Stand) -> int:
    return sum(tree.standing is Standing.FELLED for tree in stand.trees)


def lose_a_tree(desk: Desk, qtbot: QtBot) -> None:
    seen = desk.seen
    assert seen is not None
    name, before = seen.stand.present[0].name, felled(seen.stand)
    today, now = desk.today, desk.now()
    desk.run(lambda file, _: fell(file, name, today, now), "felling")
    qtbot.waitUntil(lambda: desk.seen is not None and felled(desk.seen.stand) == before + 1, timeout=PATIENCE_MS)


def cell(dialog: BackupsDialog, row: int, column: int) -> str:
    item = dialog.table.item(row, column)
    return "" if item is None else item.text()


def count(path: Path) -> int:
    with open_stand(path, read_only=True) as file:
        return felled(file.stand())


def test_an_empty_list_says_so(dialog: BackupsDialog) -> None:
    assert dialog.nothing.isVisible()
    assert not dialog.table.isVisible()
    assert not dialog.back_button.isEnabled()


def test_one_is_made_and_put_back_by_keyboard(
    dialog: BackupsDialog, desk: Desk, alder_brook: Path, qtbot: QtBot
) -> None:
    before = count(alder_brook)
    make(qtbot, dialog, 1)
    assert dialog.told.text().startswith("made, ")
    assert cell(dialog, 0, 1) == "asked for"
    lose_a_tree(desk, qtbot)
    dialog.table.setFocus()
    QTest.keyClick(dialog.table, Qt.Key.Key_Return)
    assert dialog.question.isVisible()
    assert not dialog.buttons.isVisible()
    assert dialog.focusWidget() is dialog.leave_button  # the harmless answer is the nearest
    QTest.keyClick(dialog.leave_button, Qt.Key.Key_Tab)
    assert dialog.focusWidget() is dialog.sure_button
    QTest.keyClick(dialog.sure_button, Qt.Key.Key_Space)
    qtbot.waitUntil(lambda: dialog.table.rowCount() == 2, timeout=PATIENCE_MS)
    assert count(alder_brook) == before
    assert "as it was before: alder-brook_" in dialog.told.text()
    assert cell(dialog, 0, 1) == "before one was put back"
    qtbot.waitUntil(lambda: desk.seen is not None and felled(desk.seen.stand) == before, timeout=PATIENCE_MS)


def test_leaving_it_changes_nothing(dialog: BackupsDialog, desk: Desk, alder_brook: Path, qtbot: QtBot) -> None:
    make(qtbot, dialog, 1)
    lose_a_tree(desk, qtbot)
    after = alder_brook.read_bytes()
    press(dialog.back_button)
    press(dialog.leave_button)
    assert not dialog.question.isVisible()
    assert dialog.buttons.isVisible()
    assert alder_brook.read_bytes() == after
    assert len(backups_of(alder_brook, desk.settings)) == 1


def test_a_file_that_is_no_stand_is_told(
    dialog: BackupsDialog, alder_brook: Path, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    (tmp_path / "notes.gpkg").write_text("notes")
    monkeypatch.setattr(QFileDialog, "getOpenFileName", lambda *_: (str(tmp_path / "notes.gpkg"), ""))
    before = alder_brook.read_bytes()
    press(dialog.file_button)
    assert "goes back to notes.gpkg" in dialog.asked.text()
    press(dialog.sure_button)
    qtbot.waitUntil(dialog.wrong.isVisible, timeout=PATIENCE_MS)
    assert "this is not a GeoPackage" in dialog.wrong.text()
    assert dialog.buttons.isEnabled()
    assert alder_brook.read_bytes() == before


def test_closing_in_the_middle_harms_nothing(desk: Desk, alder_brook: Path, qtbot: QtBot) -> None:
    dialog = BackupsDialog(desk)
    dialog.open()
    press(dialog.make_button)
    dialog.close()  # and is gone, as it deletes itself
    qtbot.waitUntil(lambda: not desk.busy, timeout=PATIENCE_MS)
    for backup in backups_of(alder_brook, desk.settings):
        assert count(backup.path) == count(alder_brook)


@pytest.mark.usefixtures("desk")
def test_a_stand_to_look_at_only_is_copied_but_not_put_back(alder_brook: Path, qtbot: QtBot) -> None:
    second = Desk(Settings())
    second.open_stand(alder_brook)
    qtbot.waitUntil(lambda: second.seen is not None, timeout=PATIENCE_MS)
    assert second.read_only
    dialog = shown(second, qtbot)
    make(qtbot, dialog, 1)
    assert not dialog.back_button.isEnabled()
    assert not dialog.file_button.isEnabled()
    dialog.table.setFocus()
    QTest.keyClick(dialog.table, Qt.Key.Key_Return)
    assert not dialog.question.isVisible()
    second.close_stand()


def test_a_synced_folder_is_warned_of(desk: Desk, alder_brook: Path, qtbot: QtBot) -> None:
    (alder_brook.parent / ".stfolder").mkdir()
    dialog = shown(desk, qtbot)
    texts = [w.text() for w in dialog.findChildren(type(dialog.told)) if w.isVisible()]
    assert any("a cloud service seems to sync" in text for text in texts)
