"""One total for a whole trip, shared out over its wounds: how much each gave is then a reckoning, and says so."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING

from standmap.errors import UserError
from standmap.formats.records_csv import COLLECTED, FoundRecord
from standmap.jobs.keys import new_key
from standmap.sap.expected import VESSEL_ML, expected_runs, learned
from standmap.stand.snapshot import Stand

if TYPE_CHECKING:
    from standmap.sap.model import SapModel


def shares_ml(total_ml: float, expected: Sequence[float]) -> tuple[float, ...]:
    """Return a total shared out in proportion to what was expected, in whole millilitres that add up to it.

    Parameters
    ----------
    total_ml
        Millilitres; a broken one stays with the last share.
    expected
        Above 0 each, or all 0: then all shares are alike.
    """
    weights = list(expected) if sum(expected) > 0 else [1.0] * len(expected)
    shares: list[float] = []
    before, weight_before = 0, 0.0
    for weight in weights[:-1]:
        weight_before += weight
        until = round(total_ml * weight_before / sum(weights))
        shares.append(float(until - before))
        before = until
    return (*shares, total_ml - before)


def share_note(total: str, trip: str, note: str = "") -> str:
    """Return the note of a row that is a share of a total, such as "12.5 L", with what a person noted after it."""
    said = f"share of a total of {total} for trip {trip}"
    return f"{said}; {note}" if note else said


def share_given(volume_ml: float) -> str:
    """Return a share as the number of litres that is kept with it."""
    return f"{volume_ml / 1000:.6f}".rstrip("0").rstrip(".")


def with_totals_shared(stand: Stand, records: Sequence[FoundRecord], file_name: str) -> tuple[FoundRecord, ...]:
    """Return lines in which each one that has a share of a trip's total has its litres.

    Raises
    ------
    UserError
        If a trip has no total, or two.
    """
    trips: dict[tuple[object, ...], list[int]] = {}
    for row, record in enumerate(records):
        if record.what == COLLECTED and record.volume_ml is None:
            trips.setdefault((record.on, record.trip), []).append(row)
    shared = list(records)
    model = learned(stand) if trips else None
    for rows in trips.values():
        lines = [records[row] for row in rows]
        expected_ml = _expected_ml(stand, {line.tree for line in lines}, lines[0].on, model)
        totals = {line.trip_ml: line.trip_given for line in lines if line.trip_ml is not None}
        if len(totals) != 1:
            many = "has no total" if not totals else f"has {len(totals)} totals"
            raise UserError(
                f"{file_name}, line {lines[0].line}: trip {lines[0].trip} of {lines[0].on.isoformat()} {many}",
                "write it in 'trip_litres' of one of its lines; nothing was written",
            )
        ((total_ml, given),) = totals.items()
        volumes = shares_ml(total_ml, [expected_ml[line.tree] for line in lines])
        total_key = new_key()
        for row, line, volume_ml in zip(rows, lines, volumes, strict=True):
            shared[row] = replace(
                line,
                volume_ml=volume_ml,
                given=share_given(volume_ml),
                note=share_note(f"{given} L", line.trip, line.note),
                total_key=total_key,
            )
    return tuple(shared)


def _expected_ml(stand: Stand, names: Collection[str], day: date, model: SapModel | None) -> dict[str, float]:
    """Return what a hole of each tree is expected to give, by the name written; a name unknown is refused later."""
    keys = {name: found[0].key for name in names if len(found := stand.named(name)) == 1}
    runs = expected_runs(stand, sorted(keys.values()), model, day)
    return {name: min(runs[keys[name]].volume_ml, VESSEL_ML) if name in keys else 0.0 for name in names}
