"""What a stand's records say of single nights, as arrays: each row is a volume that came from one or more of them."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from standmap.sap.girths import girth_mm
from standmap.sap.warmth import day_means_c, night_warmth_c
from standmap.stand.snapshot import Stand
from standmap.stand.tapping import TapHole

MOST_NIGHTS = 7
"""A vessel that hangs longer without a record was emptied in between, or the sap had not begun: an assumption. Such
collections say nothing of a night and are left out."""

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True, eq=False)
class SapRecords:
    """Volumes, and the nights of single holes that each of them is the sum of.

    A part is one hole in one night. A night bears the date of the day on which it ends. Rows are in an order of their
    own, whatever the order they were written down in.

    Attributes
    ----------
    tree_keys, days
        Every tree and night that a part names, sorted.
    day_c
        How warm each night was, °C, NaN where nobody knows; shape (days,).
    volume_ml, overflowed
        Of each row, shape (rows,): after an overflow it gave at least this much.
    part_row, part_tree, part_day, part_girth_mm
        Of each part, shape (parts,), sorted by row: indices, and the stem's girth or NaN.
    left_out
        Collections that are in no row, for they came after too many nights.
    """

    tree_keys: tuple[str, ...]
    days: tuple[date, ...]
    day_c: Floats
    volume_ml: Floats
    overflowed: NDArray[np.bool_]
    part_row: Ints
    part_tree: Ints
    part_day: Ints
    part_girth_mm: Floats
    left_out: int = 0

    @property
    def rows(self) -> int:
        """How many volumes there are."""
        return len(self.volume_ml)

    @property
    def seasons(self) -> tuple[int, ...]:
        """The years with records, oldest first."""
        return tuple(sorted({day.year for day in self.days}))

    def season_of_rows(self) -> Ints:
        """Return the year of each row."""
        years = np.array([day.year for day in self.days], np.int64)
        found = np.zeros(self.rows, np.int64)
        found[self.part_row] = years[self.part_day]
        return found

    def kept(self, rows: NDArray[np.bool_]) -> SapRecords:
        """Return these rows alone, with the trees and nights that they name."""
        parts = rows[self.part_row]
        new_row = np.cumsum(rows) - 1
        trees, part_tree = np.unique(self.part_tree[parts], return_inverse=True)
        days, part_day = np.unique(self.part_day[parts], return_inverse=True)
        return SapRecords(
            tuple(self.tree_keys[k] for k in trees),
            tuple(self.days[k] for k in days),
            self.day_c[days],
            self.volume_ml[rows],
            self.overflowed[rows],
            new_row[self.part_row[parts]],
            part_tree.astype(np.int64),
            part_day.astype(np.int64),
            self.part_girth_mm[parts],
            self.left_out,
        )

    def before(self, season: int) -> SapRecords:
        """Return what was known before a season began."""
        return self.kept(self.season_of_rows() < season)


@dataclass(frozen=True, slots=True)
class _Taken:
    """One hole's sap of one or more nights: which, how much, and whether the vessel had run over."""

    parts: tuple[tuple[date, str], ...]
    volume_ml: float
    overflowed: bool
    total_key: str | None


def records_of(stand: Stand) -> SapRecords:
    """Return what a stand's collections say of nights.

    What was taken from one hole on one day is one volume, of all nights since the day before that it was emptied, or
    made. Shares of one total are that total again: only their sum was measured. A total with one share that came
    after too many nights is left out whole.
    """
    totals: dict[str, list[_Taken]] = {}
    rows: list[tuple[tuple[tuple[date, str], ...], float, bool]] = []
    left_out = 0
    for hole in stand.holes:
        for taken in _taken_from(stand, hole):
            if taken.total_key is not None:
                totals.setdefault(taken.total_key, []).append(taken)
            elif len(taken.parts) > MOST_NIGHTS:
                left_out += 1
            else:
                rows.append((taken.parts, taken.volume_ml, taken.overflowed))
    for shares in totals.values():
        if any(len(share.parts) > MOST_NIGHTS for share in shares):
            left_out += len(shares)
            continue
        parts = tuple(sorted(part for share in shares for part in share.parts))
        # An exact sum: the same whatever the order of the shares.
        total_ml = math.fsum(share.volume_ml for share in shares)
        rows.append((parts, total_ml, any(share.overflowed for share in shares)))
    rows.sort()
    return _as_arrays(stand, rows, left_out)


def _taken_from(stand: Stand, hole: TapHole) -> Iterator[_Taken]:
    emptied = hole.made_on
    taken = stand.collections_of.get(hole.key, [])
    for day in sorted({collection.collected_on for collection in taken}):
        that_day = [collection for collection in taken if collection.collected_on == day]
        count = max(1, (day - emptied).days)
        nights = tuple((day - timedelta(days=back), hole.tree_key) for back in reversed(range(count)))
        emptied = day
        # Emptied twice on a day: the nights gave all of it together, and where a trip's total has some, it has all.
        keys = sorted(collection.total_key for collection in that_day if collection.total_key is not None)
        volume_ml = math.fsum(collection.volume_ml for collection in that_day)
        over = any(collection.overflowed for collection in that_day)
        yield _Taken(nights, volume_ml, over, keys[0] if keys else None)


def _as_arrays(stand: Stand, rows: list[tuple[tuple[tuple[date, str], ...], float, bool]], left_out: int) -> SapRecords:
    parts = [part for nights, _, _ in rows for part in nights]
    days = sorted({day for day, _ in parts})
    trees = sorted({tree for _, tree in parts})
    day_number = {day: n for n, day in enumerate(days)}
    tree_number = {tree: n for n, tree in enumerate(trees)}
    means = day_means_c(stand)
    warmth = [night_warmth_c(means, day) for day in days]
    girths = {(tree, day.year): math.nan for day, tree in parts}
    for tree, year in girths:
        girths[tree, year] = girth_mm(stand, tree, date(year, 12, 31)) or math.nan
    return SapRecords(
        tuple(trees),
        tuple(days),
        np.array([math.nan if c is None else c for c in warmth], np.float64),
        np.array([volume for _, volume, _ in rows], np.float64),
        np.array([over for _, _, over in rows], np.bool_),
        np.repeat(np.arange(len(rows), dtype=np.int64), [len(nights) for nights, _, _ in rows]),
        np.array([tree_number[tree] for _, tree in parts], np.int64),
        np.array([day_number[day] for day, _ in parts], np.int64),
        np.array([girths[tree, day.year] for day, tree in parts], np.float64),
        left_out,
    )
