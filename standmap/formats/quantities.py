"""Girths and diameters under the many names that tables give them, always with their unit."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from datetime import date
from decimal import Decimal
from enum import StrEnum
from functools import lru_cache

from standmap.errors import UserError
from standmap.formats.content import FoundMeasurement
from standmap.formats.faults import Unusable, shown
from standmap.stand.tree import BREAST_HEIGHT_MM
from standmap.units import MM_PER, decimal_number, girth_of, to_mm

LEAST_GIRTH_MM = 10.0
MOST_GIRTH_MM = 10_000.0
"""Bounds that catch a wrong unit, not rare trees (common practice, no source)."""

MOST_HEIGHT_MM = 10_000.0
"""Nobody measures a stem higher up by hand (common practice, no source)."""

_SAME_MM = 1e-6
"""A relative difference below this is rounding, not a correction."""


class Thickness(StrEnum):
    """What was measured of a stem."""

    GIRTH = "girth"
    DIAMETER = "diameter"


_UNIT_NAMES = {
    "mm": ("mm", "millimetre", "millimetres", "millimeter", "millimeters"),
    "cm": ("cm", "centimetre", "centimetres", "centimeter", "centimeters"),
    "m": ("m", "metre", "metres", "meter", "meters"),
    "in": ("in", "inch", "inches"),
    "ft": ("ft", "foot", "feet"),
}
_THICKNESS_NAMES = {
    Thickness.GIRTH: ("girth", "gbh", "circumference"),
    Thickness.DIAMETER: ("diameter", "dbh", "diam"),
}
_HEIGHT_NAMES = ("atheight", "measuredat", "measuredatheight")


@lru_cache(maxsize=1024)
def plain(name: str) -> str:
    """Return a column or property name without case, spaces, underscores and brackets: 'Girth (cm)' is 'girthcm'."""
    return re.sub(r"[^\w]|_", "", name.casefold())


THICKNESS_COLUMNS: Mapping[str, tuple[Thickness, str | None]] = {
    name + suffix: (thickness, unit)
    for thickness, names in _THICKNESS_NAMES.items()
    for name in names
    for unit, suffixes in [(None, ("",)), *_UNIT_NAMES.items()]
    for suffix in suffixes
}
"""Plain column name -> what it holds and in which unit, `None` where the name does not say the unit."""

HEIGHT_COLUMNS: Mapping[str, str | None] = {
    # A bare "height" or "height_m" in a table of trees is the height of the tree, which nobody asks for here.
    "heightmm": "mm",
    **{name + suffix: unit for name in _HEIGHT_NAMES for unit, suffixes in _UNIT_NAMES.items() for suffix in suffixes},
    **dict.fromkeys(_HEIGHT_NAMES),
}
"""Plain column name -> unit of the height above ground at which the stem was measured."""


def number_of(text: str, what: str) -> Decimal:
    """Read a number, with a point or a comma as its decimal mark.

    Raises
    ------
    Unusable
        If it is none.
    """
    try:
        return decimal_number(text)
    except UserError:
        raise Unusable(f"{what} '{shown(text)}' is not a number") from None


def plain_number(value: float) -> str:
    """Return a number to four digits or to ones, and without an exponent as far as anybody reads the noughts."""
    return f"{value:.0f}" if 1000 <= abs(value) < 1e9 else f"{value:.4g}"


def measured(
    thickness: Thickness,
    number: Decimal,
    unit: str,
    *,
    what: str,
    given: str,
    measured_on: date | None = None,
    at_height_mm: float | None = None,
    note: str = "",
    key: str | None = None,
) -> FoundMeasurement:
    """Return a measurement, once the stem is known to be of a thinkable size.

    Parameters
    ----------
    number, unit
        The value, exact, and a key of `MM_PER`.
    what
        Name of the column or property, for the reason.

    Raises
    ------
    Unusable
        If the girth, or the girth of a round stem of this diameter, is outside 10 mm to 10 m.
    """
    value_mm = to_mm(number, unit)
    girth_mm = value_mm if thickness is Thickness.GIRTH else girth_of(value_mm)
    if not LEAST_GIRTH_MM <= girth_mm <= MOST_GIRTH_MM:
        raise Unusable(
            f"{what} {shown(given)} gives a girth of {plain_number(girth_mm)} mm; it must lie within 10 mm and 10 m"
        )
    if at_height_mm is None:
        at_height_mm = BREAST_HEIGHT_MM
    elif not 0 <= at_height_mm <= MOST_HEIGHT_MM:
        raise Unusable(f"measured {plain_number(at_height_mm)} mm above ground; it must lie within 0 and 10 m")
    return FoundMeasurement(
        measured_on=measured_on,
        girth_mm=value_mm if thickness is Thickness.GIRTH else None,
        diameter_mm=value_mm if thickness is Thickness.DIAMETER else None,
        given=given,
        given_unit=unit,
        at_height_mm=at_height_mm,
        note=note,
        key=key,
    )


def as_given(found: FoundMeasurement, given: str | None, given_unit: str | None) -> FoundMeasurement:
    """Return a measurement in millimetres with the words in which it was first given.

    When somebody has since changed the millimetres, the old words no longer say the same and are dropped.
    """
    if not given or not given_unit:
        return found
    value_mm = found.girth_mm if found.girth_mm is not None else found.diameter_mm
    if value_mm is not None and given_unit in MM_PER:
        try:
            given_mm = to_mm(decimal_number(given), given_unit)
        except UserError:
            given_mm = value_mm  # words, not a number: nothing to compare
        if not math.isclose(given_mm, value_mm, rel_tol=_SAME_MM):
            return found
    return FoundMeasurement(
        found.measured_on,
        found.girth_mm,
        found.diameter_mm,
        given,
        given_unit,
        found.at_height_mm,
        found.note,
        found.key,
    )
