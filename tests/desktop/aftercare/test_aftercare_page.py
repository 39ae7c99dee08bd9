"""The aftercare page: the list follows the map and back, and marking done writes what the command would."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtWidgets import QFileDialog
from pytestqt.qtbot import QtBot

from standmap.cli.main import run as command
from standmap.desktop.canvas.canvas import MapCanvas
from standmap.desktop.desk import Desk
from standmap.desktop.pages.aftercare.page import AftercarePage
from standmap.desktop.theme import LIGHT
from standmap.formats.records_csv import FoundRecord
from standmap.jobs.opening import open_stand
from standmap.jobs.record import record
from standmap.settings import Settings
from standmap.stand.tapping import Act
from tests.desktop.holding_up import held_up

Seen = set[tuple[str, str, str]]


@pytest.fixture
def page(qtbot: QtBot, alder_brook: Path) -> Iterator[AftercarePage]:
    desk = Desk(Settings())
    canvas = MapCanvas(LIGHT)
    made = AftercarePage(desk, canvas)
    qtbot.addWidget(made.panel)
    made.panel.resize(316, 640)
    made.panel.show()
    with qtbot.waitSignal(desk.stand_opened):
        desk.open_stand(alder_brook)
    made.shown = True
    made.entered()
    qtbot.waitUntil(lambda: made.care is not None)
    yield made
    desk.close_stand()
    canvas.deleteLater()
    desk.deleteLater()


def click_row(qtbot: QtBot, page: AftercarePage, row: int, *, add: bool = False) -> None:
    place = page.table.visualRect(page.model.index(row, 0)).center()
    keys = Qt.KeyboardModifier.ControlModifier if add else Qt.KeyboardModifier.NoModifier
    qtbot.mouseClick(page.table.viewport(), Qt.MouseButton.LeftButton, keys, place)


def observed(path: Path) -> Seen:
    with open_stand(path, read_only=True) as file:
        stand = file.stand()
    return {(stand.by_key[o.tree_key].name, str(o.what), o.observed_on.isoformat()) for o in stand.observations}


def test_what_is_marked_done_by_mouse_is_what_the_command_writes(
    qtbot: QtBot, page: AftercarePage, alder_brook: Path, tmp_path: Path
) -> None:
    twin = tmp_path / "twin.gpkg"
    shutil.copy(alder_brook, twin)
    before = observed(alder_brook)
    assert not page.done.isEnabled()
    click_row(qtbot, page, 0)
    click_row(qtbot, page, 2, add=True)
    names = [d.tree.name for d in page.chosen_dues()]
    asked = {(d.hole.key, d.need.what) for d in page.chosen_dues()}
    assert len(names) == 2
    assert page.done.isEnabled()
    with qtbot.waitSignal(page.desk.seen_changed):
        qtbot.mouseClick(page.done, Qt.MouseButton.LeftButton, pos=QPoint(20, 10))
    assert command(["aftercare", str(twin), "--all", *(a for n in names for a in ("--done", n))]) in (0, 1)
    assert observed(alder_brook) == observed(twin)
    assert len(observed(alder_brook)) == len(before) + 2
    qtbot.waitUntil(lambda: page.care is not None and not asked & {(d.hole.key, d.need.what) for d in page.care.due})
    with qtbot.waitSignal(page.desk.seen_changed):
        page.desk.undo()
    assert observed(alder_brook) == before


def test_the_list_follows_the_map_and_the_map_the_list(qtbot: QtBot, page: AftercarePage) -> None:
    click_row(qtbot, page, 1)
    assert list(page.desk.chosen) == [page.model.due(1).tree.key]
    other = page.model.due(3).tree.key
    page.desk.choose([other])
    assert [d.tree.key for d in page.chosen_dues()] == [other]
    qtbot.keyClick(page.table, Qt.Key.Key_A, Qt.KeyboardModifier.ControlModifier)
    assert len(page.chosen_dues()) == page.model.rowCount()


def test_a_day_that_cannot_be_is_told_beside_the_field_and_nothing_is_written(
    qtbot: QtBot, page: AftercarePage, alder_brook: Path
) -> None:
    before = observed(alder_brook)
    click_row(qtbot, page, 0)
    for typed, told in (("soon", "is not a day"), ("2026-04-01", "1 Apr 2026 is after today (28 Mar 2026)")):
        page.done_on.edit.clear()
        qtbot.keyClicks(page.done_on.edit, typed)
        qtbot.mouseClick(page.done, Qt.MouseButton.LeftButton)
        assert told in page.done_on.wrong.text()
        assert page.done_on.text() == typed
    assert observed(alder_brook) == before


def test_one_kind_of_work_is_shown_alone_and_all_again(qtbot: QtBot, page: AftercarePage) -> None:
    rows = page.model.rowCount()
    qtbot.mouseClick(page.later, Qt.MouseButton.LeftButton, pos=QPoint(8, page.later.height() // 2))
    assert page.later.isChecked()
    assert page.model.rowCount() > rows
    why = page.care
    assert why is not None
    kinds = {d.need.what for d in why.due}
    first = page._filters.itemAt(0)
    assert first is not None
    toggle = first.widget()
    assert toggle is not None
    qtbot.mouseClick(toggle, Qt.MouseButton.LeftButton)
    shown = {page.model.due(r).need.what for r in range(page.model.rowCount())}
    assert len(shown) == 1
    first = page._filters.itemAt(0)
    assert first is not None
    pressed = first.widget()
    assert pressed is not None
    qtbot.mouseClick(pressed, Qt.MouseButton.LeftButton)
    assert {page.model.due(r).need.what for r in range(page.model.rowCount())} == kinds


def test_pressing_done_twice_at_once_is_one_edit_and_no_error(
    qtbot: QtBot, page: AftercarePage, alder_brook: Path
) -> None:
    told: list[tuple[str, str]] = []
    page.desk.notice.connect(lambda kind, text: told.append((kind, text)))
    before = observed(alder_brook)
    click_row(qtbot, page, 0)
    with held_up(qtbot, page.desk):
        qtbot.mouseClick(page.done, Qt.MouseButton.LeftButton)
        qtbot.mouseClick(page.done, Qt.MouseButton.LeftButton)
    assert ("tell", "1 wound marked as done") in told
    assert "error" not in {kind for kind, _ in told}
    assert len(observed(alder_brook)) == len(before) + 1


def test_nothing_was_done_to_a_wound_before_it_was_made(qtbot: QtBot, page: AftercarePage, alder_brook: Path) -> None:
    before = observed(alder_brook)
    click_row(qtbot, page, 0)
    tree = page.chosen_dues()[0].tree.name
    for typed, told in (("1950-04-01", f"the hole in {tree} was made on"), ("1800-01-01", "is before 1900")):
        page.done_on.edit.clear()
        qtbot.keyClicks(page.done_on.edit, typed)
        qtbot.mouseClick(page.done, Qt.MouseButton.LeftButton)
        assert told in page.done_on.wrong.text()
        assert page.done_on.wrong.isVisible()
        assert not page.desk.busy
    assert observed(alder_brook) == before


def test_paper_and_calendar_are_written_by_their_buttons(
    qtbot: QtBot, page: AftercarePage, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    import icalendar

    told: list[str] = []
    page.desk.notice.connect(lambda _, text: told.append(text))
    named = [tmp_path / "care", tmp_path / "care.ics"]
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (str(named.pop(0)), ""))
    rows = page.model.rowCount()
    qtbot.mouseClick(page.on_paper, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: len(told) == 1)
    assert f"care.pdf is in {tmp_path}: {rows} entries" in told[0]
    assert (tmp_path / "care.pdf").read_bytes().startswith(b"%PDF")
    qtbot.mouseClick(page.as_calendar, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: len(told) == 2)
    assert page.care is not None
    events = icalendar.Calendar.from_ical((tmp_path / "care.ics").read_bytes()).walk("VEVENT")
    assert len([e for e in events if "status" not in e]) == len(page.care.due) > rows
    assert len([e for e in events if e.get("status") == "CANCELLED"]) == len(page.care.ended) > 0
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: ("", ""))
    qtbot.mouseClick(page.on_paper, Qt.MouseButton.LeftButton)
    assert len(told) == 2


def test_what_a_look_saw_is_asked_for_looks_alone_and_written(
    qtbot: QtBot, page: AftercarePage, alder_brook: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    autumn = date(2026, 10, 2)
    monkeypatch.setenv("STANDMAP_TODAY", autumn.isoformat())
    assert page.desk.seen is not None
    names = [page.model.due(0).tree.name]
    other = next(
        d.tree.name for r in range(1, page.model.rowCount()) if (d := page.model.due(r)).tree.name not in names
    )
    with open_stand(alder_brook, read_only=True) as file:
        stand = file.stand()
        hole = stand.holes_of[stand.tree(names[0]).key][0]
    page.desk.run(
        lambda file, _: record(
            file,
            [FoundRecord(0, hole.tree_key, hole.key, autumn, None, what) for what in ("trimmed",)],
            autumn,
            page.desk.now(),
        ),
        "trimming",
    )
    qtbot.waitUntil(lambda: bool(_rows_of(page, names[0], Act.LOOKED_AT)))
    page._choose_rows(_rows_of(page, other, None))
    assert not page.seen.isVisibleTo(page.panel)
    page._choose_rows(_rows_of(page, names[0], Act.LOOKED_AT))
    assert page.seen.isVisibleTo(page.panel)
    page.seen.box.setFocus()
    qtbot.keyClick(page.seen.box, Qt.Key.Key_Down)
    qtbot.keyClick(page.seen.box, Qt.Key.Key_Down)
    assert page.seen.value() is Act.SEEN_OPEN
    with qtbot.waitSignal(page.desk.seen_changed):
        qtbot.mouseClick(page.done, Qt.MouseButton.LeftButton)
    assert (names[0], "seen open", autumn.isoformat()) in observed(alder_brook)


def _rows_of(page: AftercarePage, name: str, act: Act | None) -> list[int]:
    rows = range(page.model.rowCount())
    return [r for r in rows if (d := page.model.due(r)).tree.name == name and act in (None, d.need.what)]
