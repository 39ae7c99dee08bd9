"""What to take along: counted from the walk, for each of its purposes."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from standmap.errors import UserError
from standmap.jobs.planned_round import KitLine, PlannedRound, Purpose
from standmap.jobs.round import RoundOptions, plan_round
from standmap.jobs.round_kit import vessel_for
from standmap.stand.records import Plan
from standmap.stand.tapping import Collection
from tests.jobs.round_woods import DAY, wood


def lines(planned: PlannedRound) -> dict[str, KitLine]:
    return {line.what: line for line in planned.kit}


def test_cans_are_enough_for_the_fullest_trip_of_each_collector() -> None:
    planned = plan_round(wood(*[(20.0 * i, 5.0) for i in range(1, 9)]), DAY, RoundOptions(can_l=5, run_ml=2000))
    fullest = max(sum(stop.litres for stop in trip.stops) for trip in planned.trips)
    cans = lines(planned)["can of 5 L"].count
    assert cans is not None
    assert cans * 5 >= fullest > (cans - 1) * 5
    both = plan_round(
        wood(*[(20.0 * i, 5.0) for i in range(1, 9)]), DAY, RoundOptions(can_l=5, run_ml=2000, collectors=2)
    )
    assert lines(both)["jug with marks"].count == 2


def test_swapped_vessels_are_counted_and_cans_stay_at_home() -> None:
    planned = plan_round(wood((20, 0), (40, 0)), DAY, RoundOptions(swap_vessels=True))
    assert lines(planned)["clean empty vessel"].count == 2
    assert not any(what.startswith("can of") for what in lines(planned))


def test_a_high_night_asks_for_larger_vessels_by_name() -> None:
    stand = wood((20, 0), (40, 0))
    nights = tuple(
        Collection(f"c{n}", "h0", DAY.replace(month=4, day=n), None, 2000.0 if n < 9 else 7000.0, "", "l")
        for n in range(1, 12)
    )
    later = DAY.replace(month=4, day=12)
    planned = plan_round(replace(stand, collections=nights), later, RoundOptions())
    small = [line for line in planned.kit if line.what.startswith("vessel of")]
    assert sum(line.count or 0 for line in small) == 2
    assert sorted(name for line in small for name in line.note.split(" at ")[1].split(", ")) == ["B0", "B1"]


def test_cans_are_for_nine_totals_of_ten_and_no_vessel_gives_more_than_it_holds() -> None:
    stand = wood(*[(20.0 * i, 5.0) for i in range(1, 9)])
    planned = plan_round(stand, DAY, RoundOptions(can_l=5, capacity_kg=40, vessel_ml=6000))
    (trip,) = planned.trips
    expected = sum(stop.litres for stop in trip.stops)
    cans = lines(planned)["can of 5 L"]
    told = float(cans.note.split()[2])
    assert expected < told <= 8 * 6.0
    assert sum(stop.high_l for stop in trip.stops) > told, "not every hole has its best night at once"
    assert cans.count == math.ceil(told / 5)


def test_the_chance_that_is_set_says_how_large_a_vessel_is() -> None:
    def size(chance: float) -> float:
        kit = plan_round(wood((20, 0)), DAY, RoundOptions(overflow_chance=chance)).kit
        found = [line for line in kit if line.what.startswith("vessel of")]
        return float(found[0].what.split()[2]) if found else 4.5

    assert size(0.05) > size(0.1) > size(0.2) > size(0.5) == 4.5
    with pytest.raises(UserError, match="choose 1 to 50 %"):
        plan_round(wood((20, 0)), DAY, RoundOptions(overflow_chance=0))


def test_tapping_takes_a_vessel_and_a_tube_for_each_hole() -> None:
    stand = wood((20, 0), (40, 0), tapped=False)
    plans = [Plan("p0", "t0", 2026), Plan("p1", "t1", 2026)]
    planned = plan_round(stand, DAY, RoundOptions(purpose=Purpose.TAPPING, vessel_ml=20_000), plans=plans)
    kit = lines(planned)
    assert kit["clean vessel of 20 L"].count == 2
    assert kit["clean tube of 10 mm"] == KitLine("clean tube of 10 mm", 2, "for 2 holes")
    assert kit["sharp bit of 10 mm"].note == "cautious set: 10 mm"


def test_closing_takes_pegs_by_the_holes() -> None:
    planned = plan_round(wood((20, 0), (40, 0), (60, 0)), DAY, RoundOptions(purpose=Purpose.CLOSING))
    kit = lines(planned)
    assert kit["tapered peg for a hole of 10 mm"].count == 2
    assert kit["tapered pegs of several widths"] == KitLine(
        "tapered pegs of several widths", 1, "the width of 1 hole was not noted"
    )
    assert kit["bag for the tubes and vessels that come home"].note == "3 of each"


def test_a_lamp_goes_along_in_the_dark_alone() -> None:
    early = plan_round(wood((20, 0)), DAY, RoundOptions(sets_out=time(0, 30)))
    assert lines(early)["lamp with a full battery"].count == 1
    assert early.light is not None
    assert early.light.lamp_until is not None
    noon = plan_round(wood((20, 0)), DAY, RoundOptions(sets_out=time(12)))
    assert "lamp with a full battery" not in lines(noon)


@given(st.floats(0, 60), st.floats(0.5, 60))
def test_a_vessel_holds_the_night_and_is_no_larger_than_it_must(high_l: float, usual_l: float) -> None:
    found = vessel_for(high_l, usual_l)
    assert found >= max(usual_l if high_l <= usual_l else 0, high_l - 1e-6)
    if high_l > usual_l:
        step = 0.5 if high_l <= 6 else 1 if high_l <= 10 else 5
        assert found - high_l < step + 1e-6
        assert found / step == pytest.approx(round(found / step))
