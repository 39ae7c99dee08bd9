"""Which trees are near, and a position taken for a new tree or added to a known one."""

from __future__ import annotations

import math
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest

from standmap.errors import NothingToDo, UserError
from standmap.formats.nmea_fixes import NmeaFix, NmeaStream
from standmap.jobs.live import PinnedTreeError, Spot, keep_track, near, settled_from, spot_of, take_position
from standmap.jobs.opening import open_stand, working_frame
from standmap.jobs.positions import apart_m
from standmap.jobs.taking_back import undo
from standmap.jobs.trees_by_hand import DoubtfulPositionError
from standmap.stand.sights import Origin, TakenPosition
from standmap.stand.tree import Tree
from standmap.stand.walks import Walk
from standmap.store.stand_file import StandFile
from standmap.survey.frame import WorkingFrame
from standmap.survey.nearness import combined
from tests.nmea_logs import METRES_A_DEGREE, standing

NOW = datetime(2026, 3, 28, 7, 30, tzinfo=UTC)
LON, LAT = 29.7636, 62.601


def off(east_m: float, north_m: float) -> tuple[float, float]:
    return LON + east_m / METRES_A_DEGREE / math.cos(math.radians(LAT)), LAT + north_m / METRES_A_DEGREE


def tree(name: str, east_m: float, north_m: float, var: float | None = 4.0, *, pinned: bool = False) -> Tree:
    cov = None if var is None else 0.0
    return Tree(name, name, off(east_m, north_m), var_e_m2=var, var_n_m2=var, cov_en_m2=cov, pinned=pinned)


@pytest.fixture
def stand_of_three(stand_file: StandFile) -> StandFile:
    with stand_file.writing("begin", NOW) as writing:
        writing.insert(tree("B1", 0, 0), tree("B2", 6, 0, None), tree("B3", 0, 30, 1.0, pinned=True))
    return stand_file


def spot(east_m: float, north_m: float, var: float = 4.0) -> Spot:
    return Spot(off(east_m, north_m), (var, var, 0.0))


def fixes(seconds: int = 60) -> list[NmeaFix]:
    stream = NmeaStream()
    events = stream.feed(standing(NOW, LON, LAT, seconds)) + stream.close()
    return [e for e in events if isinstance(e, NmeaFix)]


def test_near_trees_come_nearest_first_with_bearing_and_likelihood(stand_of_three: StandFile) -> None:
    found = near(stand_of_three.stand(), spot(0, 1))
    assert [n.tree.name for n in found] == ["B1", "B2", "B3"]
    assert found[0].away_m == pytest.approx(1, abs=0.01)
    assert found[0].bearing_deg == pytest.approx(180, abs=0.5)
    assert sum(n.share for n in found) == pytest.approx(1)
    assert (found[0].fits, found[2].fits, found[2].words) == (True, False, "too far")


def test_nothing_is_near_where_no_tree_stands(stand_of_three: StandFile) -> None:
    assert near(stand_of_three.stand(), Spot((10.0, 50.0), (4.0, 4.0, 0.0))) == []
    assert near(stand_of_three.stand(), spot(0, 500)) == []


def test_combining_is_the_weighted_mean() -> None:
    place, covariance = combined(np.zeros(2), np.eye(2) * 4, np.array([3.0, 0.0]), np.eye(2) * 2)
    np.testing.assert_allclose(place, [2.0, 0.0])
    np.testing.assert_allclose(covariance, np.eye(2) * 4 / 3)


def test_a_new_tree_in_an_empty_stand(stand_file: StandFile) -> None:
    took = take_position(stand_file, spot(0, 0), NOW, NOW, name="L1")
    stand = stand_file.stand()
    (made,) = stand.present
    assert (made.name, made.at, made.var_e_m2, made.pinned) == ("L1", off(0, 0), 4.0, False)
    assert working_frame(stand) is not None
    (taken,) = stand_file.rows(TakenPosition)
    assert (taken.tree_key, taken.origin, taken.taken_at) == (made.key, Origin.LIVE, NOW)
    assert took.new
    undo(stand_file, NOW)
    assert not stand_file.stand().present
    assert not stand_file.rows(TakenPosition)


def test_a_known_tree_gets_better_and_what_it_was_given_is_kept(stand_of_three: StandFile) -> None:
    took = take_position(stand_of_three, spot(2, 0), NOW, NOW, tree="B1")
    moved = stand_of_three.stand().tree("B1")
    frame = working_frame(stand_of_three.stand())
    assert frame is not None
    assert apart_m(frame, moved.at, off(1, 0)) < 0.01  # both are equally sure
    assert took.moved_m == pytest.approx(1, abs=0.01)
    assert moved.var_e_m2 == pytest.approx(2.0)
    given, live = stand_of_three.rows(TakenPosition)
    assert (given.origin, given.at, given.var_e_m2, live.origin) == (Origin.GIVEN, off(0, 0), 4.0, Origin.LIVE)
    take_position(stand_of_three, spot(2, 0), NOW, NOW, tree="B1")
    assert len(stand_of_three.rows(TakenPosition)) == 3  # what it was given is kept once


def test_a_pinned_tree_is_asked_about(stand_of_three: StandFile) -> None:
    with pytest.raises(PinnedTreeError, match="B3 is pinned"):
        take_position(stand_of_three, spot(0, 31), NOW, NOW, tree="B3")
    assert not stand_of_three.rows(TakenPosition)
    kept = take_position(stand_of_three, spot(0, 31), NOW, NOW, tree="B3", move_pinned=False)
    assert not kept.moved
    assert stand_of_three.stand().tree("B3").at == off(0, 30)
    moved = take_position(stand_of_three, spot(0, 31), NOW, NOW, tree="B3", move_pinned=True)
    assert moved.moved
    assert stand_of_three.stand().tree("B3").at != off(0, 30)


def test_a_position_that_is_hardly_at_the_tree_is_asked_about(stand_of_three: StandFile) -> None:
    with pytest.raises(DoubtfulPositionError, match=r"B1 is on the map 20\.\d m from here"):
        take_position(stand_of_three, spot(20, 0), NOW, NOW, tree="B1")
    assert take_position(stand_of_three, spot(20, 0), NOW, NOW, tree="B1", sure=True).moved


def test_a_taken_name_is_refused(stand_of_three: StandFile) -> None:
    with pytest.raises(UserError, match="another tree is called 'B1'"):
        take_position(stand_of_three, spot(0, 0), NOW, NOW, name="B1")


def test_standing_still_settles_near_the_truth() -> None:
    found = settled_from(fixes(), WorkingFrame(LON, LAT), 5.0)
    assert found is not None
    settled, at = found
    assert settled.fix_count == 60
    assert apart_m(WorkingFrame(LON, LAT), at.at, (LON, LAT)) < 5
    assert at.told


def test_a_track_is_kept_as_a_walk(stand_path: Path) -> None:
    with StandFile.create(stand_path) as file:
        keep_track(file, fixes(20), "morning", NOW)
        with pytest.raises(NothingToDo):
            keep_track(file, fixes(1)[:1], "short", NOW)
    with open_stand(stand_path, read_only=True) as file:
        (walk,) = file.rows(Walk)
    assert (walk.name, len(walk.fixes), walk.fixes.timed) == ("morning", 20, True)


def test_a_single_fix_is_as_sure_as_the_receiver_tells() -> None:
    assert spot_of(fixes(1)[0]).radius_95_m == pytest.approx(2.0 * 2.4477, abs=1e-3)
