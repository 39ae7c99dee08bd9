"""The command `tags`: tags for trees, to be printed and cut."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from standmap.cli.options import JsonOption, StandArgument
from standmap.cli.terminal import TerminalMessages, emit_json, say


def add_to(app: typer.Typer) -> None:
    """Add the command of this file."""
    app.command()(tags)


def tags(
    file: StandArgument,
    out: Annotated[Path, typer.Option("--out", metavar="FILE", help="A file that ends in .pdf.")],
    *,
    trees: Annotated[
        list[str] | None,
        typer.Option("--trees", metavar="TREES", help="Names or ids, with commas between; else all that stand."),
    ] = None,
    size: Annotated[
        str, typer.Option("--size", metavar="MM", help="Width and height of a tag in millimetres, like 60x40.")
    ] = "60x40",
    paper: Annotated[str | None, typer.Option("--paper", help="A4 or Letter; as set when left out.")] = None,
    replace: Annotated[bool, typer.Option("--replace", help="Write over a file that is there already.")] = False,
    as_json: JsonOption = False,
) -> None:
    """Write tags for trees: the name large, and a QR code with name and id; to be printed and cut.

    Hang a tag loosely on wire or cord: a nail or a screw wounds the tree.
    """
    from standmap.errors import UserError
    from standmap.jobs.opening import open_stand
    from standmap.jobs.preferences import read_settings
    from standmap.jobs.tag_paper import FASTENING, TagOptions, tag_paper, tag_size, tags_of, write_tags
    from standmap.jobs.walk_paper import paper_options

    names = tuple(name.strip() for group in trees or [] for name in group.split(",") if name.strip())
    if trees is not None and not names:
        raise UserError("--trees names no tree", "name some, or leave it out for all that stand")
    messages = TerminalMessages()
    shown = paper_options(read_settings(messages), paper)
    options = TagOptions(names, tag_size(size), shown.paper, shown.say)
    with open_stand(file, read_only=True) as opened:
        stand = opened.stand()
    made = write_tags(tag_paper(stand, file.stem, options, messages), out, replace=replace)
    count = len(tags_of(stand, names))
    if as_json:
        emit_json({"files": [str(made)], "tags": count})
        return
    say(f"{made}: {count} tag{'s' if count != 1 else ''}")
    messages.caution(FASTENING)
