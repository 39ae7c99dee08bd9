"""When to begin and when to stop: the season of a stand by its weather, its own days, and published models."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, timedelta

import numpy as np

from standmap.jobs.cautions import LOCAL_RULES, SOURS
from standmap.jobs.weather_stations import FAR_KM, kept_stations
from standmap.season.answer import (
    Advised,
    DaySpread,
    ModelTold,
    Phase,
    SeasonAnswer,
    Sign,
    YearCourse,
)
from standmap.season.daily import Daily, daily
from standmap.season.fitting import (
    FROM_YEARS,
    MEAN_MISS_DAYS,
    OwnYear,
    mean_error_days,
    shrunk_miss,
    spread_days,
    taught,
)
from standmap.season.outlook import Outlook, most_likely_sums, outlook, whole_seasons
from standmap.season.soil import FIRST_SAP_SOIL_C, SOIL_DAYS, soil_c
from standmap.season.telling import first_day, last_day, model_says, phase_of, pooled
from standmap.season.thermal import (
    LeafOutModel,
    at_home,
    birch_models,
    chilling_begins,
    days_of_months,
    south,
    warmth_begins,
)
from standmap.stand.snapshot import Stand
from standmap.stand.tree import LonLat

Season = tuple[int, date, np.ndarray]
"""A season of another year: which, its first day, its daily means."""

MOST_YEARS = 12
"""So many years are told beside this one."""

OLD_DAYS = 7
"""Weather that ends earlier than so many days ago is told with a caution: an assumption."""

CAUTIONS = (
    "buds and trees say more than any sum: look at them, and try one tree first",
    SOURS,
    LOCAL_RULES,
)


def when(stand: Stand, day: date, *, station: str | None = None) -> SeasonAnswer:
    """Return where the season of a day's year stands, and when it begins and ends.

    Parameters
    ----------
    station
        Whose weather; without it the one that knows most, a nearer one rather.

    Raises
    ------
    UserError
        If the stand's position cannot be read.
    """
    at = _place(stand)
    southern = at is not None and south(at[1])
    # A look in the dark months before spring is about the spring to come.
    season = season_of(day, southern=southern)
    weather = _weather(stand, at, station)
    seen = _signs(stand, season, southern=southern)
    by_now = {sign: on for sign, on in seen.items() if on <= day}
    look = None if weather is None else outlook(weather, season, day, southern=southern)
    others = [] if weather is None else whole_seasons(weather, season, southern=southern)
    models_here = at_home(birch_models(), [(begins, mean) for _, begins, mean in others])
    years = _own_years(stand, others, southern=southern)
    notes: list[str] = []
    cautions = [*CAUTIONS]
    models: tuple[ModelTold, ...] = ()
    first: Advised | None = None
    last: Advised | None = None
    phase, why = Phase.UNKNOWN, "there is no weather, and fewer than three leaf-out days: bring one or note the other"
    leads = _leads(stand, season, southern=southern)
    if weather is not None:
        why = "what is known of the weather tells no day of leaf-out, and there are fewer than three leaf-out days"
    if weather is not None and look is not None:
        fitted = [taught(model, years) for model in models_here]
        error = mean_error_days(years)
        said = [model_says(one, look, error) for one in fitted]
        models = tuple(one.told for one in said)
        together = pooled(said)
        if together is not None:
            members, miss = together
            first, lead = first_day(look.begins, members, miss, leads)
            last = last_day(look, said, miss, first.days.early)
            notes += _soil_note(weather, day)
            notes.append(f"from first sap to leaf-out {lead:.0f} days are reckoned with")
    elif len(days := _leaf_out_days(stand, season, southern=southern)) >= FROM_YEARS:
        begins = chilling_begins(season, southern=southern)
        middle = sum(days) / len(days)
        miss = shrunk_miss([one - middle for one in days], MEAN_MISS_DAYS)
        first, _ = first_day(begins, [middle], miss, leads)
        last = Advised(
            _spread(begins, [middle - 1], miss),
            "the day before leaf-out: then the sap turns and ends",
            f"the mean of {len(days)} leaf-out days of this stand, without weather",
        )
    if first is not None and Sign.FIRST_SAP in by_now:
        seen_on = by_now[Sign.FIRST_SAP]
        first = Advised(
            DaySpread(seen_on, seen_on, seen_on), "first sap was seen that day", "what was seen in this stand"
        )
    if first is not None and last is not None:
        phase, why = phase_of(
            day,
            first.days,
            last.days,
            sap_seen=by_now.get(Sign.FIRST_SAP),
            leaf_out_seen=by_now.get(Sign.LEAF_OUT),
            over_seen=by_now.get(Sign.LAST_SAP),
        )
    elif Sign.LEAF_OUT in by_now:
        phase, why = Phase.OVER, f"leaf-out was seen on {by_now[Sign.LEAF_OUT].isoformat()}"
    cautions += _weather_cautions(weather, look, season, day)
    begins_on = warmth_begins(season, southern=southern)
    return SeasonAnswer(
        day=day,
        season=season,
        begins_on=begins_on,
        station="" if weather is None else weather.station,
        station_km=None if weather is None else weather.away_km,
        weather_until=None if weather is None else weather.last,
        missing_days=0
        if weather is None
        else weather.filled_between(chilling_begins(season, southern=southern), min(day, weather.last)),
        phase=phase,
        phase_why=why,
        models=models,
        leaf_out_seen=by_now.get(Sign.LEAF_OUT),
        first=first,
        last=last,
        years=_courses(stand, models_here[0], others, look, season, southern=southern),
        notes=tuple(notes),
        cautions=tuple(cautions),
    )


def station_places(settings: Mapping[str, object]) -> dict[str, LonLat]:
    """Return the stations whose place a stand keeps, as longitude and latitude."""
    return {key: one.at for key, one in kept_stations(settings).items() if one.at is not None}


def stand_is_southern(stand: Stand) -> bool:
    """Return whether spring comes to a stand in the second half of the year."""
    at = _place(stand)
    return at is not None and south(at[1])


def _place(stand: Stand) -> LonLat | None:
    from standmap.jobs.opening import working_frame

    frame = working_frame(stand)
    return None if frame is None else (frame.lon0, frame.lat0)


def _weather(stand: Stand, at: LonLat | None, station: str | None) -> Daily | None:
    from standmap.survey.frame import true_distance

    return daily(stand.weather, station_places(stand.settings), at, true_distance, station=station)


def _signs(stand: Stand, season: int, *, southern: bool) -> dict[Sign, date]:
    """Return the first day on which each sign was seen in a season."""
    found: dict[Sign, date] = {}
    for sign in stand.signs:
        if sign.what in set(Sign) and season_of(sign.seen_on, southern=southern) == season:
            what = Sign(sign.what)
            found[what] = min(found.get(what, date.max), sign.seen_on)
    return found


def season_of(day: date, *, southern: bool) -> int:
    """Return the season that a day belongs to: from 1 November on that of the next year in the north."""
    return day.year + (not southern and day.month >= 11)


def _own_years(stand: Stand, others: Sequence[Season], *, southern: bool) -> list[OwnYear]:
    found = []
    for season, begins, mean in others:
        leaf_out = _signs(stand, season, southern=southern).get(Sign.LEAF_OUT)
        index = None if leaf_out is None else (leaf_out - begins).days
        if index is not None and 0 <= index < len(mean):
            found.append(OwnYear(begins, mean, index))
    return found


def _leaf_out_days(stand: Stand, but: int, *, southern: bool) -> list[float]:
    seasons = {season_of(s.seen_on, southern=southern) for s in stand.signs} - {but}
    days = [(s, _signs(stand, s, southern=southern).get(Sign.LEAF_OUT)) for s in sorted(seasons)]
    return [float((on - chilling_begins(s, southern=southern)).days) for s, on in days if on is not None]


def _leads(stand: Stand, but: int, *, southern: bool) -> list[float]:
    found = []
    for season in sorted({season_of(s.seen_on, southern=southern) for s in stand.signs} - {but}):
        seen = _signs(stand, season, southern=southern)
        if Sign.FIRST_SAP in seen and Sign.LEAF_OUT in seen and seen[Sign.LEAF_OUT] > seen[Sign.FIRST_SAP]:
            found.append(float((seen[Sign.LEAF_OUT] - seen[Sign.FIRST_SAP]).days))
    return found


def _spread(begins: date, members: Sequence[float], miss_days: float) -> DaySpread:
    early, likely, late = (begins + timedelta(days=round(d)) for d in spread_days(members, miss_days))
    return DaySpread(early, likely, late)


def _soil_note(weather: Daily, day: date) -> list[str]:
    until = min(day, weather.last)
    means = weather.between(until - timedelta(days=SOIL_DAYS - 1), until)
    soil = float(soil_c(means)[-1])
    if np.isnan(soil):
        return []
    air = f"the air of the last {SOIL_DAYS} days had {soil:.1f} °C"
    return [
        f"{air}, a sign of the soil (Zheng, Hunt & Running 1993, from memory)",
        f"first sap was told of at a soil of about {FIRST_SAP_SOIL_C:g} °C (Cornell Cooperative Extension, R. Gast)",
    ]


def _weather_cautions(weather: Daily | None, look: Outlook | None, season: int, day: date) -> list[str]:
    if weather is None:
        return ["without weather the days rest on earlier years alone, or on nothing"]
    found = []
    if weather.away_km is None:
        found.append("where the weather was taken is not known: is that near the stand?")
    elif weather.away_km > FAR_KM:
        found.append(f"the weather was taken {weather.away_km:.0f} km away: the wood may be weeks earlier or later")
    if look is None:
        found.append(f"the weather, {weather.first} to {weather.last}, tells too little of {season} and of other years")
    elif look.known == 0:
        found.append(
            f"the weather ends on {weather.last}: of {season} itself nothing is known, only how other years went"
        )
    elif (day - weather.last).days > OLD_DAYS:
        found.append(f"the weather ends on {weather.last}, {(day - weather.last).days} days ago: bring newer")
    if look is not None and look.guessed:
        found.append("there is no other year of weather: how the spring goes on is guessed")
    return found


def _courses(
    stand: Stand,
    plain: LeafOutModel,
    others: Sequence[Season],
    look: Outlook | None,
    season: int,
    *,
    southern: bool,
) -> tuple[YearCourse, ...]:
    found = []
    if look is not None:
        found.append(_course(stand, plain, season, look.begins, most_likely_sums(look.members), look.known, southern))
    for year, begins, mean in sorted(others, key=lambda other: -other[0])[:MOST_YEARS]:
        found.append(_course(stand, plain, year, begins, mean, len(mean), southern))
    return tuple(found)


def _course(
    stand: Stand, plain: LeafOutModel, year: int, begins: date, mean: np.ndarray, known: int, southern: bool
) -> YearCourse:
    skipped = days_of_months(begins, plain.months_on)
    zero = warmth_begins(year, southern=southern)
    sums = plain.reached(mean, begins)[skipped:]
    signs = sorted(_signs(stand, year, southern=southern).items(), key=lambda pair: pair[1])
    return YearCourse(
        year=year,
        days=np.arange(len(sums), dtype=np.float64),
        sums=sums,
        known_until=max(0, known - skipped),
        signs=tuple((what, float((on - zero).days)) for what, on in signs),
    )
