"""Positions adjusted in the window: looked at, left out, taken back in, accepted, by mouse and by keys."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QPushButton
from pytestqt.qtbot import QtBot

from standmap.desktop.canvas.labels import Rank
from standmap.desktop.kit import tab_stops
from standmap.desktop.pages.survey.adjusting import Adjusting
from standmap.jobs.adjust import set_used
from standmap.jobs.opening import new_stand
from standmap.jobs.taking_back import undo
from standmap.stand.sights import Sight
from standmap.store.stand_file import StandFile
from tests.desktop.survey.survey_bench import Bench
from tests.jobs.adjust_rows import NOW, wood
from tests.jobs.stand_rows import rows

LEFT = Qt.MouseButton.LeftButton
Key = Qt.Key


@pytest.fixture
def path(tmp_path: Path) -> Path:
    path = tmp_path / "wood.gpkg"
    wood(path, bearing_deg=40.0)
    return path


@pytest.fixture
def bench(qtbot: QtBot, path: Path) -> Iterator[Bench]:
    with opened(qtbot, path) as made:
        yield made


@contextmanager
def opened(qtbot: QtBot, path: Path) -> Iterator[Bench]:
    made = Bench()
    qtbot.addWidget(made)
    made.open(qtbot, path)
    yield made
    made.desk.close_stand()


def at_home(bench: Bench) -> bool:
    return not bench.page.home.isHidden()


def shown(bench: Bench, qtbot: QtBot) -> Adjusting:
    """Wait until an adjustment is shown."""
    adjusting = bench.page.adjusting
    qtbot.waitUntil(lambda: adjusting.sheet.adjustment is not None and adjusting.overlay is not None, timeout=20_000)
    bench.idle(qtbot)
    return adjusting


def use_button(bench: Bench, key: str) -> QPushButton:
    found = bench.page.adjusting.sheet.findChildren(QPushButton, f"use-{key}")
    return next(b for b in found if not b.isHidden())


def test_it_is_shown_by_mouse_and_nothing_is_written(bench: Bench, path: Path, qtbot: QtBot) -> None:
    before = rows(path)
    QTest.mouseClick(bench.page.home.adjust, LEFT)
    adjusting = shown(bench, qtbot)
    assert bench.page.sheet is adjusting.sheet
    assert adjusting.overlay in bench.canvas.scene.overlays
    assert adjusting.sheet.about.text().startswith("9 positions move. Farthest: B2, by ")
    told = [w.text() for w in adjusting.sheet.findChildren(type(adjusting.sheet.about)) if w.isVisible()]
    assert any(text.startswith("the bearing from B4 to B7 (line ") for text in told)
    QTest.mouseClick(adjusting.sheet.leave, LEFT)
    assert at_home(bench)
    assert bench.canvas.scene.overlays == ()
    assert rows(path) == before


def test_it_is_accepted_by_keys_and_taken_back(bench: Bench, path: Path, qtbot: QtBot) -> None:
    before = rows(path)
    QTest.keyClick(bench, Key.Key_J, Qt.KeyboardModifier.AltModifier)
    adjusting = shown(bench, qtbot)
    assert adjusting.sheet.accept.hasFocus()
    QTest.keyClick(bench, Key.Key_Return, Qt.KeyboardModifier.ControlModifier)
    qtbot.waitUntil(lambda: at_home(bench), timeout=20_000)
    bench.idle(qtbot)
    assert "9 positions were moved" in bench.notices
    assert rows(path)["tree"] != before["tree"]
    bench.desk.undo()
    bench.idle(qtbot)
    assert rows(path) == before


def test_what_disagrees_is_left_out_and_taken_back_in(bench: Bench, path: Path, qtbot: QtBot) -> None:
    bench.page.adjusting.begin()
    adjusting = shown(bench, qtbot)
    assert adjusting.sheet.adjustment is not None
    wrong = adjusting.sheet.adjustment.disagreeing[0]
    assert adjusting.overlay is not None
    look = next(b for b in adjusting.sheet.findChildren(QPushButton) if b.text() == "show" and b.isVisible())
    QTest.mouseClick(look, LEFT)
    assert [(m.text, m.rank) for m in adjusting.overlay.labels(bench.canvas.camera)] == [
        ("B4", Rank.CHOSEN),
        ("B7", Rank.CHOSEN),
    ]
    QTest.mouseClick(use_button(bench, wrong.id), LEFT)
    bench.idle(qtbot)
    qtbot.waitUntil(lambda: bool(adjusting.sheet.adjustment and adjusting.sheet.adjustment.left_out), timeout=20_000)
    adjusting = shown(bench, qtbot)
    assert adjusting.sheet.adjustment is not None
    assert adjusting.sheet.adjustment.disagreeing == ()
    with StandFile.open(path) as file:
        assert [s.key for s in file.rows(Sight) if not s.used] == [wrong.id]
    again = use_button(bench, wrong.id)
    assert again in tab_stops(adjusting.sheet, bench)
    again.setFocus()
    QTest.keyClick(again, Key.Key_Space)
    bench.idle(qtbot)
    qtbot.waitUntil(lambda: bool(adjusting.sheet.adjustment and adjusting.sheet.adjustment.disagreeing), timeout=20_000)
    with StandFile.open(path) as file:
        assert all(s.used for s in file.rows(Sight))
        undo(file, NOW)
        undo(file, NOW)
        assert all(s.used for s in file.rows(Sight))


def test_it_is_adjusted_once_more_where_the_stand_changed_meanwhile(bench: Bench, path: Path, qtbot: QtBot) -> None:
    bench.page.adjusting.begin()
    adjusting = shown(bench, qtbot)
    first = adjusting.sheet.adjustment
    with StandFile.open(path) as file:
        set_used(file, [file.rows(Sight)[0].key], NOW, used=False)
    before = rows(path)
    adjusting.accept()
    qtbot.waitUntil(lambda: adjusting.sheet.adjustment not in (None, first), timeout=20_000)
    bench.idle(qtbot)
    assert bench.page.sheet is adjusting.sheet
    assert rows(path)["tree"] == before["tree"]
    QApplication.processEvents()


def test_an_empty_stand_says_that_nothing_was_measured(tmp_path: Path, qtbot: QtBot) -> None:
    empty = tmp_path / "empty.gpkg"
    new_stand(empty)
    with opened(qtbot, empty) as made:
        made.page.adjusting.begin()
        sheet = made.page.adjusting.sheet
        qtbot.waitUntil(lambda: bool(sheet.about.text()), timeout=20_000)
        assert sheet.about.text().startswith("nothing was measured here yet")
        assert not sheet.accept.isVisible()
        QTest.mouseClick(sheet.leave, LEFT)
        assert at_home(made)
