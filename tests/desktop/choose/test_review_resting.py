"""From opening a stand to the list of trees that rest this year, in the whole window, by keys and mouse alone."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from pytestqt.qtbot import QtBot

from standmap.cli.main import run
from standmap.desktop.desk import Desk
from standmap.desktop.pages.choose.page import ChoosePage
from standmap.desktop.window import Window
from standmap.rules.judgement import Verdict
from standmap.settings import Settings


def resting_in(season: str, path: Path, capsys: pytest.CaptureFixture[str]) -> dict[str, str]:
    """Return name and season back of the resting trees, as the command line answers."""
    capsys.readouterr()
    assert run(["judge", str(path), "--season", season, "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    return {t["tree"]: str(t["back_in"]) for t in told["trees"] if t["verdict"] == "resting"}


def in_table(page: ChoosePage) -> dict[str, str]:
    model = page.model
    return {str(model.index(r, 0).data()): str(model.index(r, 2).data()) for r in range(model.rowCount())}


def test_review_which_trees_are_resting_this_year(
    qtbot: QtBot, alder_brook: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    desk = Desk(Settings())
    window = Window(desk)
    qtbot.addWidget(window)
    window.show()
    with qtbot.waitSignal(desk.seen_changed):
        desk.open_stand(alder_brook)
    QTest.keyClick(window, Qt.Key.Key_2, Qt.KeyboardModifier.ControlModifier)
    page = window.pages["choose"]
    assert isinstance(page, ChoosePage)
    assert page.panel.isVisible()
    qtbot.waitUntil(lambda: page.asked.fresh)
    resting = resting_in("2026", alder_brook, capsys)

    row = page.verdicts.rows[Verdict.RESTING]
    assert row.accessibleName() == f"resting, {len(resting)} trees, shown"
    QTest.mouseClick(row, Qt.MouseButton.LeftButton)
    shown = in_table(page)
    assert shown == resting

    page.table.setFocus()
    QTest.keyClick(page.table, Qt.Key.Key_Down)
    assert desk.chosen_tree is not None
    assert desk.chosen_tree.name == list(shown)[1]
    assert window.card.isVisible()

    QTest.keyClick(
        page.table, Qt.Key.Key_Right, Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.ShiftModifier
    )
    assert desk.season == 2027
    assert in_table(page) == resting_in("2027", alder_brook, capsys)
    desk.close_stand()
    desk.deleteLater()
