"""The command `share`: a map of the stand to hand to somebody."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from standmap.cli.options import StandArgument
from standmap.cli.terminal import note, say


def add_to(app: typer.Typer) -> None:
    """Add the command of this file."""
    app.command()(share)


def share(
    file: StandArgument,
    out: Annotated[Path, typer.Option("--out", metavar="FILE", help="A file that ends in .html.")],
    *,
    with_owner: Annotated[
        bool, typer.Option("--with-owner", help="Tell names, owners, dates and limits of areas, too.")
    ] = False,
    with_gate: Annotated[bool, typer.Option("--with-gate", help="Show exactly where the gates are, too.")] = False,
    with_notes: Annotated[bool, typer.Option("--with-notes", help="Tell notes, too.")] = False,
    title: Annotated[str, typer.Option("--title", help="The name of the file when left out.")] = "",
    replace: Annotated[bool, typer.Option("--replace", help="Write over a file that is there already.")] = False,
) -> None:
    """Write a map to hand to somebody: one page that opens without a network, without owner, gate and notes."""
    from standmap.jobs import share_map
    from standmap.jobs.clock import today
    from standmap.jobs.opening import open_stand
    from standmap.jobs.preferences import read_settings

    with open_stand(file, read_only=True) as opened:
        stand = opened.stand()
    options = share_map.share_options(read_settings(), owner=with_owner, gate=with_gate, notes=with_notes)
    say(str(share_map.share(stand, title or file.stem, out, today(), options, replace=replace)))
    note("caution: whoever has the map knows where the trees are; ask the owner before you hand it on")
