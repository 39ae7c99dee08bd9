"""Holding a stand's file: one window writes, and a file that was moved or replaced under it is noticed."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import QLockFile

from standmap.desktop.words import tr


def locked(path: Path) -> tuple[QLockFile | None, bool, str]:
    """Return the lock that makes this window the one that writes, whether it may only read, and why."""
    lock = QLockFile(str(path.with_name(f".{path.name}.open")))
    lock.setStaleLockTime(0)  # a lock whose program is gone is taken over; one that runs keeps it however long
    if lock.tryLock(0):
        return lock, False, ""
    if lock.error() is QLockFile.LockError.LockFailedError:
        return None, True, tr("this stand is open in another window: here it can be looked at, not changed")
    if path.exists():
        return None, True, tr("this folder may not be written: the stand can be looked at, not changed")
    return None, False, ""


def identity(path: Path) -> tuple[int, int] | None:
    """Return what tells a file from another one put in its place; None where there is none any more."""
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_dev, found.st_ino
