"""The columns of a table of weather, told by their headings: what each holds and in which unit."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

Convert = Callable[[float], float]

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
_PARTS: Mapping[str, frozenset[str]] = {
    "year": frozenset({"year", "yr", "jahr", "vuosi"}),
    "month": frozenset({"month", "mon", "monat", "kk", "mo"}),
    "day of month": frozenset({"day", "tag", "pv", "dd", "dayofmonth"}),
    "clock": frozenset({"hour", "clock", "uhrzeit", "klo", "stunde", "timeofday"}),
}
_STATION = frozenset({"station", "stationid", "stationsid", "stationnumber", "id", "staid", "wmo", "asema"})
_NAME = frozenset({"name", "stationname"})
_PLACE: Mapping[str, frozenset[str]] = {
    "lat": frozenset({"lat", "latitude"}),
    "lon": frozenset({"lon", "lng", "long", "longitude"}),
    "elevation": frozenset({"elev", "elevation", "altitude", "height", "stationshoehe", "hoehe"}),
}
_LEAST = frozenset({"min", "minimum", "tmin", "tn", "tnk", "least", "lowest", "low", "mini", "tmn", "alin", "tiefst"})
_MOST = frozenset({"max", "maximum", "tmax", "tx", "txk", "most", "highest", "high", "maxi", "tmx", "ylin", "hoechst"})
_MEAN = frozenset({"mean", "avg", "average", "tavg", "tmean", "tmk", "tg", "tm", "tday", "mittel", "keski", "medel"})
_AIR = frozenset(
    {"temp", "temperature", "temperatur", "lufttemperatur", "lampotila", "air", "tair", "t", "tas", "ilman", "t2m"}
)
_WHOLE = frozenset({"tmin", "tn", "tnk", "tmn", "tmax", "tx", "txk", "tmx", "tavg", "tmean", "tmk", "tg", "tm", "tday"})
"""These say by themselves that they are temperatures."""
_NOT_AIR = frozenset(
    {"soil", "ground", "grass", "boden", "dew", "dewpoint", "tau", "water", "humidity", "feels", "wetbulb"}
)
_RAIN = frozenset(
    {"rain", "rainfall", "precip", "precipitation", "prcp", "rsk", "niederschlag", "rr", "rrr", "sade", "sademaara"}
)
_WIND = frozenset({"wind", "windspeed", "awnd", "fm", "ff", "windgeschwindigkeit", "tuuli", "tuulennopeus", "wspd"})
_NOT_WIND = frozenset({"direction", "dir", "gust", "gusts", "richtung", "boe", "peak"})

_TEMPERATURE_UNITS: Mapping[str, str] = {
    **dict.fromkeys(("c", "celsius", "degc", "centigrade", "cel"), "°C"),
    **dict.fromkeys(("f", "fahrenheit", "degf"), "°F"),
    **dict.fromkeys(("k", "kelvin", "degk"), "K"),
}
_RAIN_UNITS: Mapping[str, str] = {
    **dict.fromkeys(("mm", "millimetre", "millimeter"), "mm"),
    "cm": "cm",
} | dict.fromkeys(("in", "inch", "inches"), "in")
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
    "m/s": lambda v: v,
    "km/h": lambda v: v / 3.6,
    "mph": lambda v: v * 0.44704,
    "kn": lambda v: v * 1852 / 3600,
}
"""To °C, mm and m/s; exact by definition of the units."""


@dataclass(frozen=True, slots=True)
class Column:
    """One column: what it holds, its unit, and whether the heading told that unit."""

    index: int
    what: str
    unit: str = ""
    told: bool = False
    tenths: bool = False

    def value(self, number: float) -> float:
        """Return a number of this column in °C, mm or m/s."""
        return CONVERT[self.unit](number / 10 if self.tenths else number)


def column_of(index: int, heading: str) -> Column | None:
    """Return what a column holds by its heading, None where that is nothing of use."""
    words = [
        _bare(word) for word in _WORDS.findall(heading.replace("°", " ").replace("m/s", "ms").replace("km/h", "kmh"))
    ]
    together = "".join(words)
    for what, names in (("date", _DAY), ("station", _STATION), ("name", _NAME), *_PARTS.items(), *_PLACE.items()):
        if together in names or (words and words[0] in names and len(words) == 1):
            return Column(index, what)
    if what := _temperature(words):
        unit = next((_TEMPERATURE_UNITS[w] for w in words if w in _TEMPERATURE_UNITS), None)
        tenths = "tenths" in words or "tenth" in words or re.search(r"\b0[.,]1\b", heading) is not None
        return Column(index, what, unit or "°C", unit is not None, tenths)
    if _RAIN & set(words):
        unit = next((_RAIN_UNITS[w] for w in words if w in _RAIN_UNITS), None)
        return Column(index, "rain", unit or "mm", unit is not None)
    if _WIND & set(words) and not _NOT_WIND & set(words):
        unit = next((_WIND_UNITS[w] for w in words if w in _WIND_UNITS), None)
        return Column(index, "wind", unit or "m/s", unit is not None)
    return None


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
    for index, heading in enumerate(headings):
        column = column_of(index, heading)
        if column is not None:
            found.setdefault(column.what, column)
    if "day of month" in found and "date" not in found and not {"year", "month"} & found.keys():
        found["date"] = found.pop("day of month")
    return found


def is_weather(headings: Sequence[str]) -> bool:
    """Return whether a table with these headings tells temperatures by day."""
    found = columns_of(headings)
    dated = "date" in found or {"year", "month", "day of month"} <= found.keys()
    return dated and bool({"least", "most", "mean", "air"} & found.keys())


def _bare(word: str) -> str:
    return word.casefold().translate(str.maketrans({"ä": "a", "ö": "o", "å": "a", "ü": "u", "é": "e"}))
