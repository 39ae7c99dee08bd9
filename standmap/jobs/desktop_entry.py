"""Puts standmap among this person's programs: a desktop entry and its icon (freedesktop.org's entry specification)."""

from __future__ import annotations

import os
from pathlib import Path

from standmap.assets import resource
from standmap.errors import UserError
from standmap.jobs.writing_files import write_files

ENTRY = "standmap.desktop"
ICON = "standmap.svg"
_RESERVED = set(" \t\n\"'\\><~|&;$*?#()`")


def install_entry(command: Path, data_home: Path | None = None) -> tuple[Path, Path]:
    """Write the entry and the icon for this person and return where they are.

    Parameters
    ----------
    command
        The program that the entry runs, by its whole path.
    data_home
        Where a person's programs are listed; XDG_DATA_HOME or ~/.local/share when absent.

    Raises
    ------
    UserError
        If there is no such program or the disk refuses.
    """
    if not command.is_absolute() or not command.is_file():
        raise UserError(f"'{command}' is not the program 'standmap'", "install standmap, then run its own command")
    home = data_home or _data_home()
    lines = resource(ENTRY).read_text(encoding="utf-8").splitlines()
    written = [f"Exec={quoted(str(command))} open %f" if line.startswith("Exec=") else line for line in lines]
    icon = resource("icons", ICON).read_bytes()
    (icon_path,) = write_files(home / "icons" / "hicolor" / "scalable" / "apps", {ICON: icon}, replace=True)
    entry = "\n".join(written) + "\n"
    (entry_path,) = write_files(home / "applications", {ENTRY: entry.encode()}, replace=True)
    return entry_path, icon_path


def quoted(argument: str) -> str:
    """Return an argument as the Exec key of an entry wants it."""
    argument = argument.replace("%", "%%")
    if not _RESERVED & set(argument):
        return argument
    for mark in ("\\", '"', "`", "$"):
        argument = argument.replace(mark, "\\" + mark)
    # The value is itself a string of the file, in which a backslash is written twice.
    return '"' + argument.replace("\\", "\\\\") + '"'


def _data_home() -> Path:
    named = os.environ.get("XDG_DATA_HOME", "")
    return Path(named) if named.startswith("/") else Path.home() / ".local" / "share"
