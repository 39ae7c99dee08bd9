"""The ground by hand: added, changed and taken out in one step each, and nothing for good."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest

from standmap.errors import NothingToDo, UserError
from standmap.jobs.anchors import given_position
from standmap.jobs.ground_by_hand import (
    Permission,
    add_area,
    add_line,
    add_place,
    edit_area,
    edit_line,
    edit_place,
    remove_ground,
)
from standmap.jobs.trees_by_hand import add_tree
from standmap.messages import Collected
from standmap.stand.ground import AreaKind, LineKind, PlaceKind
from standmap.stand.sights import Sight, TakenPosition
from standmap.store.stand_file import StandFile

NOW = datetime(2026, 3, 28, 7, 30, tzinfo=UTC)
HERE, NORTH, EAST = (27.6, 61.9), (27.6, 61.901), (27.602, 61.9)


def test_everything_drawn_is_undone_and_done_again(stand_file: StandFile) -> None:
    gate = add_place(stand_file, PlaceKind.GATE, HERE, NOW, name="south gate")
    path = add_line(stand_file, LineKind.PATH, [HERE, HERE, NORTH], NOW)
    area = add_area(
        stand_file,
        AreaKind.PERMITTED,
        [HERE, NORTH, EAST],
        NOW,
        name="wood",
        permission=Permission(" Anna ", date(2026, 1, 1), date(2027, 12, 31), 12),
    )
    assert path.course == (HERE, NORTH)
    assert area.outline == ((HERE, NORTH, EAST, HERE),)
    assert (area.owner, area.most_trees) == ("Anna", 12)
    full = stand_file.stand()
    assert (full.places, full.lines, full.areas) == ((gate,), (path,), (area,))
    labels = ["add gate south gate", "add path", "add permitted area wood"]
    assert [e.label for e in stand_file.history()] == labels
    for _ in labels:
        stand_file.undo(NOW)
    assert (stand_file.stand().places, stand_file.stand().lines, stand_file.stand().areas) == ((), (), ())
    for _ in labels:
        stand_file.redo(NOW)
    assert stand_file.stand() == full


def test_a_bridge_goes_onto_its_stream(stand_file: StandFile) -> None:
    add_line(stand_file, LineKind.STREAM, [HERE, EAST], NOW)
    heard = Collected()
    bridge = add_place(stand_file, PlaceKind.BRIDGE, (27.601, 61.90005), NOW, messages=heard)
    assert bridge.at == pytest.approx((27.601, 61.9), abs=1e-6)
    assert heard.cautions == []
    far = add_place(stand_file, PlaceKind.BRIDGE, (27.601, 61.9005), NOW, name="dry", messages=heard)
    assert far.at == (27.601, 61.9005)
    assert heard.cautions == ["no stream passes within 10 m: this bridge opens none"]
    ford = add_place(stand_file, PlaceKind.FORD, (27.602, 61.90005), NOW, messages=heard)
    assert ford.name == "ford"
    assert ford.at == pytest.approx((27.602, 61.9), abs=1e-6)
    edit_place(stand_file, "dry", NOW, kind=PlaceKind.FORD, messages=heard)
    assert heard.cautions[1:] == ["no stream passes within 10 m: this ford opens none"]
    moved = edit_place(stand_file, "dry", NOW, at=(27.6005, 61.90002))
    assert moved.at == pytest.approx((27.6005, 61.9), abs=1e-6)


def test_changes_leave_the_rest_as_it_was(stand_file: StandFile) -> None:
    place = add_place(stand_file, PlaceKind.GATE, HERE, NOW, name="gate", note="muddy")
    line = add_line(stand_file, LineKind.PATH, [HERE, NORTH], NOW, name="ride")
    area = add_area(stand_file, AreaKind.NO_GO, [HERE, NORTH, EAST], NOW, name="bog")
    assert edit_place(stand_file, "gate", NOW, kind=PlaceKind.TANK).note == "muddy"
    assert edit_line(stand_file, "RIDE ", NOW, course=[NORTH, EAST], kind=LineKind.FENCE).name == "ride"
    changed = edit_area(stand_file, area.key, NOW, kind=AreaKind.PERMITTED, permission=Permission("Anna", most_trees=3))
    assert (changed.name, changed.outline, changed.most_trees) == ("bog", area.outline, 3)
    assert edit_area(stand_file, area.key, NOW, outline=[HERE, EAST, NORTH]).owner == "Anna"
    with pytest.raises(NothingToDo, match="is so already"):
        edit_line(stand_file, line.key, NOW, new_name="ride")
    with pytest.raises(UserError, match="tank gate is no line"):
        edit_line(stand_file, place.key, NOW, new_name="x")


def test_a_place_that_sights_tie_stays_and_a_moved_one_rests_on_what_was_said_last(stand_file: StandFile) -> None:
    add_tree(stand_file, "B1", NORTH, date(2026, 3, 28), NOW)
    gate = add_place(stand_file, PlaceKind.GATE, HERE, NOW, name="south gate")
    sight = Sight("s", gate.key, stand_file.stand().tree("B1").key, distance_m=12.0)
    with stand_file.writing("measure", NOW) as writing:
        writing.insert(sight, given_position(gate))
    with pytest.raises(UserError, match="gate south gate is an end of 1 sight; take these out first"):
        remove_ground(stand_file, "south gate", NOW)
    edit_place(stand_file, "south gate", NOW, at=EAST)
    assert [(t.at, t.used) for t in stand_file.rows(TakenPosition)] == [(HERE, False), (EAST, True)]
    with stand_file.writing("take the sight out", NOW) as writing:
        writing.delete(sight)
    remove_ground(stand_file, "south gate", NOW)
    assert stand_file.rows(TakenPosition) == ()
    stand_file.undo(NOW)
    assert len(stand_file.rows(TakenPosition)) == 2


def test_removing_says_so_and_comes_back(stand_file: StandFile) -> None:
    add_tree(stand_file, "B1", HERE, date(2026, 3, 28), NOW)
    gate = add_place(stand_file, PlaceKind.GATE, HERE, NOW, name="south gate")
    full = stand_file.stand()
    assert remove_ground(stand_file, "South Gate", NOW) == gate
    assert stand_file.stand().places == ()
    assert stand_file.history()[-1].label == "remove gate south gate"
    stand_file.undo(NOW)
    assert stand_file.stand() == full
    with pytest.raises(UserError, match="'B1' is a tree; note it felled"):
        remove_ground(stand_file, "B1", NOW)
    with pytest.raises(UserError, match="no place, line or area is called 'bog'"):
        remove_ground(stand_file, "bog", NOW)
    add_line(stand_file, LineKind.PATH, [HERE, NORTH], NOW, name="south gate")
    with pytest.raises(UserError, match="2 places, lines or areas are called"):
        remove_ground(stand_file, "south gate", NOW)


@pytest.mark.parametrize(
    ("points", "why"),
    [
        ([], "there is no point"),
        ([HERE], "one point leads nowhere"),
        ([HERE, NORTH], "an area of 2 points encloses nothing"),
        ([HERE, NORTH, HERE], "an area of 2 points encloses nothing"),
        ([HERE, NORTH, (27.6, 61.902)], "encloses nothing|crosses itself"),
        ([HERE, (27.601, 61.901), NORTH, (27.601, 61.9)], "crosses itself"),
        ([HERE, NORTH, (61.9, 27.6)], "swapped"),
    ],
)
def test_outlines_that_cannot_be(stand_file: StandFile, points: list[tuple[float, float]], why: str) -> None:
    add_tree(stand_file, "B1", HERE, date(2026, 3, 28), NOW)
    with pytest.raises(UserError, match=why):
        add_area(stand_file, AreaKind.NO_GO, points, NOW)
    assert stand_file.stand().areas == ()


@pytest.mark.parametrize(
    ("said", "why"),
    [
        (Permission(from_date=date(2027, 1, 1), until_date=date(2026, 1, 1)), "ends on 2026-01-01, before it begins"),
        (Permission(most_trees=-1), "-1 trees is no limit"),
        (Permission(owner="x" * 500), "a name of an owner of 500 characters is too long"),
    ],
)
def test_permissions_that_cannot_be(stand_file: StandFile, said: Permission, why: str) -> None:
    with pytest.raises(UserError, match=why):
        add_area(stand_file, AreaKind.PERMITTED, [HERE, NORTH, EAST], NOW, permission=said)
