"""Two copies of one stand: compared row by row, and what was decided written as one edit that undo takes back whole."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from contextlib import closing
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from standmap.errors import UserError
from standmap.progress import Progress
from standmap.store.changes import COLUMNS
from standmap.store.merging_base import common_state, parted_after
from standmap.store.merging_copy import (
    MERGED_SETTING,
    Copy,
    Large,
    Ref,
    Row,
    read_copy,
    read_log,
    reading,
    reading_other,
    whole_row,
)
from standmap.store.merging_fit import Note, Told, fitted
from standmap.store.merging_rows import CODECS, FIELDS, Compared, Conflict, Kind, Side, View, compared
from standmap.store.opening import connect
from standmap.store.rows import Value
from standmap.store.writing import Writing

STEPS = 4


class CopyChangedError(UserError):
    """The stand is no longer as it was when the copies were compared."""


@dataclass(frozen=True, slots=True)
class Comparison:
    """Two copies compared; nothing is written.

    Attributes
    ----------
    since
        When they parted; None where they share rows but no line of their logs.
    step
        The last line of our log when they were compared.
    """

    name: str
    compared: Compared
    since: datetime | None
    step: int
    whole: Mapping[Ref, tuple[Value, ...]]

    @property
    def conflicts(self) -> tuple[Conflict, ...]:
        """What must be asked."""
        return self.compared.conflicts

    @property
    def copies(self) -> tuple[Copy, Copy]:
        """Ours and theirs."""
        return self.compared.view.ours, self.compared.view.theirs

    def decided(self, decisions: Mapping[str, Side]) -> tuple[View, tuple[Note, ...]]:
        """Return the rows as they would be, and what is to be told; ours where nothing is decided."""
        return fitted(self.compared, decisions)


def compare(path: Path, other: Path, *, frame_setting: str, progress: Progress) -> Comparison:
    """Read two copies of one stand and compare them.

    Parameters
    ----------
    frame_setting
        Name of the setting that copies of one stand have in common, if both have it.

    Raises
    ------
    UserError
        If the other cannot be read, is the same file, or no copy of this stand; or a stop was asked for.
    """
    _check_another(path, other)
    _step(progress, 0, "reading both copies")
    with closing(connect(path, read_only=True)) as db, reading(db, path), reading_other(other) as theirs_db:
        step = int(db.execute("SELECT coalesce(max(fid), 0) FROM event").fetchone()[0])
        logs = read_log(db), read_log(theirs_db)
        parted = parted_after(*logs)
        ours = read_copy(db, path.name, logs[0], parted)
        _step(progress, 1, "reading both copies")
        theirs = read_copy(theirs_db, other.name, logs[1], parted)
        _check_copies(ours, theirs, parted, frame_setting)
        _step(progress, 2, "comparing the copies")
        base = common_state(ours, theirs, parted)
        found = compared(base)
        _step(progress, 3, "comparing the copies")
        coming = _coming(found)
        whole = {ref: whole_row(theirs_db, ref) for ref in coming if _any_large(theirs.rows[ref[0]][ref[1]])}
        _check_readable(other, coming, theirs, whole)
    return Comparison(other.name, found, base.since, step, whole)


def write(writing: Writing, comparison: Comparison, decisions: Mapping[str, Side]) -> None:
    """Write what comes over, as it was decided, and remember up to where the other copy was merged.

    Raises
    ------
    CopyChangedError
        If a row is no longer as it was when the copies were compared.
    """
    view, _ = comparison.decided(decisions)
    ours, theirs = comparison.copies
    fresh: dict[str, list[tuple[Value, ...]]] = {}
    for (table, key), row in view.changes.items():
        old = ours.rows[table].get(key)
        now = writing.held_row(table, key)
        if (now is None) != (old is None):
            raise _changed(comparison)
        if old is None or now is None:
            if row is not None:
                fresh.setdefault(table, []).append(_whole(comparison, (table, key), row))
            continue
        if any(now[c] != v for c, v in zip(COLUMNS[table], old, strict=True) if not isinstance(v, Large)):
            raise _changed(comparison)
        if row is None:
            writing.delete_row(table, key)
        else:
            whole = _whole(comparison, (table, key), row)
            pairs = zip(COLUMNS[table], old, row, whole, strict=True)
            writing.update_row(table, key, {c: value for c, was, new, value in pairs if new != was})
    for table, columns in COLUMNS.items():
        if table in fresh:
            writing.insert_rows(table, columns, fresh[table])
    merged = ours.merged | theirs.merged | {theirs.log.head}
    writing.set_setting(MERGED_SETTING, sorted(merged))


def _check_another(path: Path, other: Path) -> None:
    try:
        same = path.samefile(other)
    except OSError:
        return  # opening it says what is wrong
    if same:
        raise UserError(f"{other.name}: this is the stand itself", "name another copy of it")


def _check_copies(ours: Copy, theirs: Copy, parted: int, frame_setting: str) -> None:
    """Refuse two stands that are not copies of one; an empty one is a copy of any."""
    tables = [t for t in COLUMNS if t != "setting"]
    shared = any(not ours.rows[t].keys().isdisjoint(theirs.rows[t]) for t in tables)
    empty = any(not any(copy.rows[t] for t in tables) for copy in (ours, theirs))
    frames = [copy.rows["setting"].get(frame_setting) for copy in (ours, theirs)]
    apart = None not in frames and frames[0] != frames[1]
    if apart or (parted == 0 and not shared and not empty):
        raise UserError(
            f"{theirs.name}: these are two stands, not copies of one"
            + (" (their working frames differ)" if apart and (parted or shared) else ""),
            f"write it out with 'standmap export {theirs.name} --out DIR' and bring the GeoJSON in",
        )


def _coming(found: Compared) -> list[Ref]:
    """Return the rows of the other copy of which something comes over, or may."""
    theirs = found.view.theirs.rows
    asked = [part.ref for conflict in found.conflicts for part in conflict.parts]
    return [
        r for r in dict.fromkeys([*found.view.changes, *asked, *found.gone, *_sources(found)]) if r[1] in theirs[r[0]]
    ]


def _sources(found: Compared) -> Iterable[Ref]:
    """Return the walks that would come along with a row that needs them."""
    return [("walk", key) for key in found.view.theirs.rows["walk"] if key not in found.view.ours.rows["walk"]]


def _check_readable(other: Path, coming: Iterable[Ref], theirs: Copy, whole: Mapping[Ref, tuple[Value, ...]]) -> None:
    """Refuse a row that no stand can hold before it comes over."""
    for ref in coming:
        if ref[0] != "setting":
            row = whole.get(ref) or theirs.rows[ref[0]][ref[1]]
            try:
                CODECS[ref[0]].decode(row)
            except (ValueError, TypeError) as error:
                raise UserError(
                    f"{other.name}: table '{ref[0]}', key {ref[1]} holds what no stand can: {error}",
                    "mend it with the program that wrote it",
                ) from None


def _any_large(row: Row) -> bool:
    return any(isinstance(value, Large) for value in row)


def _whole(comparison: Comparison, ref: Ref, row: Row) -> tuple[Value, ...]:
    """Return a row with the bytes of the other copy where they are too many to be kept."""
    source = comparison.whole.get(ref)
    return tuple([source[i] if isinstance(v, Large) and source else v for i, v in enumerate(row)])  # type: ignore[misc]


def _changed(comparison: Comparison) -> CopyChangedError:
    return CopyChangedError(
        f"{comparison.name}: the stand has changed since the copies were compared", "compare them again"
    )


def _step(progress: Progress, number: int, what: str) -> None:
    progress.at(number, STEPS, what)
    if progress.stop_wanted():
        raise UserError("the command was stopped", "nothing was changed")


__all__ = [
    "FIELDS",
    "MERGED_SETTING",
    "Comparison",
    "Conflict",
    "CopyChangedError",
    "Kind",
    "Note",
    "Side",
    "Told",
    "compare",
    "write",
]
