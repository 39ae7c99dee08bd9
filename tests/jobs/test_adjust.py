"""Adjusting a stand: looked at first, accepted as one step, taken back; what disagrees and what hangs is named."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import pytest

from standmap.errors import NothingToDo, UserError
from standmap.jobs.adjust import NetworkChangedError, propose_adjustment, set_used, store_adjustment
from standmap.jobs.anchors import given_position
from standmap.jobs.keys import new_key
from standmap.jobs.taking_back import undo
from standmap.stand.ground import Place, PlaceKind
from standmap.stand.sights import North, Sight, TakenPosition
from standmap.stand.tree import Tree
from standmap.stand.walks import Stop, StopState
from standmap.store.stand_file import StandFile
from tests.jobs.adjust_rows import NOW, lonlat, metres, truth, wood
from tests.jobs.stand_rows import rows


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "wood.gpkg"


def apart_m(file: StandFile, a: str, b: str) -> float:
    """Return by how much the way from one tree to another is wrong."""
    stand = file.stand()
    one, other = metres(stand.tree(a).at), metres(stand.tree(b).at)
    true_one, true_other = truth()[a], truth()[b]
    return math.dist((other[0] - one[0], other[1] - one[1]), (true_other[0] - true_one[0], true_other[1] - true_one[1]))


def test_nothing_is_written_until_it_is_accepted_and_undo_brings_all_back(path: Path) -> None:
    wood(path)
    before = rows(path)
    with StandFile.open(path) as file:
        found = propose_adjustment(file)
        assert rows(path) == before
        assert found.disagreeing == ()
        assert found.loose == ()
        assert [w.name for w in found.walks] == ["morning"]
        assert store_adjustment(file, found, NOW) == len(found.moved) > 0
        assert apart_m(file, "B1", "B9") < 0.5
        tree = file.stand().tree("B5")
        assert tree.sigma_m is not None
        assert tree.sigma_m < 2.0
        assert tree.walk_key is None
        undo(file, NOW)
    assert rows(path) == before


def test_accepting_twice_changes_nothing(path: Path) -> None:
    wood(path)
    with StandFile.open(path) as file:
        store_adjustment(file, propose_adjustment(file), NOW)
        after = rows(path)
        again = propose_adjustment(file)
        assert again.moved == ()
        with pytest.raises(NothingToDo):
            store_adjustment(file, again, NOW)
    assert rows(path) == after


def test_a_misread_bearing_is_told_with_what_would_fit(path: Path) -> None:
    wood(path, bearing_deg=40.0)
    with StandFile.open(path) as file:
        found = propose_adjustment(file)
        (worst, *_) = found.disagreeing
        line = next(s.written_at for s in file.rows(Sight) if s.key == worst.id)
        assert worst.text.startswith(f"the bearing from B4 to B7 ({line}) is ")
        fits = int(worst.text.split(": ")[1].split("°")[0])
        assert min(fits, 360 - fits) <= 6
        assert "off what the others say" in worst.text
        without = propose_adjustment(file, left_out=[worst.id])
        assert without.disagreeing == ()
        assert [o.id for o in without.left_out] == [worst.id]
        store_adjustment(file, without, NOW)
        assert [s.used for s in file.rows(Sight) if s.key == worst.id] == [False]
        assert propose_adjustment(file).moved == ()


def test_observations_are_left_out_and_taken_back_in(path: Path) -> None:
    wood(path)
    with StandFile.open(path) as file:
        before = rows(path)
        stop, line = file.rows(Stop)[0], file.rows(Sight)[0]
        told = set_used(file, [stop.key, line.key], NOW, used=False)
        assert told == ("the stop at B1 (morning)", "the sight from B1 to B2 (line 2)")
        assert {o.id for o in propose_adjustment(file).left_out} == {stop.key, line.key}
        with pytest.raises(NothingToDo):
            set_used(file, [line.key], NOW, used=False)
        with pytest.raises(UserError, match="no observation 'x'"):
            set_used(file, ["x"], NOW, used=False)
        undo(file, NOW)
        assert rows(path) == before
        set_used(file, [stop.key], NOW, used=False)
        set_used(file, [stop.key], NOW, used=True)
        assert file.rows(Stop)[0].state is StopState.ACCEPTED


def test_a_stand_that_changed_meanwhile_is_refused(path: Path) -> None:
    wood(path)
    with StandFile.open(path) as file:
        found = propose_adjustment(file)
        set_used(file, [file.rows(Sight)[3].key], NOW, used=False)
        before = rows(path)
        with pytest.raises(NetworkChangedError):
            store_adjustment(file, found, NOW)
    assert rows(path) == before


def test_pinned_trees_stay_and_the_walk_is_shifted_to_them(path: Path) -> None:
    keys = wood(path)
    with StandFile.open(path) as file:
        with file.writing("pin", NOW) as writing:
            for name in ("B1", "B9"):
                tree = next(t for t in file.rows(Tree) if t.key == keys[name])
                writing.replace(replace(tree, at=lonlat(*truth()[name]), pinned=True, walk_key=None))
        pinned = [t for t in file.rows(Tree) if t.pinned]
        found = propose_adjustment(file)
        assert found.walks[0].text.startswith("morning lay off by ")
        store_adjustment(file, found, NOW)
        assert [t for t in file.rows(Tree) if t.pinned] == pinned
        off = [math.dist(metres(t.at), truth()[t.name]) for t in file.rows(Tree)]
        assert max(off) < 0.3


def test_what_was_given_is_moved_and_what_was_given_stays_kept(path: Path) -> None:
    keys = wood(path)
    with StandFile.open(path) as file:
        given = Tree(new_key(), "old oak", lonlat(10.0, 16.0))
        tank = Place(new_key(), "tank", PlaceKind.TANK, lonlat(14.0, 10.0))
        with file.writing("more", NOW) as writing:
            writing.insert(given, tank, *(given_position(thing) for thing in (given, tank)))
            ends = [(keys["B9"], given.key, 0.0, 5.0), (keys["B9"], tank.key, 90.0, 5.0)]
            for a, b, bearing, length in ends:
                writing.insert(Sight(new_key(), a, b, bearing_deg=bearing, north=North.TRUE, distance_m=length))
        store_adjustment(file, propose_adjustment(file), NOW)
        assert [t.at for t in file.rows(TakenPosition)] == [given.at, tank.at]
        moved = file.stand().tree("old oak")
        assert moved.at != given.at
        assert propose_adjustment(file).moved == ()


def test_what_sights_made_hangs_on_them_and_has_no_position_of_its_own(path: Path) -> None:
    keys = wood(path)
    with StandFile.open(path) as file:
        hung = Tree(new_key(), "T1", lonlat(30.0, 30.0), var_e_m2=4.0, var_n_m2=4.0, cov_en_m2=0.0)
        with file.writing("more", NOW) as writing:
            writing.insert(hung)
            writing.insert(Sight(new_key(), keys["B9"], hung.key, bearing_deg=0.0, north=North.TRUE, distance_m=5.0))
        store_adjustment(file, propose_adjustment(file), NOW)
        assert file.rows(TakenPosition) == ()
        stand = file.stand()
        (x, y), (x9, y9) = metres(stand.tree("T1").at), metres(stand.tree("B9").at)
        assert (x - x9, y - y9) == pytest.approx((0.0, 5.0), abs=0.05)


def test_what_hangs_on_nothing_is_named_and_stays(path: Path) -> None:
    wood(path)
    with StandFile.open(path) as file:
        island = [Tree(new_key(), f"I{n}", lonlat(60.0 + n, 0.0), var_e_m2=4.0, var_n_m2=4.0) for n in (1, 2)]
        with file.writing("more", NOW) as writing:
            writing.insert_many(island)
            writing.insert(Sight(new_key(), island[0].key, island[1].key, distance_m=5.0))
        found = propose_adjustment(file)
        assert [loose.text for loose in found.loose] == ["these 2 hang on nothing: add one fix or one tie: I1, I2"]
        store_adjustment(file, found, NOW)
        assert [t for t in file.rows(Tree) if t.name.startswith("I")] == island


def test_a_loop_that_closes_by_forty_metres_is_named_and_nothing_is_changed(path: Path) -> None:
    wood(path, distance_m=45.0)
    before = rows(path)
    with StandFile.open(path) as file:
        found = propose_adjustment(file)
    worst = found.misclosures[0]
    assert worst.gross
    assert worst.off_m == pytest.approx(40.0, abs=0.5)
    assert "closes 40.0 m off" in worst.text
    assert "one of its sights is wrong" in worst.text
    assert found.disagreeing[0].text.startswith("the distance from B4 to B7 (")
    assert "40.0 m too long by what the others say: 5.0 m would fit" in found.disagreeing[0].text
    assert rows(path) == before


def test_an_empty_stand_has_nothing_to_adjust(path: Path) -> None:
    with StandFile.create(path) as file, pytest.raises(NothingToDo, match="nothing was measured"):
        propose_adjustment(file)
