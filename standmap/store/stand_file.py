"""A stand on disk: made, opened, read, edited in whole transactions, and edits taken back."""

from __future__ import annotations

import json
import os
import sqlite3
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from types import TracebackType
from typing import Any, Self, TypeVar

from standmap.errors import BugError, NothingToDo, UserError
from standmap.stand.ground import Area, Line, Place
from standmap.stand.records import RECORDS_FORMAT, Media, SeasonSign, Source, Terrain, Weather
from standmap.stand.snapshot import Stand
from standmap.stand.tapping import Batch, Collection, Observation, TapHole
from standmap.stand.tree import Measurement, Tree
from standmap.stand.walks import Stop
from standmap.store import migrations
from standmap.store.changes import packed, unpacked
from standmap.store.opening import add_functions, check_kind, connect, plain_errors, schema_number
from standmap.store.rows import CODEC
from standmap.store.schema import APPLICATION_ID, SCHEMA, USER_VERSION, creation_sql
from standmap.store.writing import Writing

Thing = TypeVar("Thing")


@dataclass(frozen=True, slots=True)
class Event:
    """One line of the log: an edit, or an edit taken back or done again.

    Attributes
    ----------
    kind
        "edit", "undo" or "redo".
    group
        Neighbouring edits with the same group are taken back together.
    standing
        Whether its changes are in force.
    """

    number: int
    at: datetime
    kind: str
    label: str
    group: str | None
    undoes: int | None
    standing: bool


class StandFile:
    """An open stand; use it as a context manager.

    Every change is one transaction, written through at once: at rest the stand is one file.
    """

    def __init__(self, path: Path, db: sqlite3.Connection) -> None:
        self.path = path
        self._db = db
        # What `version` said when the stand was last read whole; an edit thought out on an older state is refused.
        self._read_at: int | None = None

    @classmethod
    def create(cls, path: Path) -> StandFile:
        """Make an empty stand; an existing file is never written over.

        The file is made whole under another name first, so that a half-made stand is never seen.
        """
        folder = path.parent
        if path.exists():
            raise UserError(f"{path.name}: the file is there already", "choose another name")
        if not folder.is_dir():
            raise UserError(f"{path.name}: there is no folder '{folder}'", "make it first")
        try:
            handle, name = tempfile.mkstemp(prefix=f".{path.name}.", suffix=".new", dir=folder)
        except OSError as error:
            raise UserError(
                f"{path.name}: cannot be made ({error.strerror})", "check the rights on its folder"
            ) from None
        os.close(handle)
        fresh = Path(name)
        try:
            with plain_errors(path):
                db = sqlite3.connect(fresh, isolation_level=None)
                try:
                    add_functions(db)
                    db.execute(f"PRAGMA application_id = {APPLICATION_ID}")
                    db.execute(f"PRAGMA user_version = {USER_VERSION}")
                    db.executescript(f"BEGIN;\n{creation_sql()}COMMIT;")
                finally:
                    db.close()
            fresh.chmod(0o666 & ~_umask())
            try:
                os.link(fresh, path)  # fails if somebody made it meanwhile; rename would write over it
            except FileExistsError:
                raise UserError(f"{path.name}: the file is there already", "choose another name") from None
            except OSError:  # a file system without hard links
                fresh.rename(path)
        finally:
            with suppress(OSError):
                fresh.unlink(missing_ok=True)
        return cls(path, connect(path))

    @classmethod
    def open(cls, path: Path, *, read_only: bool = False) -> StandFile:
        """Open a stand; an older layout is brought up to date after a backup copy.

        Raises
        ------
        UserError
            If the file is missing, damaged, no stand, or of a newer layout: each in its own words.
        """
        check_kind(path)
        db = connect(path, read_only=read_only)
        try:
            number = schema_number(db, path)
            if number < SCHEMA:
                db = migrations.bring_up_to_date(path, db, number)
        except BaseException:
            db.close()
            raise
        return cls(path, db)

    @staticmethod
    def check(path: Path) -> None:
        """Raise what `open` would raise of a file that is no stand, or of a newer layout; nothing is changed."""
        check_kind(path)
        db = connect(path, read_only=True)
        try:
            schema_number(db, path)
        finally:
            db.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Close the file."""
        self._db.close()

    # Reading

    def rows(self, kind: type[Thing]) -> tuple[Thing, ...]:
        """Return everything of one kind, in the order it was first written."""
        codec = CODEC[kind]
        with plain_errors(self.path):
            cursor = self._db.execute(f"SELECT {', '.join(codec.columns)} FROM {codec.table} ORDER BY fid")
            found: list[Thing] = []
            try:
                for row in cursor:
                    found.append(codec.decode(row))  # noqa: PERF401 - how far it came names the row at fault
            except (ValueError, TypeError) as error:
                fid = self._db.execute(
                    f"SELECT fid FROM {codec.table} ORDER BY fid LIMIT 1 OFFSET {len(found)}"
                ).fetchone()[0]
                raise UserError(
                    f"{self.path.name}: table '{codec.table}', fid {fid} holds what no stand can: {error}",
                    "mend it with the program that wrote it",
                ) from None
            return tuple(found)

    def media_of(self, tree_key: str) -> tuple[Media, ...]:
        """Return the pictures and other files kept with one tree, in the order they were first written."""
        codec = CODEC[Media]
        sql = f"SELECT {', '.join(codec.columns)} FROM media WHERE tree_key = ? ORDER BY fid"
        with plain_errors(self.path):
            rows = self._db.execute(sql, (tree_key,)).fetchall()
        try:
            return tuple(codec.decode(row) for row in rows)
        except (ValueError, TypeError) as error:
            raise UserError(
                f"{self.path.name}: table 'media' holds what no stand can: {error}",
                "mend it with the program that wrote it",
            ) from None

    def settings(self) -> dict[str, Any]:
        """Return the settings of this stand."""
        with plain_errors(self.path):
            rows = self._db.execute("SELECT name, value FROM setting").fetchall()
        found = {}
        for name, value in rows:
            try:
                found[name] = json.loads(value)
            except (ValueError, TypeError):
                raise UserError(
                    f"{self.path.name}: the setting '{name}' is not JSON", "mend it with the program that wrote it"
                ) from None
        return found

    def stand(self) -> Stand:
        """Return the whole stand as it is now, read in one transaction."""
        with self._reading():
            self._read_at = self.version()
            return Stand(
                trees=self.rows(Tree),
                measurements=self.rows(Measurement),
                holes=self.rows(TapHole),
                collections=self.rows(Collection),
                observations=self.rows(Observation),
                places=self.rows(Place),
                lines=self.rows(Line),
                areas=self.rows(Area),
                settings=self.settings(),
                terrain=next(reversed(self.rows(Terrain)), None),
                undecided=tuple(stop for stop in self.rows(Stop) if stop.waits),
                weather=self.rows(Weather),
                signs=self.rows(SeasonSign),
                batches=self.rows(Batch),
            )

    def source_with_hash(self, sha256: str, *, records: bool) -> Source | None:
        """Return the source with this content that was recorded, or else brought in, if there is one."""
        codec = CODEC[Source]
        same = "=" if records else "<>"
        with plain_errors(self.path):
            sql = f"SELECT {', '.join(codec.columns)} FROM source WHERE sha256 = ? AND format {same} ?"
            row = self._db.execute(sql, (sha256, RECORDS_FORMAT)).fetchone()
        return None if row is None else codec.decode(row)

    def version(self) -> int:
        """Return a number that changes when another connection writes, so that a watcher can read again."""
        with plain_errors(self.path):
            return int(self._db.execute("PRAGMA data_version").fetchone()[0])

    def last_step(self) -> int:
        """Return the number of the newest line of the log, 0 for an empty one: it grows with every edit."""
        with plain_errors(self.path):
            return int(self._db.execute("SELECT coalesce(max(fid), 0) FROM event").fetchone()[0])

    @contextmanager
    def _reading(self) -> Iterator[None]:
        with plain_errors(self.path):
            self._db.execute("BEGIN")
            self._db.execute("SELECT 1 FROM setting LIMIT 1")  # from here on the transaction sees one state
            try:
                yield
            finally:
                self._db.execute("ROLLBACK")

    # Writing

    @contextmanager
    def writing(self, label: str, at: datetime, *, group: str | None = None) -> Iterator[Writing]:
        """Write one edit: all of it or, if anything fails, none.

        Parameters
        ----------
        label
            What the person did, as the log and undo will say it.
        at
            When, with an offset.

        Raises
        ------
        UserError
            If another program has changed the file since `stand` was last read here, or the disk refuses.
        """
        with self._edit(label, at, kind="edit", group=group) as writing:
            yield writing

    @contextmanager
    def _edit(
        self,
        label: str,
        at: datetime,
        *,
        kind: str,
        group: str | None = None,
        undoes: int | None = None,
    ) -> Iterator[Writing]:
        with plain_errors(self.path):
            self._db.execute("BEGIN IMMEDIATE")
            try:
                self._check_still_as_read()
                writing = Writing(self._db, self.path.name)
                yield writing
                changes = writing.finish()
                if changes:
                    made = self._db.execute(
                        "INSERT INTO event (at, kind, label, group_name, undoes, changes) VALUES (?, ?, ?, ?, ?, ?)",
                        (at.isoformat(), kind, label, group, undoes, packed(changes)),
                    )
                    self._mark_undone(undoes, int(made.lastrowid or 0))
                self._db.execute("COMMIT")
            except BaseException:
                # After some failures (a full disk) SQLite has rolled back by itself.
                if self._db.in_transaction:
                    self._db.execute("ROLLBACK")
                raise

    def _check_still_as_read(self) -> None:
        if self._read_at is not None and self.version() != self._read_at:
            raise UserError(f"{self.path.name}: another program has changed the stand since it was read", "do it again")

    def _mark_undone(self, undoes: int | None, by: int) -> None:
        if undoes is not None:
            self._db.execute("UPDATE event SET undone_by = ? WHERE fid = ?", (by, undoes))

    # Taking back

    def history(self) -> tuple[Event, ...]:
        """Return the log, oldest first."""
        with plain_errors(self.path):
            rows = self._db.execute(
                "SELECT fid, at, kind, label, group_name, undoes, undone_by FROM event ORDER BY fid"
            )
            return tuple(
                Event(fid, datetime.fromisoformat(at), kind, label, group, undoes, undone_by is None)
                for fid, at, kind, label, group, undoes, undone_by in rows
            )

    def take_back(self, number: int, at: datetime) -> Event:
        """Take back one edit (or one undo, which does the edit again) and return the event that was taken back.

        Raises
        ------
        UserError
            If its rows have been changed since, or it is not in force.
        """
        event = next((e for e in self.history() if e.number == number), None)
        if event is None or not event.standing:
            raise UserError(f"{self.path.name}: step {number} is not in force", "'standmap log' lists those that are")
        with plain_errors(self.path):
            row = self._db.execute("SELECT changes FROM event WHERE fid = ?", (number,)).fetchone()
        kind = "redo" if event.kind == "undo" else "undo"
        try:
            with self._edit(event.label, at, kind=kind, group=event.group, undoes=number) as writing:
                writing.take_back(unpacked(row[0]))
        except BugError as error:
            if isinstance(error.__cause__, sqlite3.IntegrityError):
                raise UserError(
                    f"{self.path.name}: step {number} ({event.label}) cannot be taken back: later steps build on it",
                    "take back the later steps first",
                ) from None
            raise
        return event

    def undo(self, at: datetime) -> tuple[Event, ...]:
        """Take back the latest edit in force, with its neighbours of the same group, latest first.

        Raises
        ------
        NothingToDo
            If no edit is in force.
        """
        return self._take_back_group(steps_to_undo(self.history()), at, "nothing to undo")

    def redo(self, at: datetime) -> tuple[Event, ...]:
        """Do again what was taken back last, unless something was edited after that.

        Raises
        ------
        NothingToDo
            If nothing was taken back since the latest edit.
        """
        return self._take_back_group(steps_to_redo(self.history()), at, "nothing to do again")

    def _take_back_group(self, standing: list[Event], at: datetime, nothing: str) -> tuple[Event, ...]:
        if not standing:
            raise NothingToDo(f"{self.path.name}: {nothing}")
        group = standing[-1].group
        chosen = [standing.pop()]
        while group is not None and standing and standing[-1].group == group:
            chosen.append(standing.pop())
        return tuple(self.take_back(e.number, at) for e in chosen)


def steps_to_undo(history: Sequence[Event]) -> list[Event]:
    """Return the steps in force that can be taken back, the next one last."""
    return [e for e in history if e.kind in ("edit", "redo") and e.standing]


def steps_to_redo(history: Sequence[Event]) -> list[Event]:
    """Return the undos since the latest edit that can be done again, the next one last."""
    last_edit = max((e.number for e in history if e.kind == "edit"), default=0)
    return [e for e in history if e.kind == "undo" and e.standing and e.number > last_edit]


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
