"""The command `terrain`: heights of the ground that a walk reckons with."""

from __future__ import annotations

import math
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from standmap.cli.options import JsonOption, StandArgument
from standmap.cli.terminal import TerminalMessages, emit_json, note, say, stoppable

if TYPE_CHECKING:
    from standmap.jobs.terrain import TerrainFacts


def add_to(app: typer.Typer) -> None:
    """Add the command of this file."""
    app.command()(terrain)


def terrain(
    file: StandArgument,
    heights: Annotated[
        Path | None,
        typer.Argument(metavar="[HEIGHTS]", help="A terrain of your own, such as a GeoTIFF or an ASCII grid."),
    ] = None,
    *,
    remove: Annotated[bool, typer.Option("--remove", help="Take the heights out: the ground is level then.")] = False,
    cell_m: Annotated[
        float | None, typer.Option("--cell", metavar="M", help="How far apart heights are kept; 5 m or as in the file.")
    ] = None,
    table: Annotated[str, typer.Option("--table", metavar="NAME", help="Which of several in the file.")] = "",
    crs: Annotated[
        str | None, typer.Option("--crs", metavar="EPSG", help="Its reference system, if the file does not say.")
    ] = None,
    attribution: Annotated[
        str | None, typer.Option("--attribution", metavar="TEXT", help="Whom the heights are from.")
    ] = None,
    as_json: JsonOption = False,
) -> None:
    """Keep the heights of the ground with a stand, so that walks reckon with slopes; show or take out what is kept."""
    from standmap.errors import NothingToDo, UserError
    from standmap.jobs import terrain as job
    from standmap.jobs.clock import now
    from standmap.jobs.opening import open_stand

    if remove and heights is not None:
        raise UserError("--remove takes out what is there", "leave the file out")
    with open_stand(file, read_only=heights is None and not remove) as opened:
        if remove:
            kept = job.terrain_of(opened)
            job.remove_terrain(opened, now())
            if as_json:
                emit_json({"removed": "" if kept is None else kept.file_name})
            else:
                say("took the heights of the ground out; 'standmap undo' brings them back")
            return
        if heights is None:
            found = job.terrain_of(opened)
            if found is None:
                raise NothingToDo(f"{file.name}: the stand keeps no heights of the ground")
        else:
            with stoppable() as progress:
                found = job.take_terrain(
                    opened,
                    heights,
                    now(),
                    cell_m=cell_m,
                    table=table,
                    crs=crs,
                    attribution=attribution,
                    messages=TerminalMessages(),
                    progress=progress,
                )
    if as_json:
        emit_json(_json(found))
        return
    say(f"heights of the ground from {found.file_name or 'a file that is not known'}")
    say(f"{found.columns} by {found.rows} cells of {found.cell_m:g} m, {100 * found.known_share:.0f} % known")
    if not math.isnan(found.lowest_m):
        say(f"{found.lowest_m:.1f} to {found.highest_m:.1f} m; a tenth is steeper than {100 * found.steep_slope:.0f} %")
    say(f"from: {found.attribution}" if found.attribution else "from: not known")
    if not found.attribution:
        note("caution: say whom they are from with --attribution, and look whether you may use them")


def _json(found: TerrainFacts) -> dict[str, object]:
    def known(value: float) -> float | None:
        return None if math.isnan(value) else round(value, 2)

    return {
        "file": found.file_name,
        "attribution": found.attribution,
        "cell_m": round(found.cell_m, 3),
        "rows": found.rows,
        "columns": found.columns,
        "lowest_m": known(found.lowest_m),
        "highest_m": known(found.highest_m),
        "steep_slope": round(found.steep_slope, 4),
        "known_share": round(found.known_share, 4),
    }
