"""The window under test, what a hand does with it, and the rows of stands to compare."""

from __future__ import annotations

import json
import sqlite3
import traceback
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QAbstractButton, QApplication, QDialog, QWidget
from pytestqt.qtbot import QtBot

from standmap.cli.main import run as command
from standmap.desktop.kit import Field
from standmap.desktop.pages.aftercare.page import AftercarePage
from standmap.desktop.pages.choose.page import ChoosePage
from standmap.desktop.pages.collect.page import CollectPage
from standmap.desktop.pages.survey.page import SurveyPage
from standmap.desktop.seen import Seen
from standmap.desktop.start import Shell
from standmap.desktop.window import Window
from standmap.jobs.positions import xy

PATIENCE_MS = 20_000
CTRL, ALT, SHIFT = (
    Qt.KeyboardModifier.ControlModifier,
    Qt.KeyboardModifier.AltModifier,
    Qt.KeyboardModifier.ShiftModifier,
)
PageKind = TypeVar("PageKind")
DialogKind = TypeVar("DialogKind", bound=QDialog)
Table = list[tuple[object, ...]]


class Whole:
    """One window with a hand at it."""

    def __init__(self, qtbot: QtBot, shell: Shell) -> None:
        self.qtbot = qtbot
        self.shell = shell
        self.desk = shell.desk
        self.window: Window = shell.window
        self.told: list[tuple[str, str]] = []
        self.faults: list[str] = []
        self.desk.notice.connect(lambda kind, text: self.told.append((kind, text)))
        self.desk.broke.connect(lambda error: self.faults.append("".join(traceback.format_exception(error))))

    # Parts

    @property
    def seen(self) -> Seen:
        assert self.desk.seen is not None
        return self.desk.seen

    @property
    def on_card(self) -> str:
        """Name of the tree on the card, empty without one."""
        return self.desk.chosen_tree.name if self.desk.chosen_tree is not None else ""

    def _page(self, name: str, kind: type[PageKind]) -> PageKind:
        page = self.window.pages[name]
        assert isinstance(page, kind)
        return page

    @property
    def survey(self) -> SurveyPage:
        return self._page("survey", SurveyPage)

    @property
    def choose(self) -> ChoosePage:
        return self._page("choose", ChoosePage)

    @property
    def collect(self) -> CollectPage:
        return self._page("collect", CollectPage)

    @property
    def aftercare(self) -> AftercarePage:
        return self._page("aftercare", AftercarePage)

    def dialog(self, kind: type[DialogKind]) -> DialogKind:
        self.until(lambda: any(d.isVisible() for d in self.window.findChildren(kind)))
        return next(d for d in self.window.findChildren(kind) if d.isVisible())

    # Waiting

    def until(self, there: Callable[[], bool]) -> None:
        self.qtbot.waitUntil(there, timeout=PATIENCE_MS)

    def idle(self) -> None:
        """Wait until no work is under way and all that followed it is done."""
        self.until(lambda: not self.desk.busy)
        QApplication.processEvents()

    def open(self, path: Path) -> None:
        with self.qtbot.waitSignal(self.desk.stand_opened, timeout=PATIENCE_MS):
            self.desk.open_stand(path)
        self.idle()

    def to_front(self) -> None:
        self.window.activateWindow()
        QTest.qWaitForWindowActive(self.window)

    def settled(self) -> None:
        """Wait until the map has come to rest."""
        self.until(lambda: not self.window.canvas.gliding and self.window.canvas.sharp)

    # Hands

    def focused(self) -> QWidget:
        found = QApplication.focusWidget()
        assert found is not None, "nothing has the focus"
        return found

    def key(self, key: Qt.Key, held: Qt.KeyboardModifier = Qt.KeyboardModifier.NoModifier) -> None:
        """Press a key wherever the focus is."""
        QTest.keyClick(QApplication.focusWidget() or self.window, key, held)

    def type(self, text: str) -> None:
        """Type where the focus is; what no keyboard has, and what is long, is pasted."""
        for number, line in enumerate(text.split("\n")):
            if number:
                self.key(Qt.Key.Key_Return)
            if line.isascii() and len(line) < 200:
                QTest.keyClicks(self.focused(), line)
            else:
                QApplication.clipboard().setText(line)
                self.key(Qt.Key.Key_V, CTRL)

    def press(self, button: QAbstractButton) -> None:
        assert button.isVisible(), button.text()
        assert button.isEnabled(), button.text()
        QTest.mouseClick(button, Qt.MouseButton.LeftButton)

    def fill(self, field: Field[Any], text: str) -> None:
        """Click into a field and type in place of what is there."""
        assert field.edit.isVisible()
        QTest.mouseClick(field.edit, Qt.MouseButton.LeftButton)
        field.edit.selectAll()
        self.key(Qt.Key.Key_Delete)
        self.type(text)

    def find(self, text: str) -> None:
        """Find by the header's field, by keys alone, and take the first answer."""
        self.key(Qt.Key.Key_F, CTRL)
        assert self.window.find_field.hasFocus()
        self.type(text)
        self.key(Qt.Key.Key_Return)

    def go(self, number: int) -> None:
        """Go to a page by its key."""
        self.key(Qt.Key(Qt.Key.Key_0 + number), CTRL)

    def pixel_of(self, name: str) -> QPoint:
        """Return where on the map a tree is."""
        self.settled()
        frame = self.window.canvas.frame
        assert frame is not None
        x, y = self.window.canvas.camera.to_screen(xy(frame, [self.seen.stand.tree(name).at]))[0].tolist()
        return QPoint(round(x), round(y))

    def click_tree(self, name: str, held: Qt.KeyboardModifier = Qt.KeyboardModifier.NoModifier) -> None:
        at = self.pixel_of(name)
        self.qtbot.mouseMove(self.window.canvas, at)
        self.qtbot.mouseClick(self.window.canvas, Qt.MouseButton.LeftButton, held, at)

    def undo_all(self, until: str | None = None) -> int:
        """Press Ctrl+Z until nothing, or this step, is left; return how often that was."""
        count = 0
        while self.seen.undo_label != until:
            before = self.desk.seen
            self.window.canvas.setFocus()
            self.key(Qt.Key.Key_Z, CTRL)
            self.until(lambda before=before: self.desk.seen is not before)  # type: ignore[misc]
            self.idle()
            count += 1
            assert count < 200
        return count


def tell_command(*words: object) -> None:
    """Run a command as at a terminal; it must succeed."""
    assert command([str(w) for w in words]) == 0


def answer_of(capsys: pytest.CaptureFixture[str], *words: object) -> Any:
    """Return what a command answers as JSON."""
    capsys.readouterr()
    tell_command(*words, "--json")
    return json.loads(capsys.readouterr().out)


# Rows

OWN_TABLES = "SELECT table_name FROM gpkg_contents WHERE table_name NOT IN ('event', 'standmap_schema')"


def exact_rows(path: Path) -> dict[str, Table]:
    """Return every row of the stand's tables but the event log, fids and keys included."""
    db = sqlite3.connect(path)
    try:
        names = [r[0] for r in db.execute(OWN_TABLES)]
        assert db.execute("PRAGMA foreign_key_check").fetchall() == []
        return {name: db.execute(f"SELECT * FROM {name} ORDER BY fid").fetchall() for name in names}
    finally:
        db.close()


MADE_THEN = {"fid", "read_at"}
"""Columns that tell when or as which row something was written."""


def bare_rows(path: Path) -> dict[str, Table]:
    """Return every row of every table, each key replaced by the row that it stands for, without fids and moments."""
    db = sqlite3.connect(path)
    db.row_factory = sqlite3.Row
    names = [r[0] for r in db.execute(OWN_TABLES)]
    of_table = {name: db.execute(f"SELECT * FROM {name}").fetchall() for name in names}
    of_key = {row["key"]: row for rows in of_table.values() for row in rows if "key" in row.keys()}  # noqa: SIM118
    db.close()

    def value(found: object, deep: int) -> object:
        if isinstance(found, str) and found in of_key:
            return bare(of_key[found], deep + 1) if deep < 4 else "a row"
        return found

    def bare(row: sqlite3.Row, deep: int = 0) -> tuple[object, ...]:
        return tuple(value(row[c], deep) for c in row.keys() if c not in MADE_THEN and c != "key")  # noqa: SIM118

    return {name: sorted((bare(row) for row in rows), key=repr) for name, rows in of_table.items()}
