"""A planned walk as one page for a phone that has no signal: a single HTML file that asks nothing of any network.

The page and its script stand in resources/phone/. A content-security policy lets nothing run but this very script, and
nothing be fetched; what people wrote (names, notes) travels as JSON and is only ever shown as text.
"""

from __future__ import annotations

import base64
import hashlib
import html
import json
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from functools import lru_cache
from typing import Any

from standmap.assets import resource
from standmap.stand.tree import LonLat
from standmap.survey.frame import true_distance

SCRIPTS = (
    "say.js",
    "keeping.js",
    "way.js",
    "position.js",
    "walk.js",
    "returns.js",
    "map.js",
    "forms.js",
    "screens.js",
    "start.js",
    "opening.js",
)
"""Parts of the script, in the order in which they build on each other."""

RETURNS_FORMAT, RETURNS_VERSION = "standmap returns", 1
"""What the returns file calls itself, and its layout; a page keeps writing the layout it was made with."""

_PROBE_DEG = 0.001
_PLACEHOLDER = re.compile(r"\{\{(\w+)\}\}")
_IN_MARKUP = {ord(sign): f"\\u{ord(sign):04x}" for sign in "<>&"}

Course = tuple[LonLat, ...]


@dataclass(frozen=True, slots=True)
class PhoneUnit:
    """How one kind of measure is shown and typed.

    Attributes
    ----------
    unit, key
        Its name, and the word by which it goes into the returns file.
    per
        Litres, metres or millimetres in one.
    step, digits
        What one press of a button changes, and decimals shown.
    least, most, most_trip
        Bounds of what may be typed, and of the total of a trip.
    first
        What the first press of a button takes in an empty field.
    rule_least, rule_most
        Bounds of the rule set, outside of which the page warns; None where it has none.
    """

    unit: str
    key: str
    per: float
    step: float
    digits: int
    least: float = 0.0
    most: float = 0.0
    most_trip: float = 0.0
    first: float = 0.0
    rule_least: float | None = None
    rule_most: float | None = None


@dataclass(frozen=True, slots=True)
class PhoneStop:
    """One vessel, tree to tap or wound to close; see `jobs.planned_round.RoundStop`.

    Attributes
    ----------
    leg
        The line walked from the stop before, both ends included.
    about
        What is known of it, such as the place of its hole on the stem.
    todo
        What to do there, each with its source or "".
    full_at
        When its vessel is expected to run over.
    """

    key: str
    order: int
    name: str
    hole: int
    at: LonLat
    litres: float
    high_l: float
    leg: Course
    about: tuple[str, ...] = ()
    todo: tuple[tuple[str, str], ...] = ()
    cautions: tuple[str, ...] = ()
    full_at: datetime | None = None


@dataclass(frozen=True, slots=True)
class PhoneTrip:
    """A walk out and back; `home` is the line from the last stop to where it is emptied, `who` the collector's name."""

    number: int
    collector: int
    end: str
    stops: tuple[PhoneStop, ...]
    home: Course
    who: str = ""


@dataclass(frozen=True, slots=True)
class PhonePlace:
    """A place on the map; `opens` for one at which water or a fence may be crossed."""

    name: str
    kind: str
    at: LonLat
    opens: bool = False


@dataclass(frozen=True, slots=True)
class PhoneGround:
    """What the map shows under the walk; areas are rings, the outer one first."""

    paths: tuple[Course, ...] = ()
    streams: tuple[Course, ...] = ()
    fences: tuple[Course, ...] = ()
    permitted: tuple[tuple[Course, ...], ...] = ()
    no_go: tuple[tuple[Course, ...], ...] = ()
    places: tuple[PhonePlace, ...] = ()


@dataclass(frozen=True, slots=True)
class PhoneWalk:
    """Everything that the page shows, its sentences in the person's language already.

    Attributes
    ----------
    plan_key
        Of the walk as it was given out; what is entered is kept and comes home under it.
    purpose
        collecting, tapping or closing.
    start, start_at
        Name and position of where the walk begins.
    turn_deg, north
        What is taken from a true bearing, and the word said behind it: "true" or "magnetic".
    units
        volume, distance, height, depth and bit.
    words
        The words of `phone_words`, translated.
    """

    plan_key: str
    purpose: str
    day: date
    language: str
    start: str
    start_at: LonLat
    trips: tuple[PhoneTrip, ...]
    ground: PhoneGround
    units: Mapping[str, PhoneUnit]
    words: Mapping[str, str]
    turn_deg: float = 0.0
    north: str = "true"
    back_by: datetime | None = None
    contact: str = ""
    sunrise: datetime | None = None
    sunset: datetime | None = None
    kit: tuple[tuple[str, int | None, str], ...] = ()
    cautions: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    left_out: tuple[tuple[str, str], ...] = field(default=())


def phone_page(walk: PhoneWalk) -> str:
    """Return the page, whole."""
    style = _part("page.css")
    script = _script()
    parts = {
        "language": html.escape(walk.language),
        "title": html.escape(f"{walk.words[f'walk_{walk.purpose}']} {walk.day.isoformat()}"),
        "no_script": html.escape(walk.words["no_script"]),
        "policy": html.escape(_policy(script, style)),
        "style": style,
        "script": script,
        "plan": json_in_page(_data(walk)),
    }
    # In one pass: a name that looks like a placeholder stays a name.
    return _PLACEHOLDER.sub(lambda found: parts[found[1]], _part("page.html"))


def page_version() -> str:
    """Return what tells one edition of the page's script from another: the beginning of its hash."""
    return hashlib.sha256(_script().encode()).hexdigest()[:12]


@lru_cache(maxsize=16)
def _part(name: str) -> str:
    return resource("phone", name).read_text(encoding="utf-8")


@lru_cache(maxsize=1)
def _script() -> str:
    return "\n" + "\n".join(_part(name) for name in SCRIPTS)


def _policy(script: str, style: str) -> str:
    allowed = {"script-src": script, "style-src": style}
    hashes = "; ".join(f"{name} 'sha256-{sha256_of(text)}'" for name, text in allowed.items())
    return f"default-src 'none'; {hashes}; base-uri 'none'; form-action 'none'; require-trusted-types-for 'script'"


def sha256_of(text: str) -> str:
    """Return the hash of a script or style as a content-security policy names it."""
    return base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()


def json_in_page(data: dict[str, Any]) -> str:
    """Return JSON that no parser of HTML takes for the end of its script."""
    # ASCII only, so that lone surrogates and the line separators U+2028 and U+2029 are escaped, too.
    return json.dumps(data, ensure_ascii=True, allow_nan=False, separators=(",", ":")).translate(_IN_MARKUP)


def _data(walk: PhoneWalk) -> dict[str, Any]:
    plane = _Plane(walk.start_at)
    return {
        "plan": walk.plan_key,
        "page": page_version(),
        "returns": {"format": RETURNS_FORMAT, "version": RETURNS_VERSION},
        "purpose": walk.purpose,
        "day": walk.day.isoformat(),
        "language": walk.language,
        "start": walk.start,
        "start_at": list(walk.start_at),
        "origin": list(walk.start_at),
        "per_deg": list(plane.per_deg),
        "north": {"turn": walk.turn_deg, "label": walk.north},
        "back_by": _moment(walk.back_by),
        "contact": walk.contact,
        "light": {"sunrise": _moment(walk.sunrise), "sunset": _moment(walk.sunset)},
        "kit": [{"what": what, "count": count, "note": note} for what, count, note in walk.kit],
        "cautions": list(walk.cautions),
        "notes": list(walk.notes),
        "left_out": [{"name": name, "why": why} for name, why in walk.left_out],
        "units": {name: _unit(unit) for name, unit in walk.units.items()},
        "words": dict(walk.words),
        "trips": [_trip(trip, plane) for trip in walk.trips],
        "ground": _ground(walk.ground, plane),
    }


def _moment(moment: datetime | None) -> str | None:
    return None if moment is None else moment.isoformat(timespec="seconds")


def _unit(unit: PhoneUnit) -> dict[str, Any]:
    return {name: getattr(unit, name) for name in PhoneUnit.__slots__}


def _trip(trip: PhoneTrip, plane: _Plane) -> dict[str, Any]:
    return {
        "number": trip.number,
        "collector": trip.collector,
        "who": trip.who,
        "end": trip.end,
        "home": plane.line(trip.home),
        "stops": [
            {
                "key": stop.key,
                "order": stop.order,
                "name": stop.name,
                "hole": stop.hole,
                "at": plane.point(stop.at),
                "litres": round(stop.litres, 2),
                "high_l": round(stop.high_l, 2),
                "leg": plane.line(stop.leg),
                "about": list(stop.about),
                "todo": [{"text": text, "source": source} for text, source in stop.todo],
                "cautions": list(stop.cautions),
                "full_at": _moment(stop.full_at),
            }
            for stop in trip.stops
        ],
    }


def _ground(ground: PhoneGround, plane: _Plane) -> dict[str, Any]:
    return {
        "paths": [plane.line(line) for line in ground.paths],
        "streams": [plane.line(line) for line in ground.streams],
        "fences": [plane.line(line) for line in ground.fences],
        "permitted": [[plane.line(ring) for ring in area] for area in ground.permitted],
        "no_go": [[plane.line(ring) for ring in area] for area in ground.no_go],
        "places": [
            {"name": place.name, "kind": place.kind, "at": plane.point(place.at), "opens": place.opens}
            for place in ground.places
        ],
    }


class _Plane:
    """Metres east and north of an origin, by the degrees' lengths there: what a phone can do with a position, too.

    One kilometre off, distances are wrong by less than a metre; the page only compares what it drew by the same rule.
    """

    def __init__(self, origin: LonLat) -> None:
        lon, lat = origin
        toward = -_PROBE_DEG if lat > 0 else _PROBE_DEG
        self.origin = origin
        self.per_deg = (
            true_distance(origin, (lon + _PROBE_DEG, lat)) / _PROBE_DEG,
            true_distance(origin, (lon, lat + toward)) / _PROBE_DEG,
        )

    def point(self, at: LonLat) -> list[float]:
        east_deg = (at[0] - self.origin[0] + 180) % 360 - 180
        return [round(east_deg * self.per_deg[0], 1), round((at[1] - self.origin[1]) * self.per_deg[1], 1)]

    def line(self, course: Course) -> list[list[float]]:
        return [self.point(at) for at in course]
