"""Sights written down by hand: all or none, one undo step, looked at while they are typed."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest

from standmap.errors import NothingToDo, UserError
from standmap.formats.content import FoundSight
from standmap.formats.field_sheet import Reading, sight_of
from standmap.jobs.bring_items import Fate
from standmap.jobs.sights import DoubtfulSightError, add_sights, look_at_sights, remove_sights, sights_of
from standmap.jobs.trees_by_hand import add_tree
from standmap.messages import Collected
from standmap.stand.sights import North, Sight
from standmap.store.stand_file import StandFile

DAY = date(2026, 3, 28)
NOW = datetime(2026, 3, 28, 7, 30, tzinfo=UTC)
TRUE = Reading({}, North.TRUE)


def row(start: str, end: str, bearing: str = "", distance: str = "", **more: str) -> FoundSight:
    cells = {"from": start, "to": end, "bearing": bearing, "distance": distance, **more}
    return sight_of(cells, "row", TRUE)


@pytest.fixture
def wood(stand_file: StandFile) -> StandFile:
    """Return a stand of one tree, A."""
    add_tree(stand_file, "A", (27.6, 61.9), DAY, NOW)
    return stand_file


def test_rows_are_one_step(wood: StandFile) -> None:
    before, said = wood.stand(), Collected()
    rows = [row("A", "S1", "90", "20", what="station"), row("S1", "B7", "0", "10 m", date="2026-03-01")]
    looked = add_sights(wood, rows, DAY, NOW, messages=said)
    assert ([t.name for t in looked.trees], [p.name for p in looked.places]) == (["B7"], ["S1"])
    tree = wood.stand().tree("B7")
    assert not tree.pinned
    assert tree.source_key is None
    assert [(s.from_name, s.to_name, s.sight.source_key) for s in sights_of(wood)] == [
        ("A", "S1", None),
        ("S1", "B7", None),
    ]
    assert any("adjusting makes the best" in told for told in said.told)
    wood.undo(NOW)
    assert (wood.stand(), wood.rows(Sight)) == (before, ())
    wood.redo(NOW)
    assert wood.stand().tree("B7") == tree


def test_all_or_none(wood: StandFile) -> None:
    steps = len(wood.history())
    with pytest.raises(UserError, match="hangs on nothing"):
        add_sights(wood, [row("A", "B", "0", "5"), row("X", "Y", "0", "5")], DAY, NOW)
    with pytest.raises(NothingToDo):
        add_sights(wood, [], DAY, NOW)
    assert (len(wood.stand().trees), len(wood.history())) == (1, steps)


def test_the_same_again_is_nothing_to_do(wood: StandFile) -> None:
    add_sights(wood, [row("A", "B", "0", "5")], DAY, NOW)
    with pytest.raises(NothingToDo, match="written down already"):
        add_sights(wood, [row("A", "B", "0", "5")], DAY, NOW)


def test_what_looks_wrong_is_asked_and_moves_nothing(wood: StandFile) -> None:
    add_sights(wood, [row("A", "B", "0", "5")], DAY, NOW)
    trees = wood.stand().trees
    said = Collected()
    with pytest.raises(DoubtfulSightError, match="misses B"):
        add_sights(wood, [row("A", "B", "180", "60")], DAY, NOW, messages=said)
    assert (said.told, len(wood.rows(Sight))) == ([], 1)
    add_sights(wood, [row("A", "B", "180", "60")], DAY, NOW, anyway=True)
    assert wood.stand().trees == trees


def test_a_loop_tells_how_it_closes_while_it_is_typed(wood: StandFile) -> None:
    rows = [row("A", "S1", "0", "30"), row("S1", "S2", "90", "30"), row("S2", "S3", "180", "30")]
    open_loop = look_at_sights(wood.stand(), (), rows, DAY)
    assert [t.closing for t in open_loop.taken] == [None, None, None]
    closed = look_at_sights(wood.stand(), (), [*rows, row("S3", "A", "270", "30.5")], DAY)
    closing = closed.taken[-1].closing
    assert closing is not None
    assert closing.off_m == pytest.approx(0.5, abs=0.01)
    assert closing.over_m == pytest.approx(120.5)
    assert [t.fate for t in closed.taken] == [Fate.NEW] * 4
    gaping = look_at_sights(wood.stand(), (), [*rows, row("S3", "A", "90", "10")], DAY)
    assert {t.fate for t in gaping.taken} == {Fate.DOUBTFUL}
    assert gaping.trees == ()
    assert len(wood.stand().trees) == 1  # nothing was written


def test_girth_goes_with_its_tree(wood: StandFile) -> None:
    from standmap.formats.quantities import Thickness

    reading = Reading({}, North.TRUE, thickness=(Thickness.GIRTH, "mm"))
    cells = {"from": "A", "to": "B", "bearing": "0", "distance": "5", "thickness": "842", "date": "2026-03-01"}
    add_sights(wood, [sight_of(cells, "row", reading)], DAY, NOW)
    stand = wood.stand()
    (measured,) = stand.measurements_of[stand.tree("B").key]
    assert (measured.girth_mm, measured.measured_on, measured.source_key) == (842.0, date(2026, 3, 1), None)


def test_sights_are_removed_by_number_or_id(wood: StandFile) -> None:
    add_sights(wood, [row("A", "B", "0", "5"), row("A", "C", "90", "5"), row("A", "D", "180", "5")], DAY, NOW)
    third = sights_of(wood)[2].sight.key
    gone = remove_sights(wood, ["1", third, "1"], NOW)
    assert [s.to_name for s in gone] == ["B", "D"]
    assert [s.to_name for s in sights_of(wood)] == ["C"]
    assert wood.stand().tree("B").name == "B"  # what it placed stays
    with pytest.raises(UserError, match="there is no sight '7'"):
        remove_sights(wood, ["7"], NOW)
    wood.undo(NOW)
    assert len(sights_of(wood)) == 3
