"""Marks for a season: written and taken off in one step, never in silence where a rule speaks against."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest

from standmap.errors import NothingToDo, UserError
from standmap.jobs.mark import ONE_BY_ONE, mark_trees, marked, totals, unmark_trees
from standmap.messages import Collected
from standmap.sap.expected import DEFAULT_RUN_ML
from standmap.sap.spread import run_spreads
from standmap.stand.ground import Area, AreaKind
from standmap.stand.records import Plan
from standmap.stand.snapshot import Stand
from standmap.stand.tapping import Collection, TapHole, Wound
from standmap.stand.tree import Measurement, Soundness, Tree
from standmap.store.stand_file import StandFile

NOW = datetime(2026, 3, 28, 7, 30, tzinfo=UTC)
SQUARE = (((26.99, 61.99), (27.01, 61.99), (27.01, 62.01), (26.99, 62.01), (26.99, 61.99)),)


def good_tree(number: int, **said: object) -> Tree:
    fields: dict[str, object] = {
        "species": "Betula pendula",
        "soundness": Soundness.SOUND,
        "tag_confirmed": True,
        **said,
    }
    return Tree(str(number), f"B{number}", (27.0 + number / 1000, 62.0), **fields)  # type: ignore[arg-type]


def girth(number: int, mm: float) -> Measurement:
    return Measurement(f"m{number}", str(number), date(2025, 9, 1), mm, None, f"{mm:g}", "mm")


@pytest.fixture
def file(stand_file: StandFile) -> StandFile:
    """Return a stand of four trees: two ready, one thin, one tapped in 2025."""
    with stand_file.writing("plant", NOW) as writing:
        writing.insert_many([good_tree(n) for n in (1, 2, 3, 4)])
        writing.insert_many([girth(1, 900), girth(2, 900), girth(3, 500), girth(4, 900)])
        writing.insert(TapHole("h", "4", 1, Wound.HOLE, date(2025, 3, 20)))
    return stand_file


def test_marks_are_one_edit_and_come_off_again(file: StandFile) -> None:
    before = file.stand()
    heard = Collected()
    mark_trees(file, ["B1", "2", "B1"], 2026, NOW, messages=heard)
    assert heard.cautions == []
    assert [(p.tree_key, p.season, p.holes) for p in marked(file, 2026)] == [("1", 2026, 1), ("2", 2026, 1)]
    assert marked(file, 2027) == ()
    assert file.history()[-1].label == "mark B1, B2 for 2026"
    unmark_trees(file, ["B1", "B3"], 2026, NOW)
    assert [p.tree_key for p in marked(file, 2026)] == ["2"]
    assert file.history()[-1].label == "unmark B1 for 2026"
    file.undo(NOW)
    assert [p.tree_key for p in marked(file, 2026)] == ["1", "2"]
    file.undo(NOW)
    assert marked(file, 2026) == ()
    assert file.stand() == before


def test_a_tree_that_is_not_ready_is_marked_with_a_warning(file: StandFile) -> None:
    heard = Collected()
    mark_trees(file, ["B3", "B4"], 2026, NOW, messages=heard)
    assert heard.cautions == [
        "B3 is not ready in 2026: growing on (girth 500 mm is below 718 mm)",
        "B4 is not ready in 2026: resting (tapped in 2025, returns after 4 years: back in 2029)",
    ]
    assert [p.holes for p in marked(file, 2026)] == [1, 1]


def test_owners_limits_count_marks_and_holes(file: StandFile) -> None:
    with file.writing("limit", NOW) as writing:
        writing.insert(Area("a", "south wood", AreaKind.PERMITTED, SQUARE, owner="Anna", most_trees=2))
        writing.insert(TapHole("g", "4", 1, Wound.HOLE, date(2026, 3, 20)))
    heard = Collected()
    mark_trees(file, ["B1"], 2026, NOW, messages=heard)
    assert heard.cautions == []
    mark_trees(file, ["B2"], 2026, NOW, messages=heard)
    assert heard.cautions == ["south wood: 3 trees marked or giving in 2026, the limit of Anna is 2"]


def test_stems_of_one_root_are_not_marked_together_in_silence(file: StandFile) -> None:
    with file.writing("root", NOW) as writing:
        for tree in file.rows(Tree)[:2]:
            writing.change(tree, rootstock="r")
    heard = Collected()
    mark_trees(file, ["B1", "B2"], 2026, NOW, messages=heard)
    assert heard.cautions == ["B1, B2 share one rootstock: only one of them may be tapped in 2026"]


def test_holes_can_be_set_and_changed(file: StandFile) -> None:
    heard = Collected()
    mark_trees(file, ["B1"], 2026, NOW)
    (plan,) = mark_trees(file, ["B1"], 2026, NOW, 3, heard)
    assert [p.holes for p in marked(file, 2026)] == [3]
    assert plan.key == marked(file, 2026)[0].key
    assert heard.cautions == ["B1: 3 holes marked, 1 allowed"]


@pytest.mark.parametrize("holes", [0, -1, 10])
def test_impossible_numbers_of_holes_are_refused(file: StandFile, holes: int) -> None:
    with pytest.raises(UserError, match="cannot be meant; give 1 to 9"):
        mark_trees(file, ["B1"], 2026, NOW, holes)
    assert marked(file, 2026) == ()


def test_marking_twice_or_unmarking_nothing_says_so(file: StandFile) -> None:
    mark_trees(file, ["B1"], 2026, NOW)
    with pytest.raises(NothingToDo, match="B1: marked for 2026 already"):
        mark_trees(file, ["B1"], 2026, NOW)
    with pytest.raises(NothingToDo, match="B2: not marked for 2026"):
        unmark_trees(file, ["B2"], 2026, NOW)
    with pytest.raises(UserError, match="no tree is called 'X'"):
        mark_trees(file, ["B2", "X"], 2026, NOW)
    assert [p.tree_key for p in marked(file, 2026)] == ["1"]


def test_many_trees_are_judged_as_few_are(stand_file: StandFile) -> None:
    count = ONE_BY_ONE + 5
    with stand_file.writing("plant", NOW) as writing:
        writing.insert_many([good_tree(n) for n in range(count)])
        writing.insert_many([girth(n, 900 if n else 300) for n in range(count)])
    heard = Collected()
    mark_trees(stand_file, [str(n) for n in range(count)], 2026, NOW, messages=heard)
    assert len(marked(stand_file, 2026)) == count
    assert heard.cautions == ["B0 is not ready in 2026: growing on (girth 300 mm is below 718 mm)"]


def test_totals_add_up_and_say_what_they_rest_on() -> None:
    stand = Stand(trees=(good_tree(1), good_tree(2)))
    plans = [Plan("p", "1", 2026, 1), Plan("q", "2", 2026, 2), Plan("o", "2", 2025, 9), Plan("x", "gone", 2026, 5)]
    found = totals(stand, plans, 2026)
    assert (found.trees, found.taps) == (2, 3)
    assert found.expected_l == pytest.approx(3 * DEFAULT_RUN_ML / 1000)
    one = run_spreads(stand, ["1"])["1"]
    assert (found.low_l, found.high_l) == pytest.approx((3 * one.low_ml / 1000, 3 * one.high_ml / 1000))
    assert found.expected_basis == "assumed until there are records"
    assert "published daily figures" in found.spread_basis
    assert totals(stand, [], 2026).expected_l == 0


def test_own_records_narrow_the_spread() -> None:
    nights = [Collection(f"c{d}", "h", date(2025, 3, d), None, 1000.0 + 100 * d, "", "l") for d in range(2, 13)]
    stand = Stand(
        trees=(good_tree(1), good_tree(2)),
        holes=(TapHole("h", "1", 1, Wound.HOLE, date(2025, 3, 1)),),
        collections=tuple(nights),
    )
    found = totals(stand, [Plan("p", "1", 2026, 1)], 2026)
    assumed = run_spreads(Stand(trees=stand.trees), ["1"])["1"]
    assert found.low_l < 1.7 < found.high_l
    assert found.expected_l == pytest.approx(1.7, rel=0.15)
    assert found.high_l / found.low_l < 0.6 * assumed.high_ml / assumed.low_ml
    assert found.spread_basis == "eight nights of ten, from 11 recorded nights of this tree among 11 of this stand"
    other = totals(stand, [Plan("p", "2", 2026, 1)], 2026)
    assert other.spread_basis == "eight nights of ten, from 11 recorded nights of this stand"
    # Another tree may give more or less than this one did.
    assert found.high_l / found.low_l < other.high_l / other.low_l < assumed.high_ml / assumed.low_ml
