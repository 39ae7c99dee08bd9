"""A part of a backdrop, drawn into the working frame of a stand at the resolution of a screen or of paper."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from standmap.formats.backdrops import TERRAIN, BackdropFile, metres_per_height, opened
from standmap.formats.hill_shade import veil
from standmap.progress import Progress

if TYPE_CHECKING:
    from rasterio.io import DatasetReader  # type: ignore[import-untyped]
    from rasterio.transform import Affine  # type: ignore[import-untyped]

ROWS_AT_ONCE = 256
"""Rows read between two looks whether to go on."""

FINER = 1.5
"""How much finer than it is shown a picture is read, so that turning it into the frame does not blur it."""

MARGIN_BLOCKS = 2
"""Read beyond the rim of a window, because a pixel is made of several cells around it."""

Rgba = NDArray[np.uint8]
"""Red, green, blue and opacity (not multiplied in), shape (rows, columns, 4)."""

Heights = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Window:
    """A rectangle of the working frame, north up, and how finely it is drawn.

    Attributes
    ----------
    left_m, top_m
        Its north-west corner, metres east and north of the frame's centre.
    cell_m
        Metres a pixel.
    """

    left_m: float
    top_m: float
    cell_m: float
    columns: int
    rows: int


def raster_window(file: BackdropFile, proj_text: str, window: Window, progress: Progress) -> Rgba | None:
    """Draw the part of a backdrop that lies in a window.

    Parameters
    ----------
    proj_text
        The working frame as PROJ text.

    Returns
    -------
    The picture, shape (rows, columns, 4), see-through where the backdrop has nothing; None when a stop was wanted.

    Raises
    ------
    UserError
        If the file has gone or is damaged.
    """
    rim = 1 if file.kind == TERRAIN else 0
    wide = Window(
        window.left_m - rim * window.cell_m,
        window.top_m + rim * window.cell_m,
        window.cell_m,
        window.columns + 2 * rim,
        window.rows + 2 * rim,
    )
    with opened(file.path, file.table) as (raster, _):
        part = _part(raster, file.crs, proj_text, wide)
        if part is None:
            return np.zeros((window.rows, window.columns, 4), np.uint8)
        if file.kind == TERRAIN:
            heights = _heights(raster, file, proj_text, wide, part, progress)
            return None if heights is None else veil(heights, window.cell_m)
        return _picture(raster, file, proj_text, wide, part, progress)


def height_window(file: BackdropFile, proj_text: str, window: Window, progress: Progress) -> Heights | None:
    """Return the heights of the ground in a window, from a file of kind terrain.

    Parameters
    ----------
    proj_text
        The working frame as PROJ text.

    Returns
    -------
    Metres in the middle of each cell, shape (rows, columns), from the north; NaN where nothing is known. None when a
    stop was wanted.

    Raises
    ------
    UserError
        If the file has gone or is damaged.
    """
    with opened(file.path, file.table) as (raster, _):
        part = _part(raster, file.crs, proj_text, window)
        if part is None:
            return np.full((window.rows, window.columns), np.nan, np.float32)
        return _heights(raster, file, proj_text, window, part, progress)


def _heights(
    raster: DatasetReader, file: BackdropFile, proj_text: str, window: Window, part: _Part, progress: Progress
) -> Heights | None:
    found = _warped(raster, file, proj_text, window, part, [1], progress)
    if found is None:
        return None
    known = np.where(found[1] > 0, found[0], np.nan).astype(np.float32)
    return known * np.float32(metres_per_height(raster))


@dataclass(frozen=True, slots=True)
class _Part:
    """Cells of the file, in columns and rows of it, and the size at which they are read."""

    column: int
    row: int
    columns: int
    rows: int
    read_columns: int
    read_rows: int


def _part(raster: DatasetReader, crs: str, proj_text: str, window: Window) -> _Part | None:
    """Return the part of the file under a window; None where there is nothing."""
    from pyproj import Transformer

    across = np.linspace(0, 1, 33)
    x, y = np.meshgrid(
        window.left_m + across * window.columns * window.cell_m, window.top_m - across * window.rows * window.cell_m
    )
    x, y = Transformer.from_crs(proj_text, crs, always_xy=True).transform(x.ravel(), y.ravel())
    held = np.isfinite(x) & np.isfinite(y)
    if not held.any():
        return None
    t = ~raster.transform
    column, row = t.a * x[held] + t.b * y[held] + t.c, t.d * x[held] + t.e * y[held] + t.f
    first_column, last_column = _held(column, raster.width)
    first_row, last_row = _held(row, raster.height)
    if first_column >= last_column or first_row >= last_row:
        return None
    # Cells of the file to a pixel of the window, along the finer side; in whole blocks counted from the file's corner,
    # so that two windows side by side are read from the same blocks and meet without a seam.
    many = max((column.max() - column.min()) / window.columns, (row.max() - row.min()) / window.rows) / FINER
    less = 2 ** max(0, math.floor(math.log2(max(many, 1.0))))
    less = min(less, raster.width, raster.height)
    first_column, columns = _blocks(first_column, last_column, less, raster.width)
    first_row, rows = _blocks(first_row, last_row, less, raster.height)
    return _Part(first_column * less, first_row * less, columns * less, rows * less, columns, rows)


def _blocks(first: int, last: int, less: int, size: int) -> tuple[int, int]:
    """Return the first whole block and how many there are; what is left of a block at the far edge is not read."""
    most = size // less
    begin = max(0, min(first // less - MARGIN_BLOCKS, most - 1))
    return begin, max(1, min(math.ceil(last / less) + MARGIN_BLOCKS, most) - begin)


def _held(along: NDArray[np.float64], size: int) -> tuple[int, int]:
    return max(0, math.floor(float(along.min()))), min(size, math.ceil(float(along.max())))


def _picture(
    raster: DatasetReader, file: BackdropFile, proj_text: str, window: Window, part: _Part, progress: Progress
) -> Rgba | None:
    from rasterio.enums import ColorInterp  # type: ignore[import-untyped]

    interpretation = raster.colorinterp
    palette = interpretation[0] == ColorInterp.palette
    bands = [1, 2, 3] if raster.count >= 3 else [1]
    found = _warped(raster, file, proj_text, window, part, bands, progress, smooth=not palette)
    if found is None:
        return None
    picture = np.empty((window.rows, window.columns, 4), np.uint8)
    if palette:
        picture[:] = _colours(raster)[found[0].astype(np.uint8)]
    else:
        least, most = file.span
        scaled = np.clip((found[:-1] - least) * (255.0 / (most - least)), 0, 255)
        picture[..., :3] = np.round(np.nan_to_num(np.moveaxis(scaled, 0, -1))).astype(np.uint8)
        picture[..., 3] = 255
    picture[..., 3] = np.minimum(picture[..., 3], np.round(found[-1]).astype(np.uint8))
    return picture


def _colours(raster: DatasetReader) -> NDArray[np.uint8]:
    """Return the colour of each value of a palette, shape (256, 4)."""
    table = np.zeros((256, 4), np.uint8)
    for value, colour in raster.colormap(1).items():
        table[value] = colour
    return table


def _warped(
    raster: DatasetReader,
    file: BackdropFile,
    proj_text: str,
    window: Window,
    part: _Part,
    bands: list[int],
    progress: Progress,
    *,
    smooth: bool = True,
) -> NDArray[np.float32] | None:
    """Return bands in the frame, and below them how much each pixel is covered, 0 to 255; None when stopped.

    Shape (bands + 1, rows, columns).
    """
    from rasterio.enums import Resampling
    from rasterio.transform import Affine
    from rasterio.warp import reproject  # type: ignore[import-untyped]

    read = _read(raster, part, bands, progress, smooth=smooth)
    if read is None:
        return None
    placed = _placed(raster, part)
    target = Affine(window.cell_m, 0.0, window.left_m, 0.0, -window.cell_m, window.top_m)
    out = np.zeros((len(bands) + 1, window.rows, window.columns), np.float32)
    how = Resampling.nearest
    if smooth:
        how = Resampling.cubic if file.kind == TERRAIN else Resampling.bilinear
    values = np.where(read[-1] > 0, read[:-1], np.nan)
    for source, into, method, nothing in (
        (values, out[:-1], how, np.nan),
        (read[-1], out[-1], Resampling.nearest, None),
    ):
        reproject(
            source,
            into,
            src_transform=placed,
            src_crs=file.crs,
            src_nodata=nothing,
            dst_transform=target,
            dst_crs=proj_text,
            dst_nodata=0 if nothing is None else nothing,
            resampling=method,
        )
        if progress.stop_wanted():
            return None
    return out


def _placed(raster: DatasetReader, part: _Part) -> Affine:
    """Return where the cells of the part lie, at the size they are read."""
    from rasterio.transform import Affine

    t, wide, high = raster.transform, part.columns / part.read_columns, part.rows / part.read_rows
    left, top = t.a * part.column + t.b * part.row + t.c, t.d * part.column + t.e * part.row + t.f
    return Affine(t.a * wide, t.b * high, left, t.d * wide, t.e * high, top)


def _read(
    raster: DatasetReader, part: _Part, bands: list[int], progress: Progress, *, smooth: bool
) -> NDArray[np.float32] | None:
    """Read the part of the file, with its mask below, strip by strip."""
    from rasterio.enums import Resampling
    from rasterio.windows import Window as Cells  # type: ignore[import-untyped]

    out = np.zeros((len(bands) + 1, part.read_rows, part.read_columns), np.float32)
    for first in range(0, part.read_rows, ROWS_AT_ONCE):
        if progress.stop_wanted():
            return None
        last = min(part.read_rows, first + ROWS_AT_ONCE)
        top = part.row + part.rows * first / part.read_rows
        bottom = part.row + part.rows * last / part.read_rows
        cells = Cells(part.column, top, part.columns, bottom - top)
        shape = (last - first, part.read_columns)
        how = Resampling.average if smooth and part.read_rows < part.rows else Resampling.nearest
        out[:-1, first:last] = raster.read(bands, window=cells, out_shape=(len(bands), *shape), resampling=how)
        out[-1, first:last] = raster.dataset_mask(window=cells, out_shape=shape)
        progress.at(last, part.read_rows, "drawing the backdrop")
    return out
