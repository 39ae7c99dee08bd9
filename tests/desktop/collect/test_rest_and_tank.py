"""The rest of a walk from where one stands, who walks, and where a tank would stand best."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QPushButton
from pytestqt.qtbot import QtBot

from standmap.desktop.pages.collect import planning as planning_room
from standmap.desktop.pages.collect import tank_sheet as tank_room
from standmap.desktop.pages.collect.beside_overlays import PlaceOverlay
from standmap.desktop.pages.collect.load_profile import starts_of, steps_of
from standmap.desktop.pages.collect.page import CollectPage
from standmap.desktop.pages.collect.planning import Stage
from standmap.desktop.window import Window
from standmap.jobs.round_options import FromHere
from standmap.rounds.problem import RoundProblem
from standmap.rounds.round import Round
from standmap.rounds.solve import plan
from standmap.rounds.stop import MaxIterations
from standmap.stand.ground import PlaceKind

PATIENCE_MS = 60_000


def click(button: QPushButton) -> None:
    assert button.isVisible(), button.text()
    assert button.isEnabled(), button.text()
    QTest.mouseClick(button, Qt.MouseButton.LeftButton)


def quickly(problem: RoundProblem, **_: object) -> Round:
    return plan(problem, stop=MaxIterations(0), seed=1)


@pytest.fixture
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(planning_room, "solve_apart", quickly)
    monkeypatch.setattr(tank_room, "solve_apart", quickly)


@pytest.mark.usefixtures("quick")
def test_the_rest_is_planned_from_the_chosen_stop(qtbot: QtBot, planned: CollectPage) -> None:
    page = planned
    whole = page.planning.planned
    assert whole is not None
    stop = whole.trips[0].stops[1]
    click(page.walk.rest)
    assert page.here.where.currentData() == whole.trips[0].stops[0].key
    assert page.here.where.hasFocus()
    QTest.keyClick(page.here.where, Qt.Key.Key_Down)
    ticked = {key for key, box in page.here.boxes.items() if box.isChecked()}
    assert ticked == {s.tree.key for s in whole.trips[0].stops[:2]}
    assert page.here.load.text() == f"{stop.load_kg:.1f} kg"
    spared = whole.trips[-1].stops[-1].tree
    page.here.boxes[spared.key].setFocus()
    QTest.keyClick(page.here.boxes[spared.key], Qt.Key.Key_Space)
    left = whole.taps - 3
    assert page.here.done_name.text() == f"done; {left} trees are left"
    page.here.time.edit.selectAll()
    QTest.keyClicks(page.here.time.edit, "7:05")
    click(page.here.plan_button)
    qtbot.waitUntil(lambda: page.planning.stage is Stage.PLANNED, timeout=PATIENCE_MS)
    rest = page.planning.planned
    assert rest is not None
    assert page.planning.options.from_here == FromHere(stop.tree.key, stop.load_kg)
    assert rest.taps == left
    assert f"{rest.sets_out:%H:%M}" == "07:05"
    assert page.walk.isVisible()
    assert page.planning.editing is not None
    starts = starts_of(page.planning.editing.posed, rest)
    assert starts[0] == pytest.approx(stop.load_kg)  # what is carried already


@pytest.mark.usefixtures("quick")
def test_returns_of_the_day_count_as_done(qtbot: QtBot, window: Window, planned: CollectPage) -> None:
    walk = planned.planning.planned
    assert walk is not None
    far = walk.trips[-1].stops[-1]
    click(planned.returns_button)
    QTest.keyClicks(planned.returns.lines[far.key].amount, "2")
    click(planned.returns.store_button)
    qtbot.waitUntil(lambda: not window.desk.busy, timeout=PATIENCE_MS)
    click(planned.returns.back)
    planned.walk.list.choose(walk.trips[0].stops[0].key)
    planned.plan_from_here()
    ticked = {key for key, box in planned.here.boxes.items() if box.isChecked()}
    assert ticked == {walk.trips[0].stops[0].tree.key, far.tree.key}
    planned.here.load.edit.selectAll()
    QTest.keyClicks(planned.here.load.edit, "90")
    planned.here.go()
    assert planned.here.load.wrong.text() == "90 is out of bounds; choose up to 40.0 kg"
    assert planned.planning.stage is Stage.PLANNED


@pytest.mark.usefixtures("quick")
def test_people_who_differ_are_typed_in_one_line(qtbot: QtBot, page: CollectPage) -> None:
    folded = page.ask.folded
    click(next(head for head in folded.heads if head.accessibleName() == "people"))
    folded.people.edit.setFocus()
    QTest.keyClicks(folded.people.edit, "Ilse, 8 kg; Per, twice, twice more")
    QTest.keyClick(folded.people.edit, Qt.Key.Key_Tab)
    assert "says something twice" in folded.people.wrong.text()
    folded.people.edit.setFocus()
    folded.people.edit.selectAll()
    QTest.keyClicks(folded.people.edit, "Ilse, 8 kg; Per, 07:10")
    QTest.keyClick(folded.people.edit, Qt.Key.Key_Tab)
    assert folded.aim.currentData() == "time"  # in metres of all together one of them would walk everything
    click(page.plan_button)
    qtbot.waitUntil(lambda: page.planning.stage is Stage.PLANNED, timeout=PATIENCE_MS)
    walk = page.planning.planned
    assert walk is not None
    assert {trip.who for trip in walk.trips} == {"Ilse", "Per"}
    assert all(trip.max_load_kg <= 8 for trip in walk.trips if trip.who == "Ilse")
    assert any(row.name.endswith(", Ilse") for row in page.walk.model.rows if row.is_trip)
    # Everything on one trip of hers is over what she carries, though not over what others would.
    mine = next(k for k, trip in enumerate(walk.trips) if trip.who == "Ilse")
    while page.walk.heavy.isHidden():
        other = next(k for k, order in enumerate(page.planning.orders) if order and k != mine)
        page.walk.list.choose(page.planning.orders[other][0])
        page.walk.to_trip(mine)
    assert page.walk.heavy.text().startswith(f"over the load of 8.0 kg: trip {mine + 1}: ")


def test_one_part_of_the_form_is_open_at_a_time(page: CollectPage) -> None:
    folded = page.ask.folded
    heads = {head.accessibleName(): head for head in folded.heads}
    assert list(heads) == ["hours", "people", "load", "trees", "search"]
    assert not folded.latest.isVisible()
    click(heads["hours"])
    assert folded.latest.isVisible()
    click(heads["load"])
    assert not folded.latest.isVisible()
    assert folded.cans.isVisible()
    click(heads["load"])
    assert not folded.cans.isVisible()


@pytest.mark.usefixtures("quick")
def test_places_for_a_tank_are_ranked_and_one_is_taken(qtbot: QtBot, window: Window, page: CollectPage) -> None:
    click(page.ask.to_tank)
    qtbot.waitUntil(lambda: bool(page.tanks.found), timeout=PATIENCE_MS)
    lengths = [one.length_m for one in page.tanks.found if one.taps == page.tanks.found[0].taps]
    assert lengths == sorted(lengths)
    assert page.tanks.rows.checkedId() == 0
    (ring,) = window.canvas.scene.overlays
    assert isinstance(ring, PlaceOverlay)
    gate = next(k for k, one in enumerate(page.tanks.found) if one.place.name == "lower gate")
    button = page.tanks.rows.button(gate)
    assert isinstance(button, QPushButton)
    qtbot.waitUntil(button.isVisible, timeout=PATIENCE_MS)
    click(button)
    assert window.canvas.scene.overlays != (ring,)
    assert page.tanks.take_button.text() == "start from there"
    click(page.tanks.take_button)
    assert page.ask.isVisible()
    assert page.ask.start.currentText() == "lower gate"
    assert window.canvas.scene.overlays == ()


@pytest.mark.usefixtures("quick")
def test_where_nothing_stands_a_tank_is_placed(qtbot: QtBot, window: Window, page: CollectPage) -> None:
    click(page.ask.to_tank)
    qtbot.waitUntil(lambda: bool(page.tanks.found), timeout=PATIENCE_MS)
    free = next(k for k, one in enumerate(page.tanks.found) if one.place.kind is PlaceKind.LANDMARK)
    button = page.tanks.rows.button(free)
    assert isinstance(button, QPushButton)
    qtbot.waitUntil(button.isVisible, timeout=PATIENCE_MS)
    click(button)
    place = page.tanks.found[free].place
    assert page.tanks.take_button.text() == "place a tank there"
    click(page.tanks.take_button)
    qtbot.waitUntil(page.ask.isVisible, timeout=PATIENCE_MS)
    assert window.desk.seen is not None
    key = page.ask.start.currentData()
    made = next(one for one in window.desk.seen.stand.places if one.key == key)
    assert (made.kind, made.at) == (PlaceKind.TANK, place.at)


def test_the_profile_starts_with_what_is_carried_out(planned: CollectPage) -> None:
    walk, editing = planned.planning.planned, planned.planning.editing
    assert walk is not None
    assert editing is not None
    starts = starts_of(editing.posed, walk)
    assert starts == pytest.approx([planned.planning.options.can_kg] * len(walk.trips))
    for trip, points in zip(walk.trips, steps_of(walk, starts), strict=True):
        assert max(kg for _, kg in points) == pytest.approx(trip.max_load_kg)
