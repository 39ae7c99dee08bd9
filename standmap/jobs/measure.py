"""Writing down a girth or a diameter that was measured by hand."""

from __future__ import annotations

from datetime import date, datetime

from standmap.errors import UserError
from standmap.formats.faults import Unusable, shown
from standmap.formats.quantities import Thickness, measured, plain_number
from standmap.jobs.keys import new_key
from standmap.jobs.names import checked_note
from standmap.jobs.record import EARLIEST
from standmap.messages import Messages, Silence
from standmap.stand.tree import BREAST_HEIGHT_MM, Measurement
from standmap.store.stand_file import StandFile
from standmap.units import MM_PER, decimal_number, girth_of, to_mm

LEAST_BY_HAND_MM = 50.0
MOST_BY_HAND_MM = 6000.0
"""Bounds of a girth that somebody measured with a tape: thinner is a twig, thicker no birch (common practice, no
source)."""

MUCH_PART = 0.25
"""A girth that differs by more than this part from the one before is asked about: an assumption."""


def thickness_of(text: str, unit: str, thickness: Thickness) -> float:
    """Return a typed girth or diameter in millimetres.

    Parameters
    ----------
    unit
        A key of `MM_PER`.

    Raises
    ------
    UserError
        If it is no number, or its girth lies outside 50 mm to 6 m.
    """
    if unit not in MM_PER:
        raise UserError(f"'{shown(unit)}' is no unit of length", f"use one of {', '.join(MM_PER)}")
    value_mm = to_mm(decimal_number(text), unit)
    girth_mm = value_mm if thickness is Thickness.GIRTH else girth_of(value_mm)
    if not LEAST_BY_HAND_MM <= girth_mm <= MOST_BY_HAND_MM:
        given = f"{shown(text.strip(), 20)} {unit}"
        said_so = thickness is Thickness.GIRTH and unit == "mm"
        raise UserError(
            f"no birch has a girth of {given}"
            if said_so
            else f"a {thickness} of {given} is a girth of {plain_number(girth_mm)} mm",
            "it must lie within 50 mm and 6 m: check the number and its unit",
        )
    return value_mm


def past_day(day: date, today: date) -> date:
    """Return a day on which something can have been done.

    Raises
    ------
    UserError
        If it is after today, or before 1900.
    """
    if day > today:
        raise UserError(
            f"{day.isoformat()} is after today ({today.isoformat()})", "only what has happened is written down"
        )
    if day < EARLIEST:
        raise UserError(f"{day.isoformat()} is before {EARLIEST.year}", "is the year right?")
    return day


def measure(
    file: StandFile,
    name: str,
    thickness: Thickness,
    text: str,
    unit: str,
    on: date,
    today: date,
    now: datetime,
    *,
    at_height_mm: float = BREAST_HEIGHT_MM,
    note: str = "",
    messages: Messages | None = None,
) -> Measurement:
    """Write down one measurement of one tree.

    Parameters
    ----------
    text, unit
        The number as typed and its unit, both kept beside the millimetres.
    on
        The day of measuring.
    messages
        Told when the stem has shrunk, or grown by more than a quarter.

    Raises
    ------
    UserError
        If the tree, the number, its unit, the height or the day cannot be.
    """
    stand = file.stand()
    tree = stand.tree(name)
    thickness_of(text, unit, thickness)
    past_day(on, today)
    try:
        found = measured(
            thickness,
            decimal_number(text),
            unit,
            what=str(thickness),
            given=text.strip(),
            measured_on=on,
            at_height_mm=at_height_mm,
        )
    except Unusable as reason:
        raise UserError(str(reason), "check the height") from None
    row = Measurement(
        new_key(),
        tree.key,
        on,
        found.girth_mm,
        found.diameter_mm,
        found.given,
        unit,
        found.at_height_mm,
        checked_note(note),
    )
    before = stand.newest_measurement(tree.key, on)
    with file.writing(f"{tree.name}: {thickness} {row.given} {unit}", now) as writing:
        writing.insert(row)
    if before is not None:
        watch = messages or Silence()
        was, said = before.girth(), f"{before.girth():.0f} mm"
        dated = f" in {before.measured_on.year}" if before.measured_on else ""
        if row.girth() < was:
            watch.caution(
                f"{tree.name}: girth was {said}{dated} and is {row.girth():.0f} mm now: a stem does not shrink"
            )
        elif row.girth() > was * (1 + MUCH_PART):
            watch.caution(f"{tree.name}: girth was {said}{dated} and is {row.girth():.0f} mm now: is the unit right?")
    return row
