"""Corrections: nothing is erased, everything can be taken back."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime

import pytest

from standmap.errors import NothingToDo, UserError
from standmap.jobs import correct
from standmap.jobs.tree_history import history_of
from standmap.stand.sights import Origin, Sight, TakenPosition
from standmap.stand.tapping import Act, Collection, Observation, TapHole, Wound
from standmap.stand.tree import Measurement, Soundness, Standing, Tree
from standmap.store.stand_file import StandFile

NOW = datetime(2026, 3, 28, 7, 30, tzinfo=UTC)
DAY = date(2026, 3, 27)


@pytest.fixture
def file(stand_file: StandFile) -> StandFile:
    """Return a stand of three trees; B1 was tapped in 2024 and 2026, B2 in 2026."""
    with stand_file.writing("plant", NOW) as writing:
        writing.insert(
            Tree("1", "B1", (27.0, 62.0), "Betula pendula", soundness=Soundness.SOUND),
            Tree("2", "B2", (27.001, 62.0), soundness=Soundness.UNSOUND),
            Tree("3", "B3", (27.002, 62.0), proposed=True),
            Measurement("m", "2", date(2025, 9, 1), 800.0, None, "80", "cm"),
            TapHole("h24", "1", 1, Wound.HOLE, date(2024, 3, 20)),
            TapHole("h26", "1", 1, Wound.HOLE, date(2026, 3, 20)),
            TapHole("g26", "2", 1, Wound.HOLE, date(2026, 3, 21)),
            Collection("c", "h26", date(2026, 3, 21), None, 3000.0, "3", "l"),
            Observation("o", "1", "h26", Act.LOOKED_AT, date(2026, 3, 22)),
        )
    return stand_file


def test_a_hole_goes_to_the_tree_it_belongs_to_with_all_that_came_of_it(file: StandFile) -> None:
    correct.move_record(file, "B1", "B3", 2026, None, DAY, NOW)
    stand = file.stand()
    assert [h.key for h in stand.holes_of["1"]] == ["h24"]
    assert [h.key for h in stand.holes_of["3"]] == ["h26"]
    assert [o.tree_key for o in stand.observations if o.key == "o"] == ["3"]
    assert stand.collections_of["h26"][0].volume_ml == 3000.0
    told = {
        t.name: [o.note for o in stand.observations_of.get(t.key, []) if o.what is Act.CORRECTED] for t in stand.trees
    }
    assert told == {"B1": ["hole of 2026 moved to B3"], "B2": [], "B3": ["hole of 2026 moved here from B1"]}


def test_a_moved_hole_takes_a_free_number(file: StandFile) -> None:
    correct.move_record(file, "B1", "B2", 2026, 1, DAY, NOW)
    assert [(h.key, h.number) for h in file.stand().holes_of["2"]] == [("h26", 2), ("g26", 1)]
    with pytest.raises(UserError, match="2 such holes in 2026; say which: 2, 1"):
        correct.move_record(file, "B2", "B3", 2026, None, DAY, NOW)


@pytest.mark.parametrize(("season", "to", "why"), [(2025, "B2", "no such hole in 2025"), (2026, "B1", "already")])
def test_a_record_that_cannot_be_moved_is_refused(file: StandFile, season: int, to: str, why: str) -> None:
    with pytest.raises(UserError, match=why):
        correct.move_record(file, "B1", to, season, None, DAY, NOW)


def test_merging_keeps_every_record_and_what_only_one_entry_knew(file: StandFile) -> None:
    before = file.stand()
    done = correct.merge(file, "B2", "B1", DAY, NOW)
    stand = file.stand()
    assert done.rows == 2
    assert [t.name for t in stand.present] == ["B1", "B3"]
    gone = stand.by_key["2"]
    assert (gone.standing, gone.merged_into) == (Standing.MERGED, "1")
    assert stand.by_key["1"].soundness is Soundness.UNSOUND
    assert [(h.key, h.number) for h in stand.holes_of["1"]] == [("h24", 1), ("h26", 1), ("g26", 2)]
    assert stand.measurements_of["1"][0].key == "m"
    assert any("took in B2" in line for line in history_of(stand, stand.by_key["1"]))
    file.undo(NOW)
    assert file.stand() == before


def test_merging_joins_the_rootstocks_of_both(file: StandFile) -> None:
    """Who rested with the one entry rests with the tree: no stem becomes ready by a merge."""
    with file.writing("two more", NOW) as writing:
        writing.insert(Tree("4", "B4", (27.003, 62.0)), Tree("5", "B5", (27.004, 62.0)))
    correct.share_rootstock(file, ["B1", "B4"], NOW)
    correct.share_rootstock(file, ["B2", "B5"], NOW)
    correct.merge(file, "B1", "B2", DAY, NOW)
    assert len({t.rootstock for t in file.stand().present if t.name != "B3"}) == 1


def test_merging_takes_along_what_the_position_rests_on(file: StandFile) -> None:
    with file.writing("measure", NOW) as writing:
        writing.insert(
            Sight("s1", "1", "2", distance_m=6.0),
            Sight("s2", "2", "3", distance_m=5.0),
            Sight("s3", "3", "1", "2", along_m=1.0, offset_m=2.0),
            TakenPosition("p", "2", None, (27.001, 62.0), 4.0, 4.0, 0.0, Origin.GIVEN),
        )
    correct.merge(file, "B2", "B1", DAY, NOW)
    ends = {s.key: (s.from_key, s.to_key, s.toward_key, s.used) for s in file.rows(Sight)}
    assert ends == {"s1": ("1", "1", None, False), "s2": ("1", "3", None, True), "s3": ("3", "1", "1", False)}
    assert [t.tree_key for t in file.rows(TakenPosition)] == ["1"]
    file.undo(NOW)
    assert [s.to_key for s in file.rows(Sight)] == ["2", "3", "1"]


def test_a_felled_tree_is_not_merged_into_a_standing_one(file: StandFile) -> None:
    correct.fell(file, "B2", DAY, NOW)
    with pytest.raises(UserError, match="B2 is felled and B1 is standing"):
        correct.merge(file, "B2", "B1", DAY, NOW)


def test_felled_and_dead_trees_stay_with_their_day(file: StandFile) -> None:
    correct.fell(file, "B1", DAY, NOW)
    correct.died(file, "B2", DAY, NOW)
    stand = file.stand()
    assert [(t.standing, t.standing_since) for t in stand.trees[:2]] == [(Standing.FELLED, DAY), (Standing.DEAD, DAY)]
    assert len(stand.holes) == 3
    with pytest.raises(NothingToDo, match="felled already"):
        correct.fell(file, "B1", DAY, NOW)


def test_a_new_tag_is_checked_and_the_old_one_kept_in_history(file: StandFile) -> None:
    correct.retag(file, "B1", "  K 7 ", DAY, NOW)
    stand = file.stand()
    assert stand.tree("k 7").key == "1"
    assert [o.note for o in stand.observations_of["1"] if o.what is Act.RETAGGED] == ["was B1"]
    for bad, why in (
        ("B2", "another tree"),
        ("", "cannot be a name"),
        ("x" * 121, "a name of 121 characters is too long"),
        ("a\x00b", "cannot"),
    ):
        with pytest.raises(UserError, match=why):
            correct.retag(file, "B3", bad, DAY, NOW)


def test_stems_share_a_rootstock_and_bring_their_family(file: StandFile) -> None:
    correct.share_rootstock(file, ["B1", "B2"], NOW)
    correct.share_rootstock(file, ["B2", "B3"], NOW)
    roots = {t.rootstock for t in file.stand().trees}
    assert len(roots) == 1
    assert None not in roots
    correct.share_rootstock(file, ["B3"], NOW, apart=True)
    assert [t.rootstock is None for t in file.stand().trees] == [False, False, True]
    with pytest.raises(UserError, match="at least two stems"):
        correct.share_rootstock(file, ["B1", "B1"], NOW)


def test_proposed_trees_are_confirmed_once(file: StandFile) -> None:
    assert [t.name for t in correct.confirm(file, ["B3"], NOW)] == ["B3"]
    with pytest.raises(NothingToDo):
        correct.confirm(file, [], NOW, everyone=True)


def test_species_soundness_and_tag_are_noted(file: StandFile) -> None:
    correct.set_species(file, ["B2", "B3"], " Betula  pubescens ", NOW)
    correct.set_soundness(file, ["B3"], Soundness.SOUND, NOW)
    correct.confirm_tag(file, ["B3"], NOW)
    assert file.stand().by_key["3"] == replace(
        Tree("3", "B3", (27.002, 62.0), proposed=True),
        species="Betula pubescens",
        soundness=Soundness.SOUND,
        tag_confirmed=True,
    )
