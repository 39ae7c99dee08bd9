"""The trees of a stand as rows of a table: ordered, kept by verdict, found by name. No Qt here."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from enum import Enum
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from standmap.rules.columns import CODES
from standmap.rules.judgement import Verdict
from standmap.stand.names import folded, natural

IntArray = NDArray[np.int64]


class Column(Enum):
    """What a row tells, from left to right."""

    TREE = 0
    GIRTH = 1
    BACK_IN = 2
    VERDICT = 3
    TAPS = 4


def name_order(names: Sequence[str]) -> IntArray:
    """Return each name's place in natural order, shape (n,); equal names keep their order."""
    order = sorted(range(len(names)), key=[natural(n) for n in names].__getitem__)
    place = np.empty(len(names), np.int64)
    place[order] = np.arange(len(names))
    return place


@dataclass(frozen=True, eq=False)
class Names:
    """The names of n trees, and the place of each in natural order, shape (n,)."""

    texts: tuple[str, ...]
    place: IntArray

    @classmethod
    def as_written(cls, texts: tuple[str, ...]) -> Names:
        """Return names in the order in which they stand, until their natural order is known."""
        return cls(texts, np.arange(len(texts)))

    @classmethod
    def in_order(cls, texts: tuple[str, ...]) -> Names:
        """Return names with their natural order: a quarter of a second for 100,000."""
        return cls(texts, name_order(texts))

    @cached_property
    def rows(self) -> IntArray:
        """The rows of the trees in natural order of their names."""
        return np.argsort(self.place, kind="stable")

    @cached_property
    def folded(self) -> tuple[str, ...]:
        """The names as they are compared."""
        return tuple(map(folded, self.texts))


@dataclass(frozen=True, eq=False)
class TreeRows:
    """The facts of n trees as columns, in the stand's order.

    Attributes
    ----------
    girth_mm
        NaN where it was never measured.
    codes
        Indexes into `standmap.rules.columns.CODES`.
    back_in
        Season in which a tree may be tapped again, 0 where that is not said.
    taps
        Holes that a tree is marked for, 0 where it is not marked.
    """

    names: Names
    girth_mm: NDArray[np.float64]
    codes: NDArray[np.uint8]
    back_in: NDArray[np.int32]
    taps: IntArray

    def named(self, names: Names) -> TreeRows:
        """Return the same rows with the same names in another order."""
        return replace(self, names=names)

    def counts(self) -> dict[Verdict, int]:
        """Return how many trees have each verdict."""
        counted = np.bincount(self.codes, minlength=len(CODES)).tolist()
        return dict(zip(CODES, counted, strict=True))

    def shown(self, verdicts: Collection[Verdict], text: str = "") -> NDArray[np.bool_]:
        """Return which rows have one of these verdicts and this text in their name, shape (n,)."""
        kept = np.array([verdict in verdicts for verdict in CODES])[self.codes]
        wanted = folded(text)
        if wanted:
            kept &= np.fromiter((wanted in name for name in self.names.folded), bool, len(self.codes))
        return kept

    def ordered(self, kept: NDArray[np.bool_], by: Column, *, backwards: bool = False) -> IntArray:
        """Return the kept rows in order of a column, then of their names; unknown values come last either way."""
        rows = self.names.rows[kept[self.names.rows]]
        if by is Column.TREE:
            return rows[::-1] if backwards else rows
        value, unknown = self._value(by, rows)
        # The rows stand by name already, and equal ones stay as they stand.
        return rows[np.lexsort((-value if backwards else value, unknown))]

    def _value(self, by: Column, rows: IntArray) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
        if by is Column.GIRTH:
            girth = self.girth_mm[rows]
            return np.nan_to_num(girth), np.isnan(girth)
        if by is Column.TAPS:
            return -self.taps[rows].astype(float), np.zeros(len(rows), bool)
        if by is Column.VERDICT:
            # As the page lists them: what may be tapped comes first.
            return _LISTED_AT[self.codes[rows]], np.zeros(len(rows), bool)
        back = self.back_in[rows].astype(float)
        ready = self.codes[rows] == CODES.index(Verdict.READY)
        return back, (back == 0) & ~ready


LISTED: tuple[Verdict, ...] = (
    Verdict.READY,
    Verdict.RESTING,
    Verdict.GROWING_ON,
    Verdict.OFF_LIMITS,
    Verdict.UNFIT,
    Verdict.UNSURE,
    Verdict.GIVING,
)
"""The verdicts as the page lists them."""

_LISTED_AT = np.array([LISTED.index(v) for v in CODES], float)
