"""The walk in words: units, bearings, hours, costs, trips of several people; and the steps of the load."""

from __future__ import annotations

from datetime import date
from itertools import pairwise

import pytest

from standmap.desktop.pages.collect.load_profile import steps_of
from standmap.desktop.pages.collect.wording import cost, duration, improvement, magnetic_north, summary, walk_rows
from standmap.jobs.planned_round import PlannedRound, PlannedTrip, RoundStop
from standmap.jobs.round_editing import EditedRound
from standmap.stand.ground import Place, PlaceKind
from standmap.stand.tapping import TapHole, Wound
from standmap.stand.tree import Tree
from standmap.units_shown import System, UnitsShown

DAY = date(2026, 3, 28)
METRIC = UnitsShown()


def stop(order: int, load_kg: float, number: int = 1, bends: bool = False) -> RoundStop:
    tree = Tree(f"t{order}", f"B{order}", (27.6, 61.9))
    hole = TapHole(f"h{order}", tree.key, number, Wound.HOLE, DAY)
    return RoundStop(order, tree, hole, 2.5, load_kg, 40.0, 359.6, bends, 5.0, key=hole.key, hole_number=number)


def planned(*trips: PlannedTrip) -> PlannedRound:
    gate = Place("g", "gate", PlaceKind.GATE, (27.6, 61.9))
    return PlannedRound(DAY, gate, 1, True, True, "proved", 200.0, 130.4, trips, ())


def round_of_two(collector: int = 1) -> PlannedRound:
    first = PlannedTrip(1, 1, 120.0, 20.0, 6.0, (stop(1, 3.5, bends=True), stop(2, 6.0, number=2)), ())
    return planned(first, PlannedTrip(2, collector, 80.0, 10.0, 3.5, (stop(3, 3.5),), ()))


def test_a_round_in_one_line() -> None:
    assert summary(round_of_two(), METRIC) == "3 holes · 2 trips · 2 h 10 min · 200 m"
    assert summary(round_of_two(), UnitsShown(System.US)).endswith("656 ft")
    assert duration(49.4) == "49 min"


def test_rows_say_all_of_a_stop() -> None:
    rows = walk_rows(EditedRound(round_of_two(), 0, 0, (1,)), METRIC, None, {"h1"}, {"h3"})
    assert [row.is_trip for row in rows] == [True, False, False, True, False]
    assert rows[0].heavy
    assert rows[0].said == "trip 1: 6.0 kg · 20 min, 120 m; over the load"
    assert rows[1].way == "40 m 000°"  # never 360
    assert rows[1].said == "1: B1, 40 m at 000° true, 2.5 L, then 3.5 kg; the way bends; kept first on its trip"
    assert rows[2].name == "B2 hole 2"
    assert rows[4].pinned == "last"
    assert not rows[3].heavy


def test_several_collectors_are_told_apart() -> None:
    rows = walk_rows(EditedRound(round_of_two(collector=2), 0, 0, ()), METRIC, None, (), ())
    assert [row.name for row in rows if row.is_trip] == ["trip 1, collector 1", "trip 2, collector 2"]


def test_bearings_say_which_north() -> None:
    north = magnetic_north(27.6, 61.9, DAY, "magnetic")
    assert north is not None
    row = walk_rows(EditedRound(round_of_two(), 0, 0, ()), METRIC, north, (), ())[1]
    assert "magnetic" in row.said
    assert row.way != "40 m 000°"
    assert magnetic_north(27.6, 61.9, DAY, "true") is None
    assert magnetic_north(27.6, 61.9, date(1990, 1, 1), "magnetic") is None


@pytest.mark.parametrize(
    ("more_m", "more_min", "told"),
    [(120.4, 2.2, "+120 m, +2 min"), (0.2, 0.1, "0 m, 0 min"), (-30, -1, "−30 m, −1 min")],
)
def test_a_cost_says_more_or_less(more_m: float, more_min: float, told: str) -> None:
    assert cost(EditedRound(round_of_two(), more_m, more_min, ()), METRIC) == told


def test_how_the_search_goes() -> None:
    assert improvement(320.0, round_of_two(), 4.9, METRIC) == "4 s · 120 m shorter than the first order"
    assert improvement(200.0, round_of_two(), 4.9, METRIC) == "4 s"


def test_the_load_goes_up_in_steps_and_down_at_the_depot() -> None:
    first, second = steps_of(round_of_two(), (1.0, 1.0))
    assert first == [
        (0.0, 0.0),
        (0.0, 1.0),
        (40.0, 1.0),
        (40.0, 3.5),
        (80.0, 3.5),
        (80.0, 6.0),
        (120.0, 6.0),
        (120.0, 0.0),
    ]
    assert second[0] == (120.0, 0.0)
    assert second[-1] == (200.0, 0.0)
    assert all(a[0] == b[0] or a[1] == b[1] for a, b in pairwise(first + second))
