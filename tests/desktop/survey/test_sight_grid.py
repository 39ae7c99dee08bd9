"""Quick entry of sights by keys alone: drawn while typed, wrong cells kept, all rows one undo step."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication, QWidget
from pytestqt.qtbot import QtBot

from standmap.desktop.pages.survey.sight_grid_row import SightRow
from standmap.settings import Settings
from standmap.stand.sights import North, Sight
from standmap.stand.snapshot import Stand
from tests.desktop.survey.survey_bench import Bench

Key = Qt.Key


@pytest.fixture
def bench(qtbot: QtBot, alder_brook: Path) -> Iterator[Bench]:
    made = Bench()
    qtbot.addWidget(made)
    made.open(qtbot, alder_brook)
    made.settled(qtbot)
    yield made
    made.desk.close_stand()


def begin(bench: Bench, qtbot: QtBot) -> None:
    qtbot.mouseClick(bench.page.home.sights, Qt.MouseButton.LeftButton)
    assert bench.page.sheet is bench.page.sights.sheet


def focused() -> QWidget:
    found = QApplication.focusWidget()
    assert found is not None
    return found


def cell() -> str:
    """Return which cell the keyboard is in."""
    return str(focused().property("cell"))


def type_on(qtbot: QtBot, *texts: str) -> None:
    """Type texts, each followed by Tab."""
    for text in texts:
        qtbot.keyClicks(focused(), text)
        qtbot.keyClick(focused(), Key.Key_Tab)


def enter(qtbot: QtBot, text: str = "") -> None:
    qtbot.keyClicks(focused(), text)
    qtbot.keyClick(focused(), Key.Key_Return)


def rows(bench: Bench) -> list[SightRow]:
    return [row for row in bench.page.sights.sheet.rows if not row.untouched]


def stand(bench: Bench) -> Stand:
    assert bench.desk.seen is not None
    return bench.desk.seen.stand


def looked_at(bench: Bench, qtbot: QtBot, names: set[str]) -> None:
    def drawn() -> bool:
        overlay = bench.page.sights.overlay
        return overlay is not None and set(overlay.names) == names

    qtbot.waitUntil(drawn, timeout=10_000)


def typed_loop(bench: Bench, qtbot: QtBot) -> None:
    begin(bench, qtbot)
    type_on(qtbot, "B01", "S1", "80")
    enter(qtbot, "14.5")
    type_on(qtbot, "N1", "20")
    enter(qtbot, "6,5 m")


def test_rows_are_typed_by_keys_alone_and_drawn_meanwhile(bench: Bench, qtbot: QtBot) -> None:
    begin(bench, qtbot)
    assert cell() == "from"
    type_on(qtbot, "B01", "S1", "80")
    assert cell() == "distance"
    qtbot.keyClicks(focused(), "14.5")
    looked_at(bench, qtbot, {"S1"})
    enter(qtbot)
    assert cell() == "to"
    assert rows(bench)[0].cells["to"].text() == "S1"
    assert bench.page.sights.sheet.rows[1].cells["from"].text() == "S1"  # it goes on where the last ended
    type_on(qtbot, "N1", "20")
    enter(qtbot, "6,5 m")
    looked_at(bench, qtbot, {"S1", "N1"})
    overlay = bench.page.sights.overlay
    assert overlay is not None
    px = bench.canvas.camera.to_screen(overlay.new_points)
    assert np.isfinite(px).all()
    assert len(overlay.labels(bench.canvas.camera)) == 2
    assert bench.page.sights.sheet.keep.text() == "keep 2 sights"


def test_nothing_can_be_kept_while_every_row_is_wrong(bench: Bench, qtbot: QtBot) -> None:
    begin(bench, qtbot)
    keep = bench.page.sights.sheet.keep
    type_on(qtbot, "B01", "N1", "370")
    enter(qtbot, "6.5 m")
    assert not keep.isEnabled()
    wrong = rows(bench)[0].cells["bearing"]
    wrong.setText("37")
    assert keep.isEnabled()


def test_all_rows_are_one_step_and_the_next_begin_where_they_end(bench: Bench, qtbot: QtBot) -> None:
    typed_loop(bench, qtbot)
    before = stand(bench)
    qtbot.keyClick(focused(), Key.Key_Return, Qt.KeyboardModifier.ControlModifier)
    qtbot.waitUntil(lambda: len(stand(bench).trees) == len(before.trees) + 2, timeout=10_000)
    assert not stand(bench).tree("N1").proposed
    sheet = bench.page.sights.sheet
    qtbot.waitUntil(lambda: len(sheet.rows) == 1, timeout=5_000)
    assert sheet.rows[0].cells["from"].text() == "N1"
    assert bench.page.sights.overlay is None
    bench.desk.undo()
    qtbot.waitUntil(lambda: stand(bench) == before, timeout=10_000)


def test_what_is_kept_says_day_north_and_words(bench: Bench, qtbot: QtBot) -> None:
    typed_loop(bench, qtbot)
    qtbot.mouseClick(bench.page.sights.sheet.keep, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: bench.page.sights.sheet.rows[0].untouched, timeout=10_000)
    found: list[Sight] = []
    bench.desk.run(lambda file, _: file.rows(Sight), "", found.extend)
    qtbot.waitUntil(lambda: len(found) == 2, timeout=10_000)
    assert [(s.bearing_deg, s.north, s.distance_m, s.given, s.given_unit) for s in found] == [
        (80.0, North.MAGNETIC, 14.5, "14.5", "m"),
        (20.0, North.MAGNETIC, 6.5, "6,5", "m"),
    ]
    assert {s.measured_on for s in found} == {bench.desk.today}
    assert all(s.declination_deg is not None for s in found)


def test_a_row_that_comes_back_tells_how_it_closes(bench: Bench, qtbot: QtBot) -> None:
    typed_loop(bench, qtbot)
    type_on(qtbot, "B01", "242")
    enter(qtbot, "16.9")
    last = rows(bench)[-1]
    qtbot.waitUntil(lambda: last.met.text() != "", timeout=10_000)
    assert last.met.text() == "closes 1.7 m off over 38 m"
    assert last.met.isVisible()


def test_what_is_wrong_stands_beside_it_and_what_was_typed_stays(bench: Bench, qtbot: QtBot) -> None:
    begin(bench, qtbot)
    type_on(qtbot, "B01", "N1", "370")
    row = bench.page.sights.sheet.rows[0]
    assert "bearing 370 is not from 0 to 360" in row.wrong.text()
    assert row.cells["bearing"].property("wrong") == "true"
    enter(qtbot, "-5")
    assert "distance -5 is negative" in row.wrong.text()
    assert row.cells["bearing"].text() == "370"
    trees = len(stand(bench).trees)
    bench.page.store()
    assert not bench.desk.busy
    assert len(stand(bench).trees) == trees
    row.cells["bearing"].setFocus()
    row.cells["bearing"].selectAll()
    qtbot.keyClicks(row.cells["bearing"], "37")
    assert "370" not in row.wrong.text()
    row.cells["distance"].setFocus()
    row.cells["distance"].selectAll()
    qtbot.keyClicks(row.cells["distance"], "5")
    assert row.wrong.text() == ""
    looked_at(bench, qtbot, {"N1"})


def test_what_hangs_on_nothing_is_said_while_it_is_typed(bench: Bench, qtbot: QtBot) -> None:
    begin(bench, qtbot)
    type_on(qtbot, "X1", "X2", "10")
    enter(qtbot, "5")
    row = rows(bench)[0]
    qtbot.waitUntil(lambda: "hangs on nothing" in row.wrong.text(), timeout=10_000)


def test_a_gross_misfit_asks_and_can_be_meant(bench: Bench, qtbot: QtBot) -> None:
    begin(bench, qtbot)
    type_on(qtbot, "B01", "B02", "0")
    enter(qtbot, "80")
    row, sheet = rows(bench)[0], bench.page.sights.sheet
    qtbot.waitUntil(lambda: "it misses B02" in row.wrong.text(), timeout=10_000)
    before = stand(bench)
    bench.page.store()
    qtbot.waitUntil(sheet.sure.isVisible, timeout=10_000)
    assert row.cells["distance"].text() == "80"
    assert stand(bench) == before
    qtbot.keyClick(sheet.sure, Key.Key_Space)
    bench.page.store()
    qtbot.waitUntil(lambda: sheet.rows[0].untouched, timeout=10_000)
    assert stand(bench).trees == before.trees  # it is written down, nothing has moved


def test_the_cells_below_are_reached_by_tab_and_squared_off_a_base_line(bench: Bench, qtbot: QtBot) -> None:
    begin(bench, qtbot)
    type_on(qtbot, "B01", "N1", "", "")
    assert cell() == "back_bearing"
    type_on(qtbot, "", "")
    assert focused() is bench.page.sights.sheet.rows[0].station
    qtbot.keyClick(focused(), Key.Key_Tab)
    type_on(qtbot, "B02", "2")
    assert cell() == "offset"
    enter(qtbot, "3 left")
    looked_at(bench, qtbot, {"N1"})
    assert bench.page.sights.sheet.rows[1].cells["from"].text() == "B01"  # the next is off the same line
    qtbot.keyClick(focused(), Key.Key_Backtab)
    assert cell() == "from"


def test_rows_wait_while_another_sheet_is_shown(bench: Bench, qtbot: QtBot) -> None:
    typed_loop(bench, qtbot)
    qtbot.mouseClick(bench.page.sights.sheet.leave, Qt.MouseButton.LeftButton)
    assert bench.page.sheet is bench.page.home
    begin(bench, qtbot)
    assert [row.cells["to"].text() for row in rows(bench)] == ["S1", "N1"]
    looked_at(bench, qtbot, {"S1", "N1"})
    qtbot.mouseClick(bench.page.sights.sheet.clear, Qt.MouseButton.LeftButton)
    assert rows(bench) == []


def test_known_names_are_completed(bench: Bench, qtbot: QtBot) -> None:
    begin(bench, qtbot)
    edit = bench.page.sights.sheet.rows[0].cells["from"]
    qtbot.keyClicks(edit, "lower")
    completer = edit.completer()
    assert completer is not None
    assert completer.completionCount() == 1
    assert completer.currentCompletion() == "lower gate"


def test_bare_lengths_are_feet_for_who_reads_feet(qtbot: QtBot, alder_brook: Path) -> None:
    bench = Bench(settings=Settings(units="us"))
    qtbot.addWidget(bench)
    bench.open(qtbot, alder_brook)
    bench.settled(qtbot)
    begin(bench, qtbot)
    assert "Lengths are in ft" in bench.page.sights.sheet.how.text()
    type_on(qtbot, "B01", "N1", "10")
    enter(qtbot, "10")
    (_, sight, _), *_rest = bench.page.sights.sheet.typed()
    assert sight is not None
    assert sight.distance_m == pytest.approx(3.048)
    bench.desk.close_stand()


def test_it_is_in_the_list_of_all_that_can_be_done(bench: Bench) -> None:
    (action,) = (a for a in bench.page.actions() if a.id == "survey.sights")
    action.run()
    assert bench.page.sheet is bench.page.sights.sheet
