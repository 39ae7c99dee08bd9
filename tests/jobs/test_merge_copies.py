"""Two people, two copies: what comes over, what is asked, what is refused; and nothing is ever lost or asked twice."""

from __future__ import annotations

import shutil
import sqlite3
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from standmap.errors import NothingToDo, UserError
from standmap.jobs import correct
from standmap.jobs.bring import BringOptions, bring
from standmap.jobs.mark import mark_trees
from standmap.jobs.merge_copies import (
    Side,
    propose_merge,
    store_merge,
)
from standmap.jobs.merge_words import FIELD_WORDS, TABLE_WORDS, Namer
from standmap.jobs.trees_by_hand import add_tree
from standmap.messages import Collected
from standmap.stand.ground import Place
from standmap.stand.records import Media, Plan
from standmap.stand.sights import Sight
from standmap.stand.tapping import Act, Batch, Collection, Observation, TapHole, Wound
from standmap.stand.tree import Measurement, Soundness, Standing, Tree
from standmap.store.merging import FIELDS
from standmap.store.opening import add_functions
from standmap.store.stand_file import StandFile
from tests.jobs.stand_rows import rows
from tests.jobs.two_copies import (
    DAY,
    NOW,
    agree,
    changed,
    content,
    do,
    edit,
    merged,
    out,
    over,
    planted,
    proposed,
    put,
    setting,
    things,
    tree,
)
from tests.store.test_stand_file import everything


@pytest.fixture
def ours(tmp_path: Path) -> Path:
    return planted(tmp_path)


@pytest.fixture
def theirs(ours: Path) -> Path:
    return Path(shutil.copy(ours, ours.with_name("anna.gpkg")))


def test_new_rows_come_over_with_their_keys_and_undo_takes_them_back(ours: Path, theirs: Path) -> None:
    before = rows(ours)
    picture = Media("i1", "t1", "bark.jpg", "image/jpeg", bytes(range(256)) * 40, NOW)
    edit(ours, put(Tree("mine", "B8", (27.1, 62.0))))
    edit(
        theirs,
        put(Tree("new", "B9", (27.2, 62.0)), TapHole("h9", "new", 1, Wound.HOLE, DAY), picture),
        put(Batch("z", "first", DAY, "syrup"), Collection("c", "h9", DAY, None, 900.0, "0.9", "l", "z")),
    )
    report = merged(ours, theirs)
    assert {(c.table, c.new, c.changed, c.deleted) for c in report.counts} == {
        *(("tree", 1, 0, 0), ("tap_hole", 1, 0, 0), ("media", 1, 0, 0)),
        *(("batch", 1, 0, 0), ("collection", 1, 0, 0)),
    }
    assert things(ours, Media) == {"i1": picture}
    assert set(things(ours, Tree)) == {"t1", "t2", "t3", "t4", "mine", "new"}
    with StandFile.open(ours) as file:
        assert [e.label for e in file.undo(NOW)] == ["merge anna.gpkg"]
        file.undo(NOW)
    assert rows(ours) == before


def test_different_fields_of_one_tree_come_together(ours: Path, theirs: Path) -> None:
    edit(ours, changed("t1", species="Betula pendula"))
    edit(theirs, changed("t1", soundness=Soundness.SOUND), changed("t2", at=(27.5, 62.0), var_e_m2=1.0))
    merged(ours, theirs)
    assert tree(ours, "t1").species == "Betula pendula"
    assert tree(ours, "t1").soundness is Soundness.SOUND
    assert (tree(ours, "t2").at, tree(ours, "t2").var_e_m2) == ((27.5, 62.0), 1.0)


def test_merging_twice_changes_nothing(ours: Path, theirs: Path) -> None:
    edit(theirs, changed("t1", note="hollow"))
    merged(ours, theirs)
    before = rows(ours)
    with pytest.raises(NothingToDo, match=r"anna\.gpkg: all of it is here already"):
        merged(ours, theirs)
    assert rows(ours) == before


def test_the_same_field_changed_twice_is_asked_and_nothing_is_written(ours: Path, theirs: Path) -> None:
    edit(ours, changed("t1", note="dry"), at=NOW + timedelta(hours=1))
    edit(theirs, changed("t1", note="hollow"), changed("t2", note="new"), at=NOW + timedelta(hours=2))
    before = rows(ours)
    proposal = proposed(ours, theirs)
    (asked,) = proposal.conflicts
    assert asked.line == ("tree B1, note: ours dry (since 2026-03-28 08:30), theirs hollow (since 2026-03-28 09:30)")
    with pytest.raises(UserError, match="decide each conflict"):
        merged(ours, theirs)
    assert rows(ours) == before
    merged(ours, theirs, Side.THEIRS)
    assert (tree(ours, "t1").note, tree(ours, "t2").note) == ("hollow", "new")


@pytest.mark.parametrize("side", [Side.OURS, Side.THEIRS])
def test_copies_that_were_both_adjusted_ask_once_about_all_positions(ours: Path, theirs: Path, side: Side) -> None:
    moved = {"t1": 0.00001, "t2": -0.00002, "t3": 0.00003}
    here, there = ({key: (27.1 + off * sign, 62.1) for key, off in moved.items()} for sign in (1, -1))
    edit(ours, *(changed(key, at=at) for key, at in here.items()), changed("t1", note="dry"))
    edit(theirs, *(changed(key, at=at) for key, at in there.items()), changed("t1", note="hollow"))
    proposal = proposed(ours, theirs)
    together, note = proposal.conflicts
    assert (together.id, len(together.members), note.field) == ("positions", 3, "note")
    assert together.line.startswith("all positions B1, B2, B3: ours 3 positions as they are here")
    said = Collected()
    with StandFile.open(ours) as file:
        with pytest.raises(UserError, match="decide each conflict"):
            store_merge(file, propose_merge(file, theirs), {note.id: Side.OURS}, NOW)
        store_merge(file, propose_merge(file, theirs), {"positions": side, note.id: Side.OURS}, NOW, said)
    assert any("adjusting again" in text for text in said.told)
    wanted = here if side is Side.OURS else there
    assert {key: tree(ours, key).at for key in moved} == wanted
    assert tree(ours, "t1").note == "dry"


def test_two_positions_that_differ_are_asked_one_by_one(ours: Path, theirs: Path) -> None:
    for path, off in ((ours, 0.00001), (theirs, -0.00001)):
        edit(path, *(changed(key, at=(27.1 + off, 62.1)) for key in ("t1", "t2")))
    assert [(c.name, c.field) for c in proposed(ours, theirs).conflicts] == [("B1", "position"), ("B2", "position")]


@pytest.mark.parametrize(("side", "note"), [(Side.OURS, "dry"), (Side.THEIRS, "hollow")])
def test_what_was_decided_is_not_asked_again_and_goes_to_the_other_copy(
    ours: Path, theirs: Path, side: Side, note: str
) -> None:
    edit(ours, changed("t1", note="dry"))
    edit(theirs, changed("t1", note="hollow"))
    merged(ours, theirs, side)
    assert tree(ours, "t1").note == note
    assert proposed(ours, theirs).conflicts == ()
    edit(theirs, changed("t1", species="Betula pubescens"))
    merged(ours, theirs)
    assert (tree(ours, "t1").note, tree(ours, "t1").species) == (note, "Betula pubescens")
    agree(theirs, ours)


def test_a_new_change_after_a_decision_is_asked_anew(ours: Path, theirs: Path) -> None:
    edit(ours, changed("t1", note="dry"))
    edit(theirs, changed("t1", note="hollow"))
    merged(ours, theirs, Side.OURS)
    edit(ours, changed("t1", note="dry above"))
    edit(theirs, changed("t1", note="hollow below"))
    (asked,) = proposed(ours, theirs).conflicts
    assert (asked.ours, asked.theirs) == ("dry above", "hollow below")


def test_a_number_goes_with_its_unit(ours: Path, theirs: Path) -> None:
    held = things(ours, Measurement)["m1"]
    edit(ours, over(replace(held, girth_mm=740.0, given="74")))
    inch: dict[str, Any] = {"girth_mm": None, "diameter_mm": 241.3, "given": "9.5", "given_unit": "in"}
    edit(theirs, over(replace(held, **inch)))
    (asked,) = proposed(ours, theirs).conflicts
    assert (asked.name, asked.field) == ("B1, 2025-09-01", "thickness")
    assert (asked.ours, asked.theirs) == ("girth 740 mm", "diameter 241.3 mm")
    merged(ours, theirs, Side.THEIRS)
    assert things(ours, Measurement)["m1"] == things(theirs, Measurement)["m1"]


def test_what_was_taken_out_there_goes_here_unless_it_was_changed(ours: Path, theirs: Path) -> None:
    gate = things(ours, Place)["p1"]
    edit(theirs, out(gate))
    merged(ours, theirs)
    assert things(ours, Place) == {}


def test_taken_out_there_and_changed_here_is_asked(ours: Path, theirs: Path) -> None:
    gate = things(ours, Place)["p1"]
    edit(theirs, out(gate))
    edit(ours, over(replace(gate, note="locked")))
    (asked,) = proposed(ours, theirs).conflicts
    assert (asked.kind, asked.name, asked.ours, asked.theirs) == ("place", "gate", "changed", "taken out")
    merged(ours, theirs, Side.OURS)
    assert "p1" in things(ours, Place)
    assert proposed(ours, theirs).nothing
    # The other copy then gets it back.
    agree(theirs, ours)


@pytest.mark.parametrize("side", list(Side))
def test_a_tree_taken_out_here_to_which_records_came_there(ours: Path, theirs: Path, side: Side) -> None:
    t1, m1, h1 = tree(ours, "t1"), things(ours, Measurement)["m1"], things(ours, TapHole)["h1"]
    edit(ours, out(h1, m1, t1))
    edit(
        theirs,
        put(Collection("c", "h1", DAY, None, 900.0, "0.9", "l"), Observation("o", "t1", None, Act.LOOKED_AT, DAY)),
    )
    (asked,) = proposed(ours, theirs).conflicts
    assert (asked.name, asked.ours, asked.theirs) == ("B1", "taken out", "2 new records with it")
    merged(ours, theirs, side)
    # All of the tree comes back, also the measurement that nobody asked for; or nothing of it comes.
    there = side is Side.THEIRS
    assert ("t1" in things(ours, Tree), "m1" in things(ours, Measurement)) == (there, there)
    assert (set(things(ours, TapHole)), set(things(ours, Collection))) == (({"h1"}, {"c"}) if there else (set(), set()))
    agree(theirs, ours)


@pytest.mark.parametrize("side", list(Side))
def test_a_tree_taken_out_there_to_which_records_came_here(ours: Path, theirs: Path, side: Side) -> None:
    t1, m1, h1 = tree(ours, "t1"), things(ours, Measurement)["m1"], things(ours, TapHole)["h1"]
    edit(theirs, out(h1, m1, t1))
    edit(ours, put(Collection("c", "h1", DAY, None, 900.0, "0.9", "l")))
    before = rows(ours)
    (asked,) = proposed(ours, theirs).conflicts
    assert (asked.ours, asked.theirs) == ("1 new record with it", "taken out")
    merged(ours, theirs, side)
    assert ("t1" in things(ours, Tree)) is (side is Side.OURS)
    assert ("c" in things(ours, Collection)) is (side is Side.OURS)
    agree(theirs, ours)
    with StandFile.open(ours) as file:
        file.undo(NOW)
    assert rows(ours) == before


def test_records_of_a_tree_merged_into_another_follow_it(ours: Path, theirs: Path) -> None:
    do(ours, lambda file: correct.merge(file, "B1", "B2", DAY, NOW))
    edit(theirs, put(Measurement("m9", "t1", DAY, 710.0, None, "71", "cm")))
    report = merged(ours, theirs)
    assert report.cautions == ("B2: 1 record of a tree that was merged into it came along",)
    assert things(ours, Measurement)["m9"].tree_key == "t2"
    agree(theirs, ours)


def test_trees_merged_in_a_circle_are_asked(ours: Path, theirs: Path) -> None:
    do(ours, lambda file: correct.merge(file, "B3", "B4", DAY, NOW))
    do(theirs, lambda file: correct.merge(file, "B4", "B3", DAY, NOW))
    asked = [c for c in proposed(ours, theirs).conflicts if c.field == "standing"]
    assert [(c.name, c.ours, c.theirs) for c in asked] == [("B3", "merged into B4", "standing")]
    merged(ours, theirs, Side.THEIRS)
    assert tree(ours, "t4").merged_into == "t3"
    assert tree(ours, "t3").standing is Standing.STANDING


def test_wounds_of_one_number_are_told_apart(ours: Path, theirs: Path) -> None:
    edit(ours, put(TapHole("ha", "t1", 1, Wound.HOLE, DAY)))
    edit(theirs, put(TapHole("hb", "t1", 1, Wound.HOLE, DAY)))
    twin = Path(shutil.copy(ours, ours.with_name("twin.gpkg")))
    report = merged(ours, theirs)
    assert report.cautions == ("B1: two wounds of 2026 had one number; the later one is number 2 now",)
    merged(theirs, twin)
    assert content(theirs) == content(ours)


def test_a_tree_marked_in_both_is_marked_once(ours: Path, theirs: Path) -> None:
    edit(ours, put(Plan("pa", "t1", 2027, 1)))
    edit(theirs, put(Plan("pb", "t1", 2027, 2)))
    do(theirs, lambda file: mark_trees(file, ["B3"], 2027, NOW))
    report = merged(ours, theirs)
    assert report.cautions == ("B1: marked for 2027 in both copies; 2 holes stay marked",)
    marks = [p for p in things(ours, Plan).values() if p.tree_key == "t1"]
    assert marks == [Plan("pa", "t1", 2027, 2)]


def test_two_trees_of_one_name_both_come_and_are_told(ours: Path, theirs: Path) -> None:
    for path in (ours, theirs):
        do(path, lambda file: add_tree(file, "B41", (27.001, 62.001), DAY, NOW))
    report = merged(ours, theirs)
    assert len([t for t in things(ours, Tree).values() if t.name == "B41"]) == 2
    assert report.cautions == ("the name 'B41' is taken 2 times now (tree): give one another name, or merge the two",)


def test_a_file_brought_into_both_is_told(ours: Path, theirs: Path, tmp_path: Path) -> None:
    file = tmp_path / "more.csv"
    file.write_text("name,lon,lat\nC1,27.01,62.0\n")
    for path in (ours, theirs):
        do(path, lambda opened: bring(opened, [file], BringOptions(), NOW))
    assert any("'more.csv' was brought into both copies" in c for c in merged(ours, theirs).cautions)


def test_settings_merge_by_name(ours: Path, theirs: Path) -> None:
    edit(ours, setting("a", 1))
    edit(theirs, setting("b", 2))
    merged(ours, theirs)
    with StandFile.open(ours) as file:
        held = file.settings()
    assert (held["a"], held["b"]) == (1, 2)


def test_undoing_there_what_had_come_over_goes_here_too(ours: Path, theirs: Path) -> None:
    edit(theirs, put(Tree("new", "B9", (27.2, 62.0))))
    merged(ours, theirs)
    do(theirs, lambda file: file.undo(NOW))
    merged(ours, theirs)
    assert "new" not in things(ours, Tree)


def test_taking_back_a_merge_does_not_take_the_rows_from_their_own_copy(ours: Path, theirs: Path) -> None:
    edit(theirs, put(Tree("new", "B9", (27.2, 62.0))))
    edit(ours, changed("t1", note="dry"))
    merged(ours, theirs)
    merged(theirs, ours)
    do(ours, lambda file: file.undo(NOW))
    assert "new" not in things(ours, Tree)
    with pytest.raises(NothingToDo):
        merged(theirs, ours)
    assert "new" in things(theirs, Tree)


def test_three_copies_come_together(ours: Path, theirs: Path) -> None:
    third = Path(shutil.copy(ours, ours.with_name("bo.gpkg")))
    edit(ours, changed("t1", note="a"))
    edit(theirs, changed("t2", note="b"))
    edit(third, put(Tree("new", "B9", (27.2, 62.0))))
    merged(ours, third)
    merged(theirs, third)
    edit(ours, changed("new", note="mine"))
    merged(theirs, ours)  # the row came into both from the third: its first state is known
    assert tree(theirs, "new").note == "mine"
    merged(third, theirs)
    merged(ours, third)
    assert content(ours) == content(theirs) == content(third)


def test_a_change_past_the_log_is_asked_and_not_lost(ours: Path, theirs: Path) -> None:
    db = sqlite3.connect(theirs)
    add_functions(db)
    db.execute("UPDATE tree SET note = 'by another program' WHERE key = 't1'")
    db.commit()
    db.close()
    (asked,) = proposed(ours, theirs).conflicts
    assert (asked.ours, asked.theirs) == ("nothing", "by another program")
    merged(ours, theirs, Side.THEIRS)
    assert tree(ours, "t1").note == "by another program"


def test_many_names_taken_twice_are_told_in_one_line(ours: Path, theirs: Path) -> None:
    for path in (ours, theirs):
        edit(path, put(*(Tree(f"{path.stem}{i}", f"P{i}", (27.0, 62.0)) for i in range(8))))
    assert merged(ours, theirs).cautions == (
        "8 names are taken more than once now (tree), such as 'P0': give one another name, or merge the two",
    )


def test_a_picture_changed_in_both_comes_whole(ours: Path, theirs: Path) -> None:
    edit(ours, put(Media("i1", "t1", "bark.jpg", "image/jpeg", bytes(5000))))
    merged(theirs, ours)
    mine, yours = (Media("i1", "t1", f"{n}.jpg", "image/jpeg", bytes([n]) * 5000, NOW, "note") for n in (1, 2))
    edit(ours, over(mine))
    edit(theirs, over(yours))
    assert [(c.name, c.ours, c.theirs) for c in proposed(ours, theirs).conflicts] == [("1.jpg", "1.jpg", "2.jpg")]
    merged(ours, theirs, Side.THEIRS)
    assert things(ours, Media) == {"i1": yours}


def test_a_sight_to_a_tree_that_was_merged_follows_it(ours: Path, theirs: Path) -> None:
    do(ours, lambda file: correct.merge(file, "B1", "B2", DAY, NOW))
    edit(theirs, put(Sight("s1", "t1", "t3", distance_m=5.0), Sight("s2", "t1", "t2", distance_m=2.0)))
    merged(ours, theirs)
    ends = {s.key: (s.from_key, s.to_key) for s in things(ours, Sight).values()}
    assert ends == {"s1": ("t2", "t3"), "s2": ("t1", "t2")}
    agree(theirs, ours)


def test_everything_that_can_be_asked_has_words(tmp_path: Path) -> None:
    assert {field for fields in FIELDS.values() for field in fields} <= set(FIELD_WORDS)
    assert set(TABLE_WORDS) == set(FIELDS)
    path = tmp_path / "wood.gpkg"
    with StandFile.create(path) as file, file.writing("fill", NOW) as writing:
        writing.insert(*everything())
        writing.set_setting("x", {"y": 1})
    other = Path(shutil.copy(path, tmp_path / "other.gpkg"))
    edit(other, out(*reversed(everything())))
    with StandFile.open(path, read_only=True) as file:
        copy, empty = propose_merge(file, other).comparison.copies
    namer = Namer(copy, empty)
    for table, fields in FIELDS.items():
        (row,) = list(copy.rows[table].values())[:1]
        assert namer.called(table, row).strip()
        assert all(namer.value(table, field, row).strip() for field in fields if table != "source")
