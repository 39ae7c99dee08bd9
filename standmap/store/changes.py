"""Edits as row changes: what each transaction must remember so that it can be taken back exactly.

For a row that an edit put in, only its number and a digest are kept: taking the edit back deletes it, and keeps it
whole in the log of *that* step, so that it can be done again. For a row that was changed or deleted, the row as it was
is kept.
"""

from __future__ import annotations

import base64
import hashlib
import json
import zlib
from dataclasses import dataclass

from standmap.store.rows import CODEC, Value

Row = dict[str, Value]

COLUMNS: dict[str, tuple[str, ...]] = {codec.table: codec.columns for codec in CODEC.values()} | {
    "setting": ("name", "value")
}
"""Our own columns of each table that edits touch."""

_ADDED_LATER: dict[str, frozenset[str]] = {
    "stop": frozenset({"shared_m2"}),
    "collection": frozenset({"overflowed", "total_key"}),
    "batch": frozenset({"temperature_c", "fate", "fate_on"}),
    "weather": frozenset({"station"}),
}
"""Columns of later layouts do not count in a digest, so that a step logged in an earlier one can be taken back."""


@dataclass(frozen=True, slots=True)
class RowChange:
    """What happened to one row.

    Attributes
    ----------
    before
        The whole row as it was; absent when the edit put it in.
    after
        Digest of the row as it is now; absent when the edit deleted it.
    """

    table: str
    fid: int
    before: Row | None
    after: str | None


def digest(table: str, row: Row) -> str:
    """Return a short fingerprint of a row's values; columns that another program added do not count."""
    later = _ADDED_LATER.get(table, frozenset())
    own = [row.get(column) for column in COLUMNS[table] if column not in later]
    return hashlib.blake2b(repr(own).encode(), digest_size=9).hexdigest()


def _to_json(row: Row | None) -> object:
    if row is None:
        return None
    return {k: {"b": base64.b64encode(v).decode()} if isinstance(v, bytes) else v for k, v in row.items()}


def _from_json(row: dict[str, object] | None) -> Row | None:
    if row is None:
        return None
    found: Row = {}
    for name, value in row.items():
        found[name] = base64.b64decode(value["b"]) if isinstance(value, dict) else value  # type: ignore[assignment]
    return found


def packed(changes: list[RowChange]) -> bytes:
    """Return the changes as they are kept in the log."""
    plain = [[c.table, c.fid, _to_json(c.before), c.after] for c in changes]
    return zlib.compress(json.dumps(plain, ensure_ascii=False, separators=(",", ":")).encode())


def unpacked(blob: bytes) -> list[RowChange]:
    """Read changes back from the log."""
    return [RowChange(t, fid, _from_json(before), after) for t, fid, before, after in json.loads(zlib.decompress(blob))]
