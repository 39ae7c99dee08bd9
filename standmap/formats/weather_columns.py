"""The columns of a table of weather, told by their headings: what each holds and in which unit."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

Convert = Callable[[float], float]

_PLAIN_LETTERS = str.maketrans("äöåüé", "aoaue")
_WORDS = re.compile(r"[^\W_]+")

_DAY = frozenset(
    {
        "date",
        "datum",
        "datetime",
        "timestamp",
        "time",
        "messdatum",
        "pvm",
        "paivamaara",
        "dato",
        "obsdate",
        "localtime",
        "utc",
    }
)
_CLOCK_BESIDE = frozenset({"time", "localtime", "utc"})
"""These tell the hour where another column tells the day."""
_PARTS: Mapping[str, frozenset[str]] = {
    "year": frozenset({"year", "yr", "jahr", "vuosi"}),
    "month": frozenset({"month", "mon", "monat", "kk", "mo", "kuukausi"}),
    "day of month": frozenset({"day", "tag", "pv", "dd", "dayofmonth", "paiva"}),
    "clock": frozenset({"hour", "clock", "uhrzeit", "klo", "stunde", "timeofday", "aika", "aikapaikallinenaika"}),
}
_STATION = frozenset(
    {"station", "stationid", "stationsid", "stationnumber", "id", "staid", "wmo", "asema", "havaintoasema"}
)
_NAME = frozenset({"name", "stationname"})
_PLACE: Mapping[str, frozenset[str]] = {
    "lat": frozenset({"lat", "latitude"}),
    "lon": frozenset({"lon", "lng", "long", "longitude"}),
    "elevation": frozenset({"elev", "elevation", "altitude", "height", "stationshoehe", "hoehe"}),
}
_LEAST_WHOLE = frozenset({"tmin", "tn", "tnk", "tmn", "tiefsttemperatur", "minimaltemperatur", "mintemperatur"})
_MOST_WHOLE = frozenset(
    {"tmax", "tx", "txk", "tmx", "hochsttemperatur", "hoechsttemperatur", "maximaltemperatur", "maxtemperatur"}
)
_MEAN_WHOLE = frozenset(
    {"tavg", "tmean", "tmk", "tg", "tm", "tday", "mitteltemperatur", "tagesmitteltemperatur"}
    | {"medeltemperatur", "keskilampotila"}
)
_LEAST = _LEAST_WHOLE | {"min", "minimum", "least", "lowest", "low", "mini", "alin", "tiefst", "tagesminimum"}
_MOST = _MOST_WHOLE | {"max", "maximum", "most", "highest", "high", "maxi", "ylin", "hoechst", "tagesmaximum"}
_MEAN = _MEAN_WHOLE | {"mean", "avg", "average", "mittel", "keski", "medel", "keskiarvo", "tagesmittel", "mittelwert"}
_AIR = frozenset(
    {"temp", "temperature", "temperatur", "lufttemperatur", "lampotila", "lampotilan", "air", "tair", "t", "tas"}
    | {"ilman", "t2m"}
)
_TEMPERATURES = frozenset({"least", "most", "mean", "air"})
_WHOLE = _LEAST_WHOLE | _MOST_WHOLE | _MEAN_WHOLE
"""These say by themselves that they are temperatures."""
_NOT_AIR = frozenset(
    {"soil", "ground", "grass", "boden", "dew", "dewpoint", "tau", "water", "humidity", "feels", "wetbulb"}
)
_RAIN = frozenset(
    {"rain", "rainfall", "precip", "precipitation", "prcp", "rsk", "niederschlag", "rr", "rrr", "sade", "sademaara"}
)
_WIND = frozenset(
    {"wind", "windspeed", "awnd", "fm", "ff", "windgeschwindigkeit", "tuuli", "tuulen", "tuulennopeus", "wspd"}
)
_NOT_WIND = frozenset({"direction", "dir", "gust", "gusts", "richtung", "boe", "peak", "max", "maximum", "suunta"})

_TEMPERATURE_UNITS: Mapping[str, str] = {
    **dict.fromkeys(("c", "celsius", "degc", "centigrade", "cel"), "°C"),
    **dict.fromkeys(("f", "fahrenheit", "degf"), "°F"),
    **dict.fromkeys(("k", "kelvin", "degk"), "K"),
}
_RAIN_UNITS: Mapping[str, str] = {
    **dict.fromkeys(("mm", "millimetre", "millimeter"), "mm"),
    "cm": "cm",
} | dict.fromkeys(("in", "inch", "inches"), "in")
_HEIGHT_UNITS: Mapping[str, str] = {
    **dict.fromkeys(("m", "metres", "meters"), "m"),
    **dict.fromkeys(("ft", "feet"), "ft"),
}
_WIND_UNITS: Mapping[str, str] = {
    **dict.fromkeys(("ms", "mps"), "m/s"),
    **dict.fromkeys(("kmh", "kph", "kmph"), "km/h"),
    "mph": "mph",
    **dict.fromkeys(("kn", "kt", "kts", "knots"), "kn"),
}
CONVERT: Mapping[str, Convert] = {
    "°C": lambda v: v,
    "°F": lambda v: (v - 32) / 1.8,
    "K": lambda v: v - 273.15,
    "mm": lambda v: v,
    "cm": lambda v: v * 10,
    "in": lambda v: v * 25.4,
    "m": lambda v: v,
    "ft": lambda v: v * 0.3048,
    "m/s": lambda v: v,
    "km/h": lambda v: v / 3.6,
    "mph": lambda v: v * 0.44704,
    "kn": lambda v: v * 1852 / 3600,
}
"""To °C, mm, m/s and (a height) metres; exact by definition of the units."""


@dataclass(frozen=True, slots=True)
class Column:
    """One column: what it holds, its unit, and whether the heading told that unit."""

    index: int
    what: str
    unit: str = ""
    told: bool = False
    tenths: bool = False

    def value(self, number: float) -> float:
        """Return a number of this column in °C, mm, m/s or metres."""
        return CONVERT[self.unit](number / 10 if self.tenths else number)


def column_of(index: int, heading: str) -> Column | None:
    """Return what a column holds by its heading, None where that is nothing of use."""
    words = [_bare(word) for word in _WORDS.findall(heading.replace("°", " "))]
    together = "".join(words)
    for what, names in (("date", _DAY), ("station", _STATION), ("name", _NAME), *_PARTS.items()):
        if together in names:
            return Column(index, what)
    for what, names in _PLACE.items():
        if together in names:
            return Column(index, what, "m")
        if what == "elevation" and len(words) == 2 and words[0] in names and words[1] in _HEIGHT_UNITS:
            return Column(index, what, _HEIGHT_UNITS[words[1]], told=True)
    if what := _temperature(words):
        tenths = "tenths" in words or "tenth" in words or re.search(r"\b0[.,]1\b", heading) is not None
        return Column(index, what, *_unit(words, _TEMPERATURE_UNITS, "°C"), tenths=tenths)
    if _RAIN & set(words):
        return Column(index, "rain", *_unit(words, _RAIN_UNITS, "mm"))
    if _WIND & set(words) and not _NOT_WIND & set(words):
        return Column(index, "wind", *_unit(words, _WIND_UNITS, "m/s"))
    return None


def _unit(words: Sequence[str], units: Mapping[str, str], otherwise: str) -> tuple[str, bool]:
    """Return the unit that a heading tells, and whether it does: 'km/h' stands there as two words, 'in mm' is mm."""
    for word in (*(a + b for a, b in pairwise(words)), *reversed(words)):
        if word in units:
            return units[word], True
    return otherwise, False


def _temperature(words: Sequence[str]) -> str:
    bare = set(words)
    if _NOT_AIR & bare:
        return ""
    if not (_WHOLE & bare or _AIR & bare or (bare & (_LEAST | _MOST | _MEAN) and bare & set(_TEMPERATURE_UNITS))):
        return ""
    for what, names in (("least", _LEAST), ("most", _MOST), ("mean", _MEAN)):
        if names & bare:
            return what
    return "air"


def columns_of(headings: Sequence[str]) -> dict[str, Column]:
    """Return the columns of a table by what they hold; of two that hold the same the first."""
    found: dict[str, Column] = {}
    days: list[tuple[Column, str]] = []
    for index, heading in enumerate(headings):
        column = column_of(index, heading)
        if column is not None and column.what == "date":
            days.append((column, "".join(_WORDS.findall(heading)).casefold()))
        elif column is not None:
            found.setdefault(column.what, column)
    days.sort(key=lambda day: day[1] in _CLOCK_BESIDE)
    if days:
        found["date"] = days[0][0]
    if len(days) > 1 and days[1][1] in _CLOCK_BESIDE:
        found.setdefault("clock", replace(days[1][0], what="clock"))
    if not _TEMPERATURES & found.keys():
        found |= _bare_extremes(headings)
    if "day of month" in found and "date" not in found and not {"year", "month"} & found.keys():
        found["date"] = found.pop("day of month")
    return found


def is_weather(headings: Sequence[str]) -> bool:
    """Return whether a table with these headings tells temperatures by day."""
    found = columns_of(headings)
    dated = "date" in found or {"year", "month", "day of month"} <= found.keys()
    return dated and bool(_TEMPERATURES & found.keys())


def _bare_extremes(headings: Sequence[str]) -> dict[str, Column]:
    """Return least and most where two headings say no more than that, as 'high' and 'low': temperatures, then."""
    words = ["".join(_WORDS.findall(heading)).casefold() for heading in headings]
    low, high = ([i for i, word in enumerate(words) if word in names] for names in (_LEAST, _MOST))
    if not low or not high:
        return {}
    return {"least": Column(low[0], "least", "°C"), "most": Column(high[0], "most", "°C")}


def _bare(word: str) -> str:
    return word.casefold().translate(_PLAIN_LETTERS)
