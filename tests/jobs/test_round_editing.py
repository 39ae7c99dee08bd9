"""A round in another order: what it costs, pins, lists of trees, and moving one stop at a time."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from standmap.errors import UserError
from standmap.jobs.round import RoundOptions, plan_posed, pose_round
from standmap.jobs.round_editing import RoundEditing
from standmap.jobs.round_orders import moved, orders_of, read_order, stepped
from standmap.messages import Collected
from standmap.stand.ground import Line, LineKind, Place, PlaceKind
from standmap.stand.snapshot import Stand
from standmap.stand.tapping import TapHole, Wound
from standmap.stand.tree import Tree

DAY = date(2026, 3, 28)
EAST = 1.9e-5  # about a metre of longitude at 61.9 N
NORTH = 8.98e-6  # about a metre of latitude
ROW = [(50, 0), (100, 5), (150, 0), (-50, 0), (-100, 5), (-150, 0)]


def wood() -> Stand:
    trees = tuple(Tree(f"t{i}", f"B{i}", (27.6 + x * EAST, 61.9 + y * NORTH)) for i, (x, y) in enumerate(ROW))
    holes = tuple(TapHole(f"h{i}", t.key, 1, Wound.HOLE, date(2026, 3, 27)) for i, t in enumerate(trees))
    gate = Place("g", "gate", PlaceKind.GATE, (27.6, 61.9))
    return Stand(trees=trees, holes=holes, places=(gate,), settings={"working_frame": {"lon0": 27.6, "lat0": 61.9}})


def editing(stand: Stand | None = None, **options: float) -> RoundEditing:
    posed = pose_round(stand or wood(), DAY, RoundOptions(capacity_kg=11.0, **options))  # type: ignore[arg-type]
    return RoundEditing(posed, plan_posed(posed))


def names(found: RoundEditing, orders: object) -> list[list[str]]:
    return [[found.posed.stops[key].tree.name for key in trip] for trip in orders]  # type: ignore[attr-defined]


def test_the_best_order_costs_nothing() -> None:
    found = editing()
    assert len(found.best.trips) == 2
    same = found.ordered(orders_of(found.best))
    assert same.planned is found.best
    assert (same.more_m, same.more_min, same.too_heavy) == (0, 0, ())
    assert same.cost == "0 m, 0 min"


def test_another_order_says_what_it_costs_and_what_is_too_heavy() -> None:
    found = editing()
    one_trip = found.ordered([[key for trip in orders_of(found.best) for key in trip]])
    (trip,) = one_trip.planned.trips
    assert one_trip.more_m == pytest.approx(trip.length_m - found.best.length_m)
    assert one_trip.more_min == pytest.approx(trip.minutes - found.best.minutes)
    assert one_trip.too_heavy == (1,)
    assert one_trip.cautions(found.capacity_of) == (f"trip 1 is {trip.max_load_kg:.1f} kg, over the load of 11 kg",)
    assert not one_trip.planned.proved
    back_and_forth = found.ordered([["h0", "h2", "h1"], ["h3", "h4", "h5"]])
    assert back_and_forth.more_m == pytest.approx(0, abs=1)  # out past one tree and back to it
    worse = found.ordered([["h1", "h0", "h2"], ["h3", "h4", "h5"]])
    assert 95 < worse.more_m < 105
    assert worse.cost.startswith("+")
    assert worse.too_heavy == ()


def test_ways_by_hand_go_by_the_bridge_too() -> None:
    stream = Line("s", "brook", LineKind.STREAM, tuple((27.6 + 75 * EAST, 61.9 + y * NORTH) for y in (-300, 300)))
    bridge = Place("b", "planks", PlaceKind.BRIDGE, (27.6 + 75 * EAST, 61.9 + 80 * NORTH))
    stand = wood()
    found = editing(replace(stand, lines=(stream,), places=(*stand.places, bridge)))
    edited = found.ordered([["h2", "h0", "h1"], ["h3", "h4", "h5"]])
    assert all(stop.bends for stop in edited.planned.trips[0].stops)
    assert edited.more_m > 200


def test_an_order_holds_every_stop_once() -> None:
    found = editing()
    for wrong in ([["h0"]], [["h0", "h0", "h1", "h2", "h3", "h4", "h5"]], [["x"]]):
        with pytest.raises(ValueError, match="each stop"):
            found.ordered(wrong)


def test_empty_trips_vanish() -> None:
    found = editing()
    edited = found.ordered([["h0", "h1", "h2"], [], ["h3", "h4", "h5"]], [1, 1, 1])
    assert [trip.number for trip in edited.planned.trips] == [1, 2]


def test_the_walk_begins_and_ends_where_it_is_asked_to() -> None:
    found = editing()
    edited = found.begun_and_ended("b2", "B4")
    stops = [[s.tree.name for s in trip.stops] for trip in edited.planned.trips]
    assert (stops[0][0], stops[-1][-1]) == ("B2", "B4")
    assert [set(trip) for trip in stops] == [{"B0", "B1", "B2"}, {"B3", "B4", "B5"}]
    assert edited.more_m > 0
    assert [s.order for trip in edited.planned.trips for s in trip.stops] == [1, 2, 3, 4, 5, 6]
    assert found.begun_and_ended(None, None).planned == found.best


def test_first_and_last_on_one_trip_is_said() -> None:
    found = editing()
    heard = Collected()
    edited = found.begun_and_ended("B5", "B4", heard)
    assert [s.tree.name for s in edited.planned.trips[0].stops] == ["B5", "B3", "B4"]
    assert heard.cautions == ["B5 and B4 are on one trip: it is walked first, and ends with B4"]


@pytest.mark.parametrize(
    ("first", "last", "why"),
    [
        ("B1", "B1", "B1 cannot be both"),
        ("B77", None, "'B77' is no stop of this round; the stops are: B"),
        (None, "x", "'x'"),
    ],
)
def test_wishes_that_cannot_be(first: str | None, last: str | None, why: str) -> None:
    with pytest.raises(UserError, match=why):
        editing().begun_and_ended(first, last)


def test_pins_hold_for_each_trip() -> None:
    found = editing()
    edited = found.pinned(found.unchanged(), first={"h1", "h4"}, last={"h5"})
    stops = {tuple(s.tree.name for s in trip.stops) for trip in edited.planned.trips}
    assert stops == {("B1", "B2", "B0"), ("B4", "B3", "B5")} or stops == {("B1", "B0", "B2"), ("B4", "B3", "B5")}
    assert edited.planned.repeatable


def test_a_list_of_trees_is_read(tmp_path: Path) -> None:
    path = tmp_path / "order.txt"
    path.write_text("\ufeffB2\nb1\n B0 \n\n\nB3\nB4\nB5\n", encoding="utf-8")
    found = editing()
    assert names(found, found.named(read_order(path))) == [["B2", "B1", "B0"], ["B3", "B4", "B5"]]


def test_a_table_of_trees_is_read(tmp_path: Path) -> None:
    path = tmp_path / "walk.csv"
    path.write_text("order;tree;trip\n1;B5;2\n2;B4;2\n3;B3;2\n4;B0;1\n5;B2;1\n6;B1;1\n")
    found = editing()
    assert names(found, found.named(read_order(path))) == [["B5", "B4", "B3"], ["B0", "B2", "B1"]]


def test_a_tree_with_two_holes_may_be_named_once_or_twice(tmp_path: Path) -> None:
    stand = wood()
    second = TapHole("x", "t1", 2, Wound.HOLE, date(2026, 3, 26))
    found = editing(replace(stand, holes=(*stand.holes, second)), run_ml=1000)
    path = tmp_path / "order.txt"
    path.write_text("B0\nB1\nB2\nB3\nB4\nB5\n")
    assert found.named(read_order(path)) == (("h0", "h1", "x", "h2", "h3", "h4", "h5"),)
    path.write_text("B1\nB0\nB1\nB2\nB3\nB4\nB5\n")
    assert found.named(read_order(path))[0][:3] == ("h1", "h0", "x")


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("B0\nB1\nB2\nB3\nB4\n", r"order.txt: B5 is missing"),
        ("B0\n", r"order.txt: B\d and 4 more are missing"),
        ("B0\nB1\n\nB9\n", r"order.txt, line 4: 'B9' is no stop of this round"),
        ("B0\nB0\n", r"order.txt, line 2: B0 was named before"),
        ("\n \n", r"order.txt: names no tree"),
        ("trip,tree\n1,\n", r"order.txt, line 2: no tree is named"),
    ],
)
def test_lists_at_fault_are_refused(tmp_path: Path, text: str, why: str) -> None:
    path = tmp_path / "order.txt"
    path.write_text(text)
    found = editing()
    with pytest.raises(UserError, match=why):
        found.named(read_order(path))


def test_what_is_no_list_is_refused(tmp_path: Path) -> None:
    with pytest.raises(UserError, match="cannot be read"):
        read_order(tmp_path / "none.txt")
    (tmp_path / "picture").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(UserError, match="not text in UTF-8"):
        read_order(tmp_path / "picture")


def test_one_stop_at_a_time() -> None:
    orders = (("a", "b"), ("c",), ("d", "e"))
    assert moved(orders, "a", 2, 1) == (("b",), ("c",), ("d", "a", "e"))
    assert moved(orders, "c", 0, 9) == (("a", "b", "c"), ("d", "e"))
    assert moved(orders, "a", 3, 0) == (("b",), ("c",), ("d", "e"), ("a",))
    assert stepped(orders, "a", 1) == (("b", "a"), ("c",), ("d", "e"))
    assert stepped(orders, "b", 1) == (("a",), ("b", "c"), ("d", "e"))
    assert stepped(orders, "c", -1) == (("a", "b", "c"), ("d", "e"))
    assert stepped(orders, "a", -1) == orders
    assert stepped(orders, "e", 1) == orders
