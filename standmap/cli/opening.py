"""The commands `open`, the window, and `sample`, an invented wood to try things out on."""

from __future__ import annotations

import os
import sys
from pathlib import Path
from typing import Annotated

import typer

from standmap.cli.terminal import say, stoppable
from standmap.errors import UserError


def add_to(app: typer.Typer) -> None:
    """Add the commands of this file."""
    app.command(name="open")(open_window)
    app.command()(sample)


def open_window(
    file: Annotated[
        Path | None, typer.Argument(metavar="[FILE]", help="A stand; the start page when left out.")
    ] = None,
    *,
    desktop_entry: Annotated[
        bool, typer.Option("--desktop-entry", help="List standmap among your programs, and end.")
    ] = False,
) -> None:
    """Open the window."""
    if desktop_entry:
        from standmap.jobs.desktop_entry import install_entry

        entry, icon = install_entry(Path(sys.argv[0]).absolute())
        say(f"written: {entry} and {icon}")
        return
    if file is not None:
        from standmap.jobs.opening import open_stand

        open_stand(file, read_only=True).close()  # what is no stand is refused before a window appears
    check_display()
    try:
        from standmap.desktop.start import run
    except ImportError as error:
        if (error.name or "").partition(".")[0] == "standmap":
            raise
        raise UserError(
            f"the window cannot be opened: {error.name or 'a library of Qt'} is missing or broken",
            "install PySide6-Essentials and the libraries of Qt; every other command works without them",
        ) from None
    code = run(file)
    if code:
        raise typer.Exit(code)


def sample(
    name: Annotated[str, typer.Argument(metavar="WOOD", help="alder-brook (forty birches) or heron-ridge (400).")],
    file: Annotated[
        Path | None, typer.Argument(metavar="[FILE]", help="The stand to make; in standmap's own folder when left out.")
    ] = None,
) -> None:
    """Make an invented wood to try things out on."""
    from standmap.jobs.clock import now
    from standmap.jobs.sample_wood import make_sample, sample_path

    path = file or sample_path(name)
    with stoppable() as progress:
        make_sample(name, path, now(), progress=progress)
    say(f"made {path}: next, 'standmap open {path}'")


def check_display() -> None:
    """Check that there is something to draw on.

    Raises
    ------
    UserError
        If there is none: Qt would end the whole process without a word of ours.
    """
    if sys.platform in ("win32", "darwin") or os.environ.get("QT_QPA_PLATFORM"):
        return
    if not (os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY")):
        raise UserError(
            "there is no display to open a window on",
            "run it in a graphical session; 'standmap --help' lists what can be done without",
        )
