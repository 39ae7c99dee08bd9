"""Undo and redo, and what the log says was done."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from standmap.store.stand_file import Event, StandFile, steps_to_redo, steps_to_undo


def undo(file: StandFile, now: datetime, number: int | None = None) -> tuple[Event, ...]:
    """Take back the latest edit with its group, or the one of this number.

    Raises
    ------
    NothingToDo
        If no edit is in force.
    UserError
        If rows of that edit have been changed since.
    """
    return file.undo(now) if number is None else (file.take_back(number, now),)


def redo(file: StandFile, now: datetime) -> tuple[Event, ...]:
    """Do again what was taken back last.

    Raises
    ------
    NothingToDo
        If nothing was taken back since the latest edit.
    """
    return file.redo(now)


def log(file: StandFile) -> tuple[Event, ...]:
    """Return every step ever taken, oldest first."""
    return file.history()


def next_undo(history: Sequence[Event]) -> Event | None:
    """Return the step that `undo` would take back first, None where there is none."""
    return next(reversed(steps_to_undo(history)), None)


def next_redo(history: Sequence[Event]) -> Event | None:
    """Return the undo that `redo` would take back first, None where there is none."""
    return next(reversed(steps_to_redo(history)), None)
