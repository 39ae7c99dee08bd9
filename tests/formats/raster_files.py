"""Small rasters for tests, written without standmap: pictures, tiles and terrain on known ground."""

from __future__ import annotations

import sqlite3
from pathlib import Path
from typing import Any

import numpy as np
import rasterio  # type: ignore[import-untyped]
from numpy.typing import NDArray
from pyproj import Transformer
from rasterio.transform import Affine  # type: ignore[import-untyped]

LON, LAT = 29.76, 62.6
EAST, NORTH = Transformer.from_crs("EPSG:4326", "EPSG:3067", always_xy=True).transform(LON, LAT)

RED = (220, 20, 20)


def marked_picture(side: int = 400, square: int = 20) -> NDArray[np.uint8]:
    """Return a grey picture with a red square in the middle, shape (3, side, side)."""
    picture = np.full((3, side, side), 200, np.uint8)
    first = (side - square) // 2
    picture[:, first : first + square, first : first + square] = np.array(RED, np.uint8)[:, None, None]
    return picture


def write_tiff(
    path: Path, bands: NDArray[Any], cell_m: float = 0.5, tags: dict[str, str] | None = None, **more: Any
) -> Path:
    """Write bands, shape (bands, rows, columns), as a GeoTIFF whose middle is at `LON`, `LAT`."""
    count, rows, columns = bands.shape
    left, top = EAST - columns / 2 * cell_m, NORTH + rows / 2 * cell_m
    profile = {"crs": "EPSG:3067", "transform": Affine(cell_m, 0.0, left, 0.0, -cell_m, top), **more}
    colours = profile.pop("colours", None)
    with rasterio.open(
        path, "w", driver="GTiff", width=columns, height=rows, count=count, dtype=bands.dtype, **profile
    ) as raster:
        raster.write(bands)
        if colours is not None:
            raster.write_colormap(1, colours)
        if tags:
            raster.update_tags(**tags)
    return path


def write_tiles(path: Path, picture: Path, driver: str, **options: str) -> Path:
    """Copy a picture into tiles, "MBTiles" or "GPKG"."""
    from rasterio.shutil import copy  # type: ignore[import-untyped]

    copy(str(picture), str(path), driver=driver, **options)
    return path


def set_tile_metadata(path: Path, **facts: str) -> None:
    """Write facts into the table that MBTiles keeps them in."""
    db = sqlite3.connect(path)
    with db:
        db.executemany("INSERT INTO metadata (name, value) VALUES (?, ?)", facts.items())
    db.close()
