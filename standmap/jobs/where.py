"""Where a point is, in every way a person may ask for it, and how far it is from another."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from standmap.errors import UserError
from standmap.jobs.typed_position import typed_position
from standmap.stand.snapshot import Stand
from standmap.stand.tree import LonLat
from standmap.survey.coordinates import GridPosition, decimal_text, in_grid, in_utm, sexagesimal_text
from standmap.survey.north import Declination, declination, footing, wording


@dataclass(frozen=True, slots=True)
class Where:
    """A position in the words of a map.

    Attributes
    ----------
    utm
        None near the poles, where UTM is not laid down.
    grid
        On the national grid that was asked for, if any.
    north
        Where a compass points there; None where `north_unknown` says why not.
    """

    lon: float
    lat: float
    utm: GridPosition | None
    grid: GridPosition | None
    north: Declination | None
    north_unknown: str

    @property
    def decimal(self) -> str:
        """Decimal degrees, WGS 84, latitude first."""
        return decimal_text(self.lon, self.lat)

    @property
    def sexagesimal(self) -> str:
        """Degrees, minutes and seconds, WGS 84, latitude first."""
        return sexagesimal_text(self.lon, self.lat)

    @property
    def north_text(self) -> str:
        """Where a compass points, or why that is not known."""
        return self.north_unknown if self.north is None else wording(self.north)

    @property
    def north_footing(self) -> str:
        """By which model, for which day and how sure; empty where it is not known."""
        return "" if self.north is None else footing(self.north)


def where(at: LonLat, day: date, epsg: int | None = None) -> Where:
    """Tell where a point is.

    Parameters
    ----------
    day
        For which magnetic north is told.
    epsg
        A national grid in which it is told too.

    Raises
    ------
    UserError
        If there is no such grid, or it cannot tell the point.
    """
    north, unknown = None, ""
    try:
        north = declination(*at, day)
    except UserError as error:
        unknown = str(error)
    return Where(at[0], at[1], in_utm(*at), None if epsg is None else in_grid(*at, epsg), north, unknown)


def point_of(stand: Stand, text: str) -> LonLat:
    """Return the position of a tree or a place by its name, or one that is typed.

    Raises
    ------
    UserError
        If it is neither, or several trees are called so.
    """
    if stand.named(text):
        return stand.tree(text).at
    places = [p for p in stand.places if p.name and p.name.casefold() == text.strip().casefold()]
    if places:
        return places[0].at
    if any(c.isdecimal() for c in text) and any(c in text for c in " ,;°"):
        return typed_position(text)
    raise UserError(
        f"no tree or place is called '{text[:60]}'", "name one of this stand, or write a position like '62.601 29.7636'"
    )


def points_of(stand: Stand, texts: Sequence[str]) -> list[LonLat]:
    """Return several positions; see `point_of`."""
    return [point_of(stand, text) for text in texts]
