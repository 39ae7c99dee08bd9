"""The command about pictures of a tree: listed, written out, taken out."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from standmap.cli.options import JsonOption, StandArgument
from standmap.cli.terminal import emit_json, say, table


def add_to(app: typer.Typer) -> None:
    """Add the command of this file."""
    app.command()(photos)


def photos(
    file: StandArgument,
    tree: Annotated[str, typer.Argument(metavar="TREE", help="Name or id.")],
    *,
    remove: Annotated[
        int | None, typer.Option("--remove", metavar="N", help="Take the picture of this number out of the stand.")
    ] = None,
    out: Annotated[
        Path | None, typer.Option("--out", metavar="DIR", help="Write the pictures into this folder.")
    ] = None,
    replace: Annotated[bool, typer.Option("--replace", help="Write over files that are there already.")] = False,
    as_json: JsonOption = False,
) -> None:
    """List the pictures kept with a tree, write them out, or take one out; 'standmap undo' brings it back."""
    from standmap.errors import NothingToDo, UserError
    from standmap.jobs.clock import now
    from standmap.jobs.opening import open_stand
    from standmap.jobs.photos import photos_of_tree, remove_photo, write_photos

    if remove is not None and out is not None:
        raise UserError("--remove and --out do not go together", "give one after the other")
    with open_stand(file, read_only=remove is None) as opened:
        if remove is not None:
            said = remove_photo(opened, tree, remove, now())
            emit_json({"removed": said}) if as_json else say(f"{said}; 'standmap undo' brings it back")
            return
        if out is not None:
            paths = [str(p) for p in write_photos(opened, tree, out, replace=replace)]
            if as_json:
                emit_json({"files": paths})
            for path in () if as_json else paths:
                say(path)
            return
        try:
            found, pictures = photos_of_tree(opened, tree)
        except NothingToDo:
            if as_json:
                emit_json({"photos": []})
            raise
    held = [
        {
            "number": number,
            "id": one.key,
            "file": one.file_name,
            "taken_at": None if one.taken_at is None else one.taken_at.isoformat(),
            "bytes": len(one.content),
        }
        for number, one in enumerate(pictures, start=1)
    ]
    if as_json:
        emit_json({"tree": found.name, "photos": held})
        return
    table(
        [("picture", "right"), ("taken", "left"), ("file", "left"), ("size", "right")],
        (
            (
                str(h["number"]),
                str(h["taken_at"] or "not told"),
                str(h["file"]),
                f"{int(str(h['bytes'])) / 1000:.0f} kB",
            )
            for h in held
        ),
    )
