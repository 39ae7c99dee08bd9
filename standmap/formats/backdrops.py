"""Pictures and terrain of the ground from files: GeoTIFF, tiles in MBTiles or GeoPackage, and whatever else GDAL reads.

`look` says what a file is and refuses what cannot lie under a stand; `raster_window` draws a part of it.
"""

from __future__ import annotations

import math
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from standmap.errors import UserError

if TYPE_CHECKING:
    from rasterio.io import DatasetReader  # type: ignore[import-untyped]

PICTURE, TERRAIN = "picture", "terrain"
KINDS = (PICTURE, TERRAIN)

ATTRIBUTION_NAMES = ("attribution", "copyright", "tifftag_copyright", "credits", "credit", "rights", "source")
"""Names, in this order, under which files keep whom a picture is from; capitals do not matter."""

LONGEST_ATTRIBUTION = 200

M_PER_UNIT = {"ft": 0.3048, "foot": 0.3048, "feet": 0.3048, "us survey foot": 1200 / 3937}
"""Metres in units of height other than the metre (the US survey foot by its definition, from memory)."""

SPAN_SAMPLE = 256
"""Side of the small copy from which the span of values is taken."""


@dataclass(frozen=True, slots=True)
class BackdropFile:
    """What a file holds.

    Attributes
    ----------
    table
        Which of several rasters in one file; empty where there is one.
    kind
        "picture" or "terrain".
    crs
        Reference system as WKT.
    bounds
        West, south, east, north in degrees, WGS 84; rough near the poles.
    attribution
        Whom it is from, as the file says; empty where it says nothing.
    span
        Least and most value, for pictures of more than eight bits; else (0, 255).
    finest_m
        Size of one of its cells on the ground, metres, roughly.
    """

    path: Path
    table: str
    kind: str
    crs: str
    bounds: tuple[float, float, float, float]
    attribution: str
    span: tuple[float, float]
    finest_m: float


def look(path: Path, *, table: str = "", kind: str | None = None, crs: str | None = None) -> BackdropFile:
    """Say what a file holds.

    Parameters
    ----------
    table
        Name of a raster in a file of several.
    kind
        "picture" or "terrain"; told by its content when None: one band of more than eight bits is terrain.
    crs
        Reference system for a file that does not name its own, such as "EPSG:3067".

    Raises
    ------
    UserError
        If it is missing, damaged, no raster, or does not say where on Earth it lies.
    """
    if not path.is_file():
        raise UserError(f"{path}: there is no such file", "look whether it was moved or renamed")
    with opened(path, table) as (raster, found_table):
        system = _system(raster, path, crs)
        return BackdropFile(
            path=path,
            table=found_table,
            kind=kind or _kind(raster),
            crs=system,
            bounds=_bounds(raster, system, path),
            attribution=_attribution(raster),
            span=_span(raster),
            finest_m=_finest_m(raster, system),
        )


@contextmanager
def opened(path: Path, table: str = "", **options: object) -> Iterator[tuple[DatasetReader, str]]:
    """Open a raster, or one of several in a file, and turn what GDAL says into plain words.

    Raises
    ------
    UserError
        If it is no raster, or damaged.
    """
    import rasterio  # type: ignore[import-untyped]
    from rasterio.errors import NotGeoreferencedWarning, RasterioError, RasterioIOError  # type: ignore[import-untyped]

    damaged = UserError(f"{path}: the file is damaged or only partly here", "copy it anew from where it came")
    try:
        with warnings.catch_warnings(), rasterio.Env(GDAL_PAM_ENABLED="NO"):
            warnings.simplefilter("ignore", NotGeoreferencedWarning)  # refused in our own words where it matters
            raster, name = _open(path, table, options)
            with raster:
                yield raster, name
    except RasterioIOError as error:
        if "not recognized" in str(error) or "no such" in str(error).casefold():
            raise UserError(
                f"{path}: this file holds no picture of the ground",
                "choose a GeoTIFF, or tiles in an MBTiles or GeoPackage file",
            ) from None
        raise damaged from None
    except RasterioError:
        raise damaged from None


def _open(path: Path, table: str, options: dict[str, object]) -> tuple[DatasetReader, str]:
    import rasterio

    raster = rasterio.open(path, **options)
    several = {name.rsplit(":", 1)[-1]: name for name in raster.subdatasets}
    if not several:
        if raster.count == 0:
            raster.close()
            raise UserError(
                f"{path}: this file holds no picture of the ground",
                "choose a GeoTIFF, or tiles in an MBTiles or GeoPackage file",
            )
        return raster, ""
    raster.close()
    if table not in several:
        raise UserError(
            f"{path}: the file holds {len(several)} pictures: {', '.join(several)}",
            "name one of them (--table)",
        )
    return rasterio.open(several[table], **options), table


def _kind(raster: DatasetReader) -> str:
    from rasterio.enums import ColorInterp  # type: ignore[import-untyped]

    plain = raster.dtypes[0] == "uint8" or raster.colorinterp[0] == ColorInterp.palette
    return TERRAIN if raster.count == 1 and not plain else PICTURE


def _system(raster: DatasetReader, path: Path, crs: str | None) -> str:
    import rasterio.crs  # type: ignore[import-untyped]
    from rasterio.errors import CRSError

    if raster.transform.is_identity:
        raise UserError(
            f"{path}: the picture does not say where on Earth it lies",
            "choose one that does, such as a GeoTIFF, or lay its world file (.tfw, .pgw) beside it",
        )
    if crs is not None:
        try:
            return str(rasterio.crs.CRS.from_user_input(crs).to_wkt())
        except CRSError:
            raise UserError(f"'{crs[:60]}' is no reference system", "write it like EPSG:3067") from None
    if raster.crs is None:
        raise UserError(
            f"{path}: the picture does not say in which reference system it lies", "name it, such as --crs EPSG:3067"
        )
    return str(raster.crs.to_wkt())


def _bounds(raster: DatasetReader, system: str, path: Path) -> tuple[float, float, float, float]:
    from rasterio.errors import RasterioError
    from rasterio.warp import transform  # type: ignore[import-untyped]

    # Points along the whole rim: corners alone miss the bulge of a curved edge.
    steps = [i / 20 for i in range(21)]
    rim = [(s, t) for s in steps for t in (0.0, 1.0)] + [(t, s) for s in steps for t in (0.0, 1.0)]
    a, b, c, d, e, f = raster.transform[:6]
    rim = [(s * raster.width, t * raster.height) for s, t in rim]
    corners = [(a * x + b * y + c, d * x + e * y + f) for x, y in rim]
    try:
        lon, lat = transform(system, "EPSG:4326", *map(list, zip(*corners, strict=True)))[:2]
    except RasterioError:
        lon, lat = [], []
    held = [(x, y) for x, y in zip(lon, lat, strict=True) if math.isfinite(x) and math.isfinite(y) and abs(y) <= 90]
    if not held:
        raise UserError(
            f"{path}: the place of the picture makes no sense in its reference system",
            "name the right one, such as --crs EPSG:3067",
        )
    return min(x for x, _ in held), min(y for _, y in held), max(x for x, _ in held), max(y for _, y in held)


def _attribution(raster: DatasetReader) -> str:
    tags: dict[str, str] = {}
    for space in (None, "", *raster.tag_namespaces()):
        for name, value in dict(raster.tags(ns=space) if space else raster.tags()).items():
            tags.setdefault(name.casefold(), str(value))
    for name in ATTRIBUTION_NAMES:
        text = _plain(tags.get(name, ""))
        if text:
            return text
    return ""


def _plain(text: str) -> str:
    """Return a text without marks of a web page, on one line."""
    import re
    from html import unescape

    without = unescape(re.sub(r"<[^>]{0,500}>", "", text))
    shown = "".join(c if c.isprintable() else " " for c in without)
    return " ".join(shown.split())[:LONGEST_ATTRIBUTION]


def _span(raster: DatasetReader) -> tuple[float, float]:
    import numpy as np

    if raster.dtypes[0] == "uint8":
        return 0.0, 255.0
    side = (min(raster.height, SPAN_SAMPLE), min(raster.width, SPAN_SAMPLE))
    colours = list(range(1, min(raster.count, 3) + 1)) if raster.count >= 3 else [1]
    sample = raster.read(colours, out_shape=(len(colours), *side), masked=True).astype("float64")
    held = np.ma.masked_invalid(sample).compressed()
    if not len(held):
        return 0.0, 1.0
    least, most = (float(v) for v in np.percentile(held, (1, 99)))
    return least, most if most > least else least + 1.0


def _finest_m(raster: DatasetReader, system: str) -> float:
    import rasterio.crs

    crs = rasterio.crs.CRS.from_wkt(system)
    cell = math.sqrt(abs(raster.transform.determinant))
    if crs.is_geographic:
        return cell * 111_195.0
    return cell * float(crs.linear_units_factor[1])


def metres_per_height(raster: Any) -> float:
    """Return metres in one unit of the heights of a terrain; the metre unless the file says another."""
    return M_PER_UNIT.get((raster.units[0] or "m").casefold(), 1.0)
