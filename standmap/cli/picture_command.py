"""The command `picture`: the map on paper, at a true scale."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from standmap.cli.options import DateOption, SeasonOption, StandArgument, day_of, year_of
from standmap.cli.terminal import note, say, stoppable
from standmap.errors import UserError


def add_to(app: typer.Typer) -> None:
    """Add the command of this file."""
    app.command()(picture)


def picture(
    file: StandArgument,
    out: Annotated[Path, typer.Option("--out", metavar="FILE", help="A file that ends in .pdf, .svg or .png.")],
    *,
    scale: Annotated[
        str | None,
        typer.Option("--scale", metavar="NUMBER", help="1000 for 1:1000; the largest that fits when left out."),
    ] = None,
    paper: Annotated[str, typer.Option("--paper", help="A4, A3, Letter, or 'as needed'.")] = "A4",
    landscape: Annotated[
        bool | None, typer.Option("--landscape/--upright", help="Which way the paper lies; as suits when left out.")
    ] = None,
    dpi: Annotated[int, typer.Option("--dpi", help="Dots an inch of a PNG.")] = 200,
    title: Annotated[str, typer.Option("--title", help="The name of the file when left out.")] = "",
    season: SeasonOption = None,
    date: DateOption = None,
    replace: Annotated[bool, typer.Option("--replace", help="Write over a file that is there already.")] = False,
) -> None:
    """Draw the map to a file, at a true scale."""
    try:
        from standmap.desktop.pictures.making import PictureOptions
        from standmap.desktop.pictures.offscreen import save_picture
        from standmap.desktop.pictures.sheet import scale_of
    except ImportError as error:
        if (error.name or "").partition(".")[0] == "standmap":
            raise
        raise UserError(
            f"the map cannot be drawn: {error.name or 'a library of Qt'} is missing or broken",
            "install PySide6-Essentials and the libraries of Qt; every other command works without them",
        ) from None
    from standmap.jobs.preferences import read_settings
    from standmap.units_shown import System, UnitsShown

    wanted = None if scale is None else scale_of(scale)
    options = PictureOptions(scale=wanted, paper=paper, landscape=landscape, dpi=dpi, title=title)
    units = UnitsShown(System(read_settings().units))
    with stoppable() as progress:
        made = save_picture(file, out, year_of(season), day_of(date), options, units, progress, replace=replace)
    if made is None:
        raise UserError("the picture was not drawn to its end", "nothing was written")
    sheet = made.sheet
    say(f"{out}: 1:{sheet.scale:g} on {sheet.width_mm:g} by {sheet.height_mm:g} mm")
    if made.outside:
        note(f"caution: {made.outside} trees are not on the sheet: choose a smaller scale or a larger paper")
