"""Copies of a stand through SQLite itself, so that a copy is whole even while another program writes."""

from __future__ import annotations

import os
import sqlite3
import tempfile
import time
from contextlib import closing, suppress
from pathlib import Path

from standmap.errors import NothingToDo, UserError
from standmap.progress import Progress
from standmap.store.opening import BUSY_SECONDS, check_kind, connect, plain_errors, schema_number
from standmap.store.schema import SCHEMA
from standmap.store.stand_file import StandFile

PAGES_AT_ONCE = 2048
"""Pages copied between two looks at whether to stop: 8 MiB of the usual pages."""


class Stopped(Exception):  # noqa: N818 - a wish, not an error
    """The person asked to stop; nothing was changed."""


def copy_stand(source: Path, target: Path, progress: Progress) -> None:
    """Copy a stand under another name first, check the copy, and only then give it the name asked for.

    The copy carries the time of last change of the source.

    Raises
    ------
    UserError
        If the source cannot be read or is damaged, the target is there already, or the disk refuses.
    NothingToDo
        If a stop was asked for; no file is left behind.
    """
    check_kind(source)
    changed_ns = source.stat().st_mtime_ns
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(prefix=f".{target.name}.", suffix=".part", dir=target.parent)
    except OSError as error:
        raise UserError(
            f"{target.parent}: no copy can be made there ({error.strerror})", "check its rights and the disk"
        ) from None
    os.close(handle)
    fresh = Path(name)
    try:
        with closing(connect(source, read_only=True)) as db, closing(sqlite3.connect(fresh)) as copy:
            _copy_pages(source, db, copy, progress, PAGES_AT_ONCE)
            with plain_errors(source):
                # At rest a copy is one file, even if the source was left in another mode.
                copy.execute("PRAGMA journal_mode = DELETE")
        check_whole(fresh, called=source.name)
        fresh.chmod(0o666 & ~_umask())
        _to_disk(fresh)
        os.utime(fresh, ns=(changed_ns, changed_ns))
        if target.exists():
            raise UserError(f"{target.name}: the file is there already", "name another")
        fresh.rename(target)
    except OSError as error:
        raise UserError(
            f"{target.name}: the copy could not be written ({error.strerror})", "check the rights and the disk"
        ) from None
    finally:
        for leftover in (fresh, fresh.with_name(f"{fresh.name}-journal")):
            with suppress(OSError):
                leftover.unlink(missing_ok=True)


def put_in_place(copy: Path, target: Path, progress: Progress) -> None:
    """Make a stand what a copy of it says, in one transaction: whoever has it open sees the change, or none of it.

    Raises
    ------
    UserError
        If the target is being written, is no database any more, or the disk refuses; it is as before then.
    """
    with closing(connect(copy, read_only=True)) as db, closing(connect(target)) as present:
        _copy_pages(target, db, present, progress, -1)


def check_whole(path: Path, *, called: str = "") -> None:
    """Check that a file is a stand from its first page to its last.

    Raises
    ------
    UserError
        If it is damaged, no stand, or of a newer layout; the message calls it `called`.
    """
    called = called or path.name
    check_kind(path)
    with closing(connect(path, read_only=True)) as db:
        number = schema_number(db, path)
        with plain_errors(path):
            answers = [str(row[0]) for row in db.execute("PRAGMA integrity_check(3)")]
            loose = db.execute("PRAGMA foreign_key_check").fetchone()
        if answers != ["ok"] or loose is not None:
            raise UserError(f"{called}: the file is damaged", "go back to another backup copy")
        # An older layout is read after it was brought up to date, when it is opened.
        if number == SCHEMA:
            StandFile(path, db).stand()


def _copy_pages(
    named: Path, source: sqlite3.Connection, target: sqlite3.Connection, progress: Progress, pages: int
) -> None:
    waited_until = time.monotonic() + BUSY_SECONDS

    def step(status: int, remaining: int, total: int) -> None:
        # Left alone, the copying would wait for a writer without end.
        if status in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED) and time.monotonic() > waited_until:
            raise UserError(
                f"{named.name}: the file is being written in another program", "close it there or try again in a moment"
            )
        progress.at(total - remaining, total, "copying pages")
        if progress.stop_wanted() and remaining:
            raise Stopped

    try:
        with plain_errors(named):
            source.backup(target, pages=pages, progress=step)
    except Stopped:
        raise NothingToDo(f"{named.name}: the copying was stopped; nothing was changed") from None


def _to_disk(path: Path) -> None:
    with path.open("rb") as file:
        os.fsync(file.fileno())


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
