"""Heights of the ground as part of a stand: read from a file, kept in its own, undone like any other edit."""

from __future__ import annotations

import math
from datetime import datetime
from pathlib import Path

import numpy as np
import pytest

from standmap.errors import NothingToDo, UserError
from standmap.jobs.opening import FRAME_SETTING, working_frame
from standmap.jobs.terrain import MARGIN_M, remove_terrain, take_terrain, terrain_of
from standmap.jobs.walked_ground import walked_ground
from standmap.messages import Collected
from standmap.rounds.walking import walking
from standmap.stand.records import Source, Terrain
from standmap.stand.tree import Tree
from standmap.store.stand_file import StandFile
from tests.formats.raster_files import EAST, LAT, LON, NORTH, marked_picture, write_tiff


@pytest.fixture
def wood(stand_file: StandFile, now: datetime) -> StandFile:
    with stand_file.writing("planted", now) as writing:
        writing.insert(Tree(key="t1", name="B1", at=(LON, LAT)))
        writing.insert(Tree(key="t2", name="B2", at=(LON + 0.002, LAT)))
    return stand_file


def dem(path: Path, cell_m: float = 2.0, side: int = 400, slope: float = 0.1, **more: object) -> Path:
    """Write a plane that rises to the east of its grid, 100 m above the sea in the middle."""
    across = (np.arange(side) - (side - 1) / 2) * cell_m
    heights = np.broadcast_to(100 + slope * across, (1, side, side)).astype(np.float32)
    return write_tiff(path, heights, cell_m, **more)  # type: ignore[arg-type]


def test_heights_are_kept_in_the_frame_and_walked(wood: StandFile, tmp_path: Path, now: datetime) -> None:
    facts = take_terrain(wood, dem(tmp_path / "dem.tif"), now, attribution=" Survey  Office ")
    assert (facts.file_name, facts.attribution, facts.cell_m) == ("dem.tif", "Survey Office", 5.0)
    assert facts.known_share == 1
    assert facts.steep_slope == pytest.approx(0.1, abs=0.002)
    assert terrain_of(wood) == facts
    stand = wood.stand()
    frame = working_frame(stand)
    assert frame is not None
    assert FRAME_SETTING in stand.settings
    heights = walked_ground(stand, frame).heights
    assert heights is not None
    # The middle of the file lies at the first tree, and its grid is turned against true north by 2.5 degrees.
    x, y = frame.to_xy(np.array([LON, LON + 0.002]), np.array([LAT, LAT]))
    apart = float(x[1] - x[0])
    low, high = heights.at(np.column_stack([x, y]))
    assert low == pytest.approx(100, abs=0.05)
    assert high - low == pytest.approx(0.1 * apart * math.cos(math.radians(2.4)), abs=0.05)
    assert heights.east_m <= x.min() - MARGIN_M + 5
    ways = walking(((float(x[0]), float(y[0])), (float(x[1]), float(y[1]))), walked_ground(stand, frame))
    assert ways.minutes[0, 1] > 1.2 * ways.minutes[1, 0]


def test_it_is_one_edit_replaced_taken_out_and_undone(wood: StandFile, tmp_path: Path, now: datetime) -> None:
    before = wood.stand()
    take_terrain(wood, dem(tmp_path / "old.tif"), now)
    first = wood.stand().terrain
    take_terrain(wood, dem(tmp_path / "new.tif", slope=0.2), now, cell_m=10)
    second = wood.stand().terrain
    assert first is not None
    assert second is not None
    assert (len(wood.rows(Terrain)), len(wood.rows(Source))) == (1, 1)
    assert second.cell_m == 10
    wood.undo(now)
    assert wood.stand().terrain == first
    wood.redo(now)
    remove_terrain(wood, now)
    assert wood.stand().terrain is None
    assert wood.rows(Source) == ()
    wood.undo(now)
    assert wood.stand().terrain == second
    wood.undo(now)
    wood.undo(now)
    assert wood.stand() == before
    with pytest.raises(NothingToDo, match="keeps no heights"):
        remove_terrain(wood, now)


def test_an_ascii_grid_names_no_system_and_is_told_one(wood: StandFile, tmp_path: Path, now: datetime) -> None:
    rows = "\n".join(" ".join("50" for _ in range(200)) for _ in range(200))
    path = tmp_path / "grid.asc"
    left, bottom = EAST - 500, NORTH - 500
    path.write_text(
        f"ncols 200\nnrows 200\nxllcorner {left}\nyllcorner {bottom}\ncellsize 5\nNODATA_value -9999\n{rows}\n"
    )
    with pytest.raises(UserError, match="reference system"):
        take_terrain(wood, path, now)
    facts = take_terrain(wood, path, now, crs="EPSG:3067")
    assert (facts.lowest_m, facts.highest_m) == (50, 50)


def test_where_the_file_knows_nothing_one_is_told(wood: StandFile, tmp_path: Path, now: datetime) -> None:
    side = 400
    heights = np.full((1, side, side), 80, np.float32)
    heights[:, :, 200:] = -9999
    heard = Collected()
    facts = take_terrain(wood, write_tiff(tmp_path / "half.tif", heights, 2.0, nodata=-9999), now, messages=heard)
    assert 0.2 < facts.known_share < 0.8
    assert (facts.lowest_m, facts.highest_m) == (80, 80)
    assert "has no height there and is taken for level" in heard.cautions[0]


def test_heights_far_apart_are_taken_with_a_caution(wood: StandFile, tmp_path: Path, now: datetime) -> None:
    heard = Collected()
    facts = take_terrain(wood, dem(tmp_path / "wide.tif", cell_m=30.0, side=60), now, messages=heard)
    assert facts.cell_m == pytest.approx(30, rel=0.01)
    assert heard.cautions == ["heights 30 m apart miss most slopes of a wood"]


class Stopping:
    def at(self, done: float, total: float, what: str) -> None:
        pass

    def stop_wanted(self) -> bool:
        return True


def test_what_cannot_be_is_refused_and_nothing_is_written(wood: StandFile, tmp_path: Path, now: datetime) -> None:
    with pytest.raises(UserError, match="holds a picture, not heights"):
        take_terrain(wood, write_tiff(tmp_path / "air.tif", marked_picture()), now)
    elsewhere = tmp_path / "far.tif"
    dem(elsewhere, side=40)
    with pytest.raises(UserError, match="stopped"):
        take_terrain(wood, elsewhere, now, progress=Stopping())
    trees = wood.stand().trees
    with wood.writing("moved", now) as writing:
        for tree in trees:
            writing.delete(tree)
        writing.insert(Tree(key="t3", name="B3", at=(LON + 0.5, LAT)))
    with pytest.raises(UserError, match=r"no height of this ground, but of latitude 62\.6"):
        take_terrain(wood, elsewhere, now)
    with pytest.raises(UserError, match="tell nothing of a wood"):
        take_terrain(wood, elsewhere, now, cell_m=0.1)
    with pytest.raises(UserError, match="no such file"):
        take_terrain(wood, tmp_path / "gone.tif", now)
    assert wood.stand().terrain is None


def test_an_empty_stand_has_no_ground(stand_file: StandFile, tmp_path: Path, now: datetime) -> None:
    with pytest.raises(UserError, match="an empty stand"):
        take_terrain(stand_file, dem(tmp_path / "dem.tif", side=40), now)


def test_what_is_no_grid_is_not_walked(wood: StandFile, now: datetime) -> None:
    with wood.writing("broken", now) as writing:
        writing.insert(Terrain("k", 0.0, 0.0, 5.0, 3, 3, b"\0" * 8))
    stand = wood.stand()
    frame = working_frame(stand)
    assert frame is not None
    assert walked_ground(stand, frame).heights is None
    assert terrain_of(wood) is not None
