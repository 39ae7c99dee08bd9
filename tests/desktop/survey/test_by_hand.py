"""Trees and ground put on the map by hand: by clicks, drags and keys, and typed."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from standmap.desktop.pages.survey.drafts import points_text
from standmap.jobs.opening import new_stand
from standmap.stand.ground import AreaKind, LineKind, PlaceKind
from tests.desktop.survey.survey_bench import Bench

Key, Button = Qt.Key, Qt.MouseButton
LONG = "x" * 10_000


@pytest.fixture
def empty(qtbot: QtBot, tmp_path: Path) -> Iterator[Bench]:
    path = tmp_path / "wood.gpkg"
    new_stand(path)
    made = Bench()
    qtbot.addWidget(made)
    made.open(qtbot, path)
    yield made
    made.desk.close_stand()


@pytest.fixture
def bench(qtbot: QtBot, alder_brook: Path) -> Iterator[Bench]:
    made = Bench()
    qtbot.addWidget(made)
    made.open(qtbot, alder_brook)
    made.settled(qtbot)
    yield made
    made.desk.close_stand()


def free_ground(bench: Bench) -> QPoint:
    """Return a place of the map where no tree stands."""
    for x in range(500, 1100, 20):
        for y in range(200, 700, 20):
            if all(bench.canvas.tree_at(QPoint(x + i, y + j).toPointF()) is None for i in (-9, 9) for j in (-9, 9)):
                return QPoint(x, y)
    raise AssertionError("no free ground")


def test_the_first_tree_is_typed(empty: Bench, qtbot: QtBot) -> None:
    page = empty.page
    qtbot.mouseClick(page.home.tree, Button.LeftButton)
    place = page.by_hand.place
    assert place.name.text() == "T1"
    assert place.spot.position.edit.hasFocus()
    qtbot.keyClicks(place.spot.position.edit, "95 200")
    qtbot.keyClick(place.spot.position.edit, Key.Key_Return)
    assert "latitude" in place.spot.position.wrong.text()
    assert place.spot.position.text() == "95 200"
    place.spot.position.edit.selectAll()
    qtbot.keyClicks(place.spot.position.edit, "58°19'2.4\"N 26°3'3.6\"E")
    qtbot.keyClicks(place.species.edit, "Betula pendula")
    qtbot.keyClicks(place.girth.edit, "84 cm")
    qtbot.keyClick(place.girth.edit, Key.Key_Return)
    empty.idle(qtbot)
    assert empty.desk.seen is not None
    (tree,) = empty.desk.seen.trees
    assert (tree.name, tree.species, tree.pinned) == ("T1", "Betula pendula", True)
    assert tree.at == pytest.approx((26.051, 58.317333333))
    assert empty.desk.seen.girth_mm.tolist() == [840.0]
    # The form is ready for the next one, and the map has a place now.
    assert place.name.text() == "T2"
    assert page.by_hand.gesture is not None


@pytest.mark.parametrize(
    ("name", "girth", "wrong_name", "wrong_girth"),
    [
        ("", "84", True, False),
        (LONG, "84", True, False),
        ("B01", "84", True, False),
        ("K1", "0", False, True),
        ("K1", "9 m", False, True),
        ("K1", "thick", False, True),
    ],
)
def test_what_cannot_be_is_said_beside_the_field(
    bench: Bench, qtbot: QtBot, name: str, girth: str, wrong_name: bool, wrong_girth: bool
) -> None:
    qtbot.mouseClick(bench.page.home.tree, Button.LeftButton)
    place = bench.page.by_hand.place
    bench.click(qtbot, free_ground(bench))
    place.name.set_text(name)
    place.girth.set_text(girth)
    qtbot.mouseClick(place.place, Button.LeftButton)
    bench.idle(qtbot)
    assert bool(place.name.wrong.text()) is wrong_name
    assert bool(place.girth.wrong.text()) is wrong_girth
    assert (place.name.text(), place.girth.text()) == (name, girth)
    assert bench.desk.seen is not None
    assert "K1" not in [t.name for t in bench.desk.seen.trees]


def test_a_tree_is_placed_by_a_click_and_names_in_any_script_are_kept(bench: Bench, qtbot: QtBot) -> None:
    qtbot.mouseClick(bench.page.home.tree, Button.LeftButton)
    place = bench.page.by_hand.place
    at = free_ground(bench)
    bench.click(qtbot, at)
    bench.drag(at, at + QPoint(30, 10))
    expected = bench.canvas.lonlat_at((at + QPoint(30, 10)).toPointF())
    assert expected is not None
    place.name.edit.selectAll()
    QApplication.clipboard().setText("שדר 🌳")
    qtbot.keyClick(place.name.edit, Key.Key_V, Qt.KeyboardModifier.ControlModifier)
    qtbot.mouseClick(place.place, Button.LeftButton)
    bench.idle(qtbot)
    assert bench.desk.seen is not None
    tree = bench.desk.seen.trees[-1]
    assert tree.name == "שדר 🌳"
    assert tree.at == pytest.approx(expected, abs=2e-7)


def test_an_unlikely_position_is_asked_about(bench: Bench, qtbot: QtBot) -> None:
    qtbot.mouseClick(bench.page.home.tree, Button.LeftButton)
    spot = bench.page.by_hand.place.spot
    qtbot.keyClicks(spot.position.edit, "58.9 26.05")
    qtbot.keyClick(spot.position.edit, Key.Key_Return)
    bench.idle(qtbot)
    assert "km from the stand's centre" in spot.position.wrong.text()
    assert bench.desk.seen is not None
    count = len(bench.desk.seen.trees)
    qtbot.mouseClick(spot.sure, Button.LeftButton)
    qtbot.mouseClick(bench.page.by_hand.place.place, Button.LeftButton)
    bench.idle(qtbot)
    assert len(bench.desk.seen.trees) == count + 1


def test_a_tree_moves_only_after_it_is_confirmed(bench: Bench, qtbot: QtBot) -> None:
    page, desk = bench.page, bench.desk
    assert desk.seen is not None
    tree = desk.seen.stand.tree("B07")
    # Dragging a tree without the gesture pushes the map and moves nothing.
    bench.drag(bench.px(tree.at), bench.px(tree.at) + QPoint(40, 0))
    bench.settled(qtbot)
    assert desk.seen.stand.tree("B07").at == tree.at
    desk.choose([tree.key])
    assert page.home.move_tree.text() == "move B07..."
    qtbot.mouseClick(page.home.move_tree, Button.LeftButton)
    assert not page.by_hand.move.move_it.isEnabled()
    goal = bench.px(tree.at) + QPoint(25, 0)
    bench.click(qtbot, goal)
    assert page.by_hand.move.how_far.text().endswith("from where it is now")
    qtbot.keyClick(bench.canvas, Key.Key_Escape)
    assert page.sheet is page.home
    assert desk.seen.stand.tree("B07").at == tree.at

    qtbot.keyClick(bench, Key.Key_M, Qt.KeyboardModifier.AltModifier)
    bench.click(qtbot, goal)
    qtbot.mouseClick(page.by_hand.move.move_it, Button.LeftButton)
    bench.idle(qtbot)
    moved = desk.seen.stand.tree("B07")
    assert moved.at != tree.at
    assert moved.pinned
    assert desk.seen.undo_label is not None
    assert desk.seen.undo_label.startswith("move B07")


def test_a_path_is_drawn_by_clicks_and_keys(bench: Bench, qtbot: QtBot) -> None:
    page, desk = bench.page, bench.desk
    qtbot.mouseClick(page.home.draw[LineKind.PATH], Button.LeftButton)
    draw = page.by_hand.draw
    spots = [QPoint(450, 200), QPoint(600, 260), QPoint(700, 420), QPoint(900, 500)]
    for at in spots:
        bench.click(qtbot, at)
    qtbot.keyClick(bench.canvas, Key.Key_Backspace)
    assert len(draw.draft.points) == 3
    bench.drag(spots[1], QPoint(620, 200))
    bench.click(qtbot, QPoint(660, 310))  # on the line from the second to the third: a point between them
    assert len(draw.draft.points) == 4
    assert len(draw.points.toPlainText().splitlines()) == 4
    qtbot.keyClicks(draw.name.edit, "ridge path")
    qtbot.keyClick(bench.canvas, Key.Key_Return)
    bench.idle(qtbot)
    assert page.sheet is page.home
    assert desk.seen is not None
    line = desk.seen.stand.lines[-1]
    assert (line.kind, line.name, len(line.course)) == (LineKind.PATH, "ridge path", 4)
    second = bench.canvas.lonlat_at(QPoint(620, 200).toPointF())
    assert second is not None
    assert line.course[1] == pytest.approx(second, abs=2e-7)


def test_an_area_is_typed_with_its_owner_and_dates(bench: Bench, qtbot: QtBot) -> None:
    page, desk = bench.page, bench.desk
    assert desk.seen is not None
    before = len(desk.seen.stand.areas)
    qtbot.mouseClick(page.home.draw[AreaKind.PERMITTED], Button.LeftButton)
    draw = page.by_hand.draw
    assert not draw.keep.isEnabled()
    ring = ((26.05, 58.317), (26.051, 58.317), (26.051, 58.318))
    for line in points_text(ring).splitlines():
        assert not draw.keep.isEnabled()
        qtbot.keyClicks(draw.points, line)
        qtbot.keyClick(draw.points, Key.Key_Return)
    assert draw.keep.isEnabled()
    qtbot.keyClicks(draw.owner.edit, "the commons board")
    qtbot.keyClicks(draw.from_day.edit, "2026-04-30")
    qtbot.keyClicks(draw.until_day.edit, "2026-03-01")
    qtbot.keyClicks(draw.most.edit, "many")
    qtbot.keyClick(draw.most.edit, Key.Key_Return)
    assert "no number of trees" in draw.most.wrong.text()
    draw.most.edit.selectAll()
    qtbot.keyClicks(draw.most.edit, "8")
    qtbot.keyClick(draw.most.edit, Key.Key_Return)
    assert draw.until_day.wrong.text() == "the permission would end before it begins"
    draw.from_day.edit.selectAll()
    qtbot.keyClicks(draw.from_day.edit, "2026-02-01")
    qtbot.mouseClick(draw.keep, Button.LeftButton)
    bench.idle(qtbot)
    assert desk.seen is not None
    assert len(desk.seen.stand.areas) == before + 1
    area = desk.seen.stand.areas[-1]
    assert (area.owner, area.most_trees, area.from_date) == ("the commons board", 8, date(2026, 2, 1))
    assert area.outline[0][:-1] == ring


def test_an_outline_that_crosses_itself_is_refused_beside_its_points(bench: Bench, qtbot: QtBot) -> None:
    qtbot.mouseClick(bench.page.home.draw[AreaKind.NO_GO], Button.LeftButton)
    draw = bench.page.by_hand.draw
    for at in (QPoint(450, 200), QPoint(700, 400), QPoint(700, 200), QPoint(450, 400)):
        bench.click(qtbot, at)
    qtbot.keyClick(bench.canvas, Key.Key_Return)
    bench.idle(qtbot)
    assert draw.points_wrong.text().startswith("the outline crosses itself")
    assert len(draw.draft.points) == 4


def test_a_bridge_goes_onto_its_stream_and_is_taken_out_again(bench: Bench, qtbot: QtBot) -> None:
    page, desk = bench.page, bench.desk
    assert desk.seen is not None
    stream = next(line for line in desk.seen.stand.lines if line.kind is LineKind.STREAM)
    qtbot.mouseClick(page.home.draw[PlaceKind.BRIDGE], Button.LeftButton)
    bench.click(qtbot, bench.px(stream.course[2]) + QPoint(4, 0))
    qtbot.keyClick(bench.canvas, Key.Key_Return)
    bench.idle(qtbot)
    assert desk.seen is not None
    bridge = desk.seen.stand.places[-1]
    assert bridge.kind is PlaceKind.BRIDGE
    rows = [page.home.ground.item(i) for i in range(page.home.ground.count())]
    row = next(r for r in rows if r.data(Qt.ItemDataRole.UserRole) == bridge.key)
    page.home.ground.scrollToItem(row)
    middle = page.home.ground.visualItemRect(row).center()
    qtbot.mouseClick(page.home.ground.viewport(), Button.LeftButton, pos=middle)
    qtbot.mouseClick(page.home.remove, Button.LeftButton)
    bench.idle(qtbot)
    assert bridge.key not in [p.key for p in desk.seen.stand.places]
    assert "removed: bridge; undo brings it back" in bench.notices


def test_a_line_is_changed_by_dragging_and_the_rest_of_it_stays_exact(bench: Bench, qtbot: QtBot) -> None:
    page, desk = bench.page, bench.desk
    assert desk.seen is not None
    path = next(line for line in desk.seen.stand.lines if line.kind is LineKind.PATH)
    row = next(
        i
        for i in range(page.home.ground.count())
        if page.home.ground.item(i).data(Qt.ItemDataRole.UserRole) == path.key
    )
    page.home.ground.setCurrentRow(row)
    bench.settled(qtbot)
    qtbot.mouseClick(page.home.edit, Button.LeftButton)
    number = len(path.course) // 2
    start = bench.px(path.course[number])
    bench.drag(start, start + QPoint(0, 40))
    qtbot.mouseClick(page.by_hand.draw.keep, Button.LeftButton)
    bench.idle(qtbot)
    fresh = next(line for line in desk.seen.stand.lines if line.key == path.key)
    changed = [i for i, (a, b) in enumerate(zip(path.course, fresh.course, strict=True)) if a != b]
    assert changed == [number]


def test_leaving_the_page_puts_the_gesture_away_and_coming_back_takes_it_up(bench: Bench, qtbot: QtBot) -> None:
    page = bench.page
    assert bench.desk.seen is not None
    before = bench.desk.seen.stand.lines
    qtbot.mouseClick(page.home.draw[LineKind.FENCE], Button.LeftButton)
    bench.click(qtbot, QPoint(450, 200))
    page.shown = False
    page.left()
    bench.content.clear_for_page()
    page.shown = True
    page.entered()
    bench.click(qtbot, QPoint(650, 300))
    assert len(page.by_hand.draw.draft.points) == 2
    qtbot.keyClick(bench.canvas, Key.Key_Escape)
    assert page.sheet is page.home
    assert bench.desk.seen.stand.lines == before
