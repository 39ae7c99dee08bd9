"""What collections say of nights."""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from standmap.sap.records import MOST_NIGHTS, SapRecords, records_of
from standmap.stand.snapshot import Stand
from standmap.stand.tapping import Collection, TapHole, Wound
from standmap.stand.tree import Measurement, Tree
from tests.sap.invented import a_day

MADE = date(2026, 3, 20)


def wood(*rows: tuple[int, int, float, bool, str | None]) -> Stand:
    """Return four trees tapped on one day; rows are tree, days after, millilitres, overflowed, total."""
    trees = tuple(Tree(f"t{k}", f"B{k}", (27, 62)) for k in range(4))
    holes = tuple(TapHole(f"h{k}", f"t{k}", 1, Wound.HOLE, MADE) for k in range(4))
    taken = tuple(
        Collection(f"c{n}", f"h{k}", MADE + timedelta(after), None, ml, "", "ml", overflowed=over, total_key=total)
        for n, (k, after, ml, over, total) in enumerate(rows)
    )
    return Stand(trees=trees, holes=holes, collections=taken)


ROWS = st.lists(
    st.tuples(
        st.integers(0, 3),
        st.integers(0, 12),
        st.floats(0, 20_000),
        st.booleans(),
        st.sampled_from([None, None, "total a", "total b"]),
    ),
    max_size=25,
)


def same(one: SapRecords, other: SapRecords) -> bool:
    """Return whether two records hold the same to the last bit."""
    arrays = ("day_c", "volume_ml", "overflowed", "part_row", "part_tree", "part_day", "part_girth_mm")
    return (one.tree_keys, one.days, one.left_out) == (other.tree_keys, other.days, other.left_out) and all(
        np.array_equal(getattr(one, name), getattr(other, name), equal_nan=name.endswith(("_c", "_mm")))
        for name in arrays
    )


@given(ROWS, st.randoms(use_true_random=False))
def test_the_order_in_which_it_was_written_down_does_not_matter(
    rows: list[tuple[int, int, float, bool, str | None]], order: random.Random
) -> None:
    stand = wood(*rows)
    mixed, holes, trees = list(stand.collections), list(stand.holes), list(stand.trees)
    for some in (mixed, holes, trees):
        order.shuffle(some)
    other = replace(stand, collections=tuple(mixed), holes=tuple(holes), trees=tuple(trees))
    assert same(records_of(stand), records_of(other))


@given(ROWS)
def test_nothing_is_lost_and_no_night_of_a_hole_counts_twice(
    rows: list[tuple[int, int, float, bool, str | None]],
) -> None:
    stand = wood(*rows)
    found = records_of(stand)
    if not found.left_out:
        assert found.volume_ml.sum() == pytest.approx(sum(ml for _, _, ml, _, _ in rows))
        assert found.overflowed.any() == any(over for _, _, _, over, _ in rows)
    pairs = list(zip(found.part_tree.tolist(), found.part_day.tolist(), strict=True))
    first_days = {hole.tree_key: hole.made_on for hole in stand.holes}
    # The day of making may be a night's end and the next collection's first night is the one after it.
    assert len(set(pairs)) == len(pairs)
    assert all(found.days[day] >= first_days[found.tree_keys[tree]] for tree, day in pairs)
    assert (np.diff(found.part_row) >= 0).all()
    assert set(found.part_row.tolist()) == set(range(found.rows))
    assert found.part_day.max(initial=-1) == len(found.days) - 1


@given(ROWS, st.integers(2024, 2028))
def test_rows_kept_stand_on_their_own(rows: list[tuple[int, int, float, bool, str | None]], season: int) -> None:
    found = records_of(wood(*rows))
    early = found.before(season)
    assert early.rows == (found.rows if season > 2026 else 0)
    half = found.kept(np.arange(found.rows) % 2 == 0)
    assert half.volume_ml.tolist() == found.volume_ml[::2].tolist()
    names = [half.tree_keys[k] for k in half.part_tree]
    assert names == [found.tree_keys[k] for k in found.part_tree[found.part_row % 2 == 0]]
    assert len(half.day_c) == len(half.days)


def test_nights_since_the_vessel_was_last_emptied_give_a_volume_together() -> None:
    found = records_of(wood((0, 2, 4000, False, None), (0, 3, 1500, True, None)))
    assert found.volume_ml.tolist() == [4000, 1500]
    assert found.overflowed.tolist() == [False, True]
    assert found.part_row.tolist() == [0, 0, 1]
    assert found.days == tuple(MADE + timedelta(n) for n in (1, 2, 3))


def test_shares_are_one_total_and_it_ran_over_where_one_of_them_did() -> None:
    found = records_of(wood((0, 1, 2000, False, "a"), (1, 1, 3000, True, "a"), (2, 1, 1000, False, None)))
    assert sorted(zip(found.volume_ml.tolist(), found.overflowed.tolist(), strict=True)) == [
        (1000, False),
        (5000, True),
    ]


def test_a_vessel_that_hung_too_long_tells_nothing_and_takes_its_total_along() -> None:
    late = MOST_NIGHTS + 1
    assert records_of(wood((0, late, 9000, False, None))).left_out == 1
    found = records_of(wood((0, late, 9000, False, "a"), (1, 1, 500, False, "a"), (1, 2, 800, False, None)))
    assert (found.left_out, found.volume_ml.tolist()) == (2, [800])


def test_a_girth_is_that_of_the_year_and_warmth_that_of_both_days() -> None:
    stand = replace(
        wood((0, 1, 2000, False, None)),
        measurements=(
            Measurement("1", "t0", date(2025, 9, 1), 800.0, None, "", "mm"),
            Measurement("2", "t0", date(2027, 9, 1), 830.0, None, "", "mm"),
        ),
        weather=(
            a_day(MADE, 4.0),
            a_day(MADE + timedelta(1), 7.0, "east"),
            a_day(MADE + timedelta(1), 9.0, "west"),
        ),
    )
    found = records_of(stand)
    assert found.part_girth_mm.tolist() == [800.0]
    assert found.day_c.tolist() == [6.0]
