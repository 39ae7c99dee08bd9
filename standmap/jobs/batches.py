"""Batches: what came home is brought together, measured, and something becomes of it. Each change is one edit."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any

from standmap.errors import NothingToDo, UserError
from standmap.jobs.batch_notes import MEASURED, PART, REFRACTOMETER, own_note, part_of, with_line, with_own_note
from standmap.jobs.batch_told import BatchTold, batch_named, batches_told, parts_of, told_of
from standmap.jobs.keys import new_key
from standmap.jobs.names import checked_name, checked_note
from standmap.jobs.returns import Volume
from standmap.jobs.sap_readings import BrixReading
from standmap.stand.fates import Fate
from standmap.stand.names import folded
from standmap.stand.snapshot import Stand
from standmap.stand.tapping import Batch, Collection
from standmap.stand.tree import Tree
from standmap.store.stand_file import StandFile


@dataclass(frozen=True, slots=True)
class BatchAsked:
    """A batch that is to be made.

    Attributes
    ----------
    day
        When the sap was brought together.
    since
        The first day whose returns go in; that day alone where not given.
    trees
        Names or keys of the trees whose sap goes in; all where there are none.
    volume
        As it was measured; by the returns where not given.
    """

    name: str
    day: date
    since: date | None = None
    trees: tuple[str, ...] = ()
    volume: Volume | None = None
    reading: BrixReading | None = None
    temperature_c: float | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class BatchChange:
    """What is to be written of a batch; what is None stays as it is.

    Attributes
    ----------
    waits
        Nothing has become of it after all.
    """

    volume: Volume | None = None
    reading: BrixReading | None = None
    temperature_c: float | None = None
    fate: Fate | None = None
    fate_on: date | None = None
    waits: bool = False
    note: str | None = None


def waiting_collections(stand: Stand, day: date, since: date | None = None) -> tuple[Collection, ...]:
    """Return what was collected on a day, or from another day on, and is in no batch, in the order written down."""
    first = day if since is None else since
    return tuple(c for c in stand.collections if first <= c.collected_on <= day and c.batch_key is None)


def make_batch(file: StandFile, asked: BatchAsked, today: date, now: datetime) -> BatchTold:
    """Bring together what was collected.

    Raises
    ------
    UserError
        If the name is taken, the day is ahead, or nothing of it was collected by then.
    """
    stand = file.stand()
    name = _free_name(stand, asked.name)
    note = _own_note(asked.note)
    if asked.day > today:
        raise UserError(f"{asked.day.isoformat()} is after today", "only what has happened is written down")
    if asked.since is not None and asked.since > asked.day:
        raise UserError(
            f"sap of {asked.since.isoformat()} cannot go into a batch of {asked.day.isoformat()}",
            "give the batch the day on which it was brought together",
        )
    taken = _wanted(stand, asked)
    batch = Batch(new_key(), name, asked.day, "", note=note, temperature_c=asked.temperature_c)
    batch = _with_readings(batch, asked.volume, asked.reading)
    with file.writing(f"batch '{name}'", now) as writing:
        writing.insert(batch)
        for collection in taken:
            writing.change(collection, batch_key=batch.key)
    return told_of(file.stand(), batch, today)


def change_batch(file: StandFile, name: str, change: BatchChange, today: date, now: datetime) -> BatchTold:
    """Write down what was measured of a batch later, or what became of it.

    Raises
    ------
    UserError
        If there is no such batch, or its fate came before it or is ahead.
    NothingToDo
        If all of it is written down already.
    """
    stand = file.stand()
    batch = batch_named(stand, name)
    changed = _with_readings(batch, change.volume, change.reading)
    if change.temperature_c is not None:
        changed = replace(changed, temperature_c=change.temperature_c)
    if change.note is not None:
        changed = replace(changed, note=with_own_note(changed.note, _own_note(change.note)))
    if change.waits:
        changed = replace(changed, fate="", fate_on=None)
    elif change.fate is not None:
        on = _fate_day(batch, change.fate_on or today, today)
        changed = replace(changed, fate=str(change.fate), fate_on=on)
    if changed == batch:
        raise NothingToDo(f"batch '{batch.name}': all of this is written down already")
    label = f"batch '{batch.name}'" + (f": {changed.fate}" if changed.fate and changed.fate != batch.fate else "")
    with file.writing(label, now) as writing:
        writing.replace(changed)
    return told_of(file.stand(), changed, today)


def split_batch(file: StandFile, name: str, new_name: str, volume: Volume, today: date, now: datetime) -> BatchTold:
    """Take a part of a batch for another use; it keeps its sugar, its day and its trees.

    Raises
    ------
    UserError
        If there is no such batch, something became of it already, or less is left of it than that.
    """
    stand = file.stand()
    batch = batch_named(stand, name)
    wanted = _free_name(stand, new_name)
    if batch.fate:
        raise UserError(f"batch '{batch.name}' was {batch.fate} already", "split only a batch that still waits")
    left_ml = told_of(stand, batch, today).volume_ml - volume.ml
    if left_ml <= 0:
        raise UserError(
            f"{volume.shown()} is not less than what batch '{batch.name}' holds",
            "take a part of it, or give it its fate",
        )
    of = part_of(batch.note) or batch.name
    note = with_line(with_line("", PART, of), MEASURED, volume.shown())
    part = replace(batch, key=new_key(), name=wanted, volume_ml=volume.ml, note=note)
    with file.writing(f"batch '{wanted}', part of '{batch.name}'", now) as writing:
        writing.insert(part)
        writing.change(batch, volume_ml=left_ml)
    return told_of(file.stand(), part, today)


def remove_batch(file: StandFile, name: str, now: datetime) -> Batch:
    """Take a batch out: its returns are in no batch again, a part goes back to the whole.

    Raises
    ------
    UserError
        If there is no such batch, or parts were taken from it that are still there.
    """
    stand = file.stand()
    batch = batch_named(stand, name)
    parts = parts_of(stand, batch)
    if parts:
        raise UserError(f"'{parts[0].name}' was taken from batch '{batch.name}'", "remove the parts first")
    whole = next((b for b in stand.batches if folded(b.name) == folded(part_of(batch.note) or "")), None)
    with file.writing(f"remove batch '{batch.name}'", now) as writing:
        if whole is not None and whole.volume_ml is not None and batch.volume_ml is not None:
            writing.change(whole, volume_ml=whole.volume_ml + batch.volume_ml)
        for collection in stand.collections:
            if collection.batch_key == batch.key:
                writing.change(collection, batch_key=None)
        writing.delete(batch)
    return batch


def list_batches(file: StandFile, today: date) -> tuple[BatchTold, ...]:
    """Return every batch, the oldest first.

    Raises
    ------
    NothingToDo
        If there is none.
    """
    found = batches_told(file.stand(), today)
    if not found:
        raise NothingToDo(f"{file.path.name}: no sap was brought together in a batch")
    return found


def _wanted(stand: Stand, asked: BatchAsked) -> list[Collection]:
    """Return the collections that go in; what lacks is told by its reason."""
    waiting = waiting_collections(stand, asked.day, asked.since)
    tree_of = {hole.key: hole.tree_key for hole in stand.holes}
    trees = [stand.tree(name) for name in asked.trees]
    keys = {tree.key for tree in trees}
    taken = [c for c in waiting if not keys or tree_of[c.hole_key] in keys]
    lacking = [tree for tree in trees if not any(tree_of[c.hole_key] == tree.key for c in taken)]
    if taken and not lacking:
        return taken
    raise UserError(
        _why_none(stand, asked, lacking[0] if lacking else None), "record what came home first, or look at its day"
    )


def _why_none(stand: Stand, asked: BatchAsked, tree: Tree | None) -> str:
    tree_of = {hole.key: hole.tree_key for hole in stand.holes}
    own = [c for c in stand.collections if tree is None or tree_of[c.hole_key] == tree.key]
    name = "all trees" if tree is None else tree.name
    day, since = asked.day, asked.day if asked.since is None else asked.since
    if any(since <= c.collected_on <= day for c in own):
        return f"{name}: what was collected by {day.isoformat()} is in a batch already"
    first = min((c.collected_on for c in own), default=day)
    if first > day:
        return f"{name}: nothing was collected by {day.isoformat()}, the first only on {first.isoformat()}"
    if since < day:
        return f"{name}: nothing was collected from {since.isoformat()} to {day.isoformat()}"
    return f"{name}: nothing was collected on {day.isoformat()}"


def _with_readings(batch: Batch, volume: Volume | None, reading: BrixReading | None) -> Batch:
    """Return a batch with what was measured of it; what was read stays in its note as it was given."""
    changes: dict[str, Any] = {}
    note = batch.note
    if volume is not None:
        changes["volume_ml"] = volume.ml
        note = with_line(note, MEASURED, volume.shown())
    if reading is not None:
        changes["sugar_brix"] = reading.brix
        note = with_line(note, REFRACTOMETER, reading.told())
    return replace(batch, note=note, **changes)


def _fate_day(batch: Batch, on: date, today: date) -> date:
    if on > today:
        raise UserError(f"{on.isoformat()} is after today", "only what has happened is written down")
    if on < batch.made_on:
        raise UserError(
            f"batch '{batch.name}' was made on {batch.made_on.isoformat()}, after {on.isoformat()}", "look at the day"
        )
    return on


def _free_name(stand: Stand, text: str) -> str:
    wanted = checked_name(text, "name")
    if any(folded(b.name) == folded(wanted) for b in stand.batches):
        raise UserError(f"another batch is called '{wanted}'", "choose another name")
    return wanted


def _own_note(text: str) -> str:
    note = checked_note(text)
    if own_note(note) != note:
        raise UserError(f"a note cannot begin a line with '{MEASURED}' and the like", "write it in other words")
    return note
