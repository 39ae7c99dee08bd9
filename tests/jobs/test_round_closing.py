"""The closing walk: which wounds are still open, and how each rule set asks for them to be left."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from standmap.jobs.round_closing import closing_stops, peg_text
from standmap.rules.ruleset import load
from standmap.stand.snapshot import Stand
from standmap.stand.tapping import Act, Observation, TapHole, Wound
from standmap.stand.tree import Tree

DAY = date(2026, 4, 10)


def wood() -> Stand:
    trees = tuple(Tree(f"t{i}", f"B{i}", (27.6, 61.9 + i * 1e-4)) for i in range(4))
    holes = (
        TapHole("h0", "t0", 1, Wound.HOLE, date(2026, 3, 25), bit_mm=10.0),
        TapHole("h1", "t1", 1, Wound.HOLE, date(2026, 3, 25)),
        TapHole("h2", "t2", 1, Wound.SLIT, date(2026, 3, 26)),
        TapHole("h3", "t3", 1, Wound.HOLE, date(2026, 3, 25)),
    )
    out = Observation("o", "t3", "h3", Act.TAKEN_OUT, date(2026, 4, 9))
    return Stand(trees=trees, holes=holes, observations=(out,))


def texts(stop: object) -> list[str]:
    return [todo.text for todo in stop.todo]  # type: ignore[attr-defined]


def test_a_set_that_asks_for_plugs_names_the_peg_and_itself() -> None:
    asked = closing_stops(wood(), DAY, (), load("belarus"), 0.4)
    assert sorted(stop.key for stop in asked.stops) == ["h0", "h1", "h2", "h3"]
    by_key = {stop.key: stop for stop in asked.stops}
    assert texts(by_key["h0"]) == [
        "twist the tube out by hand",
        "plug with a peg that tapers from 12 to 9 mm, for a hole of 10 mm",
        "note what was done",
    ]
    assert by_key["h0"].todo[1].source.startswith("Belarus, holes by diameter: Belarusian Ministry")
    assert texts(by_key["h3"])[0] == peg_text(None)
    assert texts(by_key["h2"])[1] == "leave the slit clean and open"
    assert (by_key["h0"].taken_kg, by_key["h3"].taken_kg) == (0.4, 0.0)
    assert asked.notes == ()


def test_a_set_that_says_nothing_does_not_nag() -> None:
    asked = closing_stops(wood(), DAY, (), load("finland"), 0.4)
    assert "h3" not in {stop.key for stop in asked.stops}
    told = {stop.key: texts(stop) for stop in asked.stops}
    assert told["h0"][1] == "plug it or leave it clean and open"
    assert asked.notes == (
        "Finland, advice does not say whether a hole is plugged: either way is right here, note which",
        "1 hole whose tube is out is not visited: Finland, advice asks for nothing more",
    )


def test_holes_may_stay_open_where_a_person_set_it_so() -> None:
    asked = closing_stops(wood(), DAY, ("B0",), load("cautious", {"plug": 0}), 0.4)
    (stop,) = asked.stops
    assert texts(stop)[1] == "leave it clean and open, without a plug"
    assert "set for this stand" in stop.todo[1].source


def test_what_was_left_of_an_earlier_season_is_looked_at_first() -> None:
    stand = wood()
    old = TapHole("x", "t0", 1, Wound.HOLE, date(2025, 3, 25), bit_mm=8.0)
    asked = closing_stops(replace(stand, holes=(*stand.holes, old)), DAY, (), load("cautious"), 0.4)
    stop = next(stop for stop in asked.stops if stop.key == "x")
    assert texts(stop)[0] == "look whether the tube is still in, and twist it out by hand"


def test_a_named_tree_without_an_open_wound_is_said() -> None:
    stand = wood()
    done = Observation("p", "t3", "h3", Act.PLUGGED, date(2026, 4, 9))
    stand = replace(stand, observations=(*stand.observations, done))
    asked = closing_stops(stand, DAY, ("B3", "B0"), load("cautious"), 0.4)
    assert [stop.tree.name for stop in asked.stops] == ["B0"]
    assert asked.left_out == (("B3", "no wound of it is open"),)


@pytest.mark.parametrize("bit_mm", [1.0, 7.9375, 11.1])
def test_a_peg_goes_in_and_then_sticks(bit_mm: float) -> None:
    words = peg_text(bit_mm).split()
    thick, thin = float(words[words.index("from") + 1]), float(words[words.index("mm,") - 1])
    assert 0 < thin <= bit_mm < thick
