"""The choose page with the map beside it, worked by mouse and keyboard, against what the command line answers."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QPushButton, QWidget
from pytestqt.qtbot import QtBot

from standmap.assets import sample_stand
from standmap.cli.main import run
from standmap.desktop.canvas.canvas import MapCanvas
from standmap.desktop.desk import Desk
from standmap.desktop.map_content import MapContent
from standmap.desktop.pages.choose.page import ChoosePage
from standmap.desktop.pages.choose.rows import LISTED, Column
from standmap.desktop.pages.choose.tree_model import COLUMNS
from standmap.desktop.strip.year_strip import YearStrip
from standmap.desktop.theme import LIGHT, style_sheet
from standmap.jobs.tag_checks import tags_to_check
from standmap.rules.judgement import Verdict
from standmap.settings import Settings

LEFT = Qt.MouseButton.LeftButton
TEXT, ALOUD = Qt.ItemDataRole.DisplayRole, Qt.ItemDataRole.AccessibleTextRole


@dataclass
class Bench:
    """The page on a sheet of its own, as the window lays it out."""

    sheet: QWidget
    desk: Desk
    canvas: MapCanvas
    content: MapContent
    page: ChoosePage
    strip: YearStrip
    notices: list[tuple[str, str]]

    def table(self) -> list[tuple[str, str, str, str]]:
        """Return name, girth, season back and verdict of every row, as read."""
        model = self.page.model
        return [
            (
                str(model.index(row, 0).data(TEXT)),
                str(model.index(row, 1).data(TEXT)),
                str(model.index(row, 2).data(TEXT)),
                str(model.index(row, 3).data(ALOUD)),
            )
            for row in range(model.rowCount())
        ]

    def names(self) -> list[str]:
        return [name for name, *_ in self.table()]

    def chosen_rows(self) -> list[str]:
        rows = self.page.table.selectionModel().selectedRows(0)
        return sorted(str(index.data(TEXT)) for index in rows)

    def chosen(self) -> list[str]:
        assert self.desk.seen is not None
        return [self.desk.seen.stand.by_key[key].name for key in self.desk.chosen]

    def click_row(self, name: str, *, with_key: Qt.KeyboardModifier = Qt.KeyboardModifier.NoModifier) -> None:
        table = self.page.table
        index = self.page.model.index(self.names().index(name), 0)
        table.scrollTo(index)
        QTest.mouseClick(table.viewport(), LEFT, with_key, table.visualRect(index).center())

    def on_map(self, name: str) -> QPoint:
        assert self.desk.seen is not None
        row = self.desk.seen.row_of[self.desk.seen.stand.tree(name).key]
        x, y = self.canvas.camera.to_screen(self.desk.seen.xy[[row]])[0]
        return QPoint(round(x), round(y))

    def in_sight(self, name: str) -> bool:
        at = self.on_map(name)
        left, top, right, bottom = self.canvas.margins
        return left <= at.x() <= self.canvas.width() - right and top <= at.y() <= self.canvas.height() - bottom

    def full_on_map(self) -> set[str]:
        """Return the names of the trees that are not faded."""
        assert self.desk.seen is not None
        faded = self.canvas.scene.trees.faded
        none = np.zeros(len(self.desk.seen.trees), bool)
        hidden = none if faded is None else np.asarray(faded)
        return {t.name for t, away in zip(self.desk.seen.trees, hidden, strict=True) if not away}

    def press(self, verdict: Verdict) -> None:
        QTest.mouseClick(self.page.verdicts.rows[verdict], LEFT)


@pytest.fixture
def wood(tmp_path: Path, today: date, capsys: pytest.CaptureFixture[str]) -> Path:
    """Return the small sample wood, made by the command line."""
    assert today == date(2026, 3, 28)
    path = tmp_path / "wood.gpkg"
    sources = [str(sample_stand("alder-brook", s)) for s in ("ground.geojson", "trees.csv", "measurements.csv")]
    assert run(["new", str(path)]) == 0
    assert run(["bring", str(path), *sources]) == 0
    assert run(["record", str(path), str(sample_stand("alder-brook", "records.csv"))]) == 0
    capsys.readouterr()
    return path


@pytest.fixture
def bench(qtbot: QtBot, wood: Path) -> Iterator[Bench]:
    desk = Desk(Settings())
    sheet = QWidget()
    sheet.setStyleSheet(style_sheet(LIGHT))
    sheet.resize(1280, 748)
    canvas = MapCanvas(LIGHT, sheet)
    canvas.setGeometry(0, 0, 1280, 676)
    canvas.set_margins(316, 0, 0, 0)
    content = MapContent(desk, canvas)
    page = ChoosePage(desk, canvas)
    page.panel.setParent(sheet)
    page.panel.setGeometry(16, 16, 300, 644)
    strip = YearStrip(desk)
    strip.setParent(sheet)
    strip.setGeometry(0, 676, 1280, 72)
    made = Bench(sheet, desk, canvas, content, page, strip, [])
    desk.notice.connect(lambda kind, text: made.notices.append((kind, text)))
    qtbot.addWidget(sheet)
    sheet.show()
    with qtbot.waitSignal(desk.seen_changed):
        desk.open_stand(wood)
    page.shown = True
    with qtbot.waitSignal(page.asked.answered):
        page.entered()
    yield made
    desk.close_stand()
    desk.deleteLater()


def answer(capsys: pytest.CaptureFixture[str], *arguments: str) -> Any:
    capsys.readouterr()
    assert run([*arguments, "--json"]) == 0
    return json.loads(capsys.readouterr().out)


def expected_back_in(tree: dict[str, Any]) -> str:
    return "now" if tree["verdict"] == "ready" else str(tree["back_in"] or "–")


def test_review_which_trees_are_resting_this_year(bench: Bench, wood: Path, capsys: pytest.CaptureFixture[str]) -> None:
    told = answer(capsys, "judge", str(wood), "--season", "2026")
    bench.press(Verdict.RESTING)
    resting = {t["tree"]: str(t["back_in"]) for t in told["trees"] if t["verdict"] == "resting"}
    assert {name: back for name, _, back, _ in bench.table()} == resting
    assert {verdict for *_, verdict in bench.table()} == {"resting"}
    assert bench.full_on_map() == set(resting)
    assert bench.names() == sorted(resting, key=lambda name: int(name[1:]))


def test_every_row_says_what_the_command_line_says(
    bench: Bench, wood: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for season in (2026, 2024, 2031):
        bench.desk.set_season(season)
        told = answer(capsys, "judge", str(wood), "--season", str(season))
        expected = {
            t["tree"]: (expected_back_in(t).replace("now", "now" if season == 2026 else str(season)), t["verdict"])
            for t in told["trees"]
        }
        assert {name: (back, verdict) for name, _, back, verdict in bench.table()} == expected
        assert {str(v): row.count for v, row in bench.page.verdicts.rows.items()} == told["counts"]
        assert bench.page.heading.text() == f"Season {season}"


def test_verdicts_are_toggled_by_mouse_and_keyboard_and_say_so(bench: Bench) -> None:
    everyone = set(bench.names())
    rows = bench.page.verdicts.rows
    assert rows[Verdict.RESTING].accessibleName() == f"resting, {rows[Verdict.RESTING].count} trees, shown"
    bench.press(Verdict.RESTING)
    rows[Verdict.READY].setFocus()
    QTest.keyClick(rows[Verdict.READY], Qt.Key.Key_Space)
    assert {verdict for *_, verdict in bench.table()} == {"resting", "ready"}
    assert rows[Verdict.UNSURE].accessibleName() == "unsure, 1 tree, not shown"
    assert len(bench.table()) == rows[Verdict.RESTING].count + rows[Verdict.READY].count
    bench.press(Verdict.RESTING)
    bench.press(Verdict.READY)
    assert set(bench.names()) == everyone == bench.full_on_map()
    assert bench.canvas.scene.trees.faded is None


def test_a_part_of_a_name_is_typed(qtbot: QtBot, bench: Bench) -> None:
    bench.page.part.setFocus()
    QTest.keyClicks(bench.page.part, "b1")
    assert bench.names() == [f"B{n}" for n in range(10, 20)]
    assert bench.full_on_map() == set(bench.names())
    QTest.keyClicks(bench.page.part, "zz")
    assert bench.names() == []
    bench.page.show_all()
    assert len(bench.names()) == len(bench.full_on_map())
    qtbot.waitUntil(lambda: bench.page.part.text() == "")


def test_choosing_rows_chooses_trees_on_the_map(bench: Bench) -> None:
    bench.click_row("B07")
    assert bench.chosen() == ["B07"]
    QTest.keyClick(bench.page.table, Qt.Key.Key_Down)
    assert bench.chosen() == ["B08"]
    bench.click_row("B10", with_key=Qt.KeyboardModifier.ControlModifier)
    assert bench.chosen() == ["B08", "B10"]
    bench.click_row("B12", with_key=Qt.KeyboardModifier.ShiftModifier)
    assert bench.chosen() == ["B08", "B10", "B11", "B12"]
    assert {bench.canvas.scene.trees.keys[row] for row in bench.canvas.scene.chosen} == set(bench.desk.chosen)


def test_a_tree_that_is_out_of_sight_is_brought_to_the_middle(qtbot: QtBot, bench: Bench) -> None:
    bench.canvas.zoom_by(12)
    qtbot.waitUntil(lambda: not all(bench.in_sight(name) for name in bench.names()))
    hidden = next(name for name in bench.names() if not bench.in_sight(name))
    bench.click_row(hidden)
    qtbot.waitUntil(lambda: bench.in_sight(hidden))


def test_a_tree_in_sight_is_chosen_without_moving_the_map(bench: Bench) -> None:
    before = bench.canvas.camera
    bench.click_row("B07")
    assert bench.canvas.camera == before


def test_choosing_on_the_map_chooses_and_shows_the_row(qtbot: QtBot, bench: Bench) -> None:
    bench.canvas.fit(animated=False)
    last = next(name for name in reversed(bench.names()) if bench.in_sight(name))
    row = bench.page.model.index(bench.names().index(last), 0)
    assert not bench.page.table.viewport().rect().contains(bench.page.table.visualRect(row).center())
    QTest.mouseClick(bench.canvas, LEFT, pos=bench.on_map(last))
    qtbot.waitUntil(lambda: bench.chosen() == [last])
    assert bench.chosen_rows() == [last]
    assert bench.page.table.viewport().rect().contains(bench.page.table.visualRect(row).center())


def test_what_is_chosen_stays_chosen_when_the_table_shows_others(bench: Bench) -> None:
    bench.click_row("B02")
    verdict = next(verdict for name, _, _, verdict in bench.table() if name == "B02")
    other = next(v for v in LISTED if str(v) != verdict)
    bench.press(other)
    assert bench.chosen() == ["B02"]
    assert bench.chosen_rows() == []
    bench.press(other)
    assert bench.chosen_rows() == ["B02"]


def test_choosing_all_chooses_what_is_shown(bench: Bench) -> None:
    bench.press(Verdict.RESTING)
    bench.page.table.setFocus()
    QTest.keyClick(bench.page.table, Qt.Key.Key_A, Qt.KeyboardModifier.ControlModifier)
    assert sorted(bench.chosen()) == sorted(bench.names())


def test_the_table_is_ordered_by_a_click_on_a_heading(bench: Bench) -> None:
    header = bench.page.table.horizontalHeader()
    girth = COLUMNS.index(Column.GIRTH)
    middle = QPoint(header.sectionPosition(girth) + header.sectionSize(girth) // 2, header.height() // 2)
    QTest.mouseClick(header.viewport(), LEFT, pos=middle)
    known = [float(g) for _, g, _, _ in bench.table() if g != "–"]
    assert known == sorted(known)
    QTest.mouseClick(header.viewport(), LEFT, pos=middle)
    known = [float(g) for _, g, _, _ in bench.table() if g != "–"]
    assert known == sorted(known, reverse=True)
    assert [g for _, g, _, _ in bench.table()][len(known) :] == ["–"] * (len(bench.table()) - len(known))


def test_trees_are_marked_by_space_and_come_to_a_total(
    qtbot: QtBot, bench: Bench, wood: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    ready = [name for name, _, _, verdict in bench.table() if verdict == "ready"][:3]
    bench.click_row(ready[0])
    for name in ready[1:]:
        bench.click_row(name, with_key=Qt.KeyboardModifier.ControlModifier)
    assert bench.page.bar.press.text() == "mark 3 trees"
    with qtbot.waitSignal(bench.page.asked.answered):
        QTest.keyClick(bench.page.table, Qt.Key.Key_Space)
    assert bench.page.totals.marked.value.text() == "3 trees"
    assert " L" in bench.page.totals.night.value.text()
    assert bench.page.totals.night.toolTip()
    assert not [text for kind, text in bench.notices if kind == "caution"]
    taps = {
        name: bench.page.model.index(row, COLUMNS.index(Column.TAPS)).data(TEXT)
        for row, name in enumerate(bench.names())
    }
    assert {name for name, count in taps.items() if count} == set(ready)
    assert answer(capsys, "judge", str(wood), "--season", "2026")["counts"]["giving"] == 9  # nothing was drilled
    assert bench.page.bar.press.text() == "unmark 3 trees"
    with qtbot.waitSignal(bench.page.asked.answered):
        QTest.mouseClick(bench.page.bar.press, LEFT)
    assert bench.page.totals.marked.value.text() == "0 trees"
    assert bench.page.totals.night.value.text() == "–"
    with qtbot.waitSignal(bench.page.asked.answered):
        bench.desk.undo()
    assert bench.page.totals.marked.value.text() == "3 trees"


def test_a_tree_that_is_not_ready_is_marked_with_a_caution(qtbot: QtBot, bench: Bench) -> None:
    bench.press(Verdict.RESTING)
    name = bench.names()[0]
    bench.click_row(name)
    with qtbot.waitSignal(bench.page.asked.answered):
        QTest.mouseClick(bench.page.bar.press, LEFT)
    cautions = [text for kind, text in bench.notices if kind == "caution"]
    assert len(cautions) == 1
    assert f"{name} is not ready in 2026: resting" in cautions[0]


def test_many_that_are_not_ready_are_one_caution(qtbot: QtBot, bench: Bench) -> None:
    bench.press(Verdict.RESTING)
    bench.page.choose_shown()
    count = len(bench.names())
    with qtbot.waitSignal(bench.page.asked.answered):
        QTest.mouseClick(bench.page.bar.press, LEFT)
    (caution,) = [text for kind, text in bench.notices if kind == "caution"]
    *said, more = caution.splitlines()
    assert len(said) == 3
    assert "the limit of" in said[-1]
    assert (
        more == f"and {count + 2 - 3} more like these"
    )  # a shared root and an owner's limit are said beside the trees


def test_taps_are_chosen_and_changed(qtbot: QtBot, bench: Bench) -> None:
    (name, *_) = [name for name, _, _, verdict in bench.table() if verdict == "ready"]
    bench.click_row(name)
    with qtbot.waitSignal(bench.page.asked.answered):
        QTest.mouseClick(bench.page.bar.press, LEFT)
    assert bench.page.bar.press.text() == f"unmark {name}"
    bench.page.bar.holes.setFocus()
    QTest.keyClick(bench.page.bar.holes, Qt.Key.Key_Down)
    QTest.keyClick(bench.page.bar.holes, Qt.Key.Key_Down)
    assert bench.page.bar.holes.currentText() == "2 taps"
    assert bench.page.bar.press.text() == f"mark {name}"
    with qtbot.waitSignal(bench.page.asked.answered):
        QTest.mouseClick(bench.page.bar.press, LEFT)
    assert bench.page.totals.marked.value.text() == "1 tree, 2 taps"
    assert any("2 holes marked, 1 allowed" in text for kind, text in bench.notices if kind == "caution")


def test_nothing_is_marked_for_a_season_that_is_past(bench: Bench) -> None:
    bench.click_row("B07")
    bench.desk.set_season(2025)
    assert not bench.page.bar.press.isEnabled()
    assert "past" in bench.page.bar.press.toolTip()
    QTest.keyClick(bench.page.table, Qt.Key.Key_Space)
    assert bench.desk.seen is not None
    assert bench.desk.seen.plans == ()
    assert not bench.desk.busy


def test_a_season_of_the_strip_is_shown_on_page_and_map(qtbot: QtBot, bench: Bench) -> None:
    qtbot.waitUntil(lambda: bool(bench.strip.counted.seasons))
    cells = bench.strip.cells
    row = cells.seasons.row_of(2028)
    assert row is not None
    with qtbot.waitSignal(bench.page.asked.answered):
        QTest.mouseClick(cells.viewport(), LEFT, pos=cells.visualRect(cells.seasons.index(row)).center())
    assert bench.page.heading.text() == "Season 2028"
    assert "no more trees were tapped" in bench.page.about.text()
    assert np.array_equal(bench.canvas.scene.trees.codes, bench.desk.codes)
    counted = bench.strip.counted.seasons[row].counts
    assert {str(v): r.count for v, r in bench.page.verdicts.rows.items()} == counted


def test_tags_to_check_are_those_of_the_judging_and_can_be_chosen(
    bench: Bench, wood: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    told = answer(capsys, "judge", str(wood), "--season", "2026")["trees"]
    cautioned = [t["tree"] for t in told if any("check the tag" in c for c in t["cautions"])]
    seen = bench.desk.seen
    assert seen is not None
    rows = tags_to_check(seen.stand, 2026, bench.desk.codes, seen.rules)
    assert [seen.trees[row].name for row in rows] == cautioned
    assert bench.page.tags.isVisibleTo(bench.page.panel) == bool(cautioned)
    bench.page.choose_tags()
    assert bench.chosen() == cautioned


def test_marks_of_a_stand_that_is_only_looked_at_cannot_be_set(qtbot: QtBot, bench: Bench, wood: Path) -> None:
    other = Desk(Settings())
    page = ChoosePage(other, bench.canvas)
    qtbot.addWidget(page.panel)
    with qtbot.waitSignal(other.seen_changed):
        other.open_stand(wood)
    assert other.seen is not None
    other.choose([other.seen.trees[0].key])
    assert not page.bar.press.isEnabled()
    assert not page.bar.can_mark
    other.close_stand()
    other.deleteLater()


def test_every_action_of_the_page_has_a_title_and_keys_are_its_own(bench: Bench) -> None:
    actions = bench.page.actions()
    keys = [a.keys for a in actions if a.keys]
    assert len(keys) == len(set(keys))
    assert all(a.title and a.page == ("choose" if a.id.startswith("choose.") else None) for a in actions)
    by_id = {a.id: a for a in actions}
    seen = []
    for way in ("after", "after", "before", "this"):
        by_id[f"season.{way}"].run()
        seen.append(bench.desk.season)
    assert seen == [2027, 2028, 2027, 2026]
    by_id["choose.only_resting"].run()
    assert {verdict for *_, verdict in bench.table()} == {"resting"}
    by_id["choose.all"].run()
    by_id["choose.by_girth"].run()
    known = [float(g) for _, g, _, _ in bench.table() if g != "–"]
    assert known == sorted(known)


def test_measures_are_shown_in_the_units_that_are_set(bench: Bench) -> None:
    row = bench.names().index("B07")
    in_mm = float(bench.table()[row][1])
    bench.desk.settings = Settings(units="imperial")
    bench.desk.settings_changed.emit()
    assert bench.page.model.headerData(1, Qt.Orientation.Horizontal) == "girth in"
    assert abs(float(bench.table()[row][1]) - in_mm / 25.4) <= 0.05
    assert bench.page.model.index(row, 1).data(ALOUD).endswith(" in")


def test_a_stand_without_trees_says_what_to_do_first(
    qtbot: QtBot, bench: Bench, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["new", str(tmp_path / "empty.gpkg")]) == 0
    capsys.readouterr()
    with qtbot.waitSignal(bench.page.asked.answered):
        bench.desk.open_stand(tmp_path / "empty.gpkg")
    assert bench.page.empty.isVisible()
    assert not bench.page.table.isVisible()
    (go,) = bench.page.empty.findChildren(QPushButton)
    with qtbot.waitSignal(bench.desk.page_changed) as asked:
        QTest.mouseClick(go, LEFT)
    assert asked.args == ["survey"]


def test_the_heading_of_the_table_asks_nothing_of_its_rows(bench: Bench) -> None:
    """A heading that shows what is chosen below it would ask that of 100,000 rows at each paint."""
    bench.page.choose_shown()
    header = bench.page.table.horizontalHeader()
    assert header.selectionModel() is not bench.page.table.selectionModel()
    assert not header.selectionModel().hasSelection()
