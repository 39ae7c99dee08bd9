"""Coordinates as a person types them: decimal degrees, degrees with minutes and seconds, or a grid by its EPSG code.

Latitude comes first, as on a receiver's screen, unless letters say which is which.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass

from standmap.errors import UserError
from standmap.formats.faults import Unusable, shown
from standmap.formats.places_on_earth import degrees
from standmap.jobs.opening import working_frame
from standmap.stand.snapshot import Stand
from standmap.stand.tree import LonLat

LONGEST = 200
"""Characters of a typed position; anything longer is another text."""

WRITE_IT = "write it like 60.1699 24.9384, or 60°10'11.6\"N 24°56'18.2\"E"

_ALIKE = str.maketrans(
    {"′": "'", "’": "'", "´": "'", "‘": "'", "″": '"', "”": '"', "“": '"', "−": "-", "º": "°", "˚": "°"}
)
_PIECE = re.compile(
    r"\s*(?:(?P<number>[+-]?\d+(?:[.,]\d+)?)|(?P<letter>[NSEWnsew])(?![A-Za-z])|(?P<mark>°|''|[\"'])|(?P<gap>[,;/]))"
)


@dataclass(frozen=True, slots=True)
class _Half:
    """One half of a position: its letter, if any, and up to three numbers."""

    letter: str
    numbers: tuple[str, ...]


def typed_position(text: str, epsg: int | None = None) -> LonLat:
    """Read one position.

    Parameters
    ----------
    epsg
        Code of the coordinate system that two plain numbers are in, easting first; degrees on WGS 84 without it.

    Raises
    ------
    UserError
        If it is no position on Earth; the text says which part of it is at fault.
    """
    if len(text) > LONGEST:
        raise UserError(f"'{shown(text)}' is too long to be a position", WRITE_IT)
    pieces = _pieces(text)
    if not pieces:
        raise UserError("there is no position", WRITE_IT)
    if epsg is not None:
        return _on_grid(text, pieces, epsg)
    lat, lon = (_degrees(half) for half in _halves(text, pieces))
    try:
        return degrees(lon, lat)
    except Unusable as reason:
        raise UserError(str(reason), "write the latitude first, then the longitude") from None


def doubt_about(stand: Stand, at: LonLat) -> str | None:
    """Return why a position can hardly be of this stand, or None."""
    import numpy as np

    from standmap.survey.checks import doubt

    frame = working_frame(stand)
    centre = None if frame is None else (frame.lon0, frame.lat0)
    return doubt(np.array([at[0]]), np.array([at[1]]), centre)[0]


def _pieces(text: str) -> list[tuple[str, str]]:
    """Return the parts of a text: kind ("number", "letter", "mark", "gap") and what stands there."""
    rest = text.strip().translate(_ALIKE)
    found: list[tuple[str, str]] = []
    while rest:
        match = _PIECE.match(rest)
        if match is None or match.lastgroup is None:
            raise UserError(f"'{shown(rest.strip(), 20)}' is no part of a position", WRITE_IT)
        found.append((match.lastgroup, match[match.lastgroup]))
        rest = rest[match.end() :].strip()
    return found


def _halves(text: str, pieces: Sequence[tuple[str, str]]) -> tuple[_Half, _Half]:
    """Return the latitude's half and the longitude's."""
    letters = [value.upper() for kind, value in pieces if kind == "letter"]
    if letters:
        return _lettered(text, pieces, letters)
    numbers = [value for kind, value in pieces if kind == "number"]
    groups = _by_degree_marks(pieces)
    if groups is None and len(numbers) in (2, 4, 6):
        half = len(numbers) // 2
        groups = [numbers[:half], numbers[half:]]
    if groups is None or not all(1 <= len(g) <= 3 for g in groups):
        count = f"{len(numbers)} number{'' if len(numbers) == 1 else 's'}"
        raise UserError(f"'{shown(text)}' has {count}, not a latitude and a longitude", WRITE_IT)
    return _Half("", tuple(groups[0])), _Half("", tuple(groups[1]))


def _by_degree_marks(pieces: Sequence[tuple[str, str]]) -> list[list[str]] | None:
    """Return the numbers in two groups where two degree signs say how they belong together."""
    if [value for kind, value in pieces if kind == "mark"].count("°") != 2:
        return None
    groups: list[list[str]] = []
    for i, (kind, value) in enumerate(pieces):
        if kind == "number":
            if i + 1 < len(pieces) and pieces[i + 1][1] == "°":
                groups.append([])
            if not groups:
                return None
            groups[-1].append(value)
    return groups if len(groups) == 2 else None


def _lettered(text: str, pieces: Sequence[tuple[str, str]], letters: Sequence[str]) -> tuple[_Half, _Half]:
    if len(letters) != 2 or len({letter in "NS" for letter in letters}) != 2:
        raise UserError(f"'{shown(text)}' needs one of N and S and one of E and W", WRITE_IT)
    first = pieces[0][0] == "letter"
    groups: list[list[str]] = [[]]
    for kind, value in pieces:
        if kind == "letter" and first and groups[-1]:
            groups.append([])
        elif kind == "number":
            groups[-1].append(value)
        elif kind == "letter" and not first:
            groups.append([])
    groups = groups[:2] if first else [g for g in groups if g]
    if len(groups) != 2 or not all(1 <= len(g) <= 3 for g in groups):
        raise UserError(f"'{shown(text)}' is not two numbers of degrees with their letters", WRITE_IT)
    halves = {letter: _Half(letter, tuple(group)) for letter, group in zip(letters, groups, strict=True)}
    (lat,) = (half for letter, half in halves.items() if letter in "NS")
    (lon,) = (half for letter, half in halves.items() if letter in "EW")
    return lat, lon


def _degrees(half: _Half) -> float:
    """Return degrees with their sign."""
    values = [float(number.replace(",", ".")) for number in half.numbers]
    for number in half.numbers[:-1]:
        if not number.lstrip("+-").isdecimal():
            raise UserError(f"'{number}' with smaller parts after it is not a whole number", WRITE_IT)
    for what, number, value in zip(("minutes", "seconds"), half.numbers[1:], values[1:], strict=False):
        if not 0 <= value < 60 or number.startswith(("-", "+")):
            raise UserError(f"{number} {what} are not within 0 and 60", WRITE_IT)
    negative = half.numbers[0].startswith("-")
    if negative and half.letter:
        raise UserError(f"{half.numbers[0]} has both a sign and the letter {half.letter}", "leave one of them out")
    size = abs(values[0]) + sum(v / part for v, part in zip(values[1:], (60.0, 3600.0), strict=False))
    return -size if negative or half.letter in ("S", "W") else size


def _on_grid(text: str, pieces: Sequence[tuple[str, str]], epsg: int) -> LonLat:
    """Return the position of grid coordinates, or of degrees in another geographic system."""
    from pyproj import CRS, Transformer
    from pyproj.exceptions import CRSError

    try:
        system = CRS.from_epsg(epsg)
    except CRSError:
        raise UserError(
            f"EPSG:{epsg} is no known coordinate system", "give the code of your map, such as 32635"
        ) from None
    numbers = [float(value.replace(",", ".")) for kind, value in pieces if kind == "number"]
    if system.is_geographic:
        lat, lon = _halves(text, pieces)
        x, y = _degrees(lon), _degrees(lat)
    elif len(numbers) == 2 and all(kind in ("number", "gap") for kind, _ in pieces):
        x, y = numbers
    else:
        raise UserError(f"'{shown(text)}' is not an easting and a northing", "write two numbers such as 385000 6672000")
    found = Transformer.from_crs(system, "EPSG:4326", always_xy=True).transform(x, y)
    at = (float(found[0]), float(found[1]))
    if not (math.isfinite(at[0]) and math.isfinite(at[1])) or not _used_there(system.area_of_use, at):
        where = f" ({system.area_of_use.name.split('.')[0][:80]})" if system.area_of_use else ""
        raise UserError(
            f"{x:.10g} {y:.10g} lies outside the ground that EPSG:{epsg} is for{where}",
            "write the easting first, and check the code",
        )
    return at


def _used_there(area: object, at: LonLat) -> bool:
    """Return whether a position is within a system's area of use, with a degree to spare at its edges."""
    west, south, east, north = getattr(area, "bounds", (-180.0, -90.0, 180.0, 90.0))
    across = west - 1 <= at[0] <= east + 1 if west <= east else at[0] >= west - 1 or at[0] <= east + 1
    return bool(across and south - 1 <= at[1] <= north + 1)
