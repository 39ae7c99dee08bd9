"""What a tapping or closing walk came to: one edit, nothing twice, and what cannot be true refused whole."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest

from standmap.errors import UserError
from standmap.jobs.given_walk import GivenStop, GivenTrip, GivenWalk
from standmap.jobs.planned_round import Purpose
from standmap.jobs.taking_back import undo
from standmap.jobs.walk_done import (
    Made,
    SeenTo,
    acts_done,
    done_rows,
    groups_given,
    hole_made,
    store_made,
    store_seen_to,
)
from standmap.stand.tapping import Act, TapHole, Wound
from standmap.stand.tree import Tree
from standmap.store.stand_file import StandFile

DAY = date(2026, 3, 28)
NOW = datetime(2026, 3, 28, 7, 30, tzinfo=UTC)


@pytest.fixture
def file(stand_file: StandFile) -> StandFile:
    with stand_file.writing("plant", NOW) as writing:
        writing.insert(
            Tree("t0", "B0", (27.6, 61.9)),
            Tree("t1", "B1", (27.601, 61.9)),
            TapHole("h1", "t1", 1, Wound.HOLE, date(2026, 3, 20)),
        )
    return stand_file


def walk(purpose: Purpose, *stops: tuple[str, str, str | None, int]) -> GivenWalk:
    given = tuple(
        GivenStop(key, tree, hole, number, order, 2.0, 3.0, 5.0 * order, (27.6, 61.9))
        for order, (key, tree, hole, number) in enumerate(stops, start=1)
    )
    trip = GivenTrip(1, 1, 100.0, 20.0, ((27.6, 61.9),), given)
    return GivenWalk("w", DAY, purpose, NOW, None, 100.0, 20.0, (trip,))


def test_holes_that_were_made_are_one_edit(file: StandFile) -> None:
    tapping = walk(Purpose.TAPPING, ("t0/1", "t0", None, 1), ("t1/2", "t1", None, 2), ("t9/1", "t9", None, 1))
    first, second = done_rows(file.stand(), tapping)  # the tree that is gone is left out
    assert (first.name, second.name) == ("B0", "B1 hole 2")
    steps = len(file.history())
    store_made(file, DAY, [Made(first, 600, 225, 40, 10), Made(second)], DAY, NOW)
    assert len(file.history()) == steps + 1
    made = hole_made(file.stand(), first, DAY)
    assert made is not None
    assert (made.height_mm, made.side_deg, made.depth_mm, made.bit_mm) == (600, 225, 40, 10)
    other = hole_made(file.stand(), second, DAY)
    assert other is not None
    assert (other.number, other.height_mm) == (2, None)
    with pytest.raises(UserError, match="has a hole 1 of 2026 already"):
        store_made(file, DAY, [Made(first)], DAY, NOW)
    undo(file, NOW)
    assert hole_made(file.stand(), first, DAY) is None


def test_what_was_done_to_wounds_is_one_edit(file: StandFile) -> None:
    (row,) = done_rows(file.stand(), walk(Purpose.CLOSING, ("h1", "t1", "h1", 1)))
    assert acts_done(file.stand(), row) == frozenset()
    report = store_seen_to(file, DAY, [SeenTo(row, (Act.TAKEN_OUT, Act.PLUGGED))], DAY, NOW)
    assert report.acts == 2
    assert acts_done(file.stand(), row) == {Act.TAKEN_OUT, Act.PLUGGED}
    with pytest.raises(UserError, match="nothing was written"):
        store_seen_to(file, DAY, [SeenTo(row, (Act.LEFT_OPEN,))], DAY, NOW)
    assert acts_done(file.stand(), row) == {Act.TAKEN_OUT, Act.PLUGGED}


def test_nothing_ticked_is_nothing_written(file: StandFile) -> None:
    for store in (store_made, store_seen_to):
        with pytest.raises(UserError, match="nothing was ticked"):
            store(file, DAY, [], DAY, NOW)


def test_returns_of_a_walk_given_out_stand_in_its_order(file: StandFile) -> None:
    given = walk(Purpose.COLLECTING, ("h1", "t1", "h1", 1), ("t9/1", "t9", "h9", 1))
    (group,) = groups_given(file.stand(), given)
    assert group.trip == 1
    assert [(row.hole_key, row.name, row.expected_l) for row in group.rows] == [("h1", "B1", 2.0)]
