"""The sample woods as stands, and what is told of stands without opening them."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest

from standmap.errors import NothingToDo, UserError
from standmap.jobs.judge import judge
from standmap.jobs.opening import open_stand
from standmap.jobs.own_folders import VARIABLE
from standmap.jobs.recent_stands import folder_words, look_at
from standmap.jobs.sample_wood import DAY, SAMPLES, make_sample, sample_path
from standmap.progress import Unwatched

NOW = datetime(2026, 3, 28, 7, 30, tzinfo=UTC)


@pytest.mark.parametrize(("name", "giving", "days"), [("alder-brook", 9, 2366), ("heron-ridge", 44, 0)])
def test_each_wood_is_built_as_its_story_tells(name: str, giving: int, days: int, tmp_path: Path) -> None:
    path = tmp_path / "deep" / f"{name}.gpkg"
    make_sample(name, path, NOW)
    assert [p.name for p in path.parent.iterdir()] == [path.name]
    with open_stand(path, read_only=True) as file:
        assert judge(file.stand(), DAY.year).counts["giving"] == giving
        assert len(file.stand().weather) == days


def test_every_sample_has_its_files_and_its_own_place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(VARIABLE, str(tmp_path))
    assert [sample_path(w.name).name for w in SAMPLES] == ["alder-brook.gpkg", "heron-ridge.gpkg"]
    assert sample_path("alder-brook").is_relative_to(tmp_path)


def test_nothing_is_written_over_and_nothing_half_built_is_left(tmp_path: Path) -> None:
    class Stops(Unwatched):
        def stop_wanted(self) -> bool:
            return True

    path = tmp_path / "wood.gpkg"
    with pytest.raises(UserError, match="there is no sample wood 'oak-hill'"):
        make_sample("oak-hill", path, NOW)
    with pytest.raises((NothingToDo, UserError), match="stopped"):
        make_sample("alder-brook", path, NOW, progress=Stops())
    assert list(tmp_path.iterdir()) == []
    path.write_text("mine")
    with pytest.raises(UserError, match="there already"):
        make_sample("alder-brook", path, NOW)
    with pytest.raises(UserError, match="cannot be written"):
        make_sample("alder-brook", path / "deep" / "wood.gpkg", NOW)
    assert path.read_text() == "mine"


def test_stands_are_looked_at_without_opening_them(tmp_path: Path) -> None:
    there, gone = tmp_path / "alder_brook-2.gpkg", tmp_path / "gone.gpkg"
    there.write_text("not even a stand")
    known = look_at([gone, there, tmp_path])
    assert [k.is_there for k in known] == [False, True, False]
    assert known[1].name == "alder brook 2"
    assert known[1].changed is not None
    assert known[1].changed.tzinfo is not None


def test_folders_are_told_as_people_say_them(tmp_path: Path) -> None:
    assert folder_words(tmp_path / "woods" / "a.gpkg", tmp_path) == "~/woods"
    assert folder_words(Path("/srv/woods/a.gpkg"), tmp_path) == "/srv/woods"
