"""Measuring, where a point is, north and scale: by pointer and by keyboard, in the window itself."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtGui import QGuiApplication
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QPushButton
from pytestqt.qtbot import QtBot

from standmap.cli.main import run
from standmap.desktop.desk import Desk
from standmap.desktop.measuring.measure import Measure, What
from standmap.desktop.window import Window
from standmap.settings import Settings
from standmap.survey.frame import true_distance
from standmap.survey.scale_bar import scale_bar
from standmap.units_shown import System, UnitsShown

Key = Qt.Key
LEFT = Qt.MouseButton.LeftButton


@pytest.fixture(params=[Settings()], ids=["metric"])
def settings(request: pytest.FixtureRequest) -> Settings:
    held: Settings = request.param
    return held


@pytest.fixture
def window(qtbot: QtBot, alder_brook: Path, settings: Settings) -> Iterator[Window]:
    made = Window(Desk(settings))
    made.resize(1280, 800)
    made.show()
    with qtbot.waitSignal(made.desk.seen_changed, timeout=20_000):
        made.desk.open_stand(alder_brook)
    made.canvas.fit(animated=False)
    yield made
    made.close()
    made.deleteLater()


def spot(window: Window, name: str) -> QPoint:
    seen = window.desk.seen
    assert seen is not None
    row = [t.name for t in seen.trees].index(name)
    x, y = window.canvas.camera.point_to_screen(*seen.xy[row].tolist())
    return QPoint(round(x), round(y))


def apart_m(window: Window, *names: str) -> float:
    seen = window.desk.seen
    assert seen is not None
    at = [seen.stand.tree(name).at for name in names]
    return sum(map(true_distance, at[:-1], at[1:]))


def click(window: Window, *names: str) -> None:
    for name in names:
        QTest.mouseClick(window.canvas, LEFT, pos=spot(window, name))


def lines(window: Window) -> list[str]:
    assert window.tools.measuring is not None
    return window.tools.measuring.lines


def act(window: Window, number: str) -> None:
    next(a for a in window.tools.actions() if a.id == number).run()


# Measuring


def test_a_line_from_tree_to_tree_is_what_the_command_line_says(
    window: Window, alder_brook: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    QTest.keyClick(window, Key.Key_J, Qt.KeyboardModifier.ControlModifier)
    click(window, "B10", "B25", "B38")
    QTest.keyClick(window.canvas, Key.Key_Return)
    assert run(["distance", str(alder_brook), "B10", "B25", "B38", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    last = told["legs"][-1]
    length, leg = lines(window)
    assert length == f"{told['length_m']:.0f} m"
    assert leg.startswith(f"last leg {last['length_m']:.0f} m, ")
    assert leg.endswith("° true")
    assert float(leg.split()[-2][:3]) == pytest.approx(last["bearing_true_deg"], abs=0.51)


def test_the_readout_follows_the_pointer(window: Window) -> None:
    act(window, "measure.line")
    click(window, "B10")
    assert lines(window) == []
    QTest.mouseMove(window.canvas, spot(window, "B25"))
    assert lines(window)[0] == f"{apart_m(window, 'B10', 'B25'):.0f} m"
    assert lines(window)[1].endswith("° true")
    QTest.mouseMove(window.canvas, spot(window, "B38"))
    assert lines(window)[0] == f"{apart_m(window, 'B10', 'B38'):.0f} m"


def test_backspace_enter_and_escape(window: Window) -> None:
    act(window, "measure.line")
    click(window, "B10", "B25", "B38")
    QTest.keyClick(window.canvas, Key.Key_Backspace)
    QTest.keyClick(window.canvas, Key.Key_Return)
    assert lines(window)[0] == f"{apart_m(window, 'B10', 'B25'):.0f} m"
    click(window, "B38")  # a finished measure begins anew
    assert window.tools.measuring is not None
    assert len(window.tools.measuring.measure.points) == 1
    QTest.keyClick(window.canvas, Key.Key_Escape)
    assert window.tools.measuring is not None
    assert window.tools.measuring.measure == Measure(What.LINE)
    QTest.keyClick(window.canvas, Key.Key_Escape)
    assert window.tools.measuring is None
    click(window, "B25")  # and a click chooses again
    assert [window.desk.seen.stand.by_key[k].name for k in window.desk.chosen] == ["B25"]


def test_a_double_click_finishes(window: Window, qtbot: QtBot) -> None:
    act(window, "measure.line")
    click(window, "B10")
    QTest.mouseClick(window.canvas, LEFT, pos=spot(window, "B25"))
    with qtbot.waitSignal(window.desk.notice) as told:
        QTest.mouseDClick(window.canvas, LEFT, pos=spot(window, "B25"))
    length = f"{apart_m(window, 'B10', 'B25'):.0f} m"
    assert told.args is not None
    assert told.args[0] == "tell"
    assert told.args[1].startswith(f"{length} · ")
    assert window.tools.measuring is not None
    assert window.tools.measuring.measure.finished


def test_a_drag_pushes_the_map_and_sets_no_point(window: Window) -> None:
    act(window, "measure.line")
    before = spot(window, "B10")
    start = QPoint(700, 300)
    QTest.mousePress(window.canvas, LEFT, pos=start)
    for step in (20, 40, 60):
        QTest.mouseMove(window.canvas, start + QPoint(step, 0))
    QTest.mouseRelease(window.canvas, LEFT, pos=start + QPoint(60, 0))
    assert window.tools.measuring is not None
    assert window.tools.measuring.measure.points == ()
    assert (spot(window, "B10") - before).x() in (59, 60, 61)


def test_by_keyboard_from_tree_to_tree(window: Window) -> None:
    seen = window.desk.seen
    assert seen is not None
    act(window, "measure.line")
    for name in ("B10", "B25"):
        window.desk.choose([seen.stand.tree(name).key])
        QTest.keyClick(window.canvas, Key.Key_Space)
    QTest.keyClick(window.canvas, Key.Key_Right, Qt.KeyboardModifier.AltModifier)
    assert window.canvas.scene.pointed is not None
    third = seen.trees[window.canvas.scene.pointed].name
    QTest.keyClick(window.canvas, Key.Key_Space)
    QTest.keyClick(window.canvas, Key.Key_Return)
    assert lines(window)[0] == f"{apart_m(window, 'B10', 'B25', third):.0f} m"


def test_between_the_chosen_trees(window: Window) -> None:
    seen = window.desk.seen
    assert seen is not None
    window.desk.choose([seen.stand.tree(n).key for n in ("B38", "B10", "B25")])
    act(window, "measure.chosen")
    assert lines(window)[0] == f"{apart_m(window, 'B38', 'B10', 'B25'):.0f} m"


def test_an_area_is_what_the_command_line_says(
    window: Window, alder_brook: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    act(window, "measure.area")
    click(window, "B10", "B25")
    assert lines(window)[1] == "one more corner makes an area"
    click(window, "B38")
    QTest.keyClick(window.canvas, Key.Key_Return)
    assert run(["distance", str(alder_brook), "B10", "B25", "B38", "--area", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert lines(window) == [f"{told['area_m2']:.0f} m²", f"round it {told['perimeter_m']:.0f} m"]


def test_an_outline_that_crosses_itself_says_so(window: Window) -> None:
    act(window, "measure.area")
    click(window, "B10", "B38", "B25", "B11")
    QTest.keyClick(window.canvas, Key.Key_Return)
    assert lines(window)[0] == "the outline crosses itself"


@pytest.mark.parametrize("settings", [Settings(units="us", bearings="magnetic")], indirect=True)
def test_in_feet_and_by_compass(window: Window) -> None:
    act(window, "measure.line")
    click(window, "B10", "B25")
    length, bearing = lines(window)
    assert length == f"{apart_m(window, 'B10', 'B25') / 0.3048:.0f} ft"
    assert bearing.endswith("° magnetic")


def test_another_page_puts_the_measure_away(window: Window) -> None:
    act(window, "measure.line")
    click(window, "B10")
    window.show_page("aftercare")
    click(window, "B25")
    assert window.desk.chosen


# Where


def test_where_a_clicked_tree_is(window: Window, qtbot: QtBot) -> None:
    act(window, "where.point")
    click(window, "B10")
    qtbot.waitUntil(window.tools.card.isVisible, timeout=10_000)
    seen = window.desk.seen
    assert seen is not None
    lon, lat = seen.stand.tree("B10").at
    values = window.tools.card.values
    assert values["WGS 84"] == f"{lat:.6f} N, {lon:.6f} E"
    assert values["UTM 35 north"].endswith(" N")
    assert values["compass, 28 Mar 2026"] == "magnetic north 10.1° east of true"
    copies = [b for b in window.tools.card.findChildren(QPushButton) if b.accessibleName() == "copy WGS 84"]
    QTest.mouseClick(copies[0], LEFT)
    assert QGuiApplication.clipboard().text() == values["WGS 84"]
    card = window.tools.card.geometry()
    assert window.canvas.rect().contains(card)
    assert card.left() >= window.canvas.margins[0]
    QTest.keyClick(window.tools.card, Key.Key_Escape)
    assert not window.tools.card.isVisible()


def test_the_card_is_put_away_with_the_page(window: Window, qtbot: QtBot) -> None:
    card = window.tools.card
    act(window, "where.point")
    click(window, "B10")
    qtbot.waitUntil(card.isVisible, timeout=10_000)
    QTest.keyClick(window, Key.Key_4, Qt.KeyboardModifier.ControlModifier)
    assert window.page is window.pages["aftercare"]
    assert not card.isVisible()
    click(window, "B10")
    act(window, "where.tree")
    qtbot.waitUntil(card.isVisible, timeout=10_000)
    QTest.keyClick(window, Key.Key_2, Qt.KeyboardModifier.ControlModifier)
    assert not card.isVisible()


def test_undo_takes_back_a_point_of_a_measure(window: Window, qtbot: QtBot) -> None:
    seen = window.desk.seen
    assert seen is not None
    act(window, "measure.line")
    click(window, "B10", "B25")
    QTest.keyClick(window.canvas, Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    qtbot.waitUntil(lambda: not window.desk.busy)
    assert window.tools.measuring is not None
    assert len(window.tools.measuring.measure.points) == 1
    assert window.desk.seen is seen


def test_where_by_keyboard_and_in_a_national_grid(window: Window, qtbot: QtBot) -> None:
    act(window, "where.point")
    QTest.keyClick(window.canvas, Key.Key_Return)
    card = window.tools.card
    qtbot.waitUntil(card.isVisible, timeout=10_000)
    QTest.keyClicks(card.grid.edit, "3301")
    QTest.keyClick(card.grid.edit, Key.Key_Return)
    qtbot.waitUntil(lambda: "Estonian Coordinate System of 1997" in card.values, timeout=10_000)
    card.grid.edit.clear()
    QTest.keyClicks(card.grid.edit, "4326")
    QTest.keyClick(card.grid.edit, Key.Key_Return)
    assert "no grid on the ground" in card.grid.wrong.text()
    assert card.grid.text() == "4326"


def test_an_approximate_grid_is_called_so(window: Window, qtbot: QtBot) -> None:
    seen = window.desk.seen
    assert seen is not None
    card = window.tools.card
    card.grid.set_text("27700")
    card.show_point((-3.19, 55.95), "a point", QPoint(600, 300))
    qtbot.waitUntil(lambda: "OSGB36 / British National Grid" in card.values, timeout=10_000)
    texts = [w.text() for w in card.findChildren(type(card.grid.wrong)) if w.property("role") == "caution"]
    assert texts == ["approximate, within about 2 m: the exact way needs a file that is not here"]


# North and scale


def test_north_and_scale_are_there_when_asked_for_or_when_the_map_is_turned(window: Window, qtbot: QtBot) -> None:
    mark = window.tools.mark
    assert not mark.isVisible()
    QTest.keyClick(window, Key.Key_M, Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.ShiftModifier)
    assert mark.isVisible()
    assert "magnetic north 10.1° east of true" in mark.accessibleDescription()
    QTest.keyClick(window, Key.Key_M, Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.ShiftModifier)
    assert not mark.isVisible()
    window.canvas.turn_to(40)
    qtbot.waitUntil(lambda: "040° is up" in mark.accessibleDescription(), timeout=5000)
    assert mark.isVisible()
    assert mark.geometry().right() < window.canvas.width() - window.canvas.margins[2]
    window.canvas.turn_to(0)
    qtbot.waitUntil(lambda: not mark.isVisible(), timeout=5000)


@pytest.mark.parametrize(
    ("system", "most_m", "metres", "text"),
    [
        (System.METRIC, 70, 50, "50 m"),
        (System.METRIC, 999, 500, "500 m"),
        (System.METRIC, 2400, 2000, "2 km"),
        (System.IMPERIAL, 70, 50 * 0.9144, "50 yd"),
        (System.IMPERIAL, 2000, 1609.344, "1 mi"),
        (System.US, 70, 200 * 0.3048, "200 ft"),
        (System.US, 1000, 0.5 * 1609.344, "0.5 mi"),
    ],
)
def test_scale_bars(system: System, most_m: float, metres: float, text: str) -> None:
    bar = scale_bar(most_m, UnitsShown(system))
    assert bar.text == text
    assert bar.metres == pytest.approx(metres)
    assert bar.metres <= most_m
