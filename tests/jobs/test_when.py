"""When to begin and when to stop."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from standmap.jobs.weather_stations import STATIONS_SETTING
from standmap.jobs.when import when
from standmap.season.answer import Phase, SeasonAnswer, Sign
from standmap.season.thermal import birch_models
from standmap.stand.ground import Place, PlaceKind
from standmap.stand.records import SeasonSign
from standmap.stand.snapshot import Stand
from tests.season.springs import leaf_out_signs, rows_of, year_round

FIRST = date(2014, 1, 1)
SERIES = year_round(FIRST, 366 * 14, seed=11)
WOOD = (Place("p", "tank", PlaceKind.TANK, (26.7, 58.4)),)
MODEL = replace(birch_models()[1], factor=1.15)
SIGNS = leaf_out_signs(FIRST, SERIES, range(2016, 2026), MODEL, seed=2, miss_days=1.0)


def stand(until: date, signs: tuple[SeasonSign, ...] = (), **more: object) -> Stand:
    return Stand(weather=rows_of(FIRST, SERIES, until=until), signs=signs, places=WOOD, **more)  # type: ignore[arg-type]


def truth(season: int) -> date:
    (sign,) = leaf_out_signs(FIRST, SERIES, range(season, season + 1), MODEL, seed=1, miss_days=0.0)
    return sign.seen_on


def asked(day: date, signs: tuple[SeasonSign, ...] = SIGNS) -> SeasonAnswer:
    return when(stand(day, signs), day)


def test_the_season_goes_through_its_phases_in_order() -> None:
    leaf_out = truth(2026)
    order = [Phase.TOO_EARLY, Phase.SOON, Phase.RUNNING, Phase.LAST_DAYS, Phase.OVER]
    met = [asked(leaf_out + timedelta(days=n)).phase for n in range(-75, 40, 3)]
    assert met == sorted(met, key=order.index)
    assert set(met) == set(order)


def test_leaf_out_draws_near_and_is_told_more_and_more_surely() -> None:
    leaf_out = truth(2026)
    widths = []
    for before in (60, 30, 5):
        answer = asked(leaf_out - timedelta(days=before))
        days = answer.models[1].leaf_out
        assert days is not None
        assert days.early - timedelta(days=4) <= leaf_out <= days.late + timedelta(days=4)
        widths.append((days.late - days.early).days)
    assert widths[0] > widths[2]


def test_at_least_two_models_speak_each_with_its_source_and_what_is_assumed_says_so() -> None:
    answer = asked(date(2026, 3, 20))
    assert len([m for m in answer.models if m.leaf_out is not None]) >= 2
    assert all(m.source for m in answer.models)
    assert sum("assumption" in m.source for m in answer.models) == 2
    assert answer.first is not None
    assert answer.last is not None
    assert "assumption" in answer.first.source
    assert answer.first.days.likely < answer.last.days.likely


def test_own_years_teach_from_three_on() -> None:
    two, ten = (asked(date(2026, 3, 20), SIGNS[:n]) for n in (2, 10))
    assert {m.error_days for m in two.models} == {None}
    assert all(m.own_years == 10 and m.error_days is not None for m in ten.models)
    told = ten.models[1]
    assert told.error_days is not None
    assert told.mean_error_days is not None
    assert told.error_days < told.mean_error_days  # the model by which the days were made


def test_first_sap_seen_in_earlier_years_teaches_the_lead() -> None:
    early = tuple(SeasonSign(f"f{s.key}", Sign.FIRST_SAP, s.seen_on - timedelta(days=35)) for s in SIGNS)
    usual, own = asked(date(2026, 3, 1)), asked(date(2026, 3, 1), (*SIGNS, *early))
    assert usual.first is not None
    assert own.first is not None
    moved = (usual.first.days.likely - own.first.days.likely).days
    assert moved == pytest.approx(14 * 10 / 12, abs=1.5)  # ten own leads of 35 beside the usual 21, which counts as two


def test_what_was_seen_this_spring_speaks_first() -> None:
    leaf_out = truth(2026)
    early = leaf_out - timedelta(days=50)
    sap = SeasonSign("a", Sign.FIRST_SAP, early)
    running = asked(early, (*SIGNS, sap))
    assert running.phase is Phase.RUNNING
    assert running.first is not None
    assert running.first.days.likely == running.first.days.late == early
    assert asked(early - timedelta(days=1), (*SIGNS, sap)).phase is not Phase.RUNNING  # it was not known the day before
    leaves = SeasonSign("b", Sign.LEAF_OUT, early)
    seen = asked(early, (*SIGNS, leaves))
    assert (seen.phase, seen.leaf_out_seen) == (Phase.OVER, early)


def test_a_stand_without_weather_goes_by_its_own_days_or_says_what_to_do() -> None:
    day = date(2026, 3, 1)
    nothing = when(Stand(places=WOOD), day)
    assert (nothing.phase, nothing.first, nothing.models) == (Phase.UNKNOWN, None, ())
    assert "bring one or note the other" in nothing.phase_why
    own = when(Stand(places=WOOD, signs=SIGNS), day)
    assert own.last is not None
    middle = np.mean([s.seen_on.timetuple().tm_yday for s in SIGNS])
    assert own.last.days.likely.timetuple().tm_yday == pytest.approx(middle - 1, abs=1.5)


def test_weather_that_never_warms_is_not_taken_for_none() -> None:
    cold = Stand(weather=rows_of(date(2023, 10, 1), np.full(910, -20.0)), places=WOOD)
    answer = when(cold, date(2026, 3, 1))
    assert (answer.phase, answer.first) == (Phase.UNKNOWN, None)
    assert answer.phase_why.startswith("what is known of the weather tells no day of leaf-out")


def test_weather_of_other_years_alone_is_said_to_be_that() -> None:
    answer = when(stand(date(2022, 6, 1), SIGNS), date(2026, 3, 20))
    assert any("of 2026 itself nothing is known" in text for text in answer.cautions)
    assert answer.phase is not Phase.UNKNOWN


def test_old_weather_and_a_station_far_away_are_cautioned_of() -> None:
    far = {STATIONS_SETTING: {"X": {"lon": 26.7, "lat": 60.2, "elevation_m": None, "name": ""}}}
    answer = when(stand(date(2026, 3, 1), SIGNS, settings=far), date(2026, 3, 20))
    assert answer.station_km == pytest.approx(200, abs=5)
    assert any(f"{answer.station_km:.0f} km away" in text for text in answer.cautions)
    assert any("19 days ago" in text for text in answer.cautions)
    unknown = when(stand(date(2026, 3, 20), SIGNS), date(2026, 3, 20))
    assert any("is that near the stand?" in text for text in unknown.cautions)


def test_days_filled_in_are_counted() -> None:
    gone = {date(2026, 2, 10), date(2026, 2, 11)}
    full = stand(date(2026, 3, 20), SIGNS)
    answer = when(replace(full, weather=tuple(r for r in full.weather if r.day not in gone)), date(2026, 3, 20))
    assert answer.missing_days == 2


def test_in_the_south_spring_comes_half_a_year_later() -> None:
    series = year_round(FIRST, 366 * 14, seed=11, southern=True)
    wood = (Place("p", "tank", PlaceKind.TANK, (170.0, -45.0)),)
    answer = when(Stand(weather=rows_of(FIRST, series, until=date(2026, 9, 10)), places=wood), date(2026, 9, 10))
    assert answer.begins_on == date(2026, 7, 1)
    assert answer.first is not None
    assert answer.last is not None
    assert date(2026, 9, 1) < answer.last.days.likely < date(2026, 12, 1)


def test_in_the_dark_months_the_spring_to_come_is_meant() -> None:
    assert asked(date(2025, 12, 1)).season == 2026
    assert asked(date(2025, 10, 1)).season == 2025


def test_this_year_stands_beside_earlier_ones() -> None:
    answer = asked(date(2026, 3, 20))
    assert [y.year for y in answer.years] == [2026, *range(2025, 2014, -1)]
    this = answer.years[0]
    assert this.known_until == (date(2026, 3, 20) - date(2026, 1, 1)).days + 1
    assert (np.diff(this.sums) >= 0).all()
    assert dict(answer.years[1].signs)[Sign.LEAF_OUT] == (SIGNS[-1].seen_on - date(2025, 1, 1)).days
