"""Brings a file of an older layout up to date, after a backup copy beside it."""

from __future__ import annotations

import shutil
import sqlite3
from collections.abc import Callable, Mapping
from pathlib import Path

from standmap.errors import UserError
from standmap.store.opening import connect, plain_errors
from standmap.store.schema import SCHEMA, layout_2_sql, layout_3_sql

Step = Callable[[sqlite3.Connection], None]


def _to_layout_2(db: sqlite3.Connection) -> None:
    for statement in layout_2_sql():
        db.execute(statement)


def _to_layout_3(db: sqlite3.Connection) -> None:
    for statement in layout_3_sql():
        db.execute(statement)


STEPS: Mapping[int, Step] = {1: _to_layout_2, 2: _to_layout_3}
"""Step n turns layout n into n + 1; it runs inside a transaction that the caller owns."""


def backup_path(path: Path, number: int) -> Path:
    """Return where the copy of a file of layout `number` goes: a name not yet taken."""
    copy = path.with_name(f"{path.stem}.layout{number}{path.suffix}")
    count = 1
    while copy.exists():
        count += 1
        copy = path.with_name(f"{path.stem}.layout{number}-{count}{path.suffix}")
    return copy


def bring_up_to_date(
    path: Path, db: sqlite3.Connection, number: int, steps: Mapping[int, Step] = STEPS, target: int = SCHEMA
) -> sqlite3.Connection:
    """Migrate an open file from layout `number` to `target`, all steps or none, and return a fresh connection.

    Raises
    ------
    UserError
        If the backup copy cannot be written or the file may not be changed.
    """
    copy = backup_path(path, number)
    db.close()
    try:
        shutil.copy2(path, copy)
    except OSError as error:
        raise UserError(
            f"{path.name}: no backup copy could be made ({error.strerror})",
            "free some space beside it; it was not changed",
        ) from None
    db = connect(path)
    try:
        with plain_errors(path):
            db.execute("BEGIN IMMEDIATE")
            for step in range(number, target):
                steps[step](db)
            db.execute("UPDATE standmap_schema SET number = ?", (target,))
            db.execute("COMMIT")
    except BaseException:
        db.close()
        raise
    return db
