"""What a person does while something by hand is still being written: press again, go on, go elsewhere."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QPushButton
from pytestqt.qtbot import QtBot

from standmap.desktop.desk import Desk
from standmap.desktop.pages.survey.page import SurveyPage
from standmap.desktop.window import Window
from standmap.settings import Settings
from standmap.stand.ground import LineKind, PlaceKind

Key, Modifier = Qt.Key, Qt.KeyboardModifier
LEFT = Qt.MouseButton.LeftButton
PATH = ("58.317000 26.050000", "58.317500 26.050500")


@pytest.fixture
def window(qtbot: QtBot, alder_brook: Path) -> Iterator[Window]:
    made = Window(Desk(Settings()))
    qtbot.addWidget(made)
    made.show()
    made.desk.open_stand(alder_brook)
    qtbot.waitUntil(lambda: made.desk.seen is not None, timeout=15_000)
    made.show_page("survey")
    made.canvas.fit(animated=False)
    made.activateWindow()
    QTest.qWaitForWindowActive(made)
    yield made
    made.desk.close_stand()


@pytest.fixture
def page(window: Window) -> SurveyPage:
    page = window.pages["survey"]
    assert isinstance(page, SurveyPage)
    return page


def twice(button: QPushButton) -> None:
    """Press a button as by a double click."""
    QTest.mouseClick(button, LEFT)
    QTest.mouseDClick(button, LEFT)


def written(window: Window, qtbot: QtBot) -> None:
    qtbot.waitUntil(lambda: not window.desk.busy, timeout=30_000)
    QApplication.processEvents()


def names(window: Window) -> list[str]:
    assert window.desk.seen is not None
    return [t.name for t in window.desk.seen.trees]


def begin_to_place(page: SurveyPage, qtbot: QtBot, at: str = "58.317100 26.050100") -> None:
    QTest.mouseClick(page.home.tree, LEFT)
    qtbot.keyClicks(page.by_hand.place.spot.position.edit, at)


def test_a_gate_kept_by_a_double_click_is_one_gate(window: Window, page: SurveyPage, qtbot: QtBot) -> None:
    assert window.desk.seen is not None
    before = len(window.desk.seen.stand.places)
    QTest.mouseClick(page.home.draw[PlaceKind.GATE], LEFT)
    qtbot.keyClicks(page.by_hand.draw.points, PATH[0])
    twice(page.by_hand.draw.keep)
    written(window, qtbot)
    assert len(window.desk.seen.stand.places) == before + 1
    assert page.sheet is page.home


def test_a_tree_placed_by_a_double_click_is_one_tree(window: Window, page: SurveyPage, qtbot: QtBot) -> None:
    before = len(names(window))
    notices: list[str] = []
    window.desk.notice.connect(lambda kind, _: notices.append(kind))
    begin_to_place(page, qtbot)
    twice(page.by_hand.place.place)
    written(window, qtbot)
    assert len(names(window)) == before + 1
    assert "error" not in notices
    assert page.by_hand.place.spot.position.wrong.text() == ""


def test_what_is_removed_or_confirmed_twice_is_so_once(window: Window, page: SurveyPage, qtbot: QtBot) -> None:
    notices: list[tuple[str, str]] = []
    window.desk.notice.connect(lambda kind, text: notices.append((kind, text)))
    page.home.ground.setCurrentRow(0)
    twice(page.home.remove)
    written(window, qtbot)
    twice(page.home.confirm_all)
    written(window, qtbot)
    assert [kind for kind, _ in notices] == ["tell", "tell"]


def test_done_before_a_tree_is_placed_stays_done(window: Window, page: SurveyPage, qtbot: QtBot) -> None:
    begin_to_place(page, qtbot)
    QTest.mouseClick(page.by_hand.place.place, LEFT)
    QTest.mouseClick(page.by_hand.place.leave, LEFT)
    chosen = window.desk.chosen
    written(window, qtbot)
    assert page.sheet is page.home
    assert page.by_hand.gesture is None
    assert window.desk.chosen == chosen
    # Begun again, the form is fresh.
    QTest.mouseClick(page.home.tree, LEFT)
    assert page.by_hand.place.spot.position.text() == ""
    assert page.by_hand.place.name.text() not in names(window)


def test_the_next_position_can_be_typed_at_once(window: Window, page: SurveyPage, qtbot: QtBot) -> None:
    place = page.by_hand.place
    begin_to_place(page, qtbot)
    QTest.mouseClick(place.place, LEFT)
    place.spot.position.edit.setFocus()
    place.spot.position.edit.selectAll()
    qtbot.keyClicks(place.spot.position.edit, "58.3173 26.0503")
    written(window, qtbot)
    assert place.spot.position.text() == "58.3173 26.0503"
    assert place.name.text() not in names(window)  # the name was not typed: it is the next one
    count = len(names(window))
    qtbot.keyClick(place.spot.position.edit, Key.Key_Return)
    written(window, qtbot)
    assert len(names(window)) == count + 1
    assert window.desk.seen is not None
    assert window.desk.seen.trees[-1].at == pytest.approx((26.0503, 58.3173))


def test_another_tree_chosen_on_another_page_stays_chosen(window: Window, page: SurveyPage, qtbot: QtBot) -> None:
    begin_to_place(page, qtbot)
    QTest.mouseClick(page.by_hand.place.place, LEFT)
    qtbot.keyClick(window, Key.Key_2, Modifier.ControlModifier)
    assert window.desk.seen is not None
    other = window.desk.seen.stand.tree("B10").key
    window.desk.choose([other])
    written(window, qtbot)
    assert window.desk.chosen == (other,)
    assert window.page is window.pages["choose"]
    assert not page.panel.isAncestorOf(QApplication.focusWidget() or window)


def test_a_tree_placed_and_nothing_else_done_is_chosen(window: Window, page: SurveyPage, qtbot: QtBot) -> None:
    before = set(names(window))
    begin_to_place(page, qtbot)
    QTest.mouseClick(page.by_hand.place.place, LEFT)
    written(window, qtbot)
    assert window.desk.chosen_tree is not None
    assert window.desk.chosen_tree.name not in before
    assert page.sheet is page.by_hand.place
    assert page.by_hand.place.spot.position.text() == ""


def test_a_form_begun_while_a_path_is_kept_stays(window: Window, page: SurveyPage, qtbot: QtBot) -> None:
    draw = page.by_hand.draw
    QTest.mouseClick(page.home.draw[LineKind.PATH], LEFT)
    for line in PATH:
        qtbot.keyClicks(draw.points, line)
        qtbot.keyClick(draw.points, Key.Key_Return)
    QTest.mouseClick(draw.keep, LEFT)
    qtbot.keyClick(window, Key.Key_T, Modifier.AltModifier)
    written(window, qtbot)
    assert page.sheet is page.by_hand.place


def test_the_move_form_follows_the_tree_on_the_card(window: Window, page: SurveyPage, qtbot: QtBot) -> None:
    desk, move = window.desk, page.by_hand.move
    assert desk.seen is not None
    first, other = (desk.seen.stand.tree(name) for name in ("B07", "B10"))
    desk.choose([first.key])
    qtbot.keyClick(window, Key.Key_M, Modifier.AltModifier)
    qtbot.keyClicks(move.spot.position.edit, f"{first.at[1] + 1e-4:.7f} {first.at[0]:.7f}")
    desk.choose([other.key])
    assert move.title.text() == "Move B10"
    assert move.spot.position.text() == ""
    assert move.isVisible()
    desk.choose([])
    assert page.sheet is page.home


def test_the_move_form_closes_when_its_tree_is_undone(window: Window, page: SurveyPage, qtbot: QtBot) -> None:
    begin_to_place(page, qtbot)
    QTest.mouseClick(page.by_hand.place.place, LEFT)
    written(window, qtbot)
    QTest.mouseClick(page.by_hand.place.leave, LEFT)
    QTest.mouseClick(page.home.move_tree, LEFT)
    assert page.by_hand.move.isVisible()
    window.canvas.setFocus()
    qtbot.keyClick(window.canvas, Key.Key_Z, Modifier.ControlModifier)
    written(window, qtbot)
    assert page.sheet is page.home


def on_map(window: Window, *places: tuple[int, int]) -> None:
    for place in places:
        QTest.mouseMove(window.canvas, QPoint(*place))
        QTest.mouseClick(window.canvas, LEFT, pos=QPoint(*place))


@pytest.mark.parametrize("question", ["measure.line", "where.point", "map.round", "map.rectangle"])
def test_a_path_is_drawn_on_after_a_question_to_the_map(
    window: Window, page: SurveyPage, qtbot: QtBot, question: str
) -> None:
    draw = page.by_hand.draw
    QTest.mouseClick(page.home.draw[LineKind.PATH], LEFT)
    on_map(window, (450, 200), (600, 260))
    window.actions_list.run(window.actions_list.get(question))
    if question in ("measure.line", "where.point"):
        on_map(window, (700, 300))
        qtbot.keyClick(window.canvas, Key.Key_Escape)
        qtbot.keyClick(window.canvas, Key.Key_Escape) if question == "measure.line" else None
    else:
        QTest.mousePress(window.canvas, LEFT, pos=QPoint(400, 100))
        QTest.mouseMove(window.canvas, QPoint(900, 100))
        QTest.mouseMove(window.canvas, QPoint(900, 600))
        QTest.mouseRelease(window.canvas, LEFT, pos=QPoint(900, 600))
    assert len(draw.draft.points) == 2
    assert window.canvas.gesture is page.by_hand.gesture
    on_map(window, (800, 420))
    assert len(draw.draft.points) == 3
    qtbot.keyClick(window.canvas, Key.Key_Return)
    written(window, qtbot)
    assert window.desk.seen is not None
    assert len(window.desk.seen.stand.lines[-1].course) == 3


def test_undo_takes_back_points_as_long_as_there_are_any(window: Window, page: SurveyPage, qtbot: QtBot) -> None:
    assert window.desk.seen is not None
    label, draw = window.desk.seen.undo_label, page.by_hand.draw
    assert label is not None
    QTest.mouseClick(page.home.draw[LineKind.PATH], LEFT)
    on_map(window, (450, 200), (600, 260))
    qtbot.keyClick(window.canvas, Key.Key_Z, Modifier.ControlModifier)
    assert len(draw.draft.points) == 1
    qtbot.keyClick(window.canvas, Key.Key_Backspace)
    assert len(draw.draft.points) == 0
    written(window, qtbot)
    assert window.desk.seen.undo_label == label
    qtbot.keyClick(window.canvas, Key.Key_Z, Modifier.ControlModifier)
    written(window, qtbot)
    assert window.desk.seen.undo_label != label


@pytest.mark.parametrize("text", ["abc", "99 26"])
def test_points_that_are_none_are_said_beside_the_field(
    window: Window, page: SurveyPage, qtbot: QtBot, text: str
) -> None:
    draw = page.by_hand.draw
    QTest.mouseClick(page.home.draw[LineKind.PATH], LEFT)
    QTest.mouseClick(draw.points.viewport(), LEFT)
    qtbot.keyClicks(draw.points, text)
    assert draw.points_wrong.text() == ""  # nobody is blamed while typing
    QTest.mouseClick(draw.name.edit, LEFT)
    draw.name.edit.setFocus()
    assert draw.points_wrong.text().startswith("line 1: ")
    assert draw.points.toPlainText() == text
    QTest.mouseClick(draw.keep, LEFT)
    written(window, qtbot)
    assert draw.points_wrong.isVisible()
    assert page.sheet is draw
    draw.points.setFocus()
    draw.points.selectAll()
    qtbot.keyClicks(draw.points, PATH[0])
    assert draw.points_wrong.text() == ""


def test_points_are_typed_on_a_grid(window: Window, page: SurveyPage, qtbot: QtBot) -> None:
    from pyproj import Transformer

    draw = page.by_hand.draw
    ends = [(26.05, 58.317), (26.0505, 58.3175)]
    to_grid = Transformer.from_crs(4326, 32635, always_xy=True)
    QTest.mouseClick(page.home.draw[LineKind.PATH], LEFT)
    qtbot.keyClicks(draw.grid.edit, "32635")
    for at in ends:
        east, north = to_grid.transform(*at)
        qtbot.keyClicks(draw.points, f"{east:.3f} {north:.3f}")
        qtbot.keyClick(draw.points, Key.Key_Return)
    QTest.mouseClick(draw.keep, LEFT)
    written(window, qtbot)
    assert window.desk.seen is not None
    for kept, meant in zip(window.desk.seen.stand.lines[-1].course, ends, strict=True):
        assert kept == pytest.approx(meant, abs=1e-7)
