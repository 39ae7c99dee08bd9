"""Rows of the tree table: order, what is kept, counts. No window is needed for these."""

from __future__ import annotations

import string
import subprocess
import sys

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from standmap.desktop.pages.choose.rows import LISTED, Column, Names, TreeRows, name_order
from standmap.rules.columns import CODES
from standmap.rules.judgement import Verdict
from standmap.stand.names import natural


def rows(*told: tuple[str, float, Verdict, int, int]) -> TreeRows:
    return TreeRows(
        names=Names.in_order(tuple(name for name, *_ in told)),
        girth_mm=np.array([girth for _, girth, *_ in told]),
        codes=np.array([CODES.index(verdict) for _, _, verdict, *_ in told], np.uint8),
        back_in=np.array([back for *_, back, _ in told], np.int32),
        taps=np.array([taps for *_, taps in told], np.int64),
    )


WOOD = rows(
    ("B10", 842.0, Verdict.RESTING, 2028, 0),
    ("B2", 915.0, Verdict.READY, 0, 2),
    ("b1", float("nan"), Verdict.UNSURE, 0, 0),
    ("B31", 600.0, Verdict.GROWING_ON, 0, 0),
    ("A7", 915.0, Verdict.GIVING, 2030, 0),
    ("B3", 700.0, Verdict.RESTING, 2027, 1),
)
ALL = np.ones(6, bool)


def named(order: np.ndarray[tuple[int], np.dtype[np.int64]]) -> list[str]:
    return [WOOD.names.texts[row] for row in order]


@pytest.mark.parametrize(
    ("by", "backwards", "expected"),
    [
        (Column.TREE, False, ["A7", "b1", "B2", "B3", "B10", "B31"]),
        (Column.TREE, True, ["B31", "B10", "B3", "B2", "b1", "A7"]),
        (Column.GIRTH, False, ["B31", "B3", "B10", "A7", "B2", "b1"]),
        (Column.GIRTH, True, ["A7", "B2", "B10", "B3", "B31", "b1"]),
        (Column.BACK_IN, False, ["B2", "B3", "B10", "A7", "b1", "B31"]),
        (Column.BACK_IN, True, ["A7", "B10", "B3", "B2", "b1", "B31"]),
        (Column.VERDICT, False, ["B2", "B3", "B10", "B31", "b1", "A7"]),
        (Column.TAPS, False, ["B2", "B3", "A7", "b1", "B10", "B31"]),
    ],
)
def test_rows_are_ordered_by_a_column_then_by_name_with_the_unknown_last(
    by: Column, backwards: bool, expected: list[str]
) -> None:
    assert named(WOOD.ordered(ALL, by, backwards=backwards)) == expected


def test_rows_are_kept_by_verdict_and_by_a_part_of_the_name() -> None:
    assert named(WOOD.ordered(WOOD.shown({Verdict.RESTING}), Column.TREE)) == ["B3", "B10"]
    assert named(WOOD.ordered(WOOD.shown(LISTED, " b1 "), Column.TREE)) == ["b1", "B10"]
    assert not WOOD.shown(()).any()
    assert not WOOD.shown(LISTED, "rowan").any()


def test_every_verdict_is_counted_and_listed_once() -> None:
    assert sum(WOOD.counts().values()) == 6
    assert WOOD.counts()[Verdict.RESTING] == 2
    assert WOOD.counts()[Verdict.UNFIT] == 0
    assert sorted(LISTED) == sorted(Verdict)


@given(st.lists(st.text(string.printable + "٣é²", max_size=12)))
def test_any_names_have_an_order(names: list[str]) -> None:
    place = name_order(names)
    assert sorted(place) == list(range(len(names)))
    ordered = [natural(names[i]) for i in np.argsort(place)]
    assert ordered == sorted(ordered)


def test_a_name_of_many_numbers_is_ordered_all_the_same() -> None:
    long = "1-" * 5000
    assert list(name_order(["9" * 6000, long, "B2", "B10", "b2"])) == [1, 0, 2, 4, 3]


def test_names_stand_as_written_until_their_order_is_known() -> None:
    written = WOOD.named(Names.as_written(WOOD.names.texts))
    assert list(written.ordered(ALL, Column.TREE)) == [0, 1, 2, 3, 4, 5]
    assert list(written.named(WOOD.names).ordered(ALL, Column.TREE)) == [4, 2, 1, 5, 0, 3]


def test_the_rows_need_no_qt() -> None:
    told = "import sys, standmap.desktop.pages.choose.rows; sys.exit(any('PySide6' in m for m in sys.modules))"
    assert subprocess.run([sys.executable, "-c", told]).returncode == 0
