"""One of two copies of a stand, read for merging: its rows, its log as a chain of digests, and its rows as they were.

Nothing is written. The other copy is never touched, not even to put right what a killed program left beside it.
"""

from __future__ import annotations

import hashlib
import json
import sqlite3
import tempfile
import zlib
from collections.abc import Iterator, Mapping, Sequence
from contextlib import closing, contextmanager
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path

from standmap.errors import UserError
from standmap.store.changes import COLUMNS, unpacked
from standmap.store.opening import BUSY_SECONDS, add_functions, check_kind, plain_errors, schema_number
from standmap.store.rows import Value
from standmap.store.schema import SCHEMA
from standmap.store.stand_file import StandFile

MERGED_SETTING = "merged_copies"
"""Setting that names what was merged: positions in the logs of other copies, as digests; it is not merged itself."""

LARGEST_KEPT = 2048
"""Bytes of a picture or a walk that are kept as they are for comparing; of more only a digest is kept."""

START = "0" * 32
"""Digest of an empty log."""

_WHEN_ADDED: Mapping[tuple[str, str], Value] = {
    ("stop", "shared_m2"): 2.25,
    ("collection", "overflowed"): 0,
    ("batch", "fate"): "",
    ("weather", "station"): "",
}
"""Columns of later layouts in rows that were logged before, as the migration filled them."""


@dataclass(frozen=True, slots=True)
class Large:
    """Stands for bytes that are too many to be kept."""

    size: int
    digest: bytes


Held = Value | Large
Row = tuple[Held, ...]
Ref = tuple[str, str]
"""A table and a row's key; of a setting its name."""

Rows = dict[str, dict[str, Row]]
Past = dict[Ref, Row | None]


@dataclass(frozen=True, slots=True)
class Edit:
    """One line of a log after the copies parted, and the rows that it changed as they were before; None: not there."""

    position: int
    at: datetime
    before: Past


@dataclass(frozen=True, slots=True)
class Log:
    """The lines of a log; `heads[i]` is the digest of its first i lines, chained, so that equal heads mean equal logs.

    Undoing marks the line undone; that mark is no part of the digest.
    """

    heads: tuple[str, ...]
    moments: tuple[datetime, ...]

    @property
    def head(self) -> str:
        """The digest of the whole log."""
        return self.heads[-1]


@dataclass(frozen=True, slots=True)
class Copy:
    """A copy as it is, and its rows as they were since it parted from the other.

    Attributes
    ----------
    rows
        By table and key; values in the order of `COLUMNS`.
    edits
        Oldest first.
    merged
        What was merged into it: see `MERGED_SETTING`.
    """

    name: str
    rows: Rows
    log: Log
    edits: tuple[Edit, ...] = ()
    merged: frozenset[str] = frozenset()
    _pasts: dict[int, Past] = field(default_factory=dict)

    def past(self, position: int) -> Past:
        """Return the rows that were changed after a position of the log as they were then."""
        known = self._pasts.get(position)
        if known is None:
            known = self._pasts[position] = {}
            for edit in self.edits:
                if edit.position > position:
                    for ref, row in edit.before.items():
                        known.setdefault(ref, row)
        return known

    def row_at(self, position: int, ref: Ref) -> Row | None:
        """Return a row as it was at a position of the log."""
        past = self.past(position)
        return past[ref] if ref in past else self.rows[ref[0]].get(ref[1])

    def merged_at(self, position: int) -> frozenset[str]:
        """Return what had been merged into it at a position of the log."""
        row = self.row_at(position, ("setting", MERGED_SETTING))
        return merged_of(row)

    def versions(self, ref: Ref) -> list[Row]:
        """Return what a row has been since the copies parted, the latest first."""
        now = self.rows[ref[0]].get(ref[1])
        states = [edit.before[ref] for edit in self.edits if ref in edit.before]
        return [row for row in (now, *reversed(states)) if row is not None]

    def changed_at(self, ref: Ref) -> datetime | None:
        """Return when a row was changed last, None where it was not since the copies parted."""
        return next((edit.at for edit in reversed(self.edits) if ref in edit.before), None)


def merged_of(row: Row | None) -> frozenset[str]:
    """Return the digests that the setting holds."""
    if row is None:
        return frozenset()
    try:
        held = json.loads(str(row[1]))
    except ValueError:
        return frozenset()
    return frozenset(h for h in held if isinstance(h, str)) if isinstance(held, list) else frozenset()


def read_log(db: sqlite3.Connection) -> Log:
    """Return the log as a chain of digests."""
    heads, moments = [START], []
    for at, kind, label, group, changes in db.execute(
        "SELECT at, kind, label, coalesce(group_name, ''), changes FROM event ORDER BY fid"
    ):
        said = json.dumps([heads[-1], at, kind, label, group], ensure_ascii=False)
        heads.append(hashlib.blake2b(said.encode() + bytes(changes), digest_size=16).hexdigest())
        moments.append(datetime.fromisoformat(at))
    return Log(tuple(heads), tuple(moments))


def read_copy(db: sqlite3.Connection, name: str, log: Log, parted: int) -> Copy:
    """Read a copy that has parted from another after so many lines of its log."""
    rows: Rows = {}
    keys: dict[tuple[str, int], str] = {}
    for table, columns in COLUMNS.items():
        found = rows[table] = {}
        for fid, *values in db.execute(f"SELECT fid, {', '.join(columns)} FROM {table} ORDER BY fid"):
            key = str(values[0])
            found[key] = _held(values)
            keys[table, fid] = key
    try:
        edits = _edits(db, log, parted, keys)
    except (zlib.error, ValueError, TypeError, KeyError) as error:
        raise UserError(f"{name}: the log of the stand is damaged", "take another copy of it") from error
    return Copy(name, rows, log, edits, merged_of(rows["setting"].get(MERGED_SETTING)))


def _edits(db: sqlite3.Connection, log: Log, parted: int, keys: dict[tuple[str, int], str]) -> tuple[Edit, ...]:
    numbered = list(db.execute("SELECT changes FROM event ORDER BY fid LIMIT -1 OFFSET ?", (parted,)))
    logged = [unpacked(blob) for (blob,) in numbered]
    for changes in logged:
        for change in changes:
            if change.before is not None:
                keys[change.table, change.fid] = str(change.before[COLUMNS[change.table][0]])
    edits = []
    for position, changes in enumerate(logged, parted + 1):
        before: Past = {}
        for change in changes:
            key = keys.get((change.table, change.fid))
            if key is not None:
                was = None if change.before is None else _as_row(change.table, change.before)
                before[change.table, key] = was
        edits.append(Edit(position, log.moments[position - 1], before))
    return tuple(edits)


def _as_row(table: str, row: Mapping[str, Value]) -> Row:
    return _held([row[c] if c in row else _WHEN_ADDED.get((table, c)) for c in COLUMNS[table]])


def _held(values: Sequence[Value]) -> Row:
    return tuple(
        [
            Large(len(v), hashlib.blake2b(v, digest_size=16).digest())
            if isinstance(v, bytes) and len(v) > LARGEST_KEPT
            else v
            for v in values
        ]
    )


def whole_row(db: sqlite3.Connection, ref: Ref) -> tuple[Value, ...]:
    """Return a row with everything in it, however large."""
    columns = COLUMNS[ref[0]]
    row = db.execute(f"SELECT {', '.join(columns)} FROM {ref[0]} WHERE {columns[0]} = ?", (ref[1],)).fetchone()
    return tuple(row)


@contextmanager
def reading_other(path: Path) -> Iterator[sqlite3.Connection]:
    """Open another copy for reading, in one transaction, without touching it; an older layout is read from a copy.

    Raises
    ------
    UserError
        If it is missing, damaged, no stand, of a newer layout, or an unfinished write lies beside it.
    """
    check_kind(path)
    _check_at_rest(path)
    # A file that was left in write-ahead mode is whole; only with `immutable` is nothing made beside it.
    with closing(_connected(path, "&immutable=1" if _write_ahead(path) else "")) as db, plain_errors(path):
        add_functions(db)
        if schema_number(db, path) < SCHEMA:
            with tempfile.TemporaryDirectory() as folder, _brought_up_to_date(db, Path(folder) / path.name) as newer:
                yield newer
            return
        with reading(db, path):
            _check_whole(db, path)
            yield db


@contextmanager
def reading(db: sqlite3.Connection, path: Path) -> Iterator[None]:
    """See one state of a file for the whole of a `with`."""
    with plain_errors(path):
        db.execute("BEGIN")
        db.execute("SELECT 1 FROM setting LIMIT 1")
        try:
            yield
        finally:
            db.execute("ROLLBACK")


def _connected(path: Path, more: str) -> sqlite3.Connection:
    with plain_errors(path):
        uri = f"{path.resolve().as_uri()}?mode=ro{more}"
        return sqlite3.connect(uri, uri=True, timeout=BUSY_SECONDS, isolation_level=None)


@contextmanager
def _brought_up_to_date(db: sqlite3.Connection, copy: Path) -> Iterator[sqlite3.Connection]:
    with closing(sqlite3.connect(copy)) as target:
        db.backup(target)
    StandFile.open(copy).close()
    with closing(_connected(copy, "")) as newer, reading(newer, copy):
        _check_whole(newer, copy)
        yield newer


def _check_whole(db: sqlite3.Connection, path: Path) -> None:
    answer = db.execute("PRAGMA quick_check(1)").fetchone()[0]
    if answer != "ok" or db.execute("PRAGMA foreign_key_check").fetchone() is not None:
        raise UserError(f"{path.name}: the file is damaged", "take another copy of it")


def _check_at_rest(path: Path) -> None:
    whole = path.resolve()
    for suffix in ("-journal", "-wal"):
        beside = whole.with_name(whole.name + suffix)
        try:
            with beside.open("rb") as file:
                begins = file.read(1)
        except OSError:
            continue
        if begins not in (b"", b"\0"):  # a journal of nothing begins so
            raise UserError(
                f"{path.name}: an unfinished write lies beside it ({beside.name})",
                "close it in the other program, or open it once with 'standmap open' so that it is put right",
            )


def _write_ahead(path: Path) -> bool:
    with path.open("rb") as file:
        return file.read(20)[18:20] == b"\x02\x02"
