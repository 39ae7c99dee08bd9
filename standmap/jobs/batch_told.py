"""What is known of a batch: its trees by the returns, how much it is, how old, and what limits say of that."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from standmap.errors import UserError
from standmap.jobs.batch_notes import part_of
from standmap.jobs.sap_readings import doubt_of_brix
from standmap.sap.keeping import KeepingTold, keeping
from standmap.stand.names import folded
from standmap.stand.snapshot import Stand
from standmap.stand.tapping import Batch
from standmap.stand.tree import Tree

DIFFERS_PART = 0.15
"""Measured litres that lie further from the returns than this are told: an assumption."""


@dataclass(frozen=True, slots=True)
class BatchTold:
    """A batch on a day.

    Attributes
    ----------
    trees
        Those whose sap is in it, in the order of the stand; of a part, those of the whole.
    volume_ml
        As measured, or else by the returns.
    summed_ml
        By the returns; None for a part, of whose trees nobody can tell the shares.
    at_least
        Whether a vessel had run over, so that the trees gave more than that.
    oldest, age_days
        The day on which the first of it was collected, and its age since, until something became of it.
    whole
        Name of the batch that it was taken from.
    kept
        What published limits say; nothing once something became of it.
    doubts
        What does not fit together.
    """

    batch: Batch
    trees: tuple[Tree, ...]
    volume_ml: float
    summed_ml: float | None
    at_least: bool
    oldest: date
    age_days: int
    whole: str | None
    kept: tuple[KeepingTold, ...]
    doubts: tuple[str, ...]


def batches_told(stand: Stand, day: date) -> tuple[BatchTold, ...]:
    """Return every batch of a stand as it is on a day, the oldest first."""
    ordered = sorted(stand.batches, key=lambda batch: batch.made_on)
    return tuple(told_of(stand, batch, day) for batch in ordered)


def batch_named(stand: Stand, text: str) -> Batch:
    """Return the one batch of this name or key.

    Raises
    ------
    UserError
        If no batch or more than one answers to it.
    """
    found = [b for b in stand.batches if b.key == text] or [b for b in stand.batches if folded(b.name) == folded(text)]
    if not found:
        raise UserError(f"no batch is called '{text[:60]}'", "'standmap batch FILE --list' names them")
    if len(found) > 1:
        raise UserError(
            f"{len(found)} batches are called '{text[:60]}'", f"use an id: {', '.join(b.key for b in found)}"
        )
    return found[0]


def parts_of(stand: Stand, batch: Batch) -> tuple[Batch, ...]:
    """Return what was taken from a batch."""
    return tuple(b for b in stand.batches if folded(part_of(b.note) or "") == folded(batch.name))


def told_of(stand: Stand, batch: Batch, day: date) -> BatchTold:
    """Return what is known of one batch on a day."""
    whole_name = part_of(batch.note)
    whole = batch
    if whole_name is not None:
        whole = next((b for b in stand.batches if folded(b.name) == folded(whole_name)), batch)
    taken = [c for c in stand.collections if c.batch_key == whole.key]
    tree_of = {hole.key: hole.tree_key for hole in stand.holes}
    keys = {tree_of[c.hole_key] for c in taken if c.hole_key in tree_of}
    oldest = min((c.collected_on for c in taken), default=batch.made_on)
    summed = sum(c.volume_ml for c in taken) if whole is batch else None
    volume = batch.volume_ml if batch.volume_ml is not None else summed or 0.0
    until = batch.fate_on if batch.fate and batch.fate_on is not None else day
    age = max((until - oldest).days, 0)
    return BatchTold(
        batch,
        tuple(tree for tree in stand.present if tree.key in keys),
        volume,
        summed,
        any(c.overflowed for c in taken) and batch.volume_ml is None,
        oldest,
        age,
        whole_name,
        () if batch.fate else keeping(age, batch.temperature_c),
        tuple(filter(None, (_differs(stand, batch, summed), doubt_of_brix(batch.sugar_brix or 1.0)))),
    )


def _differs(stand: Stand, batch: Batch, summed_ml: float | None) -> str:
    """Say that more or less was measured than the returns come to, parts taken from it included."""
    if batch.volume_ml is None or not summed_ml:
        return ""
    measured = batch.volume_ml + sum(part.volume_ml or 0.0 for part in parts_of(stand, batch))
    by = measured / summed_ml - 1
    if abs(by) <= DIFFERS_PART:
        return ""
    than = "more" if by > 0 else "less"
    return f"{measured / 1000:.1f} L measured, {summed_ml / 1000:.1f} L by the returns: {abs(by) * 100:.0f} % {than}"
