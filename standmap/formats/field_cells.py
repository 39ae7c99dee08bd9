"""The cells of a field sheet: lengths by tape or paces, bearings, slopes; anything else is `Unusable`."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from decimal import Decimal

from standmap.formats.faults import Unusable, shown
from standmap.formats.quantities import number_of
from standmap.stand.sights import North

M_PER: dict[str, Decimal] = {
    "m": Decimal(1),
    "cm": Decimal("0.01"),
    "mm": Decimal("0.001"),
    "in": Decimal("0.0254"),
    "ft": Decimal("0.3048"),
    "yd": Decimal("0.9144"),
    "ch": Decimal("20.1168"),
    "lk": Decimal("0.201168"),
}
"""Metres in one of each unit of a tape; the chain is 66 feet and a hundred links (NIST SP 811; from memory)."""

PACES = "paces"

_WRITTEN = {
    **{unit: unit for unit in M_PER},
    **dict.fromkeys(("metre", "metres", "meter", "meters", "mtr"), "m"),
    **dict.fromkeys(("inch", "inches", '"', "″"), "in"),
    **dict.fromkeys(("foot", "feet", "'", "′"), "ft"),
    **dict.fromkeys(("yard", "yards"), "yd"),
    **dict.fromkeys(("chain", "chains"), "ch"),
    **dict.fromkeys(("link", "links"), "lk"),
    **dict.fromkeys(("pace", "paces", "step", "steps"), PACES),
}

MOST_M = 1000.0
"""No tape and no count of paces goes this far in one line (common practice, no source)."""

MOST_SLOPE_DEG = 85.0
"""Steeper than this nobody measures along a slope (common practice, no source)."""

LEAST_PACE_M, MOST_PACE_M = 0.3, 2.0
"""A single pace of an adult is 0.6 to 0.9 m, a double one twice that (common practice, no source)."""

_NUMBER = r"[+\-\u2212]?\d+(?:[.,]\d+)?"
_FEET_AND_INCHES = re.compile(r"(\d+)\s*(?:'|′|ft|feet)\s*(\d+(?:[.,]\d+)?)\s*(?:\"|″|''|in|inches)?", re.IGNORECASE)
_WITH_UNIT = re.compile(rf"({_NUMBER})\s*([^\d\s.,+\-]+)\.?", re.IGNORECASE)
_TURN = re.compile(rf"({_NUMBER})\s*(?:°|º|degrees|degree|deg)?\.?\s*(magnetic|mag|m|true|t)?\.?", re.IGNORECASE)
_QUARTER = re.compile(
    r"([NS])\s*(\d+(?:[.,]\d+)?)\s*(?:°|º|deg)?\s*([EW])\s*(magnetic|mag|m|true|t)?\.?", re.IGNORECASE
)
_WINDS = ("N", "NNE", "NE", "ENE", "E", "ESE", "SE", "SSE", "S", "SSW", "SW", "WSW", "W", "WNW", "NW", "NNW")

WIND_SIGMA_DEG = 11.25
"""Standard deviation taken for a bearing told as a point of the compass, half the step of sixteen: an assumption."""


@dataclass(frozen=True, slots=True)
class Length:
    """A length in metres, beside it the number and unit as written."""

    m: float
    given: str
    unit: str


@dataclass(frozen=True, slots=True)
class Turn:
    """A bearing from 0 up to 360 degrees; `north` and `sigma_deg` where the cell itself tells them."""

    deg: float
    north: North | None = None
    sigma_deg: float | None = None


def unit_of(word: str) -> str | None:
    """Return the unit that a word means: a key of `M_PER` or `PACES`; None for another word."""
    return _WRITTEN.get(word.strip().rstrip(".").casefold())


def length_of(text: str, what: str, unit: str = "m", pace_m: float | None = None) -> Length:
    """Read a length, in the unit of its cell or else in `unit`: 12.5, 12,5 m, 41 ft, 12' 6", 17 paces.

    Parameters
    ----------
    what
        Name of the column, for the reason.
    pace_m
        Metres in one pace.

    Raises
    ------
    Unusable
        If it is none, its unit is not known, a pace has no length, or it is longer than `MOST_M` either way.
    """
    cell = text.strip()
    if found := _FEET_AND_INCHES.fullmatch(cell):
        inches = number_of(found[2], what)
        return _length(number_of(found[1], what) + inches / 12, "ft", cell, what)
    written = ""
    if found := _WITH_UNIT.fullmatch(cell):
        cell, written = found[1], found[2]
        word = unit_of(written)
        if word is None:
            raise Unusable(
                f"{what} '{shown(text.strip())}': the unit '{shown(written)}' is not known; use m, ft or paces"
            )
        unit = word
    number = number_of(cell, what)
    if unit != PACES:
        return _length(number, unit, cell, what)
    if pace_m is None:
        raise Unusable(
            f"{what} '{shown(text.strip())}' is in paces and it is not said how long one is; "
            "head the column 'distance (paces of 0.75 m)' or add a column 'pace (m)'"
        )
    return _within(Length(float(number) * pace_m, cell, PACES), what)


def _length(number: Decimal, unit: str, given: str, what: str) -> Length:
    return _within(Length(float(number * M_PER[unit]), given, unit), what)


def _within(length: Length, what: str) -> Length:
    if abs(length.m) > MOST_M:
        raise Unusable(f"{what} {shown(length.given)} {length.unit} is longer than {MOST_M:g} m; look at its unit")
    return length


def tape_of(text: str, what: str, unit: str = "m", pace_m: float | None = None) -> Length:
    """Read a measured distance: a length above nought.

    Raises
    ------
    Unusable
        If it is no length, or not above nought.
    """
    length = length_of(text, what, unit, pace_m)
    if length.m < 0:
        raise Unusable(f"{what} {shown(text.strip())} is negative; write a distance without a sign")
    if length.m == 0:
        raise Unusable(f"{what} is 0; leave the cell empty where nothing was measured")
    return length


def side_of(text: str, what: str, unit: str = "m", pace_m: float | None = None) -> Length:
    """Read an offset to one side of a base line: 2.5 or 2.5 right, -2.5 or 2.5 left; right positive.

    Raises
    ------
    Unusable
        If it is no length.
    """
    cell = text.strip()
    found = re.fullmatch(r"(?:(l|left|r|right)\b\.?\s*)?(.*?)(?:\s*\b(l|left|r|right)\.?)?", cell, re.IGNORECASE)
    sides = [s for s in (found[1], found[3]) if s] if found else []
    if not found or not sides:
        return length_of(cell, what, unit, pace_m)
    length = length_of(found[2], what, unit, pace_m)
    if len(sides) > 1 or length.m < 0:
        raise Unusable(f"{what} '{shown(cell)}' says its side twice")
    return Length(-length.m, f"-{length.given}", length.unit) if sides[0][0] in "lL" else length


def bearing_of(text: str, what: str = "bearing") -> Turn:
    """Read a bearing: 231, 231,5°, 231 true, N45E, or a point of the compass such as NNE.

    Raises
    ------
    Unusable
        If it is none.
    """
    cell = text.strip()
    if cell.upper() in _WINDS:
        return Turn(_WINDS.index(cell.upper()) * 22.5, None, WIND_SIGMA_DEG)
    if found := _QUARTER.fullmatch(cell):
        angle = float(number_of(found[2], what))
        if angle > 90:
            raise Unusable(f"{what} '{shown(cell)}': a quarter bearing turns 0 to 90 degrees")
        north, east = found[1].upper() == "N", found[3].upper() == "E"
        turned = angle if north == east else -angle
        return Turn((turned if north else 180.0 + turned) % 360.0, _north(found[4]))
    found = _TURN.fullmatch(cell)
    if not found:
        raise Unusable(f"{what} '{shown(cell)}' is not a bearing; write it like 231 or N45E")
    deg = float(number_of(found[1], what))
    if not 0 <= deg <= 360:
        raise Unusable(f"{what} {shown(found[1])} is not from 0 to 360 degrees; look at the sheet again")
    return Turn(deg % 360.0, _north(found[2]))


def _north(word: str | None) -> North | None:
    if not word:
        return None
    return North.TRUE if word[0] in "tT" else North.MAGNETIC


def slope_of(text: str, what: str = "slope", *, percent: bool = False) -> float:
    """Read the slope of a line of sight in degrees, up positive: -12, 12°, or 20 % of its level length.

    Raises
    ------
    Unusable
        If it is none, or steeper than `MOST_SLOPE_DEG`.
    """
    cell = text.strip()
    if cell.endswith("%"):
        cell, percent = cell[:-1], True
    elif cell.endswith(("°", "º")):
        cell, percent = cell[:-1], False
    number = float(number_of(cell, what))
    deg = math.degrees(math.atan(number / 100)) if percent else number
    if abs(deg) > MOST_SLOPE_DEG:
        raise Unusable(f"{what} {shown(text.strip())} is steeper than {MOST_SLOPE_DEG:g} degrees")
    return deg


def pace_of(text: str, what: str = "pace", unit: str = "m") -> float:
    """Read the length of one pace in metres.

    Raises
    ------
    Unusable
        If nobody walks so.
    """
    length = length_of(text, what, unit).m
    if not LEAST_PACE_M <= length <= MOST_PACE_M:
        raise Unusable(f"{what} {shown(text.strip())} is not from {LEAST_PACE_M:g} to {MOST_PACE_M:g} m")
    return length
