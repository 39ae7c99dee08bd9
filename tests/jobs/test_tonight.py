"""What tonight's run will be, and what to hang."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, time, timedelta

import pytest

from standmap.errors import NothingToDo, UserError
from standmap.jobs.round_options import RoundOptions
from standmap.jobs.tonight import TonightAnswer, past_seasons, tonight, until_of
from standmap.sap.course import part_between
from standmap.sap.expected import learned
from standmap.stand.records import Weather
from standmap.stand.snapshot import Stand
from standmap.stand.tapping import Collection
from tests.jobs.round_woods import wood

EVE = date(2026, 3, 27)
NEXT = EVE + timedelta(days=1)


def here(hour: int, minute: int = 0, day: date = EVE) -> datetime:
    return datetime.combine(day, time(hour, minute)).astimezone()


def hung(stand: Stand, *hours: datetime) -> Stand:
    """Return a stand whose holes were made at these moments."""
    pairs = zip(stand.holes, hours, strict=True)
    return replace(stand, holes=tuple(replace(h, made_on=at.date(), made_at=at) for h, at in pairs))


def taken(number: int, hole: str, at: datetime, ml: float = 2000.0) -> Collection:
    return Collection(f"c{number}", hole, at.date(), at, ml, "", "l")


def shares(answer: TonightAnswer) -> list[float]:
    return [hole.hanging.nights for hole in answer.holes]


def test_only_what_comes_between_emptying_and_the_planned_hour_counts() -> None:
    stand = hung(wood((20, 0), (40, 0), (60, 0)), here(7), here(17, 30), here(7, day=EVE - timedelta(days=2)))
    stand = replace(stand, collections=(taken(0, "h2", here(20)),))
    answer = tonight(stand, EVE, time(7), warm_c=6)
    assert answer.until == here(7, day=NEXT)
    assert shares(answer) == pytest.approx(
        [1.0, part_between(here(17, 30), answer.until), part_between(here(20), answer.until)]
    )
    medians = [hole.hanging.run.median_ml for hole in answer.holes]
    assert medians[1] / medians[0] == pytest.approx(shares(answer)[1], rel=1e-6)
    assert [hole.overflow for hole in answer.holes] == sorted((h.overflow for h in answer.holes), reverse=True)
    whole = learned(stand).night("t0", 900.0, NEXT, 6.0)
    assert medians[0] == pytest.approx(whole.median_ml)
    assert answer.holes[0].overflow == pytest.approx(whole.overflow_chance(4500))
    assert answer.holes[0].wanted_ml == pytest.approx(whole.vessel_ml(0.1))


def test_nights_without_a_collection_add_up_until_the_vessel_is_full() -> None:
    one, three = here(7), here(7, day=EVE - timedelta(days=2))
    answer = tonight(hung(wood((20, 0), (40, 0)), one, three), EVE, time(7), warm_c=6)
    once, thrice = answer.holes
    assert thrice.hanging.nights == pytest.approx(3)
    assert 2.5 < thrice.hanging.run.median_ml / once.hanging.run.median_ml < 4.5
    assert thrice.waits_ml == 4500.0
    assert once.waits_ml == once.hanging.run.median_ml
    assert any("up to 3.0 nights" in text for text in answer.notes)
    again = tonight(hung(wood((20, 0), (40, 0)), one, three), EVE, time(7), warm_c=6, emptied=time(7))
    assert shares(again) == pytest.approx([1.0, 1.0])
    assert again.holes[1].hanging.run.spread == pytest.approx(once.hanging.run.spread)


def test_hours_are_of_the_next_morning_or_of_this_evening() -> None:
    stand = hung(wood((20, 0)), here(7))
    assert tonight(stand, EVE, time(11, 59)).until == here(11, 59, day=NEXT)
    assert tonight(stand, EVE, time(18)).until == here(18)
    assert tonight(stand, EVE, until_of("2026-03-29 06:30")).until == here(6, 30, day=date(2026, 3, 29))
    sunrise = tonight(stand, EVE).until
    assert sunrise.date() == NEXT
    assert sunrise.hour < 12
    evening = tonight(stand, EVE, time(18), warm_c=2)
    assert evening.holes[0].evening is None
    assert (
        evening.holes[0].hanging.run.median_ml < tonight(stand, EVE, time(18), warm_c=8).holes[0].hanging.run.median_ml
    )


def test_a_total_is_no_more_than_the_vessels_hold_and_tells_the_cans() -> None:
    stand = hung(wood(*[(20.0 * k, 0) for k in range(1, 9)]), *[here(7)] * 8)
    answer = tonight(stand, EVE, time(7), warm_c=8, options=RoundOptions(can_l=5, vessel_ml=4000))
    assert answer.total.low_ml < answer.total.median_ml < answer.total.most_ml <= 8 * 4000
    assert answer.run.most_ml > answer.total.most_ml
    assert answer.cans == -(-answer.total.most_ml // 5000)
    assert sum(hole.hanging.run.most_ml for hole in answer.holes) > answer.run.most_ml
    assert tonight(stand, EVE, time(7), options=RoundOptions(swap_vessels=True)).cans == 0


def test_larger_vessels_and_evening_visits_are_told_where_the_chance_is_passed() -> None:
    stand = hung(wood((20, 0), (40, 0)), here(7), here(20))
    answer = tonight(stand, EVE, time(7), warm_c=8)
    early, late = answer.holes
    assert early.overflow > 0.1 > late.overflow
    assert [one.tree.name for one in answer.likely_over] == ["B0"]
    (larger,) = answer.larger
    assert (larger.holes, [tree.name for tree in larger.trees]) == (1, ["B0"])
    assert larger.vessel_l * 1000 >= early.wanted_ml > 4500
    assert early.evening is not None
    assert early.evening < early.overflow, "less comes in each part than in both"
    fuller = tonight(stand, EVE, time(7), warm_c=8, options=RoundOptions(vessel_ml=60_000))
    assert (fuller.likely_over, fuller.larger, fuller.evening_helps) == ((), (), ())
    between = tonight(stand, EVE, time(7), warm_c=8, options=RoundOptions(vessel_ml=early.wanted_ml * 0.85))
    assert [one.tree.name for one in between.evening_helps] == ["B0"]


def test_warmth_is_what_is_asked_for_else_the_weather_else_the_usual() -> None:
    stand = hung(wood((20, 0)), here(7))
    usual = tonight(stand, EVE, time(7))
    assert usual.warmth_basis.startswith("as warm as is usual")
    weather = tuple(Weather(f"w{k}", day, 1.0, 3.0, 6.0) for k, day in enumerate((EVE, NEXT)))
    known = tonight(replace(stand, weather=weather), EVE, time(7))
    assert (known.warmth_c, known.warmth_basis) == (3.0, "by this stand's weather")
    asked = tonight(replace(stand, weather=weather), EVE, time(7), warm_c=9)
    assert (asked.warmth_c, asked.warmth_basis) == (9, "as asked for")
    cold, mild, warm = (a.holes[0].hanging.run for a in (known, usual, asked))
    assert cold.median_ml < mild.median_ml < warm.median_ml
    assert mild.spread > warm.spread, "how warm it will be is not known"
    hot = tonight(stand, EVE, time(7), warm_c=20)
    assert hot.holes[0].hanging.run.median_ml == tonight(stand, EVE, time(7), warm_c=10).holes[0].hanging.run.median_ml
    assert any("taken as the nearest" in text for text in hot.notes)


@pytest.mark.parametrize(
    ("asked", "wrong"),
    [
        ({"warm_c": 999.9}, "a night of 999.9 °C is out of bounds"),
        ({"until": here(7, day=EVE - timedelta(days=1))}, "2026-03-26 07:00 is before 2026-03-27"),
        ({"until": here(7, day=date(2026, 4, 10))}, "more than 7 nights after"),
        ({"until": here(6)}, "no vessel hangs yet at 2026-03-27 06:00"),
        ({"until": time(18), "emptied": time(19)}, "vessels emptied at 2026-03-27 19:00 are empty"),
        ({"options": RoundOptions(vessel_ml=0)}, "a vessel of 0 L is out of bounds"),
        ({"options": RoundOptions(overflow_chance=0.9)}, "a chance of 90 % is out of bounds"),
    ],
)
def test_what_cannot_be_is_refused(asked: dict[str, object], wrong: str) -> None:
    with pytest.raises(UserError, match=wrong):
        tonight(hung(wood((20, 0)), here(7)), EVE, **asked)  # type: ignore[arg-type]


def test_a_hole_made_later_is_left_out_and_without_holes_there_is_no_answer() -> None:
    stand = hung(wood((20, 0), (40, 0)), here(7), here(19))
    answer = tonight(stand, EVE, time(18))
    assert [hole.tree.name for hole in answer.holes] == ["B0"]
    assert answer.left_out == (("B1", "not hung yet at 2026-03-27 18:00"),)
    with pytest.raises(NothingToDo, match="no hole is open on 2026-01-02"):
        tonight(stand, date(2026, 1, 2))


@pytest.mark.parametrize(
    ("text", "wrong"), [("soon", "is no hour"), ("24:00", "no time of day"), ("2026-02-30 07:00", "not a date")]
)
def test_hours_that_are_none(text: str, wrong: str) -> None:
    with pytest.raises(UserError, match=wrong):
        until_of(text)


def test_past_seasons_are_held_against_what_was_told() -> None:
    stand = hung(wood((20, 0), (40, 0)), here(7, day=date(2026, 3, 20)), here(7, day=date(2026, 3, 20)))
    with pytest.raises(NothingToDo, match="nothing was collected yet from a single hole"):
        past_seasons(stand, 4500)
    rows = tuple(taken(k, f"h{k % 2}", here(7, day=date(2026, 3, 21 + k // 2)), 2500 + 100 * k) for k in range(10))
    found = past_seasons(replace(stand, collections=rows), 4500)
    assert (found.collections, [one.season for one in found.seasons]) == (10, [2026])
