"""Arguments that several commands share, and how their texts become values."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from standmap.errors import UserError

if TYPE_CHECKING:
    from standmap.jobs.bring_report import ClockStated

StandArgument = Annotated[Path, typer.Argument(metavar="FILE", help="The stand, a GeoPackage such as wood.gpkg.")]
JsonOption = Annotated[bool, typer.Option("--json", help="Answer as JSON and nothing else.")]
RulesOption = Annotated[
    str | None, typer.Option("--rules", metavar="SET", help="Another rule set, for this question only.")
]
FigureOption = Annotated[
    list[str] | None, typer.Option("--set", metavar="FIGURE=NUMBER", help="A figure of the rules, within its bounds.")
]
DateOption = Annotated[str | None, typer.Option("--date", metavar="DATE", help="YYYY-MM-DD; today when left out.")]

SeasonOption = Annotated[
    str | None, typer.Option("--season", metavar="YEAR", help="The year of the season; this year when left out.")
]


def year_of(text: str | None) -> int:
    """Return a season, this year when no text is given.

    Raises
    ------
    UserError
        If the text is no year.
    """
    if text is None:
        return day_of(None).year
    if not (text.isascii() and text.isdecimal() and 1900 <= int(text) <= 2200):
        raise UserError(f"'{text[:40]}' is not a season", "write a year from 1900 to 2200")
    return int(text)


def day_of(text: str | None) -> date:
    """Return a day, today when no text is given.

    Raises
    ------
    UserError
        If the text is no date.
    """
    from standmap.jobs.clock import today

    if text is None:
        return today()
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise UserError(f"'{text[:40]}' is not a date", "write it like 2026-03-28") from None


def past_day_of(text: str | None) -> date:
    """Return a day that is not after today."""
    from standmap.jobs.clock import today

    day = day_of(text)
    if day > today():
        raise UserError(f"{day.isoformat()} is after today", "only what has happened is written down")
    return day


def clock_of(zone: str | None, offset: str | None) -> ClockStated:
    """Return what is said of the clock of notes and pictures.

    Raises
    ------
    UserError
        If a text is no zone or no time span.
    """
    from standmap.jobs.bring_report import ClockStated, ahead_of, zone_of

    return ClockStated(None if zone is None else zone_of(zone), None if offset is None else ahead_of(offset))


def figures_of(texts: list[str] | None) -> dict[str, float]:
    """Return figures set on the command line."""
    from standmap.units import decimal_number

    found = {}
    for text in texts or []:
        name, mark, number = text.partition("=")
        if not mark:
            raise UserError(f"'{text[:40]}' sets nothing", "write it like return_after_years=5")
        found[name.strip()] = float(decimal_number(number))
    return found
