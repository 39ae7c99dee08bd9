"""Opening a stand: what kind of file it is, in plain words when it is not one, and SQLite's failures likewise."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager, nullcontext, suppress
from pathlib import Path

from standmap.errors import BugError, UserError
from standmap.store.geometry import SQL_FUNCTIONS
from standmap.store.schema import APPLICATION_ID, SCHEMA

_MAGIC = b"SQLite format 3\x00"
_HEADER_BYTES = 100
BUSY_SECONDS = 3.0
"""How long to wait for another program that is writing."""

_UNFINISHED = (
    "cannot be read yet: an unfinished write lies beside it",
    "keep the -journal file where it is, and open the stand where it may be written",
)
_PRECISE: dict[int, tuple[str, str]] = {
    sqlite3.SQLITE_READONLY_ROLLBACK: _UNFINISHED,
    sqlite3.SQLITE_READONLY_RECOVERY: _UNFINISHED,
}
_REASONS: dict[int, tuple[str, str]] = {
    sqlite3.SQLITE_BUSY: ("is open or being written in another program", "close it there or try again in a moment"),
    sqlite3.SQLITE_LOCKED: ("is open or being written in another program", "close it there or try again in a moment"),
    sqlite3.SQLITE_READONLY: ("may not be written", "take away its write protection or work on a copy"),
    sqlite3.SQLITE_PERM: ("may not be written", "take away its write protection or work on a copy"),
    sqlite3.SQLITE_FULL: ("was not changed: the disk is full", "free some space and do it again"),
    sqlite3.SQLITE_IOERR: (
        "could not be read or written: the disk failed or is full",
        "check the disk, then try again",
    ),
    sqlite3.SQLITE_CORRUPT: ("is damaged", "go back to a backup copy"),
    sqlite3.SQLITE_NOTADB: ("is not a GeoPackage", "name a stand made with 'standmap new'"),
    sqlite3.SQLITE_CANTOPEN: ("cannot be opened", "check the path and the rights on it and on its folder"),
}


@contextmanager
def plain_errors(path: Path) -> Iterator[None]:
    """Turn SQLite's failures into a `UserError` that names the file, or a `BugError` when the fault is ours."""
    try:
        yield
    except sqlite3.Error as error:
        code = getattr(error, "sqlite_errorcode", None)
        if code is not None and code & 0xFF in _REASONS:
            what, remedy = _PRECISE.get(code) or _REASONS[code & 0xFF]
            raise UserError(f"{path.name}: the file {what}", remedy) from error
        raise BugError(f"{path.name}: {error}") from error


def check_kind(path: Path) -> None:
    """Check from the first bytes, without opening it as a database, that a file can be a stand.

    Raises
    ------
    UserError
        If it is missing, a folder, not a GeoPackage or cut short.
    """
    name = path.name
    if path.is_dir():
        raise UserError(f"{name or path}: this is a folder", "name a stand file such as wood.gpkg")
    if path.exists() and not path.is_file():
        raise UserError(f"{name}: this is not a plain file", "name a stand file such as wood.gpkg")
    try:
        with path.open("rb") as file:
            head = file.read(_HEADER_BYTES)
        size = path.stat().st_size
    except FileNotFoundError:
        raise UserError(f"{name}: there is no such file", f"make it with 'standmap new {name}'") from None
    except OSError as error:
        raise UserError(f"{name}: cannot be read ({error.strerror})", "check the path and its rights") from None
    if len(head) < _HEADER_BYTES or not head.startswith(_MAGIC):
        raise UserError(f"{name}: this is not a GeoPackage", "name a stand made with 'standmap new'")
    if int.from_bytes(head[68:72], "big") != APPLICATION_ID:
        raise UserError(f"{name}: this is a database but not a GeoPackage", "name a stand made with 'standmap new'")
    page = int.from_bytes(head[16:18], "big")
    pages = int.from_bytes(head[28:32], "big")
    # A journal beside it belongs to an unfinished write that SQLite will take back; the size is checked after that.
    if not _unfinished(path) and size < pages * (65536 if page == 1 else page):
        raise UserError(f"{name}: the file is cut short or damaged", "go back to a backup copy")


def is_geopackage(path: Path) -> bool:
    """Return whether the first bytes of a file are those of a GeoPackage, a stand or not."""
    try:
        with path.open("rb") as file:
            head = file.read(_HEADER_BYTES)
    except OSError:
        return False
    return head.startswith(_MAGIC) and int.from_bytes(head[68:72], "big") == APPLICATION_ID


def _unfinished(path: Path) -> bool:
    """Return whether a journal lies beside the file: SQLite takes an unfinished write back when it opens it."""
    journal = path.resolve().with_name(path.resolve().name + "-journal")
    return journal.exists()


def connect(path: Path, *, read_only: bool = False) -> sqlite3.Connection:
    """Open a connection with our rules: foreign keys on, rollback journal, the standard's functions there.

    A file that may not be written is opened for reading only. One with an unfinished write beside it is opened for
    writing all the same, since only so can that write be taken back.
    """
    writable = os.access(path, os.W_OK)
    mode = "rw" if writable and (not read_only or _unfinished(path) or _in_wal_mode(path)) else "ro"
    with plain_errors(path):
        db = sqlite3.connect(
            f"{path.resolve().as_uri()}?mode={mode}", uri=True, timeout=BUSY_SECONDS, isolation_level=None
        )
        try:
            add_functions(db)
            db.execute("PRAGMA foreign_keys = ON")
            db.execute("SELECT count(*) FROM sqlite_master").fetchone()
            if mode == "rw" and _unfinished(path):
                _clear_idle_journal(db)
            if mode == "rw":
                # For reading it does no harm that another program holds such a file open.
                with suppress(sqlite3.OperationalError) if read_only else nullcontext():
                    _without_side_files(db)
            if read_only:
                db.execute("PRAGMA query_only = ON")
        except sqlite3.Error:
            db.close()
            raise
    return db


def _clear_idle_journal(db: sqlite3.Connection) -> None:
    """Let SQLite take away a journal that it has just read past: a program killed as it began an edit leaves one.

    Nothing is in it. SQLite deletes it at the end of the next write, so one is begun and taken back at once; while
    another program is writing, the journal is that one's and nothing is done.
    """
    wait_ms = db.execute("PRAGMA busy_timeout").fetchone()[0]
    db.execute("PRAGMA busy_timeout = 0")
    try:
        with suppress(sqlite3.OperationalError):
            db.execute("BEGIN IMMEDIATE")
            db.execute(f"PRAGMA user_version = {int(db.execute('PRAGMA user_version').fetchone()[0])}")
    finally:
        if db.in_transaction:
            db.execute("ROLLBACK")
        db.execute(f"PRAGMA busy_timeout = {wait_ms}")


def _in_wal_mode(path: Path) -> bool:
    """Return whether another program has left the file in write-ahead mode (bytes 18 and 19 of the file format)."""
    try:
        with path.open("rb") as file:
            return file.read(20)[18:20] == b"\x02\x02"
    except OSError:
        return False


def _without_side_files(db: sqlite3.Connection) -> None:
    """Bring a file back to a rollback journal, so that at rest the stand is one file again."""
    if db.execute("PRAGMA journal_mode").fetchone()[0] == "wal":
        db.execute("PRAGMA journal_mode = DELETE")


def add_functions(db: sqlite3.Connection) -> None:
    """Register the geometry functions that the R-tree triggers call."""
    for name, function in SQL_FUNCTIONS.items():
        db.create_function(name, 1, function, deterministic=True)


def schema_number(db: sqlite3.Connection, path: Path) -> int:
    """Return the number of the file's table layout.

    Raises
    ------
    UserError
        If the GeoPackage is no stand, or its layout is newer than this program.
    """
    with plain_errors(path):
        has_table = db.execute("SELECT 1 FROM sqlite_master WHERE name = 'standmap_schema'").fetchone()
        row = db.execute("SELECT max(number) FROM standmap_schema").fetchone() if has_table else None
    if row is None or row[0] is None:
        raise UserError(
            f"{path.name}: this GeoPackage is not a stand",
            "make one with 'standmap new' and bring the data in as GeoJSON",
        )
    number = int(row[0])
    if number > SCHEMA:
        raise UserError(
            f"{path.name}: the file was made by a newer standmap (layout {number}, known here up to {SCHEMA})",
            "update standmap; the file was left untouched",
        )
    return number
