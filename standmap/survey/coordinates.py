"""A position in the words of a map: degrees, UTM, and a national grid by its EPSG code.

A transformation for which the best grid is not at hand is called approximate, with its stated accuracy. Nothing is
fetched: what is at hand is what PROJ carries.
"""

from __future__ import annotations

import math
import warnings
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

from standmap.errors import UserError

if TYPE_CHECKING:
    import pyproj

UTM_LEAST_LAT, UTM_MOST_LAT = -80.0, 84.0
"""UTM is laid down between these latitudes (NGA.STND.0037, from memory)."""

SOUTH_OF_EQUATOR_EPSG, NORTH_OF_EQUATOR_EPSG = 32700, 32600
"""EPSG codes of UTM on WGS 84, to which the zone is added."""


@dataclass(frozen=True, slots=True)
class GridPosition:
    """A position on a grid.

    Attributes
    ----------
    grid
        Name of the grid as a person knows it.
    code
        EPSG code, such as "EPSG:3067".
    x, y
        Along the two axes, in `unit`.
    x_name, y_name
        Which way the axes point: "east" and "north" for most grids.
    unit
        "m", "ft" or another unit's full name.
    approximate
        Whether a better transformation exists but needs a grid that is not at hand, or none is known at all.
    accuracy_m
        Stated accuracy of the transformation, metres; None where nobody states one.
    inside
        Whether the position lies in the area that the grid is made for.
    """

    grid: str
    code: str
    x: float
    y: float
    x_name: str
    y_name: str
    unit: str
    approximate: bool = False
    accuracy_m: float | None = 0.0
    inside: bool = True

    @property
    def text(self) -> str:
        """The position as one line that can be copied: "641679 E 6944054 N"."""
        return f"{self.x:.0f} {self.x_name[0].upper()} {self.y:.0f} {self.y_name[0].upper()}"

    @property
    def caution(self) -> str:
        """What a person must know before trusting it; empty where there is nothing."""
        said = []
        if self.approximate:
            known = self.accuracy_m is not None
            about = f"within about {self.accuracy_m:g} m" if known else "nobody states how good"
            said.append(f"approximate: {about}; the exact transformation needs a file that is not here")
        if not self.inside:
            said.append("outside the area that this grid is made for")
        return "; ".join(said)


def decimal_text(lon: float, lat: float) -> str:
    """Return a position in decimal degrees, a tenth of a metre fine: "62.601000 N, 29.763600 E"."""
    return f"{abs(lat):.6f} {_north(lat)}, {abs(lon):.6f} {_east(lon)}"


def sexagesimal_text(lon: float, lat: float) -> str:
    """Return a position in degrees, minutes and seconds: "62° 36′ 03.60″ N, 29° 45′ 48.96″ E"."""
    return f"{_sexagesimal(lat)} {_north(lat)}, {_sexagesimal(lon)} {_east(lon)}"


def _sexagesimal(degrees: float) -> str:
    # Whole hundredths of a second, so that 59.999 does not become sixty.
    hundredths = round(abs(degrees) * 360_000)
    whole, rest = divmod(hundredths, 360_000)
    minutes, seconds = divmod(rest, 6000)
    return f"{whole}° {minutes:02d}′ {seconds / 100:05.2f}″"


def _north(lat: float) -> str:
    return "N" if lat >= 0 else "S"


def _east(lon: float) -> str:
    return "E" if lon >= 0 else "W"


def utm_zone(lon: float, lat: float) -> int:
    """Return the UTM zone of a position, with the wider zones of south-west Norway and of Svalbard.

    The exceptions are those of the Military Grid Reference System (NGA.STND.0037, from memory): zone 32 reaches west to
    3 E between 56 and 64 N; between 72 and 84 N zones 31, 33, 35 and 37 part at 9, 21 and 33 E and end at 42 E.
    """
    if 56 <= lat < 64 and 3 <= lon < 12:
        return 32
    if 72 <= lat <= 84 and 0 <= lon < 42:
        return 31 if lon < 9 else 33 if lon < 21 else 35 if lon < 33 else 37
    return int(math.floor((lon + 180) / 6) % 60) + 1


def in_utm(lon: float, lat: float) -> GridPosition | None:
    """Return a position in UTM on WGS 84, or None near the poles, where UTM is not laid down."""
    if not UTM_LEAST_LAT <= lat <= UTM_MOST_LAT:
        return None
    zone, north = utm_zone(lon, lat), lat >= 0
    code = (NORTH_OF_EQUATOR_EPSG if north else SOUTH_OF_EQUATOR_EPSG) + zone
    x, y = _lines(code, lon, lat).transformer.transform(lon, lat)
    name = f"UTM {zone} {'north' if north else 'south'}"
    return GridPosition(name, f"EPSG:{code}", x, y, "east", "north", "m")


def in_grid(lon: float, lat: float, epsg: int) -> GridPosition:
    """Return a position on a national grid.

    Parameters
    ----------
    epsg
        Number of a projected reference system in the EPSG register.

    Raises
    ------
    UserError
        If there is no such grid, or the position cannot be told in it.
    """
    lines = _lines(epsg, lon, lat)
    crs = lines.crs
    x, y = lines.transformer.transform(lon, lat)
    if not (math.isfinite(x) and math.isfinite(y)):
        raise UserError(
            f"the position latitude {lat:.4f}, longitude {lon:.4f} cannot be told in EPSG:{epsg} ({crs.name})",
            "choose the grid of that country",
        )
    x_axis, y_axis = _axes(crs)
    unit = crs.axis_info[0].unit_name
    return GridPosition(
        grid=crs.name,
        code=f"EPSG:{epsg}",
        x=float(x),
        y=float(y),
        x_name=x_axis,
        y_name=y_axis,
        unit={"metre": "m", "foot": "ft"}.get(unit, unit),
        approximate=lines.approximate,
        accuracy_m=lines.accuracy_m,
        inside=_inside(crs, lon, lat),
    )


def grid_number(text: str) -> int:
    """Return the number of a grid from what was typed: "3067" or "EPSG:3067".

    Raises
    ------
    UserError
        If it is no number of a grid.
    """
    cleaned = text.strip().casefold().removeprefix("epsg:").strip()
    if not (cleaned.isascii() and cleaned.isdecimal() and len(cleaned) <= 6):
        raise UserError(f"'{text.strip()[:40]}' is no EPSG code", "write it like EPSG:3067")
    _grid(int(cleaned))
    return int(cleaned)


@dataclass(frozen=True, slots=True)
class _Lines:
    crs: pyproj.CRS
    transformer: pyproj.Transformer
    approximate: bool
    accuracy_m: float | None


def _lines(epsg: int, lon: float, lat: float) -> _Lines:
    # PROJ chooses a transformation by area; within a tenth of a degree the choice is taken to be the same.
    return _chosen(epsg, round(lon, 1), round(lat, 1))


@lru_cache(maxsize=32)
def _chosen(epsg: int, lon: float, lat: float) -> _Lines:
    from pyproj.exceptions import ProjError
    from pyproj.transformer import AreaOfInterest, TransformerGroup

    crs = _grid(epsg)
    about = AreaOfInterest(lon, lat, lon, lat)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", UserWarning)  # told in our own words, as `approximate`
            group = TransformerGroup("EPSG:4326", crs, always_xy=True, area_of_interest=about)
        best = group.transformers[0]
    except (ProjError, IndexError):
        raise UserError(
            f"no way is known from WGS 84 to EPSG:{epsg} ({crs.name})", "choose the grid of that country"
        ) from None
    accuracy = float(best.accuracy) if best.accuracy >= 0 else None
    return _Lines(crs, best, not group.best_available or accuracy is None, accuracy)


@lru_cache(maxsize=32)
def _grid(epsg: int) -> pyproj.CRS:
    from pyproj import CRS
    from pyproj.exceptions import CRSError

    try:
        crs = CRS.from_epsg(epsg)
    except CRSError:
        raise UserError(
            f"there is no reference system EPSG:{epsg}", "look the number of your country's grid up"
        ) from None
    if not crs.is_projected or len(crs.axis_info) != 2:
        raise UserError(f"EPSG:{epsg} ({crs.name}) is no grid on the ground", "name the code of a projected grid")
    return crs


def _axes(crs: pyproj.CRS) -> tuple[str, str]:
    """Return which way x and y point after PROJ has put the easterly axis first."""
    ways = [axis.direction.casefold() for axis in crs.axis_info]
    if ways[0] in ("north", "south") and ways[1] in ("east", "west"):
        ways.reverse()
    return ways[0], ways[1]


def _inside(crs: pyproj.CRS, lon: float, lat: float) -> bool:
    area = crs.area_of_use
    if area is None:
        return True
    # An area across the antimeridian begins east of where it ends.
    past_west, before_east = lon >= area.west, lon <= area.east
    along = past_west and before_east if area.west <= area.east else past_west or before_east
    return along and area.south <= lat <= area.north
