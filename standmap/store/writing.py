"""One edit being written: every row it touches is recorded, so that the edit can be taken back."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from typing import Any, TypeVar

from standmap.errors import BugError, UserError
from standmap.store.changes import COLUMNS, Row, RowChange, digest
from standmap.store.rows import CODEC, TABLE_OF, Value
from standmap.store.schema import TABLE

Thing = TypeVar("Thing")

ROWS_AT_ONCE = 500
"""Rows read by one statement; SQLite takes at least 999 parameters."""


class Writing:
    """The open transaction of one edit; made by `StandFile.writing`."""

    def __init__(self, db: sqlite3.Connection, file_name: str) -> None:
        self._db = db
        self._file_name = file_name
        # The first state of each touched row: None for one that was not there.
        self._before: dict[tuple[str, int], Row | None] = {}

    def insert(self, *things: object) -> None:
        """Put in things of any kinds, in this order."""
        for thing in things:
            self.insert_many([thing])

    def insert_many(self, things: Sequence[object]) -> None:
        """Put in many things of one kind."""
        if not things:
            return
        codec = CODEC[type(things[0])]
        self.insert_rows(codec.table, codec.columns, (codec.encode(t) for t in things))

    def insert_rows(self, table: str, columns: Sequence[str], rows: Iterable[Sequence[Value]]) -> None:
        """Put in rows as they stand in another copy; `columns` name what each holds, fids are given here."""
        last = self._db.execute("SELECT seq FROM sqlite_sequence WHERE name = ?", (table,)).fetchone()
        first = (last[0] if last else 0) + 1
        sql = f"INSERT INTO {table} (fid, {', '.join(columns)}) VALUES ({', '.join('?' * (len(columns) + 1))})"
        count = self._db.executemany(sql, ((first + i, *row) for i, row in enumerate(rows))).rowcount
        self._before.update({(table, first + i): None for i in range(count)})

    def held_row(self, table: str, key: str) -> Row | None:
        """Return a row about to be changed, by its key (a setting by its name); None where there is none."""
        row = self._db.execute(f"SELECT fid FROM {table} WHERE {COLUMNS[table][0]} = ?", (key,)).fetchone()
        if row is None:
            return None
        self._remember(table, row[0])
        return self._row(table, row[0])

    def update_row(self, table: str, key: str, values: Row) -> None:
        """Write some columns of a row anew; ask for it by `held_row` first."""
        sql = f"UPDATE {table} SET {', '.join(f'{c} = ?' for c in values)} WHERE {COLUMNS[table][0]} = ?"
        self._db.execute(sql, (*values.values(), key))

    def delete_row(self, table: str, key: str) -> None:
        """Take a row out; ask for it by `held_row` first."""
        self._db.execute(f"DELETE FROM {table} WHERE {COLUMNS[table][0]} = ?", (key,))

    def replace(self, thing: object) -> None:
        """Write a thing over the row of the same key."""
        codec = CODEC[type(thing)]
        fid = self._fid(codec.table, "key", thing.key)  # type: ignore[attr-defined]
        values = codec.encode(thing)
        self._remember(codec.table, fid)
        sql = f"UPDATE {codec.table} SET {', '.join(f'{c} = ?' for c in codec.columns)} WHERE fid = ?"
        self._db.execute(sql, (*values, fid))

    def change(self, thing: Thing, **fields: Any) -> Thing:
        """Write some fields of a thing anew and return it so changed."""
        changed = replace(thing, **fields)  # type: ignore[type-var]
        self.replace(changed)
        return changed

    def delete(self, thing: object) -> None:
        """Take a thing out."""
        table = TABLE_OF[type(thing)]
        fid = self._fid(table, "key", thing.key)  # type: ignore[attr-defined]
        self._remember(table, fid)
        self._db.execute(f"DELETE FROM {table} WHERE fid = ?", (fid,))

    def set_setting(self, name: str, value: object) -> None:
        """Keep a setting of this stand; None takes it out."""
        row = self._db.execute("SELECT fid FROM setting WHERE name = ?", (name,)).fetchone()
        if row is not None:
            self._remember("setting", row[0])
        if value is None:
            self._db.execute("DELETE FROM setting WHERE name = ?", (name,))
            return
        text = json.dumps(value, ensure_ascii=False, sort_keys=True)
        if row is not None:
            self._db.execute("UPDATE setting SET value = ? WHERE fid = ?", (text, row[0]))
            return
        made = self._db.execute("INSERT INTO setting (name, value) VALUES (?, ?)", (name, text))
        self._before["setting", int(made.lastrowid or 0)] = None

    def take_back(self, changes: Iterable[RowChange]) -> None:
        """Bring rows back to what they were before these changes.

        Raises
        ------
        UserError
            If one of the rows is no longer as those changes left it.
        """
        wanted = list(changes)
        by_table: dict[str, list[int]] = {}
        for change in wanted:
            by_table.setdefault(change.table, []).append(change.fid)
        rows = {table: self._rows(table, fids) for table, fids in by_table.items()}
        for change in wanted:
            now = rows[change.table].get(change.fid)
            if (None if now is None else digest(change.table, now)) != change.after:
                called = str((now or change.before or {}).get("name") or f"row {change.fid}")
                raise UserError(
                    f"{self._file_name}: this cannot be taken back: {change.table} '{called}' has been changed since, "
                    "by a later step or another program",
                    "take back the later step first, or put the change right by hand",
                )
            self._before.setdefault((change.table, change.fid), now)
            if change.before is None:
                self._db.execute(f"DELETE FROM {change.table} WHERE fid = ?", (change.fid,))
            elif now is None:
                marks = ", ".join("?" * len(change.before))
                sql = f"INSERT INTO {change.table} ({', '.join(change.before)}) VALUES ({marks})"
                self._db.execute(sql, tuple(change.before.values()))
            else:
                names = [c for c in change.before if c != "fid"]
                sql = f"UPDATE {change.table} SET {', '.join(f'{c} = ?' for c in names)} WHERE fid = ?"
                self._db.execute(sql, (*[change.before[c] for c in names], change.fid))

    def finish(self) -> list[RowChange]:
        """Return what the edit changed, latest first, and bring the standard's table of contents up to date."""
        by_table: dict[str, list[int]] = {}
        for table, fid in self._before:
            by_table.setdefault(table, []).append(fid)
        found: dict[tuple[str, int], RowChange] = {}
        for table, fids in by_table.items():
            for group in _groups(fids):
                rows = self._rows(table, group)
                for fid in group:
                    before, now = self._before[table, fid], rows.get(fid)
                    if now != before:
                        found[table, fid] = RowChange(table, fid, before, None if now is None else digest(table, now))
        changes = [found[touched] for touched in reversed(self._before) if touched in found]
        for table in sorted({c.table for c in changes}):
            self._update_contents(table)
        return changes

    def _rows(self, table: str, fids: Sequence[int]) -> dict[int, Row]:
        """Return rows by number; an import touches a run of them, so they are read many at once."""
        found: dict[int, Row] = {}
        for group in _groups(fids):
            cursor = self._db.execute(f"SELECT * FROM {table} WHERE fid IN ({', '.join('?' * len(group))})", group)
            names = [d[0] for d in cursor.description]
            place = names.index("fid")
            found.update((values[place], dict(zip(names, values, strict=True))) for values in cursor)
        return found

    def _update_contents(self, table: str) -> None:
        now = "strftime('%Y-%m-%dT%H:%M:%fZ','now')"
        if TABLE[table].geometry is None:
            self._db.execute(f"UPDATE gpkg_contents SET last_change = {now} WHERE table_name = ?", (table,))
            return
        bounds = self._db.execute(
            f"SELECT min(minx), min(miny), max(maxx), max(maxy) FROM rtree_{table}_geom"
        ).fetchone()
        columns = f"last_change = {now}, min_x = ?, min_y = ?, max_x = ?, max_y = ?"
        self._db.execute(f"UPDATE gpkg_contents SET {columns} WHERE table_name = ?", (*bounds, table))

    def _remember(self, table: str, fid: int) -> None:
        if (table, fid) not in self._before:
            self._before[table, fid] = self._row(table, fid)

    def _row(self, table: str, fid: int) -> Row | None:
        cursor = self._db.execute(f"SELECT * FROM {table} WHERE fid = ?", (fid,))
        values = cursor.fetchone()
        if values is None:
            return None
        return dict(zip([d[0] for d in cursor.description], values, strict=True))

    def _fid(self, table: str, column: str, value: str) -> int:
        row = self._db.execute(f"SELECT fid FROM {table} WHERE {column} = ?", (value,)).fetchone()
        if row is None:
            raise BugError(f"{self._file_name}: no row of '{table}' has the {column} {value}")
        return int(row[0])


def _groups(fids: Sequence[int]) -> Iterator[Sequence[int]]:
    """Yield row numbers in groups that one statement takes."""
    ordered = sorted(fids)
    for start in range(0, len(ordered), ROWS_AT_ONCE):
        yield ordered[start : start + ROWS_AT_ONCE]
