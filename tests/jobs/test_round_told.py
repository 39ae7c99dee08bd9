"""A planned walk in words: hours, light, legs, notes and cautions."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, time, timedelta

import pytest

from standmap.cli.round_shown import _hours
from standmap.errors import UserError
from standmap.jobs.planned_round import Purpose
from standmap.jobs.round import NothingToCollect, RoundOptions, plan_round
from standmap.jobs.round_options import FromHere, Walker
from standmap.jobs.vessels import COURSE_OF_A_DAY
from standmap.jobs.walk_paper import PaperOptions
from standmap.jobs.walk_paper_texts import sheet_of
from standmap.messages import Collected
from standmap.stand.ground import Line, LineKind
from standmap.stand.tapping import Collection
from tests.jobs.round_woods import DAY, at, wood

ROW = [(20.0 * i, 10.0 * (i % 3)) for i in range(1, 8)]


def test_legs_and_the_way_home_are_the_trips_own_line() -> None:
    for trip in plan_round(wood(*ROW), DAY, RoundOptions(capacity_kg=10)).trips:
        whole = [point for stop in trip.stops for point in stop.course[1:]]
        assert trip.course == (trip.stops[0].course[0], *whole, *trip.home_course[1:])
        assert trip.length_m == pytest.approx(sum(stop.leg_m for stop in trip.stops) + trip.home_m)
        walking = sum(stop.leg_min for stop in trip.stops) + trip.home_min
        assert trip.minutes == pytest.approx(walking + 3 * len(trip.stops))
        loads = [1.0, *(stop.load_kg for stop in trip.stops)]
        legs = [*(stop.leg_m for stop in trip.stops), trip.home_m]
        assert trip.effort_kg_m == pytest.approx(sum(a * b for a, b in zip(loads, legs, strict=True)), rel=1e-4)


def test_back_by_is_the_return_with_its_margin() -> None:
    planned = plan_round(wood(*ROW), DAY, RoundOptions(sets_out=time(6, 10), margin_min=45, contact="Aino"))
    assert planned.sets_out == datetime(2026, 3, 28, 6, 10).astimezone()
    assert planned.back_by is not None
    slack = planned.back_by - (planned.sets_out + timedelta(minutes=planned.minutes + 45))
    assert timedelta(0) <= slack < timedelta(minutes=1)
    assert any(
        text.startswith(f"back by {planned.back_by:%H:%M}: leave this sheet with Aino") for text in planned.cautions
    )
    assert any(text.startswith("alone: ") for text in planned.cautions)


def test_a_start_that_nobody_named_is_said_to_be_assumed() -> None:
    planned = plan_round(wood((20, 0)), DAY, RoundOptions())
    assert planned.light is not None
    assert planned.sets_out is not None
    assert planned.light.sunrise is not None
    assert timedelta(0) <= planned.sets_out - planned.light.sunrise <= timedelta(minutes=5)
    assert any(text.startswith("nobody said when the walk sets out") for text in planned.notes)
    assert COURSE_OF_A_DAY in planned.notes
    assert plan_round(wood((20, 0)), DAY, RoundOptions(sets_out=time(7))).notes == planned.notes[:1] + planned.notes[2:]


def test_a_vessel_runs_over_when_its_expected_run_fills_it() -> None:
    stand = wood((20, 0))
    begins = datetime(2026, 3, 28, 7, 0).astimezone()
    taken = Collection("c", "h0", date(2026, 3, 27), begins - timedelta(hours=20), 2000.0, "2", "l")
    options = RoundOptions(sets_out=time(7), run_ml=3000, vessel_ml=4500)
    (stop,) = plan_round(replace(stand, collections=(taken,)), DAY, options).trips[0].stops
    # From 11 h on a whole day's run comes until 11 h, and half of another one until late in the afternoon.
    assert stop.full_at == datetime(2026, 3, 28, 17, 48).astimezone()
    (stop,) = plan_round(stand, DAY, options).trips[0].stops
    assert stop.full_at == datetime(2026, 3, 28, 14, 36).astimezone()
    assert stop.full_at > begins
    long_ago = replace(taken, collected_on=date(2026, 3, 10), collected_at=None)
    older = replace(stand, holes=(replace(stand.holes[0], made_on=date(2026, 3, 9)),), collections=(long_ago,))
    (other,) = plan_round(older, DAY, options).trips[0].stops
    assert other.full_at == stop.full_at, "nothing written down for so long"
    assert other.litres == pytest.approx(3.0)


def test_vessels_that_run_over_too_soon_are_named() -> None:
    stand = wood((20, 0), (40, 0))
    hung = datetime(2026, 3, 26, 9, 0).astimezone()
    longer = replace(stand.holes[1], made_on=hung.date(), made_at=hung)
    options = RoundOptions(sets_out=time(7), run_ml=3000, vessel_ml=4500)
    planned = plan_round(replace(stand, holes=(stand.holes[0], longer)), DAY, options)
    assert "expected to run over before anybody is there: B1" in planned.cautions
    assert not any("run over" in text for text in plan_round(stand, DAY, options).cautions)


def test_the_usual_load_is_lowered_on_bad_footing_and_a_chosen_one_is_not() -> None:
    said = Collected()
    options = RoundOptions(capacity_as_given=False, dark=True, wet=True)
    planned = plan_round(wood(*ROW), DAY, options, messages=said)
    assert max(trip.max_load_kg for trip in planned.trips) <= 7.7
    told = "the usual load of 12 kg is lowered to 7.7 kg: dark and wet ground"
    assert any(text.startswith(told) for text in said.told)
    assert any(text.startswith(told) for text in planned.notes)
    chosen = plan_round(wood(*ROW), DAY, replace(options, capacity_as_given=True))
    assert max(trip.max_load_kg for trip in chosen.trips) > 7.7


def test_trees_that_are_done_or_not_wanted_are_left_out() -> None:
    planned = plan_round(wood(*ROW), DAY, RoundOptions(done=("B0", "B1"), not_today=("B2",)))
    assert sorted(s.tree.name for t in planned.trips for s in t.stops) == ["B3", "B4", "B5", "B6"]
    assert planned.left_out == (("B2", "not today, as asked"),)


def test_a_tap_that_cannot_be_reached_names_what_cuts_it_off() -> None:
    ring = [(90, -20), (130, -20), (130, 20), (90, 20), (90, -20)]
    brook = Line("s", "Alder brook", LineKind.STREAM, tuple(at(x, y) for x, y in ring))
    planned = plan_round(wood((20, 0), (110, 0), lines=(brook,)), DAY, RoundOptions())
    assert [name for name, _ in planned.left_out] == ["B1"]
    assert "the stream 'Alder brook' without a bridge or ford" in planned.left_out[0][1]


def test_paths_are_walked_faster_than_the_open_wood() -> None:
    slow = plan_round(wood((0, 200)), DAY, RoundOptions(aim="distance"))
    path = Line("p", "track", LineKind.PATH, (at(0, 0), at(0, 200)))
    quick = plan_round(wood((0, 200), lines=(path,)), DAY, RoundOptions(aim="distance"))
    assert quick.minutes < slow.minutes - 1
    assert quick.length_m == pytest.approx(slow.length_m, rel=0.01)


def test_an_hour_of_another_day_is_told_with_its_day() -> None:
    stand = wood(*ROW)
    planned = plan_round(stand, DAY, RoundOptions(sets_out=time(23, 30)))
    assert planned.back_by is not None
    back = f"2026-03-29, {planned.back_by:%H:%M}"
    assert any(text.startswith(f"back by {back}: ") for text in planned.cautions)
    sheet = sheet_of(planned, stand, "wood", PaperOptions())
    assert ("back by", back) in sheet.parts[0].facts
    assert any(f"back by {back};" in line for line in sheet.emergency.lines)
    assert _hours(planned).startswith("sets out 23:30, first light")
    assert _hours(planned).endswith(f"back by {back}")


def test_a_contact_in_any_script_is_taken() -> None:
    planned = plan_round(wood((20, 0)), DAY, RoundOptions(contact="\u0634\u062e\u0635 040"))
    assert planned.contact == "\u0634\u062e\u0635 040"


def test_a_walk_that_lasts_longer_than_a_working_day_is_asked_about() -> None:
    def asked(handling_min: float, collectors: int) -> bool:
        options = RoundOptions(handling_min=handling_min, collectors=collectors)
        return any("one person is on the way for" in c for c in plan_round(wood(*ROW), DAY, options).cautions)

    assert asked(80, 1)
    assert not asked(60, 1)
    assert not asked(80, 2)


def test_what_is_carried_already_is_warned_of_like_a_load() -> None:
    def cautions(carrying_kg: float) -> str:
        here = FromHere(at(5, 5), carrying_kg)
        return " ".join(plan_round(wood(*ROW), DAY, RoundOptions(from_here=here)).cautions)

    assert "a load over 16 kg" in cautions(17)
    assert "a load over 16 kg" not in cautions(12)


@pytest.mark.parametrize(
    ("purpose", "why"),
    [
        (Purpose.TAPPING, "nothing to tap: no tree is marked for 2026"),
        (Purpose.CLOSING, "nothing to close: no wound is open on 2026-03-28"),
    ],
)
def test_nothing_to_do_says_what_would_be_needed(purpose: Purpose, why: str) -> None:
    with pytest.raises(NothingToCollect, match=why):
        plan_round(wood((20, 0), tapped=False), DAY, RoundOptions(purpose=purpose))


@pytest.mark.parametrize(
    ("options", "why"),
    [
        (RoundOptions(first="B77"), "no tree is called 'B77'"),
        (RoundOptions(tanks=("barn",)), "no place is called 'barn'"),
        (RoundOptions(aim="beauty"), "'beauty' is nothing that a walk can aim at"),
        (RoundOptions(handling_min=121), "121 minutes at a stop"),
        (RoundOptions(sets_out=time(7), latest=time(6)), "is to be over at 06:00"),
        (RoundOptions(barrow_kg=5), "a sledge or barrow of 5 kg"),
        (RoundOptions(margin_min=-1), "a margin of -1 minutes"),
        (RoundOptions(contact="x" * 201), "the contact is too long"),
        (RoundOptions(contact="Aino\u202e 040"), "holds characters that cannot be seen"),
        (RoundOptions(walkers=(Walker("Ott\x1b[2J"),)), "holds characters that cannot be seen"),
        (
            RoundOptions(together=(("B0", "B1"), ("B2", "B1"), ("B3", "B0")), run_ml=3000),
            "B0, B1, B2 and 1 more together are 13.0 kg, more than the 12 kg of one trip",
        ),
    ],
)
def test_wishes_that_cannot_be_are_refused(options: RoundOptions, why: str) -> None:
    with pytest.raises(UserError, match=why):
        plan_round(wood((20, 0), (30, 0), (40, 0), (50, 0)), DAY, options)
