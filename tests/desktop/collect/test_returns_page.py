"""Returns typed by keys alone in the order of the walk: stored as one edit, the same rows as the command line's."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QCheckBox, QWidget
from pytestqt.qtbot import QtBot

from standmap.cli.main import run as command
from standmap.desktop.pages.collect.page import CollectPage
from standmap.desktop.pages.collect.returns_sheet import Cell
from standmap.desktop.window import Window
from standmap.jobs.opening import open_stand

PATIENCE_MS = 30_000
Row = tuple[str, str, float, str, str, str]


@pytest.fixture
def page(planned: CollectPage) -> CollectPage:
    QTest.mouseClick(planned.returns_button, Qt.MouseButton.LeftButton)
    return planned


def collected(path: Path) -> set[Row]:
    """Return what was collected on the day of the walk."""
    with open_stand(path, read_only=True) as file:
        stand = file.stand()
    tree = {hole.key: stand.by_key[hole.tree_key].name for hole in stand.holes}
    return {
        (tree[c.hole_key], c.collected_on.isoformat(), c.volume_ml, c.given, c.given_unit, c.note)
        for c in stand.collections
        if c.collected_on.isoformat() == "2026-03-28"
    }


def focused() -> QWidget:
    found = QApplication.focusWidget()
    assert found is not None
    return found


def type_on(*texts: str) -> None:
    """Type into the line that has the focus, Enter after each."""
    for text in texts:
        QTest.keyClicks(focused(), text)
        QTest.keyClick(focused(), Qt.Key.Key_Return)


def store(qtbot: QtBot, window: Window) -> None:
    assert window.desk.seen is not None
    QTest.keyClick(focused(), Qt.Key.Key_Return, Qt.KeyboardModifier.ControlModifier)
    qtbot.waitUntil(lambda: not window.desk.busy, timeout=PATIENCE_MS)


def walk_order(page: CollectPage) -> list[str]:
    assert page.planning.planned is not None
    return [stop.tree.name for trip in page.planning.planned.trips for stop in trip.stops]


def test_the_whole_walk_by_keys_alone_and_the_same_rows_as_a_table(
    qtbot: QtBot, window: Window, page: CollectPage, alder_brook: Path, tmp_path: Path
) -> None:
    copy = tmp_path / "copy.gpkg"
    shutil.copy(alder_brook, copy)
    amounts = [f"{2 + k / 10:g}" for k in range(9)]
    type_on(*amounts)
    assert page.returns.store_button.hasFocus()
    QTest.keyClick(page.returns.store_button, Qt.Key.Key_Space)
    qtbot.waitUntil(lambda: not window.desk.busy, timeout=PATIENCE_MS)
    table = tmp_path / "returns.csv"
    rows = "".join(f"{name},2026-03-28,collected,{a}\n" for name, a in zip(walk_order(page), amounts, strict=True))
    table.write_text(f"tree,date,what,litres\n{rows}")
    assert command(["record", str(copy), str(table)]) == 0
    assert collected(alder_brook) == collected(copy)
    assert len(collected(copy)) == 9
    seen = window.desk.seen
    assert seen is not None
    assert seen.undo_label == "returns of 2026-03-28"
    QTest.keyClick(window, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    qtbot.waitUntil(lambda: not collected(alder_brook), timeout=PATIENCE_MS)


def test_one_total_for_a_trip_is_the_command_lines(
    qtbot: QtBot, window: Window, page: CollectPage, alder_brook: Path, tmp_path: Path
) -> None:
    copy = tmp_path / "copy.gpkg"
    shutil.copy(alder_brook, copy)
    boxes = page.returns.findChildren(QCheckBox)
    QTest.keyClick(boxes[0], Qt.Key.Key_Space)
    type_on("12.5")
    store(qtbot, window)
    planned = page.planning.planned
    assert planned is not None
    table = tmp_path / "returns.csv"
    rows = [f"{stop.tree.name},2026-03-28,collected,1," for stop in planned.trips[0].stops]
    table.write_text("tree,date,what,trip,trip_litres\n" + "\n".join([rows[0] + "12.5", *rows[1:]]) + "\n")
    assert command(["record", str(copy), str(table)]) == 0
    mine, theirs = sorted(collected(alder_brook)), sorted(collected(copy))
    assert [(*row[:2], *row[4:]) for row in mine] == [(*row[:2], *row[4:]) for row in theirs]
    # The window shares by what was to hang at the hour of the walk, a table by the day alone.
    assert [row[2] for row in mine] == pytest.approx([row[2] for row in theirs], rel=0.02)
    assert {row[5] for row in collected(copy)} == {"share of a total of 12.5 L for trip 1"}
    assert sum(row[2] for row in collected(copy)) == 12_500


def test_a_wrong_line_says_so_below_it_and_keeps_what_was_typed(
    qtbot: QtBot, window: Window, page: CollectPage, alder_brook: Path
) -> None:
    type_on("2.6", "26x", "5.2", "-1")
    keys = list(page.returns.lines)
    lines = [page.returns.lines[key] for key in keys]
    assert lines[0].told.isHidden()
    assert lines[1].told.text().startswith("'x' is no unit of a volume")
    assert lines[1].amount.text() == "26x"
    assert lines[2].told.text() == "more than one vessel of 4.5 L: a slip?"
    assert lines[3].told.text() == "-1 is less than nothing; write 0 or more"
    store(qtbot, window)
    assert not collected(alder_brook)
    assert lines[1].amount.hasFocus()
    lines[1].amount.selectAll()
    QTest.keyClicks(lines[1].amount, "2,6")
    lines[3].amount.selectAll()
    QTest.keyClicks(lines[3].amount, "1")
    assert lines[1].told.isHidden()
    store(qtbot, window)
    assert {row[2] for row in collected(alder_brook)} == {2600.0, 5200.0, 1000.0}
    assert len(collected(alder_brook)) == 4
    assert lines[0].told.text() == "written down: 2.6 L"


def test_up_and_down_keep_their_column(page: CollectPage) -> None:
    lines = list(page.returns.lines.values())
    assert lines[0].amount.hasFocus()
    QTest.keyClick(focused(), Qt.Key.Key_Tab)
    assert lines[0].note.hasFocus()
    QTest.keyClick(focused(), Qt.Key.Key_Down)
    assert lines[1].note.hasFocus()
    QTest.keyClick(focused(), Qt.Key.Key_Up)
    QTest.keyClick(focused(), Qt.Key.Key_Up)
    assert lines[0].note.hasFocus()


def test_a_second_entry_is_asked_about_and_put_in_place(
    qtbot: QtBot, window: Window, page: CollectPage, alder_brook: Path
) -> None:
    type_on("2.6", "1.5")
    store(qtbot, window)
    first = next(iter(page.returns.lines.values())).amount
    first.setFocus()
    first.selectAll()
    QTest.keyClicks(first, "2.9")
    store(qtbot, window)
    assert page.returns.asking.isVisible()
    assert page.returns.question.text().startswith(f"{walk_order(page)[0]}: litres of 28 Mar 2026")
    assert {row[2] for row in collected(alder_brook)} == {2600.0, 1500.0}
    QTest.mouseClick(page.returns.in_place, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: not window.desk.busy, timeout=PATIENCE_MS)
    assert {row[2] for row in collected(alder_brook)} == {2900.0, 1500.0}
    assert page.returns.asking.isHidden()


def test_nothing_typed_is_lost_between_pages(window: Window, page: CollectPage) -> None:
    type_on("2.6", "lots")
    window.show_page("choose")
    window.show_page("collect")
    QTest.mouseClick(page.returns.back, Qt.MouseButton.LeftButton)
    assert page.walk.isVisible()
    QTest.mouseClick(page.returns_button, Qt.MouseButton.LeftButton)
    typed = [line.amount.text() for line in page.returns.lines.values()]
    assert typed[:3] == ["2.6", "lots", ""]
    cells = page.returns.findChildren(Cell)
    assert all(cell.accessibleName() for cell in cells)


def test_other_units_keep_what_was_typed(window: Window, page: CollectPage) -> None:
    type_on("2.6")
    window.desk.settings = replace(window.desk.settings, units="us")
    window.desk.settings_changed.emit()
    line = next(iter(page.returns.lines.values()))
    assert line.amount.text() == "2.6 L"
    assert "US gal" in line.amount.accessibleName()


def test_returns_without_a_walk_are_in_the_order_of_the_trees(
    qtbot: QtBot, window: Window, page: CollectPage, alder_brook: Path
) -> None:
    QTest.mouseClick(page.returns.back, Qt.MouseButton.LeftButton)
    QTest.mouseClick(page.walk.again, Qt.MouseButton.LeftButton)
    QTest.mouseClick(page.returns_alone, Qt.MouseButton.LeftButton)
    boxes = [box for box in page.returns.findChildren(QCheckBox) if box.isVisible()]
    assert [box.accessibleName() for box in boxes if "total" in box.accessibleName()] == []
    assert len(page.returns.lines) == 9
    type_on("2.2")
    store(qtbot, window)
    assert {row[:3] for row in collected(alder_brook)} == {("B09", "2026-03-28", 2200.0)}
