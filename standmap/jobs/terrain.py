"""Heights of the ground kept with a stand: read from a file of a person's own, and taken out again."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from standmap.errors import NothingToDo, UserError
from standmap.formats.backdrops import TERRAIN, BackdropFile, look
from standmap.formats.raster_window import Window, height_window
from standmap.jobs.backdrop import checked_attribution
from standmap.jobs.bring_reading import hash_of, stop_if_wanted
from standmap.jobs.keys import new_key
from standmap.jobs.opening import working_frame
from standmap.jobs.positions import xy
from standmap.jobs.trees_by_hand import keep_frame
from standmap.jobs.walked_ground import heights_in
from standmap.messages import Messages, Silence
from standmap.progress import Progress, Unwatched
from standmap.stand.records import Source, Terrain
from standmap.stand.snapshot import Stand
from standmap.store.stand_file import StandFile
from standmap.store.writing import Writing

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from standmap.survey.frame import WorkingFrame

FORMAT = "terrain"

FINEST_M = 5.0
"""Heights are kept this far apart or more: bumps that one steps over are no slope."""

MARGIN_M = 100.0
"""How far beyond the outermost tree or place heights are kept: a way may lead round."""

MOST_CELLS = 1_000_000
"""A stand so wide that more cells were needed has them farther apart."""

COARSE_M = 25.0
"""Cells wider than this miss most slopes of a wood; they are taken, with a caution."""


@dataclass(frozen=True, slots=True)
class TerrainFacts:
    """What is known of the heights that a stand keeps.

    Attributes
    ----------
    file_name
        The file that they came from; empty where that is not known.
    steep_slope
        A tenth of the ground is steeper, rise over level distance.
    known_share
        Part of the cells whose height is known, 0 to 1.
    attribution
        Whom they are from; empty where nobody said.
    """

    file_name: str
    attribution: str
    cell_m: float
    rows: int
    columns: int
    lowest_m: float
    highest_m: float
    steep_slope: float
    known_share: float


def take_terrain(
    file: StandFile,
    heights: Path,
    now: datetime,
    *,
    cell_m: float | None = None,
    table: str = "",
    crs: str | None = None,
    attribution: str | None = None,
    messages: Messages | None = None,
    progress: Progress | None = None,
) -> TerrainFacts:
    """Keep the heights of the ground about a stand's trees and places, as one edit, in place of earlier ones.

    Parameters
    ----------
    heights
        A GeoTIFF, an ASCII grid, or whatever else the backdrop takes as terrain. It is read once; the stand keeps its
        own copy of the part that it needs.
    cell_m
        How far the kept heights are to be apart; as in the file, but not nearer than `FINEST_M`, when absent.
    table, crs
        See `standmap.formats.backdrops.look`.
    attribution
        In place of what the file says about whom it is from.

    Raises
    ------
    UserError
        If the file holds no heights, or none of this ground, or a stop was wanted.
    """
    messages, progress = messages or Silence(), progress or Unwatched()
    if cell_m is not None and not 1 <= cell_m <= 100:
        raise UserError(f"heights {cell_m:g} m apart tell nothing of a wood", "choose 1 to 100 m")
    stand = file.stand()
    frame = working_frame(stand)
    if frame is None:
        raise UserError("an empty stand has no ground to know the heights of", "bring in trees or places first")
    found = look(heights, table=table, crs=crs)
    if found.kind != TERRAIN:
        raise UserError(f"{heights.name}: this file holds a picture, not heights", "choose a terrain of one band")
    sha256, size = hash_of(heights)
    window = _window(stand, frame, cell_m or max(FINEST_M, found.finest_m))
    grid = height_window(found, frame.proj_text, window, progress)
    if grid is None:
        stop_if_wanted(progress)
        raise UserError("stopped before the heights were read", "nothing was changed")
    _check(grid, found, window, messages)
    source = Source(new_key(), heights.name, sha256, FORMAT, size, now)
    terrain = Terrain(
        new_key(),
        window.left_m + window.cell_m / 2,
        window.top_m - (window.rows - 0.5) * window.cell_m,
        window.cell_m,
        window.rows,
        window.columns,
        np.ascontiguousarray(grid[::-1], "<f4").tobytes(),
        found.attribution if attribution is None else checked_attribution(attribution),
        source.key,
    )
    before = _kept(file)
    with file.writing(f"heights of the ground from {heights.name}", now) as writing:
        keep_frame(writing, stand, frame)
        _take_out(writing, before)
        writing.insert(source)
        writing.insert(terrain)
    return _facts(terrain, source)


def terrain_of(file: StandFile) -> TerrainFacts | None:
    """Return what is known of the heights that are kept; None where there are none."""
    kept = _kept(file)
    return _facts(*kept[-1]) if kept else None


def name_terrain_source(file: StandFile, attribution: str, now: datetime) -> None:
    """Write down whom the heights are from, as one edit.

    Raises
    ------
    NothingToDo
        If there are none.
    UserError
        If what is written cannot be kept in one line.
    """
    kept = _kept(file)
    if not kept:
        raise NothingToDo("the stand keeps no heights of the ground")
    with file.writing("say whom the heights of the ground are from", now) as writing:
        writing.change(kept[-1][0], note=checked_attribution(attribution))


def remove_terrain(file: StandFile, now: datetime) -> None:
    """Take the heights out of the stand, as one edit; the ground is then taken for level.

    Raises
    ------
    NothingToDo
        If there are none.
    """
    kept = _kept(file)
    if not kept:
        raise NothingToDo("the stand keeps no heights of the ground")
    with file.writing("take out the heights of the ground", now) as writing:
        _take_out(writing, kept)


def _take_out(writing: Writing, kept: list[tuple[Terrain, Source | None]]) -> None:
    for terrain, source in kept:
        writing.delete(terrain)
        if source is not None:
            writing.delete(source)


def _kept(file: StandFile) -> list[tuple[Terrain, Source | None]]:
    """Return all heights with the file that each came from; merging two copies may leave more than one."""
    sources = {source.key: source for source in file.rows(Source) if source.format == FORMAT}
    return [(terrain, sources.get(terrain.source_key or "")) for terrain in file.rows(Terrain)]


def _window(stand: Stand, frame: WorkingFrame, cell_m: float) -> Window:
    """Return the cells to keep, on whole multiples of their size."""
    at = xy(frame, [*(t.at for t in stand.present), *(p.at for p in stand.places)] or [(frame.lon0, frame.lat0)])
    at = at[np.isfinite(at[:, 0])]
    if len(at) == 0:
        at = np.zeros((1, 2))
    low, high = at.min(axis=0) - MARGIN_M, at.max(axis=0) + MARGIN_M
    cell = max(cell_m, math.sqrt(float(np.prod(high - low)) / MOST_CELLS))
    left, bottom = (math.floor(value / cell) for value in low.tolist())
    right, top = (math.ceil(value / cell) for value in high.tolist())
    return Window(left * cell, top * cell, cell, right - left, top - bottom)


def _check(grid: NDArray[np.float32], found: BackdropFile, window: Window, messages: Messages) -> None:
    known = float(np.isfinite(grid).mean())
    if known == 0:
        west, south, east, north = found.bounds
        raise UserError(
            f"{found.path.name}: it holds no height of this ground, but of latitude {south:.3f} to {north:.3f}, "
            f"longitude {west:.3f} to {east:.3f}",
            "choose heights of the ground about the trees",
        )
    if known < 0.999:
        messages.caution(f"{100 * (1 - known):.0f} % of the ground has no height there and is taken for level")
    if window.cell_m > COARSE_M:
        messages.caution(f"heights {window.cell_m:.0f} m apart miss most slopes of a wood")


def _facts(terrain: Terrain, source: Source | None) -> TerrainFacts:
    heights = heights_in(terrain)
    grid = np.full((2, 2), np.nan) if heights is None else heights.grid_m.astype(np.float64)
    known = np.isfinite(grid)
    slope = np.hypot(*np.gradient(grid, terrain.cell_m))
    steep = slope[np.isfinite(slope)]
    return TerrainFacts(
        file_name="" if source is None else source.file_name,
        attribution=terrain.note,
        cell_m=terrain.cell_m,
        rows=terrain.row_count,
        columns=terrain.column_count,
        lowest_m=float(grid[known].min()) if known.any() else math.nan,
        highest_m=float(grid[known].max()) if known.any() else math.nan,
        steep_slope=float(np.quantile(steep, 0.9)) if len(steep) else 0.0,
        known_share=float(known.mean()),
    )
