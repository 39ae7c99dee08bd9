"""Commands about what is kept apart from the stand: backup, restore, settings."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from standmap.cli.options import JsonOption, StandArgument
from standmap.cli.terminal import TerminalMessages, emit_json, say, stoppable, table

if TYPE_CHECKING:
    from standmap.jobs.backups import Backup


def add_to(app: typer.Typer) -> None:
    """Add the commands of this file."""
    for command in (backup, restore, settings):
        app.command()(command)


def backup(
    file: StandArgument,
    *,
    listed: Annotated[bool, typer.Option("--list", help="List the backups there are; make none.")] = False,
    as_json: JsonOption = False,
) -> None:
    """Make a dated copy of a stand, or list those there are."""
    from standmap.errors import NothingToDo
    from standmap.jobs.backups import back_up, backups_of, folder_of
    from standmap.jobs.clock import now
    from standmap.jobs.cloud_folder import warn_if_synced
    from standmap.jobs.preferences import read_settings
    from standmap.units_shown import file_size

    kept = read_settings(TerminalMessages())
    folder = folder_of(file, kept)
    if listed:
        found = backups_of(file, kept)
        if as_json:
            emit_json({"folder": str(folder), "backups": [_json(one) for one in found]})
        if not found:
            raise NothingToDo(f"{file.name}: there is no backup yet")
        if not as_json:
            say(f"in {folder}")
            table(
                [("backup", "left"), ("made", "left"), ("", "left"), ("size", "right")],
                ((b.path.name, f"{b.at:%Y-%m-%d %H:%M}", b.words, file_size(b.size_bytes)) for b in found),
            )
        return
    warn_if_synced(file, TerminalMessages())
    with stoppable() as progress:
        made = back_up(file, kept, now(), progress=progress)
    if as_json:
        emit_json({"folder": str(folder), "backups": [_json(made)]})
    else:
        say(f"made {made.path.name} ({file_size(made.size_bytes)}) in {folder}")


def restore(
    file: StandArgument,
    name: Annotated[
        str, typer.Argument(metavar="BACKUP", help="A name that 'backup --list' shows, a path, or latest.")
    ],
    *,
    as_json: JsonOption = False,
) -> None:
    """Put a backup in place of a stand, whole; the stand as it is becomes a backup first."""
    from standmap.jobs.backups import find_backup
    from standmap.jobs.backups import restore as put_back
    from standmap.jobs.clock import now
    from standmap.jobs.preferences import read_settings

    kept = read_settings(TerminalMessages())
    chosen = find_backup(file, kept, name)
    with stoppable() as progress:
        before = put_back(file, chosen, kept, now(), progress=progress)
    if as_json:
        emit_json({"restored": str(chosen), "before": _json(before) if before else None})
        return
    say(f"{file.name} is again as in {chosen.name}")
    if before is not None:
        say(f"as it was before: {before.path.name} ({before.words})")


def settings(
    changes: Annotated[
        list[str] | None, typer.Argument(metavar="[NAME=VALUE]...", help="What to set; NAME= for the default again.")
    ] = None,
    *,
    as_json: JsonOption = False,
) -> None:
    """Show your settings, or change some: they are yours, not a stand's."""
    from standmap.jobs.preferences import as_texts, changed, read_settings, write_settings
    from standmap.settings import SCHEMA

    messages = TerminalMessages()
    current = read_settings(messages)
    if changes:
        current = changed(current, _pairs(changes))
        write_settings(current)
    if as_json:
        emit_json({"settings": {one.name: getattr(current, one.name) for one in SCHEMA}})
        return
    texts = as_texts(current)
    table(
        [("setting", "left"), ("value", "left"), ("", "left"), ("what", "left"), ("allowed", "left")],
        (
            (
                one.name,
                texts[one.name] or "not set",
                "" if getattr(current, one.name) == one.default else "(changed)",
                one.title,
                one.allowed(),
            )
            for one in SCHEMA
        ),
    )


def _pairs(texts: list[str]) -> dict[str, str]:
    from standmap.errors import UserError

    found = {}
    for text in texts:
        name, mark, value = text.partition("=")
        if not mark:
            raise UserError(f"'{text[:40]}' sets nothing", "write it like units=imperial")
        found[name.strip()] = value
    return found


def _json(backup: Backup) -> dict[str, object]:
    return {
        "file": str(backup.path),
        "at": backup.at.isoformat(),
        "why": backup.why.value,
        "bytes": backup.size_bytes,
    }
