"""The round in words: what the list, the heading and a screen reader say."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date

from standmap.desktop.measuring.told import bearing_text
from standmap.desktop.words import locale, tr, tr_n
from standmap.errors import UserError
from standmap.jobs.planned_round import PlannedRound, RoundStop
from standmap.jobs.returns import called
from standmap.jobs.round_editing import EditedRound
from standmap.survey.north import Declination, declination
from standmap.units_shown import UnitsShown


@dataclass(frozen=True, slots=True)
class WalkRow:
    """One row of the ordered list: a trip's heading, or a stop.

    Attributes
    ----------
    trip
        Index of the trip, from 0.
    key
        Of the stop's wound; empty for a heading.
    said
        The whole row, for a screen reader.
    """

    trip: int
    key: str
    tree_key: str
    number: str
    name: str
    way: str
    amount: str
    said: str
    heavy: bool = False
    pinned: str = ""

    @property
    def is_trip(self) -> bool:
        """Whether it is a trip's heading."""
        return not self.key


def long_day(day: date) -> str:
    """Return a day as it is said: "Saturday 28 March 2026", in the language of the window."""
    names = (locale().dayName(day.isoweekday()), locale().monthName(day.month))
    return tr("{weekday} {day} {month} {year}", weekday=names[0], day=day.day, month=names[1], year=day.year)


def summary(planned: PlannedRound, units: UnitsShown) -> str:
    """Return a round in one line: "16 holes · 4 trips · 49 min · 1.9 km"."""
    return " · ".join(
        [
            tr_n("{n} hole", "{n} holes", planned.taps),
            tr_n("{n} trip", "{n} trips", len(planned.trips)),
            duration(planned.minutes),
            units.distance(planned.length_m),
        ]
    )


def duration(minutes: float) -> str:
    """Return how long a walk takes: "49 min", "2 h 10 min"."""
    whole = round(minutes)
    if whole < 120:
        return tr("{n} min", n=whole)
    return tr("{h} h {n} min", h=whole // 60, n=whole % 60)


def cost(edited: EditedRound, units: UnitsShown) -> str:
    """Return what an order costs against the best found: "+120 m, +2 min"."""
    return f"{_signed(edited.more_m, units.distance(abs(edited.more_m)))}, " + _signed(
        edited.more_min, duration(abs(edited.more_min))
    )


def _signed(value: float, shown: str) -> str:
    if round(value) == 0:
        return shown
    return f"+{shown}" if value > 0 else f"−{shown}"


def magnetic_north(lon: float, lat: float, day: date, bearings: str) -> Declination | None:
    """Return where a compass points that day, None where true bearings are wanted or no model holds."""
    if bearings != "magnetic":
        return None
    try:
        return declination(lon, lat, day)
    except UserError:
        return None


def walk_rows(
    edited: EditedRound,
    units: UnitsShown,
    magnetic: Declination | None,
    first: Collection[str],
    last: Collection[str],
) -> tuple[WalkRow, ...]:
    """Return the rows of the list: for each trip its heading, then its stops."""
    planned = edited.planned
    several = any(trip.collector != 1 for trip in planned.trips)
    rows = []
    for index, trip in enumerate(planned.trips):
        name = tr("trip {n}", n=trip.number)
        if several:
            name = tr("trip {n}, collector {who}", n=trip.number, who=trip.collector)
        if trip.who:
            name = tr("trip {n}, {who}", n=trip.number, who=trip.who)
        amount = f"{units.mass(trip.max_load_kg)} · {duration(trip.minutes)}"
        heavy = trip.number in edited.too_heavy
        said = f"{name}: {amount}, {units.distance(trip.length_m)}"
        if heavy:
            said = tr("{trip}; over the load", trip=said)
        rows.append(WalkRow(index, "", "", "", name, "", amount, said, heavy))
        rows += [_stop_row(index, stop, units, magnetic, first, last) for stop in trip.stops]
    return tuple(rows)


def _stop_row(
    trip: int,
    stop: RoundStop,
    units: UnitsShown,
    magnetic: Declination | None,
    first: Collection[str],
    last: Collection[str],
) -> WalkRow:
    name = called(stop.tree.name, stop.hole_number)
    bearing = stop.bearing_true_deg if magnetic is None else magnetic.to_magnetic_deg(stop.bearing_true_deg)
    litres = units.volume(stop.litres * 1000) if stop.litres else ""
    distance = units.distance(stop.leg_m)
    pinned = tr("first") if stop.key in first else tr("last") if stop.key in last else ""
    here = tr(
        "{n}: {tree}, {distance} at {bearing}",
        n=stop.order,
        tree=name,
        distance=distance,
        bearing=bearing_text(stop.bearing_true_deg, magnetic),
    )
    said = ", ".join(filter(None, (here, litres, tr("then {load}", load=units.mass(stop.load_kg)))))
    if stop.bends:
        said = tr("{stop}; the way bends", stop=said)
    if pinned:
        said = tr("{stop}; kept {which} on its trip", stop=said, which=pinned)
    return WalkRow(
        trip=trip,
        key=stop.key,
        tree_key=stop.tree.key,
        number=str(stop.order),
        name=name,
        way=f"{distance} {round(bearing) % 360:03d}°",
        amount=litres,
        said=said,
        pinned=pinned,
    )


def improvement(first_m: float, best: PlannedRound, elapsed_s: float, units: UnitsShown) -> str:
    """Return how the search goes: "4 s · 120 m shorter than the first order"."""
    parts = [tr("{n} s", n=int(elapsed_s))]
    less = first_m - best.length_m
    if round(less) > 0:
        parts.append(tr("{distance} shorter than the first order", distance=units.distance(less)))
    return " · ".join(parts)
