"""What a person types on the card, turned into values; each says what is wrong in one line. No Qt here."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from datetime import date, time

from standmap.errors import UserError
from standmap.formats.faults import Unusable, shown
from standmap.formats.quantities import Thickness
from standmap.formats.records_csv import MOST_BIT_MM, MOST_DEPTH_MM, MOST_HEIGHT_CM, MOST_LITRES
from standmap.formats.texts import clock_of, day_of
from standmap.jobs.measure import past_day, thickness_of
from standmap.jobs.typed_position import typed_position
from standmap.stand.snapshot import Stand
from standmap.stand.tree import LonLat, Tree
from standmap.units import MM_PER, decimal_number, to_mm
from standmap.units_shown import UnitsShown

COMPASS = ("n", "ne", "e", "se", "s", "sw", "w", "nw")
"""Sides by their letters, 45 degrees apart."""


def thickness_as_given(text: str, units: UnitsShown, thickness: Thickness) -> tuple[str, str]:
    """Return the number and the unit of a typed girth or diameter, as they were given.

    Raises
    ------
    UserError
        If it is no length, or no birch is so thick or so thin.
    """
    mm = units.read_girth_mm(text)
    number = re.sub(r"[^\d.,+\-\u2212]", "", text)
    for unit in (units.girth_unit, *MM_PER):
        if to_mm(decimal_number(number), unit) == mm:
            thickness_of(number, unit, thickness)
            return number, unit
    raise UserError(f"'{shown(text)}' is not a length", "write a number and its unit, such as 84.2 cm")


def day(text: str, today: date) -> date:
    """Return a day that is not to come.

    Raises
    ------
    UserError
        If it is no day, or after today.
    """
    try:
        found = day_of(text)
    except Unusable:
        raise UserError(f"'{shown(text)}' is not a day, or could be two", "write it like 2025-04-01") from None
    return past_day(found, today)


def clock(text: str) -> time | None:
    """Return a time of day, None for an empty text.

    Raises
    ------
    UserError
        If it is no time.
    """
    try:
        return clock_of(text) if text.strip() else None
    except Unusable as reason:
        raise UserError(str(reason)) from None


def side_deg(text: str) -> float | None:
    """Return a side of the stem in degrees from true north, from a number or letters such as SW; None for no text.

    Raises
    ------
    UserError
        If it is neither.
    """
    plain = text.strip().casefold().rstrip("°").strip()
    if not plain:
        return None
    if plain in COMPASS:
        return 45.0 * COMPASS.index(plain)
    try:
        value = float(decimal_number(plain))
    except UserError:
        value = -1.0
    if not 0 <= value <= 360:
        raise UserError(f"'{shown(text)}' is no side", "write 0 to 360 degrees, or letters such as SW")
    return value % 360


def height_mm(text: str, units: UnitsShown) -> float | None:
    """Return a height on the stem in millimetres, None for no text."""
    return _within(text, units.read_height_mm, MOST_HEIGHT_CM * 10, units.height, least_allowed=True)


def depth_mm(text: str, units: UnitsShown) -> float | None:
    """Return a depth in the wood in millimetres, None for no text."""
    return _within(text, units.read_depth_mm, MOST_DEPTH_MM, units.depth)


def bit_mm(text: str, units: UnitsShown) -> float | None:
    """Return the width of a bit in millimetres, None for no text."""
    return _within(text, units.read_depth_mm, MOST_BIT_MM, units.depth)


def volume(text: str, units: UnitsShown) -> tuple[float, str, str]:
    """Return a volume in millilitres, and its number and unit as given.

    Raises
    ------
    UserError
        If it is no volume, negative, or more than any hole gives in a night.
    """
    ml, number, unit = units.read_volume(text)
    if not 0 <= ml <= MOST_LITRES * 1000:
        raise UserError(
            f"'{shown(text)}' cannot be what one hole gave", f"give 0 to {units.volume(MOST_LITRES * 1000)}"
        )
    return ml, number, unit


def _within(
    text: str, read: Callable[[str], float], most: float, show: Callable[[float], str], *, least_allowed: bool = False
) -> float | None:
    if not text.strip():
        return None
    value = read(text)
    if not (0 <= value <= most) or (value == 0 and not least_allowed):
        raise UserError(
            f"'{shown(text)}' is not possible", f"give {'from' if least_allowed else 'above'} 0 to {show(most)}"
        )
    return value


def epsg_code(text: str) -> int | None:
    """Return the code of a coordinate system, None for no text.

    Raises
    ------
    UserError
        If it is no code.
    """
    plain = text.strip().casefold().removeprefix("epsg:").strip()
    if not plain:
        return None
    if not (plain.isascii() and plain.isdecimal() and len(plain) <= 6):
        raise UserError(f"'{shown(text)}' is no EPSG code", "write a number such as 32635, or nothing")
    return int(plain)


def position(text: str, epsg: str) -> LonLat:
    """Return longitude and latitude; see `typed_position`."""
    return typed_position(text, epsg_code(epsg))


def other_tree(text: str, stand: Stand, tree: Tree) -> Tree:
    """Return the one other tree that is named.

    Raises
    ------
    UserError
        If none, several or this very tree answer to it.
    """
    if not text.strip():
        raise UserError("no tree is named", "write its name")
    found = stand.tree(text.strip())
    if found.key == tree.key:
        raise UserError(f"that is {tree.name} itself", "name another tree")
    return found


def other_trees(text: str, stand: Stand, tree: Tree) -> Sequence[Tree]:
    """Return the other trees that are named, parted by commas; see `other_tree`."""
    names = [part for part in text.split(",") if part.strip()]
    return [other_tree(name, stand, tree) for name in names or [""]]
