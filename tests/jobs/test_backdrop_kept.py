"""A backdrop as part of a stand: one edit, undone like any other, found again when both files are moved together."""

from __future__ import annotations

import shutil
from datetime import datetime
from pathlib import Path

import pytest

from standmap.errors import NothingToDo, UserError
from standmap.jobs.backdrop import (
    BACKDROP_SETTING,
    STRENGTH,
    backdrop_of,
    change_backdrop,
    choose_backdrop,
    look_at,
    take_backdrop_off,
)
from standmap.stand.tree import Tree
from standmap.store.stand_file import StandFile
from tests.formats.raster_files import LAT, LON, marked_picture, write_tiff


@pytest.fixture
def wood(stand_file: StandFile, now: datetime) -> StandFile:
    with stand_file.writing("planted", now) as writing:
        writing.insert(Tree(key="t1", name="B1", at=(LON, LAT)))
    return stand_file


@pytest.fixture
def picture(tmp_path: Path) -> Path:
    return write_tiff(tmp_path / "air.tif", marked_picture(), tags={"TIFFTAG_COPYRIGHT": "Survey Office 2025"})


def test_chosen_kept_and_found_again(wood: StandFile, picture: Path, now: datetime) -> None:
    assert backdrop_of(wood.stand(), wood.path) is None
    chosen = choose_backdrop(wood, picture, now)
    assert (chosen.kind, chosen.attribution, chosen.strength) == ("picture", "Survey Office 2025", STRENGTH)
    assert backdrop_of(wood.stand(), wood.path) == chosen
    assert look_at(chosen).path == picture


def test_both_files_may_be_moved_together(wood: StandFile, picture: Path, now: datetime, tmp_path: Path) -> None:
    choose_backdrop(wood, picture, now)
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    for path in (wood.path, picture):
        shutil.copy(path, elsewhere)
    with StandFile.open(elsewhere / wood.path.name) as moved:
        found = backdrop_of(moved.stand(), moved.path)
    assert found is not None
    assert found.path == elsewhere / "air.tif"


def test_a_picture_in_another_folder_keeps_its_own_path(wood: StandFile, now: datetime, tmp_path: Path) -> None:
    other = tmp_path.parent / f"{tmp_path.name}-pictures"
    other.mkdir()
    picture = write_tiff(other / "air.tif", marked_picture())
    choose_backdrop(wood, picture, now)
    kept = wood.stand().settings[BACKDROP_SETTING]
    assert isinstance(kept, dict)
    assert kept["path"] == str(picture)


def test_each_change_is_one_step_that_comes_undone(wood: StandFile, picture: Path, now: datetime) -> None:
    first = choose_backdrop(wood, picture, now)
    second = change_backdrop(wood, now, attribution="  Survey   Office ", strength=0.25)
    assert (second.attribution, second.strength) == ("Survey Office", 0.25)
    assert take_backdrop_off(wood, now) == Path("air.tif")
    assert backdrop_of(wood.stand(), wood.path) is None
    for state in (second, first, None):
        wood.undo(now)
        assert backdrop_of(wood.stand(), wood.path) == state
    assert [e.label for e in wood.history()][1:4] == [
        "laid air.tif under the map",
        "changed how air.tif is shown",
        "took the backdrop away",
    ]


def test_without_a_backdrop_there_is_nothing_to_change(wood: StandFile, now: datetime) -> None:
    with pytest.raises(NothingToDo, match="there is no backdrop"):
        change_backdrop(wood, now, strength=0.5)
    with pytest.raises(NothingToDo, match="there is no backdrop"):
        take_backdrop_off(wood, now)


def test_a_picture_of_other_ground_is_refused(stand_file: StandFile, picture: Path, now: datetime) -> None:
    with stand_file.writing("planted", now) as writing:
        writing.insert(Tree(key="t1", name="B1", at=(26.05, 58.32)))
    with pytest.raises(
        UserError, match=r"air\.tif: the picture shows latitude 62\.599.*the stand lies at 58\.320, 26\.050"
    ):
        choose_backdrop(stand_file, picture, now)
    assert backdrop_of(stand_file.stand(), stand_file.path) is None


def test_a_picture_that_shows_only_a_far_tree_is_taken(wood: StandFile, tmp_path: Path, now: datetime) -> None:
    with wood.writing("planted", now) as writing:
        writing.insert(*(Tree(key=f"far{i}", name=f"F{i}", at=(LON - 0.5, LAT)) for i in range(3)))
    choose_backdrop(wood, write_tiff(tmp_path / "air.tif", marked_picture()), now)


def test_an_empty_stand_has_no_ground_yet(stand_file: StandFile, picture: Path, now: datetime) -> None:
    with pytest.raises(UserError, match="an empty stand has no ground"):
        choose_backdrop(stand_file, picture, now)


def test_what_cannot_be_kept(wood: StandFile, picture: Path, now: datetime) -> None:
    with pytest.raises(UserError, match="is no strength"):
        choose_backdrop(wood, picture, now, strength=1.5)
    with pytest.raises(UserError, match="is no strength"):
        choose_backdrop(wood, picture, now, strength=float("nan"))
    with pytest.raises(UserError, match="'photo' is no kind of backdrop; choose from picture, terrain"):
        choose_backdrop(wood, picture, now, kind="photo")
    with pytest.raises(UserError, match="at most 200 letters"):
        choose_backdrop(wood, picture, now, attribution="x" * 201)
    assert len(wood.history()) == 1


@pytest.mark.parametrize(
    "kept", ["air.tif", {"path": 3}, {"path": "a", "kind": "x"}, {"path": "a", "kind": "picture", "strength": 9}]
)
def test_a_setting_that_is_no_backdrop(wood: StandFile, now: datetime, kept: object) -> None:
    with wood.writing("by another program", now) as writing:
        writing.set_setting(BACKDROP_SETTING, kept)
    with pytest.raises(UserError, match="is no backdrop; choose the picture anew"):
        backdrop_of(wood.stand(), wood.path)
    take_backdrop_off(wood, now)


def test_a_file_that_has_gone(wood: StandFile, picture: Path, now: datetime) -> None:
    chosen = choose_backdrop(wood, picture, now)
    picture.unlink()
    with pytest.raises(UserError, match=r"air\.tif: there is no such file; look whether it was moved or renamed"):
        look_at(chosen)
