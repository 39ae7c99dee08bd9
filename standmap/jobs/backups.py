"""Dated copies of a stand: made when it is opened, when asked for and before one is put back; and putting one back."""

from __future__ import annotations

import hashlib
import os
import re
import shutil
import tempfile
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from enum import StrEnum
from pathlib import Path

from standmap.errors import NothingToDo, UserError
from standmap.jobs.own_folders import data_folder
from standmap.progress import Progress, Unwatched
from standmap.settings import Settings
from standmap.store.copying import check_whole, copy_stand, put_in_place

STAMP = "%Y%m%dT%H%M%SZ"
_NAME = re.compile(r"(?P<stem>.*)_(?P<stamp>\d{8}T\d{6}Z)[b-j]?_(?P<why>[a-z-]+)\.gpkg", re.DOTALL)
_SIDE_FILES = ("-journal", "-wal", "-shm")


class Why(StrEnum):
    """What a backup was made for."""

    OPENED = "opened"
    ASKED = "asked"
    BEFORE_RESTORE = "before-restore"
    DAMAGED = "damaged"


WORDS = {
    Why.OPENED: "when opened",
    Why.ASKED: "asked for",
    Why.BEFORE_RESTORE: "before one was put back",
    Why.DAMAGED: "as it was, damaged",
}


@dataclass(frozen=True, slots=True)
class Backup:
    """One dated copy.

    Attributes
    ----------
    at
        When it was made, with this machine's offset.
    size_bytes
        Of the file.
    """

    path: Path
    at: datetime
    why: Why
    size_bytes: int

    @property
    def words(self) -> str:
        """What it was made for, in words."""
        return WORDS[self.why]


def folder_of(path: Path, settings: Settings) -> Path:
    """Return the folder of a stand's backups: one for each place that a stand lies in, so that two never mix."""
    path = path.resolve()
    root = Path(settings.backup_folder).expanduser() if settings.backup_folder else data_folder() / "backups"
    digest = hashlib.sha256(os.fsencode(path)).hexdigest()[:8]
    return root / f"{path.stem}-{digest}"


def backups_of(path: Path, settings: Settings) -> tuple[Backup, ...]:
    """Return a stand's backups, the latest first."""
    found = []
    try:
        entries = sorted(folder_of(path, settings).iterdir(), reverse=True)
    except OSError:
        entries = []
    for entry in entries:
        parts = _NAME.fullmatch(entry.name)
        if parts is None or parts["why"] not in set(Why) or not entry.is_file():
            continue
        with suppress(ValueError, OSError):
            at = datetime.strptime(parts["stamp"], STAMP).replace(tzinfo=UTC).astimezone()
            found.append(Backup(entry, at, Why(parts["why"]), entry.stat().st_size))
    return tuple(found)


def back_up(
    path: Path, settings: Settings, at: datetime, *, why: Why = Why.ASKED, progress: Progress | None = None
) -> Backup:
    """Make a backup now; the oldest go when there are more than are to be kept.

    Raises
    ------
    UserError
        If the stand cannot be read or the copy cannot be written; nothing half-made is left.
    NothingToDo
        If a stop was asked for.
    """
    made = _made(path, settings, at, why, lambda target: copy_stand(path, target, progress or Unwatched()))
    _drop_oldest(path, settings)
    return made


def back_up_when_opened(
    path: Path, settings: Settings, at: datetime, progress: Progress | None = None
) -> Backup | None:
    """Make the day's backup of a stand that is opened; None if there is one of that day or nothing has changed since.

    Raises
    ------
    UserError
        As `back_up`.
    """
    known = backups_of(path, settings)
    day = at.astimezone().date()
    if any(b.at.date() == day for b in known) or (known and _same(path, known[0].path)):
        return None
    return back_up(path, settings, at, why=Why.OPENED, progress=progress)


def find_backup(path: Path, settings: Settings, name: str) -> Path:
    """Return the file of a backup: "latest", the name of one in the stand's folder of backups, or any path.

    Raises
    ------
    UserError
        If there is none.
    """
    known = backups_of(path, settings)
    if name == "latest":
        if not known:
            raise NothingToDo(f"{path.name}: there is no backup yet")
        return known[0].path
    for backup in known:
        if name in (backup.path.name, backup.path.stem):
            return backup.path
    if not Path(name).is_file():
        raise UserError(
            f"'{name[:80]}' is no backup of {path.name}", f"'standmap backup {path.name} --list' names them"
        )
    return Path(name)


def restore(
    path: Path, backup: Path, settings: Settings, at: datetime, *, progress: Progress | None = None
) -> Backup | None:
    """Make a stand what a backup says, all of it or nothing, after a backup of the stand as it is.

    Whoever has the stand open reads it again. A stand that is missing is put there; one that is damaged is kept as it
    is among the backups.

    Returns
    -------
    Backup or None
        The copy of the stand as it was; None if there was none.

    Raises
    ------
    UserError
        If the backup is damaged or no stand, or the disk refuses: the stand is as it was then.
    NothingToDo
        If a stop was asked for, likewise.
    """
    progress = progress or Unwatched()
    check_whole(backup)
    if path.exists() and path.samefile(backup):
        raise UserError(f"{path.name}: a stand cannot be put back from itself", "name one of its backups")
    if not path.exists():
        copy_stand(backup, path, progress)
        return None
    try:
        before = _made(path, settings, at, Why.BEFORE_RESTORE, lambda target: copy_stand(path, target, progress))
    except UserError as error:
        if _readable(path):
            raise  # the stand is well; it is the copy that could not be made
        before = _put_aside(path, settings, at, error)
        _swap(path, backup, progress)
    else:
        put_in_place(backup, path, progress)
    _drop_oldest(path, settings, spare=(backup, before.path))
    return before


def _made(path: Path, settings: Settings, at: datetime, why: Why, make: Callable[[Path], None]) -> Backup:
    stamp = at.astimezone(UTC).strftime(STAMP)
    folder = folder_of(path, settings)
    for letter in ("", *"bcdefghij"):  # several of one second, named so that they sort in the order made
        if not list(folder.glob(f"*_{stamp}{letter}_*.gpkg")):
            target = folder / f"{path.stem}_{stamp}{letter}_{why}.gpkg"
            make(target)
            at_second = datetime.strptime(stamp, STAMP).replace(tzinfo=UTC).astimezone()
            return Backup(target, at_second, why, target.stat().st_size)
    raise UserError(f"{path.name}: there are ten backups of this second already", "wait a moment")


def _same(path: Path, backup: Path) -> bool:
    """Return whether a stand is as it was when the backup was made: the copy carries its time of last change."""
    with suppress(OSError):
        now, then = path.stat(), backup.stat()
        return (now.st_mtime_ns, now.st_size) == (then.st_mtime_ns, then.st_size)
    return False


def _readable(path: Path) -> bool:
    try:
        check_whole(path)
    except UserError:
        return False
    return True


def _put_aside(path: Path, settings: Settings, at: datetime, why_not: UserError) -> Backup:
    """Keep a damaged stand byte for byte, with what SQLite left beside it."""

    def keep(target: Path) -> None:
        try:
            target.parent.mkdir(parents=True, exist_ok=True)
            shutil.copy2(path, target)
            for suffix in _SIDE_FILES:
                beside = path.with_name(path.name + suffix)
                if beside.exists():
                    shutil.copy2(beside, target.with_name(target.name + suffix))
        except OSError as error:
            raise UserError(
                f"{why_not}; it could not be put aside either ({error.strerror})", "nothing was changed"
            ) from None

    return _made(path, settings, at, Why.DAMAGED, keep)


def _swap(path: Path, backup: Path, progress: Progress) -> None:
    """Put a whole copy where a damaged stand was; what SQLite left beside the damaged one would spoil the new one."""
    handle, name = tempfile.mkstemp(prefix=f".{path.name}.", suffix=".part", dir=path.parent)
    os.close(handle)
    fresh = Path(name)
    fresh.unlink()
    try:
        copy_stand(backup, fresh, progress)
        for suffix in _SIDE_FILES:
            path.with_name(path.name + suffix).unlink(missing_ok=True)
        fresh.replace(path)
    except OSError as error:
        raise UserError(
            f"{path.name}: could not be put back ({error.strerror})", "check its rights and the disk"
        ) from None
    finally:
        with suppress(OSError):
            fresh.unlink(missing_ok=True)


def _drop_oldest(path: Path, settings: Settings, spare: tuple[Path, ...] = ()) -> None:
    kept = {p.resolve() for p in spare}
    for old in backups_of(path, settings)[settings.backups_kept :]:
        if old.path.resolve() not in kept:
            with suppress(OSError):  # one too many harms nobody
                for suffix in ("", *_SIDE_FILES):
                    old.path.with_name(old.path.name + suffix).unlink(missing_ok=True)
