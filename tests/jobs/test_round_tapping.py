"""The tapping walk: which marked trees may be drilled, and what is asked at each."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from standmap.jobs.round_stem import place_on_stem
from standmap.jobs.round_tapping import Hung, tapping_stops
from standmap.rules.ruleset import load
from standmap.sap.expected import night_runs
from standmap.stand.ground import Area, AreaKind
from standmap.stand.records import Plan
from standmap.stand.snapshot import Stand
from standmap.stand.tapping import TapHole, Wound
from standmap.stand.tree import Measurement, Tree

DAY = date(2026, 3, 28)
RING = ((27.5, 61.8), (27.7, 61.8), (27.7, 62.0), (27.5, 62.0), (27.5, 61.8))


def wood(*names: str) -> Stand:
    trees = tuple(
        Tree(n, n, (27.6, 61.9 + i * 1e-4), species="Betula pendula", var_e_m2=1.0, var_n_m2=1.0, cov_en_m2=0.0)
        for i, n in enumerate(names)
    )
    girths = tuple(Measurement(f"m{t.key}", t.key, date(2026, 1, 5), 900.0, None, "900", "mm") for t in trees)
    return Stand(trees=trees, measurements=girths)


def asked(stand: Stand, plans: list[Plan], *names: str, rules: str = "cautious"):  # type: ignore[no-untyped-def]
    keys = [tree.key for tree in stand.present]
    return tapping_stops(
        stand,
        plans,
        DAY,
        names,
        load(rules),
        Hung(4500.0, 0.4),
        night_runs(stand, keys),
    )


def marks(*keys: str, holes: int = 1) -> list[Plan]:
    return [Plan(f"p{key}", key, 2026, holes) for key in keys]


def test_a_ready_tree_is_asked_about_from_its_tag_to_its_notes() -> None:
    (stop,) = asked(wood("B1", "B2"), marks("B1")).stops
    assert (stop.key, stop.hole, stop.hole_number, stop.left_kg) == ("B1/1", None, 1, 0.4)
    told = [todo.text for todo in stop.todo]
    assert told[0] == "read the tag: B1"
    assert told[1].startswith("may I drill this one? yes: ")
    assert told[2] == "be sure of the tree: silver birch (Betula pendula), as noted"
    assert told[3:] == [
        "drill 10 mm wide, 10 to 15 mm deep in the wood",
        "set the tube and hang a vessel of 4.5 L",
        "write down height, side, depth and bit",
    ]
    assert all(todo.source for todo in stop.todo[:-1])
    assert any("soundness is not recorded" in text for text in stop.cautions)


def test_the_rule_set_says_how_high() -> None:
    (stop,) = asked(wood("B1"), marks("B1"), rules="belarus").stops
    drill = next(todo for todo in stop.todo if todo.text.startswith("drill"))
    assert drill.text == "drill 10 mm wide, 20 to 30 mm deep in the wood, 350 to 500 mm above the ground"
    assert drill.source.startswith("Belarus, holes by diameter: Belarusian Ministry of Forestry rules")


def test_a_tree_that_may_not_be_drilled_is_left_out_with_the_reason() -> None:
    stand = wood("B1", "B2", "B3")
    old = TapHole("h", "B1", 1, Wound.HOLE, date(2025, 3, 20))
    thin = Measurement("n", "B2", date(2026, 2, 1), 500.0, None, "500", "mm")
    stand = replace(stand, holes=(old,), measurements=(*stand.measurements, thin))
    found = asked(stand, marks("B1", "B2"), "B1", "B2", "B3")
    assert found.stops == ()
    why = dict(found.left_out)
    assert why["B1"].startswith("may not be drilled: resting, back in 2029 (")
    assert why["B2"].startswith("may not be drilled: growing on (")
    assert why["B3"] == "not marked for 2026"


def test_what_is_not_known_is_asked_at_the_tree() -> None:
    stand = wood("B1")
    stand = replace(stand, trees=(replace(stand.trees[0], species=None),))
    (stop,) = asked(stand, marks("B1")).stops
    told = [todo.text for todo in stop.todo]
    assert told[1].startswith("may I drill this one? not before this is known: ")
    assert told[2] == "be sure of the tree before drilling: its species is not noted"


def test_a_tree_that_could_be_taken_for_a_resting_one_says_so() -> None:
    stand = wood("B1", "B2")
    beside = replace(stand.trees[1], at=(27.6, 61.900005))
    old = TapHole("h", "B2", 1, Wound.HOLE, date(2025, 3, 20))
    stand = replace(stand, trees=(stand.trees[0], beside), holes=(old,))
    (stop,) = asked(stand, marks("B1")).stops
    assert any(text.startswith("check the tag: could be mistaken for B2 (resting)") for text in stop.cautions)


def test_the_owners_permission_holds_on_the_day_itself() -> None:
    stand = wood("B1")
    may = Area("a", "hill", AreaKind.PERMITTED, (RING,), owner="Aino", until_date=date(2026, 4, 30))
    (stop,) = asked(replace(stand, areas=(may,)), marks("B1")).stops
    assert "permitted by Aino until 2026-04-30" in [todo.text for todo in stop.todo]
    later = replace(may, from_date=date(2026, 4, 1))
    found = asked(replace(stand, areas=(later,)), marks("B1"))
    assert found.left_out == (("B1", "may not be drilled on 2026-03-28: the permission begins on 2026-04-01"),)


def test_holes_made_already_and_holes_too_many_are_not_asked_for() -> None:
    stand = wood("B1", "B2")
    made = TapHole("h", "B1", 1, Wound.HOLE, date(2026, 3, 27))
    stand = replace(stand, holes=(made,))
    found = asked(stand, marks("B1", "B2", holes=3))
    assert [stop.key for stop in found.stops] == ["B2/1"]
    assert found.stops[0].cautions[0] == "3 holes marked, 1 allowed"
    assert dict(found.left_out) == {"B1": "as many holes as are allowed are made already"}
    assert dict(asked(stand, marks("B1", "B2")).left_out) == {"B1": "tapped in 2026 already"}


def test_a_new_hole_keeps_away_from_old_ones() -> None:
    stand = wood("B1")
    old = (
        TapHole("a", "B1", 1, Wound.HOLE, date(2019, 3, 20), height_mm=450.0, side_deg=0.0),
        TapHole("b", "B1", 1, Wound.HOLE, date(2021, 3, 20), side_deg=90.0),
    )
    kept, room = place_on_stem(replace(stand, holes=old), stand.trees[0], DAY, load("cautious"))
    assert kept.text == "keep 200 mm from old holes: 2021: east side; 2019: 450 mm up, north side"
    assert room.text == "most room: 875 mm up on the west side, 451 mm from the nearest old hole"
    assert "a model" in room.source
    unknown = replace(old[0], side_deg=None, height_mm=None)
    (todo,) = place_on_stem(replace(stand, holes=(unknown,)), stand.trees[0], DAY, load("cautious"))
    assert todo.text == "keep 200 mm from old holes: 2019: place not noted"


def test_a_stem_that_is_full_is_left_alone() -> None:
    stand = wood("B1")
    old = tuple(TapHole(f"h{k}", "B1", 1, Wound.HOLE, date(2010 + k, 3, 20), side_deg=k * 60.0) for k in range(6))
    kept, full = place_on_stem(replace(stand, holes=old), stand.trees[0], DAY, load("cautious"))
    assert kept.text.endswith("and 3 older")
    assert full.text == "no place left on this stem keeps clear of old holes: leave it this year"
