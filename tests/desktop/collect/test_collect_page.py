"""The walk through the window: planned, told, put in order, saved; the same as the command line says."""

from __future__ import annotations

import json
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtGui import QDropEvent, QPixmap
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QFileDialog, QPushButton
from pytestqt.qtbot import QtBot

from standmap.cli.main import run as command
from standmap.cli.round_answer import round_json
from standmap.desktop.pages.collect import planning as planning_room
from standmap.desktop.pages.collect.overlay import RoundOverlay
from standmap.desktop.pages.collect.page import CollectPage
from standmap.desktop.pages.collect.planning import Stage
from standmap.desktop.pages.collect.walk_list import WalkList
from standmap.desktop.pages.collect.wording import cost
from standmap.desktop.window import Window
from standmap.progress import Progress
from standmap.rounds.problem import RoundProblem
from standmap.rounds.round import Round
from standmap.rounds.solve import plan
from standmap.rounds.stop import MaxIterations

PATIENCE_MS = 30_000
WALK_FILES = ("walk.csv", "walk.geojson", "walk.gpx")


def told_by_command(capsys: pytest.CaptureFixture[str], window: Window, folder: Path, *more: str) -> dict[str, Any]:
    capsys.readouterr()
    assert command(["round", str(window.desk.path), "--out", str(folder), "--json", *more]) == 0
    found: dict[str, Any] = json.loads(capsys.readouterr().out)
    return found


def click(button: QPushButton) -> None:
    assert button.isVisible()
    assert button.isEnabled()
    QTest.mouseClick(button, Qt.MouseButton.LeftButton)


def names(page: CollectPage) -> list[list[str]]:
    assert page.planning.planned is not None
    return [[stop.tree.name for stop in trip.stops] for trip in page.planning.planned.trips]


def choose_row(shown: WalkList, name: str) -> None:
    model = shown.model()
    row = next(r for r in range(model.rowCount()) if model.index(r, 0).data() == name)
    shown.scrollTo(model.index(row, 0))
    middle = shown.visualRect(model.index(row, 0)).center()
    QTest.mouseClick(shown.viewport(), Qt.MouseButton.LeftButton, pos=middle)


def test_from_the_form_to_files_as_the_command_line_writes_them(
    qtbot: QtBot,
    window: Window,
    page: CollectPage,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert page.ask.about.text() == "9 open holes on this day"
    page.ask.load.edit.selectAll()
    QTest.keyClicks(page.ask.load.edit, "12")
    click(page.plan_button)
    assert page.planning.stage is Stage.SEARCHING
    assert page.stop_button.isVisible()
    qtbot.waitUntil(lambda: page.planning.stage is Stage.PLANNED, timeout=PATIENCE_MS)
    mine, theirs = tmp_path / "mine", tmp_path / "theirs"
    told = told_by_command(capsys, window, theirs, "--capacity-kg", "12")
    assert page.planning.planned is not None
    assert round_json(page.planning.planned) == told | {"walk": None}
    assert page.walk.day.text() == "Saturday 28 March 2026"
    assert page.walk.summary.text().startswith(f"9 holes · {len(told['trips'])} trips · ")
    rows = [row.name for row in page.walk.model.rows if not row.is_trip]
    assert rows == [stop["tree"] for trip in told["trips"] for stop in trip["stops"]]
    monkeypatch.setattr(QFileDialog, "getExistingDirectory", lambda *_: str(mine))
    said: list[str] = []
    window.desk.notice.connect(lambda _, text: said.append(text))
    click(page.save_button)
    qtbot.waitUntil(lambda: any(str(mine) in text for text in said), timeout=PATIENCE_MS)
    for name in WALK_FILES:
        assert (mine / name).read_bytes() == (theirs / name).read_bytes()


def test_every_stop_is_told_in_full(planned: CollectPage) -> None:
    walk = planned.planning.planned
    assert walk is not None
    for stop in (stop for trip in walk.trips for stop in trip.stops):
        row = next(row for row in planned.walk.model.rows if row.key == stop.key)
        way, turn = f"{stop.leg_m:.0f} m", f"{round(stop.bearing_true_deg) % 360:03d}°"
        bends = "; the way bends" if stop.bends else ""
        here = f"{stop.order}: {stop.tree.name}, {way} at {turn} true"
        assert row.said == f"{here}, {stop.litres:.1f} L, then {stop.load_kg:.1f} kg{bends}"
        assert (row.number, row.way, row.amount) == (str(stop.order), f"{way} {turn}", f"{stop.litres:.1f} L")
    first, limit = walk.trips[0], planned.desk.settings.capacity_kg
    trip = planned.walk.model.rows[0]
    assert (trip.name, trip.amount) == ("trip 1", f"{first.max_load_kg:.1f} kg · {first.minutes:.0f} min")
    loads = ", ".join(f"trip {trip.number} up to {trip.max_load_kg:.1f} kg" for trip in walk.trips)
    assert planned.walk.profile.accessibleDescription() == f"{loads}, limit {limit:.1f} kg"
    assert "no shorter round exists" in planned.walk.sure.text()


def test_the_map_shows_the_round_and_lets_the_rest_step_back(window: Window, planned: CollectPage) -> None:
    scene = window.canvas.scene
    (overlay,) = scene.overlays
    assert isinstance(overlay, RoundOverlay)
    assert overlay.shown.orders == tuple(range(1, 10))
    labels = overlay.labels(window.canvas.camera)
    assert [label.text for label in labels] == [str(n) for n in range(1, 10)]
    picture = QPixmap(window.canvas.size())
    window.canvas.render(picture)  # every stroke is drawn once
    faded = scene.trees.faded
    assert faded is not None
    lit = {scene.trees.names[row] for row in range(len(faded)) if not faded[row]}
    assert lit == {name for trip in names(planned) for name in trip}
    window.show_page("choose")
    assert scene.overlays == ()
    window.show_page("collect")
    assert len(window.canvas.scene.overlays) == 1


def test_keys_move_a_stop_and_the_cost_is_said_at_once(window: Window, planned: CollectPage) -> None:
    page, shown = planned, planned.walk.list
    before = names(page)
    choose_row(shown, before[0][1])
    assert window.desk.chosen_tree is not None
    assert window.desk.chosen_tree.name == before[0][1]
    assert page.walk.cost.isHidden()
    QTest.keyClick(shown, Qt.Key.Key_Down, Qt.KeyboardModifier.AltModifier)
    first = before[0]
    assert names(page)[0] == [first[0], first[2], first[1], *first[3:]]
    assert page.walk.cost.isVisible()
    edited = page.planning.edited
    assert edited is not None
    # Trees of one trip may lie so that two orders are equally long.
    assert edited.more_m > -0.5
    assert page.walk.cost.text() == f"{cost(edited, window.desk.units)} against the best found"
    QTest.keyClick(shown, Qt.Key.Key_2, Qt.KeyboardModifier.AltModifier)
    assert names(page)[1] == [*before[1], first[1]]
    click(page.walk.best)
    assert names(page) == before
    assert page.walk.cost.isHidden()


def test_a_trip_that_gets_too_heavy_is_warned_of(planned: CollectPage) -> None:
    choose_row(planned.walk.list, names(planned)[1][0])
    assert planned.walk.heavy.isHidden()
    QTest.keyClick(planned.walk.list, Qt.Key.Key_1, Qt.KeyboardModifier.AltModifier)
    assert planned.walk.heavy.isVisible()
    walk = planned.planning.planned
    assert walk is not None
    limit = planned.desk.settings.capacity_kg
    assert walk.trips[0].max_load_kg > limit
    assert planned.walk.heavy.text() == f"over the load of {limit:.1f} kg: trip 1: {walk.trips[0].max_load_kg:.1f} kg"


def test_a_stop_that_is_dragged_goes_where_it_is_let_go(planned: CollectPage) -> None:
    before = names(planned)
    shown, model = planned.walk.list, planned.walk.model

    def let_go(name: str, row: int, down_px: int) -> None:
        start = next(r for r, one in enumerate(model.rows) if one.name == name)
        assert model.flags(model.index(start, 0)) & Qt.ItemFlag.ItemIsDragEnabled
        at = QPointF(shown.visualRect(model.index(row, 0)).center() + QPoint(0, down_px))
        data = model.mimeData([model.index(start, 0)])
        # Off a screen nothing can be dragged: the drop is handed to the list as Qt does it.
        shown.dropEvent(
            QDropEvent(at, Qt.DropAction.MoveAction, data, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier)
        )

    let_go(before[0][0], model.rowCount() - 1, 5)
    assert names(planned) == [before[0][1:], *before[1:-1], [*before[-1], before[0][0]]]
    assert planned.walk.list.chosen_key == planned.planning.orders[-1][-1]
    let_go(before[0][0], 0, 5)
    assert names(planned) == before
    trip_2 = 1 + len(before[0])
    let_go(before[1][1], trip_2, -5)
    assert names(planned)[0] == [*before[0], before[1][1]]


def test_pins_are_those_of_the_command_line(
    qtbot: QtBot, window: Window, planned: CollectPage, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    page = planned
    click(page.walk.again)
    page.ask.load.edit.selectAll()
    QTest.keyClicks(page.ask.load.edit, "18")  # several stops on each of two trips
    click(page.plan_button)
    qtbot.waitUntil(lambda: page.planning.stage is Stage.PLANNED, timeout=PATIENCE_MS)
    first, last = names(page)[0][2], names(page)[-1][0]
    choose_row(page.walk.list, first)
    QTest.keyClick(page.walk.list, Qt.Key.Key_Home, Qt.KeyboardModifier.AltModifier)
    choose_row(page.walk.list, last)
    QTest.keyClick(page.walk.list, Qt.Key.Key_End, Qt.KeyboardModifier.AltModifier)
    assert (names(page)[0][0], names(page)[-1][-1]) == (first, last)
    told = told_by_command(capsys, window, tmp_path / "walk", "--capacity-kg", "18", "--first", first, "--last", last)
    edited = page.planning.edited
    assert edited is not None
    assert round_json(edited.planned, edited) == told | {"walk": None}
    assert [row.pinned for row in page.walk.model.rows if row.pinned] == ["first", "last"]
    QTest.keyClick(page.walk.list, Qt.Key.Key_Up, Qt.KeyboardModifier.AltModifier)
    assert [row.pinned for row in page.walk.model.rows if row.pinned] == ["first"]  # it is last no more


def test_an_order_by_hand_is_what_is_saved(
    qtbot: QtBot, window: Window, planned: CollectPage, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    page = planned
    choose_row(page.walk.list, names(page)[0][0])
    QTest.keyClick(page.walk.list, Qt.Key.Key_Down, Qt.KeyboardModifier.AltModifier)
    mine, theirs = tmp_path / "mine", tmp_path / "theirs"
    page.save_to(mine)
    qtbot.waitUntil(lambda: (mine / "walk.gpx").exists() and not window.desk.busy, timeout=PATIENCE_MS)
    order = tmp_path / "order.txt"
    order.write_text("\n\n".join("\n".join(trip) for trip in names(page)))
    told_by_command(capsys, window, theirs, "--order", str(order))
    for name in WALK_FILES:
        assert (mine / name).read_bytes() == (theirs / name).read_bytes()


def test_the_best_so_far_is_drawn_and_a_stop_keeps_it(
    qtbot: QtBot, window: Window, page: CollectPage, monkeypatch: pytest.MonkeyPatch
) -> None:
    def slow(
        problem: RoundProblem, *, seed: int, progress: Progress, on_best: Callable[[Round], None], **_: object
    ) -> Round:
        best = plan(problem, stop=MaxIterations(0), seed=seed)
        on_best(best)
        while not progress.stop_wanted():
            time.sleep(0.01)
        return best

    monkeypatch.setattr(planning_room, "solve_apart", slow)
    click(page.plan_button)
    qtbot.waitUntil(lambda: page.planning.best is not None, timeout=PATIENCE_MS)
    (overlay,) = window.canvas.scene.overlays
    assert isinstance(overlay, RoundOverlay)
    assert overlay.sketch
    assert page.searching.best.text().startswith("best so far: 9 holes")
    window.show_page("choose")
    window.show_page("collect")
    assert page.planning.stage is Stage.SEARCHING  # it goes on while another page is shown
    click(page.stop_button)
    qtbot.waitUntil(lambda: page.planning.stage is Stage.PLANNED, timeout=PATIENCE_MS)
    assert sum(map(len, names(page))) == 9


def test_a_day_without_holes_says_what_to_do(qtbot: QtBot, window: Window, page: CollectPage) -> None:
    page.ask.day.edit.setFocus()
    page.ask.day.edit.selectAll()
    QTest.keyClicks(page.ask.day.edit, "2025-01-10")
    QTest.keyClick(page.ask.day.edit, Qt.Key.Key_Tab)
    assert page.ask.nothing.isVisible()
    assert page.ask.nothing.text().startswith("no hole is open on 10 Jan 2025; the last holes are of 2026.")
    QTest.keyClick(page.ask.day.edit, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: page.planning.refused is not None, timeout=PATIENCE_MS)
    assert page.ask.nothing.text().startswith("nothing to collect")
    click(page.ask.to_choose)
    assert window.page is window.pages["choose"]


@pytest.mark.parametrize(
    ("field", "text", "why"),
    [
        ("day", "28.3.2026", "'28.3.2026' is not a date; write it like 2026-03-28"),
        ("load", "90", "90 is out of bounds; choose 5.0 kg to 40.0 kg"),
        ("load", "much", "'much' is not a weight; write it like 3.0 kg"),
        ("collectors", "2.5", "2.5 collectors are out of bounds; choose 1 to 20"),
        ("cans", "30", "cans of 30 kg leave no room; choose less than the load carried"),
        ("seed", "x", "'x' is not a number; write it like 71.8 or 71,8"),
        ("run", "-1", "-1 is out of bounds; choose up to 60.0 L"),
    ],
)
def test_what_cannot_be_asked_is_said_beside_its_field(page: CollectPage, field: str, text: str, why: str) -> None:
    if field in ("cans", "seed", "run"):
        head = next(h for h in page.ask.folded.heads if h.accessibleName() == ("search" if field == "seed" else "load"))
        click(head)
    asked = getattr(page.ask.folded if field in ("cans", "seed", "run") else page.ask, field)
    asked.edit.selectAll()
    QTest.keyClicks(asked.edit, text)
    click(page.plan_button)
    assert page.planning.stage is Stage.ASKED
    assert asked.wrong.text() == why
    assert asked.text() == text
    assert asked.edit.hasFocus()


def test_what_is_set_is_asked_for_in_any_units(window: Window, page: CollectPage) -> None:
    window.desk.settings = replace(window.desk.settings, capacity_kg=15.0)
    window.desk.settings_changed.emit()
    assert page.ask.load.text() == "15.0 kg"
    page.ask.folded.vessel.edit.setText("4 l")
    window.desk.settings = replace(window.desk.settings, units="imperial")
    window.desk.settings_changed.emit()
    assert (page.ask.load.text(), page.ask.folded.cans.text(), page.ask.folded.vessel.text()) == (
        "33.1 lb",
        "2.2 lb",
        "4 l",
    )
    asked = page.ask.asked()
    assert asked is not None
    assert (asked[1].capacity_kg, asked[1].can_kg, asked[1].vessel_ml) == (15.0, 1.0, 4000.0)  # as set, not as rounded


def test_another_walk_begins_from_what_was_asked(planned: CollectPage) -> None:
    click(planned.walk.again)
    assert planned.ask.isVisible()
    assert planned.ask.day.text() == "2026-03-28"
    assert planned.planning.planned is None


def test_a_stand_that_changed_since_is_said(qtbot: QtBot, window: Window, planned: CollectPage) -> None:
    assert planned.walk.stale.isHidden()
    assert command(["record", str(window.desk.path), "--tree", names(planned)[0][0], "--what", "plugged"]) == 0
    qtbot.waitUntil(planned.walk.stale.isVisible, timeout=PATIENCE_MS)


def test_everything_can_be_found_by_name(window: Window, planned: CollectPage) -> None:
    here = [action for action in window.actions_list if action.page == "collect"]
    assert {"collect.go", "collect.files", "collect.returns", "collect.to_trip_2", "collect.first"} <= {
        action.id for action in here
    }
    assert {f"collect.{name}" for name in ("for_tapping", "tank", "here", "from_phone", "given", "beside", "kit")} <= {
        action.id for action in here
    }
    assert window.actions_list.get("collect.files").enabled()
    assert not window.actions_list.get("collect.best").enabled()
    assert not window.actions_list.get("collect.earlier").enabled()
    planned.walk.list.choose(planned.planning.orders[0][0])
    assert window.actions_list.get("collect.later").enabled()
    assert window.actions_list.run(window.actions_list.get("collect.later"))
    assert window.actions_list.get("collect.best").enabled()


def test_the_map_turns_to_the_way_that_is_walked(qtbot: QtBot, window: Window, planned: CollectPage) -> None:
    walked = planned.planning.planned
    assert walked is not None
    stop = walked.trips[0].stops[1]
    choose_row(planned.walk.list, stop.tree.name)
    QTest.keyClick(planned.walk.list, Qt.Key.Key_T, Qt.KeyboardModifier.AltModifier)
    # So near to the middle of the stand grid north is true north within a hundredth of a degree.
    qtbot.waitUntil(lambda: abs(window.canvas.camera.turn_deg - stop.bearing_true_deg) < 0.05)
