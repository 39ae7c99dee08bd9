"""From an empty stand to a plotted one: files dropped or chosen, looked through on the map, stored, confirmed."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from datetime import datetime
from pathlib import Path

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtWidgets import QFileDialog, QWidget
from pytestqt.qtbot import QtBot

from standmap.assets import sample_stand
from standmap.cli.main import run
from standmap.desktop.pages.survey import bringing
from standmap.jobs.bring import BringOptions
from standmap.jobs.opening import new_stand
from standmap.jobs.review import Fate, Kind, Proposal, Verb, propose
from standmap.messages import Messages
from standmap.progress import Progress
from standmap.store.stand_file import StandFile
from tests.desktop.survey.survey_bench import Bench, bare

FILES = ("ground.geojson", "trees.csv", "walk.gpx", "measurements.csv")
Key, Button = Qt.Key, Qt.MouseButton


@pytest.fixture
def paths() -> list[Path]:
    return [sample_stand("alder-brook", name) for name in FILES]


@pytest.fixture
def bench(qtbot: QtBot, tmp_path: Path) -> Iterator[Bench]:
    path = tmp_path / "wood.gpkg"
    new_stand(path)
    made = Bench()
    qtbot.addWidget(made)
    made.open(qtbot, path)
    yield made
    made.desk.close_stand()


def shown(bench: Bench) -> QWidget:
    return bench.page.sheet


def begin(bench: Bench, qtbot: QtBot, paths: list[Path]) -> None:
    bench.page.bring_files(paths)
    bench.idle(qtbot)
    assert shown(bench) is bench.page.bringing.sheet
    bench.settled(qtbot)


def test_choose_look_ignore_store_confirm_equals_the_command_line(
    bench: Bench, qtbot: QtBot, paths: list[Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    page, desk = bench.page, bench.desk
    assert page.home.title.text() == "An empty stand"
    monkeypatch.setattr(QFileDialog, "getOpenFileNames", lambda *_: ([str(p) for p in paths], ""))
    qtbot.mouseClick(page.home.files, Button.LeftButton)
    bench.idle(qtbot)
    review, sheet = page.bringing.review, page.bringing.sheet
    assert review is not None
    bench.settled(qtbot)
    with StandFile.open(tmp_path / "wood.gpkg", read_only=True) as file:
        assert (file.stand().trees, file.history()) == ((), ())

    # A click on the map looks at the item that lies there; its row is chosen in the list.
    item = next(i for i in review.items if i.kind is Kind.STOP and i.fate is Fate.NEW)
    assert item.at is not None
    bench.click(qtbot, bench.px(item.at))
    assert sheet.item is item
    assert sheet.list.items.item(sheet.list.currentIndex()) is item
    before = review.new_trees
    qtbot.mouseClick(sheet.ignore, Button.LeftButton)
    assert review.new_trees == before - 1
    assert sheet.store.text() == f"store {before - 1} trees"
    qtbot.mouseClick(sheet.store, Button.LeftButton)
    bench.idle(qtbot)
    assert shown(bench) is page.home
    assert page.bringing.review is None
    assert desk.seen is not None
    waiting = sum(t.proposed for t in desk.seen.trees)
    assert page.home.confirm_all.text() == f"confirm all {waiting}"
    qtbot.mouseClick(page.home.confirm_all, Button.LeftButton)
    bench.idle(qtbot)
    assert not page.home.waiting.isVisible()

    # The same by the command line.
    monkeypatch.chdir(tmp_path)
    assert run(["new", "typed.gpkg"]) == 0
    assert run(["bring", "typed.gpkg", *map(str, paths), "--review", "out.json"]) == 0
    held = json.loads(Path("out.json").read_text())
    for one in held["items"]:
        if one["id"] == item.id:
            one["decision"] = "ignore"
    Path("out.json").write_text(json.dumps(held))
    assert run(["bring", "typed.gpkg", "--decide", "out.json"]) == 0
    assert run(["confirm", "typed.gpkg", "--all"]) == 0
    desk.close_stand()
    assert bare(tmp_path / "wood.gpkg") == bare(tmp_path / "typed.gpkg")


def test_keys_alone_decide_and_the_list_follows(bench: Bench, qtbot: QtBot, paths: list[Path]) -> None:
    begin(bench, qtbot, paths)
    review, sheet = bench.page.bringing.review, bench.page.bringing.sheet
    assert review is not None
    assert sheet.list.hasFocus()
    qtbot.keyClick(sheet.list, Key.Key_Down)
    qtbot.keyClick(sheet.list, Key.Key_Down)
    item = sheet.item
    assert item is not None
    assert bench.page.bringing.overlay is not None
    assert bench.page.bringing.overlay.current == review.row_of[item.id]
    qtbot.keyClick(bench, Key.Key_I)
    assert review.decision(item).verb is Verb.IGNORE
    qtbot.keyClick(bench, Key.Key_A)
    assert review.decision(item).verb is Verb.ACCEPT
    sheet.look_at(next(r for r, i in enumerate(review.items) if i.kind is Kind.STOP and i.fate is Fate.NEW))
    item = sheet.item
    assert item is not None
    qtbot.keyClick(bench, Key.Key_M)
    assert sheet.merging.isVisible()
    assert sheet.near.count() == 3
    qtbot.keyClicks(sheet.merge_into.edit, "nobody")
    qtbot.keyClick(sheet.merge_into.edit, Key.Key_Return)
    assert sheet.merge_into.wrong.text().startswith("no tree is called 'nobody'")
    assert sheet.merge_into.text() == "nobody"
    sheet.merge_into.edit.selectAll()
    qtbot.keyClicks(sheet.merge_into.edit, "B07")
    qtbot.keyClick(sheet.merge_into.edit, Key.Key_Return)
    target = review.target(item)
    assert target is not None
    assert target.name == "B07"
    assert sheet.outcome.text() == "goes to B07"
    qtbot.keyClick(bench, Key.Key_Return, Qt.KeyboardModifier.ControlModifier)
    bench.idle(qtbot)
    seen = bench.desk.seen
    assert seen is not None
    named = {t.key: t.name for t in seen.trees}
    stop = next(s for s in seen.stops if s.at == item.at)
    assert named[stop.tree_key or ""] == "B07"


def test_filters_show_what_is_asked_for(bench: Bench, qtbot: QtBot, paths: list[Path]) -> None:
    begin(bench, qtbot, paths)
    sheet, review = bench.page.bringing.sheet, bench.page.bringing.review
    assert review is not None
    qtbot.mouseClick(sheet.filters[Fate.MATCHED], Button.LeftButton)
    shown = {review.items[row].fate for row in sheet.list.items.rows}
    assert shown == {Fate.MATCHED}
    # Looking at one that is not shown, on the map, shows all again.
    item = next(i for i in review.items if i.kind is Kind.STOP and i.fate is Fate.NEW)
    assert item.at is not None
    bench.click(qtbot, bench.px(item.at))
    assert sheet.item is item
    assert len(sheet.list.items.rows) == len(review.items)


def test_a_review_is_kept_until_it_is_left(bench: Bench, qtbot: QtBot, paths: list[Path]) -> None:
    begin(bench, qtbot, paths)
    page, sheet = bench.page, bench.page.bringing.sheet
    review = page.bringing.review
    assert review is not None
    qtbot.keyClick(bench, Key.Key_I)
    decided = dict(review.decisions)
    qtbot.keyClick(bench, Key.Key_Left, Qt.KeyboardModifier.AltModifier)
    assert shown(bench) is page.home
    qtbot.mouseClick(page.home.back, Button.LeftButton)
    assert shown(bench) is sheet
    assert review.decisions == decided
    qtbot.mouseClick(sheet.discard, Button.LeftButton)
    assert shown(bench) is page.home
    assert not page.home.back.isVisible()
    assert bench.desk.seen is not None
    assert bench.desk.seen.trees == ()


def test_more_files_are_looked_through_with_those_that_wait(bench: Bench, qtbot: QtBot, paths: list[Path]) -> None:
    begin(bench, qtbot, paths[:2])
    page = bench.page
    review = page.bringing.review
    assert review is not None
    first = next(i for i in review.items if i.kind is Kind.TREE)
    page.bringing.sheet.look_at(review.row_of[first.id])
    qtbot.keyClick(bench, Key.Key_I)
    begin(bench, qtbot, paths[2:])
    again = page.bringing.review
    assert again is not None
    assert len(again.proposal.readings) == 4
    assert again.decisions == review.decisions


def test_a_file_at_fault_is_named_and_the_rest_is_kept(bench: Bench, qtbot: QtBot, tmp_path: Path) -> None:
    path = tmp_path / "grid.csv"
    path.write_text("name,x,y\nB1,531500,6863500\n")
    bench.page.bring_files([path])
    bench.idle(qtbot)
    reading = bench.page.bringing.reading
    assert shown(bench) is reading
    assert "grid.csv" in reading.wrong.text()
    qtbot.keyClicks(reading.grid.edit, "thirty")
    qtbot.mouseClick(reading.again, Button.LeftButton)
    assert "no EPSG code" in reading.grid.wrong.text()
    reading.grid.edit.selectAll()
    qtbot.keyClicks(reading.grid.edit, "3067")
    qtbot.mouseClick(reading.again, Button.LeftButton)
    bench.idle(qtbot)
    assert bench.page.bringing.review is not None
    assert [i.name for i in bench.page.bringing.review.items] == ["B1"]


def test_reading_can_be_stopped(bench: Bench, qtbot: QtBot, paths: list[Path], monkeypatch: pytest.MonkeyPatch) -> None:
    def held_up(
        file: StandFile, paths: Sequence[Path], options: BringOptions, now: datetime, notes: Messages, watch: Progress
    ) -> Proposal:
        while not watch.stop_wanted():
            watch.at(1, 4, "walk.gpx")
        return propose(file, paths, options, now, notes, watch)

    monkeypatch.setattr(bringing, "propose", held_up)
    reading = bench.page.bringing.reading
    bench.page.bring_files(paths)
    assert shown(bench) is reading
    qtbot.waitUntil(lambda: reading.bar.value() == reading.bar.maximum() // 4 > 0, timeout=10_000)
    assert reading.doing.text() == "walk.gpx"
    qtbot.mouseClick(reading.cancel, Button.LeftButton)
    bench.idle(qtbot)
    assert shown(bench) is bench.page.home
    assert bench.page.bringing.review is None
    assert bench.desk.seen is not None
    assert bench.desk.seen.trees == ()


def test_a_doubtful_item_is_taken_anyway_and_a_matched_one_split(bench: Bench, qtbot: QtBot, tmp_path: Path) -> None:
    head = "name,lon,lat,species\n"
    (tmp_path / "one.csv").write_text(head + "B1,26.05,58.317,\nB2,26.051,58.317,\n")
    (tmp_path / "two.csv").write_text(head + "B1,26.0501,58.317,\nF1,26.5,58.317,\nL1,nan,58.3,\n")
    begin(bench, qtbot, [tmp_path / "one.csv"])
    qtbot.mouseClick(bench.page.bringing.sheet.store, Button.LeftButton)
    bench.idle(qtbot)
    begin(bench, qtbot, [tmp_path / "two.csv"])
    sheet, review = bench.page.bringing.sheet, bench.page.bringing.review
    assert review is not None
    qtbot.keyClick(bench, Key.Key_D)
    assert sheet.item is not None
    assert (sheet.item.name, sheet.outcome.text(), sheet.accept.text()) == ("F1", "left out", "accept anyway")
    assert "km from the stand's centre" in sheet.why.text()
    assert not sheet.split.isEnabled()
    assert sheet.split.toolTip().startswith("only for a match")
    qtbot.mouseClick(sheet.accept, Button.LeftButton)
    assert sheet.outcome.text() == "new tree"
    # A click on the known tree looks at the item that is matched to it.
    assert bench.desk.seen is not None
    known = bench.desk.seen.stand.tree("B1")
    bench.canvas.fit()
    bench.settled(qtbot)
    bench.click(qtbot, bench.px(known.at))
    assert sheet.item.name == "B1"
    assert sheet.outcome.text() == "is B1, 5.9 m off"
    assert sheet.split.isEnabled()
    assert "only for" not in sheet.split.toolTip()
    qtbot.keyClick(bench, Key.Key_S)
    assert sheet.outcome.text() == "a tree of its own"
    sheet.look_at(next(r for r, i in enumerate(review.items) if i.fate is Fate.REFUSED))
    assert "not a number" in sheet.why.text()
    assert not any(b.isEnabled() for b in (sheet.accept, sheet.merge, sheet.split, sheet.ignore))
    assert sheet.store.text() == "store 2 trees"
    qtbot.mouseClick(sheet.store, Button.LeftButton)
    bench.idle(qtbot)
    assert [t.name for t in bench.desk.seen.trees] == ["B1", "B2", "B1-2", "F1"]


def test_a_stand_that_changed_meanwhile_is_looked_at_again(
    bench: Bench, qtbot: QtBot, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    head = "name,lon,lat,species\n"
    (tmp_path / "one.csv").write_text(head + "B1,26.05,58.317,\nB2,26.051,58.317,\n")
    (tmp_path / "other.csv").write_text(head + "B1,26.05,58.317,Betula pendula\n")
    begin(bench, qtbot, [tmp_path / "one.csv"])
    page = bench.page
    review = page.bringing.review
    assert review is not None
    page.bringing.sheet.look_at(1)
    qtbot.keyClick(bench, Key.Key_I)
    monkeypatch.chdir(tmp_path)
    assert run(["bring", "wood.gpkg", "other.csv"]) == 0
    qtbot.mouseClick(page.bringing.sheet.store, Button.LeftButton)
    qtbot.waitUntil(lambda: page.bringing.review is not review, timeout=10_000)
    bench.idle(qtbot)
    again = page.bringing.review
    assert again is not None
    assert [i.fate for i in again.items] == [Fate.MATCHED, Fate.NEW]
    assert again.decision(again.items[1]).verb is Verb.IGNORE
    assert bench.desk.seen is not None


def test_every_button_and_field_can_be_named(bench: Bench, qtbot: QtBot, paths: list[Path]) -> None:
    from PySide6.QtWidgets import QAbstractItemView, QComboBox, QLineEdit, QPlainTextEdit, QPushButton

    begin(bench, qtbot, paths)
    for kind in (QPushButton, QLineEdit, QPlainTextEdit, QComboBox, QAbstractItemView):
        for widget in bench.page.panel.findChildren(kind):
            if widget.isVisible():
                assert widget.accessibleName(), widget
    index = bench.page.bringing.sheet.list.items.index(0)
    assert "," in str(index.data(Qt.ItemDataRole.AccessibleTextRole))
    assert bench.px((26.05, 58.317)) != QPoint()
