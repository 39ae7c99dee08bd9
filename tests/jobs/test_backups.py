"""Dated backups: made, kept few, sorted by name, put back whole; a kill at any moment leaves no half one."""

from __future__ import annotations

import os
import random
import signal
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from functools import partial
from pathlib import Path

import pytest

from standmap.errors import NothingToDo, UserError
from standmap.jobs.backups import (
    Why,
    back_up,
    back_up_when_opened,
    backups_of,
    find_backup,
    folder_of,
    restore,
)
from standmap.progress import Unwatched
from standmap.settings import Settings
from standmap.stand.tree import Tree
from standmap.store import copying
from standmap.store.copying import check_whole
from standmap.store.stand_file import StandFile

NOW = datetime(2026, 3, 28, 7, 30, tzinfo=UTC)
KILLS = 25


@pytest.fixture
def settings(tmp_path: Path) -> Settings:
    return Settings(backups_kept=3, backup_folder=str(tmp_path / "copies"))


def plant(file: StandFile, *names: str, number: int = 0) -> None:
    with file.writing("planted", NOW) as writing:
        for name in names:
            writing.insert(Tree(f"{number}-{name}", name, (27.0, 62.0)))


def names(path: Path) -> list[str]:
    with StandFile.open(path, read_only=True) as file:
        return [t.name for t in file.stand().trees]


def test_backups_sort_by_name_and_the_oldest_goes(stand_file: StandFile, settings: Settings) -> None:
    made = [back_up(stand_file.path, settings, NOW + timedelta(seconds=s)) for s in (0, 0, 0, 60, 3600)]
    found = backups_of(stand_file.path, settings)
    assert [b.path for b in found] == [b.path for b in reversed(made[-3:])]
    assert sorted(p.name for p in folder_of(stand_file.path, settings).iterdir()) == [b.path.name for b in made[-3:]]
    assert found[0] == made[-1]
    assert found[0].at == NOW + timedelta(hours=1)
    assert found[0].size_bytes == stand_file.path.stat().st_size
    assert [b.path.name for b in made[:2]] == ["wood_20260328T073000Z_asked.gpkg", "wood_20260328T073000Zb_asked.gpkg"]


def test_two_stands_of_one_name_do_not_mix(tmp_path: Path, settings: Settings) -> None:
    paths = [tmp_path / folder / "wood.gpkg" for folder in ("a", "b")]
    for path in paths:
        path.parent.mkdir()
        StandFile.create(path).close()
        back_up(path, settings, NOW)
    assert [len(backups_of(path, settings)) for path in paths] == [1, 1]


def test_other_files_among_the_backups_are_left_alone(stand_file: StandFile, settings: Settings) -> None:
    back_up(stand_file.path, settings, NOW)
    folder = folder_of(stand_file.path, settings)
    for other in ("notes.txt", "wood_20260399T073000Z_asked.gpkg", "wood_20260328T073000Z_lost.gpkg"):
        (folder / other).write_text("mine")
    for hour in range(1, 5):
        back_up(stand_file.path, settings, NOW + timedelta(hours=hour))
    assert len(backups_of(stand_file.path, settings)) == 3
    assert len(list(folder.iterdir())) == 6


def test_opening_makes_one_a_day_and_none_of_what_has_not_changed(stand_file: StandFile, settings: Settings) -> None:
    first = back_up_when_opened(stand_file.path, settings, NOW)
    assert first is not None
    assert first.why is Why.OPENED
    plant(stand_file, "B1")
    assert back_up_when_opened(stand_file.path, settings, NOW + timedelta(hours=1)) is None
    assert back_up_when_opened(stand_file.path, settings, NOW + timedelta(days=1)) is not None
    assert back_up_when_opened(stand_file.path, settings, NOW + timedelta(days=2)) is None  # nothing new to keep
    plant(stand_file, "B2")
    assert back_up_when_opened(stand_file.path, settings, NOW + timedelta(days=2)) is not None


def test_a_stand_goes_back_and_comes_forth_again(stand_file: StandFile, settings: Settings) -> None:
    plant(stand_file, "B1")
    kept = back_up(stand_file.path, settings, NOW)
    plant(stand_file, "B2")
    before = restore(stand_file.path, kept.path, settings, NOW + timedelta(hours=1))
    assert before is not None
    assert before.why is Why.BEFORE_RESTORE
    assert names(stand_file.path) == ["B1"]
    assert [t.name for t in stand_file.stand().trees] == ["B1"]
    restore(stand_file.path, before.path, settings, NOW + timedelta(hours=2))
    assert names(stand_file.path) == ["B1", "B2"]


def test_the_backup_put_back_is_not_pushed_out_by_the_one_made_before(stand_file: StandFile, tmp_path: Path) -> None:
    settings = Settings(backups_kept=1, backup_folder=str(tmp_path / "copies"))
    plant(stand_file, "B1")
    kept = back_up(stand_file.path, settings, NOW)
    plant(stand_file, "B2")
    before = restore(stand_file.path, kept.path, settings, NOW + timedelta(hours=1))
    assert before is not None
    assert names(stand_file.path) == ["B1"]
    assert names(before.path) == ["B1", "B2"]
    assert kept.path.exists()


def test_a_missing_stand_is_put_there(stand_file: StandFile, settings: Settings) -> None:
    plant(stand_file, "B1")
    kept = back_up(stand_file.path, settings, NOW)
    stand_file.path.unlink()
    assert restore(stand_file.path, kept.path, settings, NOW) is None
    assert names(stand_file.path) == ["B1"]


@pytest.mark.parametrize("spoil", ["head", "middle", "cut"])
def test_a_damaged_stand_is_kept_as_it_is_and_replaced(stand_path: Path, settings: Settings, spoil: str) -> None:
    with StandFile.create(stand_path) as file:
        plant(file, *(f"B{n}" for n in range(300)))
    kept = back_up(stand_path, settings, NOW)
    content = bytearray(stand_path.read_bytes())
    half = len(content) // 2 // 4096 * 4096
    spoilt = {
        "head": b"\0" * 4096 + bytes(content[4096:]),
        "middle": bytes(content[:half]) + os.urandom(4096) + bytes(content[half + 4096 :]),
        "cut": bytes(content[:half]),
    }[spoil]
    stand_path.write_bytes(spoilt)
    stray = stand_path.with_name("wood.gpkg-journal")
    stray.write_bytes(b"left by whatever damaged it")
    before = restore(stand_path, kept.path, settings, NOW + timedelta(hours=1))
    assert before is not None
    assert before.why is Why.DAMAGED
    assert before.path.read_bytes() == spoilt
    assert len(names(stand_path)) == 300
    assert not stray.exists()


def test_a_damaged_backup_changes_nothing(stand_file: StandFile, settings: Settings, tmp_path: Path) -> None:
    plant(stand_file, "B1")
    bytes_before = stand_file.path.read_bytes()
    broken = tmp_path / "broken.gpkg"
    broken.write_bytes(bytes_before[: len(bytes_before) // 2])
    with pytest.raises(UserError, match="damaged"):
        restore(stand_file.path, broken, settings, NOW)
    with pytest.raises(UserError, match="from itself"):
        restore(stand_file.path, stand_file.path, settings, NOW)
    assert stand_file.path.read_bytes() == bytes_before
    assert not backups_of(stand_file.path, settings)


def test_a_stop_leaves_the_stand_alone(
    stand_file: StandFile, settings: Settings, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(copying, "PAGES_AT_ONCE", 5)

    class Stops(Unwatched):
        def stop_wanted(self) -> bool:
            return True

    plant(stand_file, "B1")
    kept = back_up(stand_file.path, settings, NOW)
    plant(stand_file, "later")
    with pytest.raises(NothingToDo, match="stopped"):
        restore(stand_file.path, kept.path, settings, NOW + timedelta(hours=1), progress=Stops())
    assert names(stand_file.path) == ["B1", "later"]
    assert len(backups_of(stand_file.path, settings)) == 1


def test_a_folder_that_cannot_be_written_is_named(stand_file: StandFile, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("no folder")
    with pytest.raises(UserError, match="no copy can be made there"):
        back_up(stand_file.path, Settings(backup_folder=str(tmp_path / "file")), NOW)


def test_a_backup_is_found_by_name_path_or_as_the_latest(
    stand_file: StandFile, settings: Settings, tmp_path: Path
) -> None:
    with pytest.raises(NothingToDo, match="no backup yet"):
        find_backup(stand_file.path, settings, "latest")
    made = [back_up(stand_file.path, settings, NOW + timedelta(hours=h)).path for h in (0, 1)]
    assert find_backup(stand_file.path, settings, "latest") == made[1]
    assert find_backup(stand_file.path, settings, made[0].name) == made[0]
    assert find_backup(stand_file.path, settings, str(made[0])) == made[0]
    with pytest.raises(UserError, match=r"is no backup of wood\.gpkg"):
        find_backup(stand_file.path, settings, str(tmp_path / "none.gpkg"))


def _killed(job: Callable[[], object], after_s: float) -> None:
    child = os.fork()
    if child == 0:
        try:
            job()
        finally:
            os._exit(0)
    time.sleep(after_s)
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)


def _lasts_s(job: Callable[[], object]) -> float:
    begun = time.perf_counter()
    job()
    return time.perf_counter() - begun


def test_killed_while_copying_no_half_backup_is_listed(stand_path: Path, settings: Settings) -> None:
    with StandFile.create(stand_path) as file:
        plant(file, *(f"B{n}" for n in range(2000)))
    whole_s = _lasts_s(lambda: back_up(stand_path, settings, NOW))
    seeded = random.Random(5)
    for number in range(KILLS):
        at = NOW + timedelta(minutes=number + 1)
        _killed(partial(back_up, stand_path, settings, at), seeded.uniform(0, 1.5 * whole_s))
        for backup in backups_of(stand_path, settings):
            check_whole(backup.path)
            assert len(names(backup.path)) == 2000


def test_killed_while_putting_back_the_stand_is_one_or_the_other(stand_path: Path, settings: Settings) -> None:
    with StandFile.create(stand_path) as file:
        plant(file, *(f"B{n}" for n in range(1500)))
        few = back_up(stand_path, settings, NOW).path
        plant(file, *(f"C{n}" for n in range(1500)), number=1)
        many = back_up(stand_path, settings, NOW + timedelta(hours=1)).path
    keep_both = Settings(backups_kept=500, backup_folder=settings.backup_folder)
    whole_s = _lasts_s(lambda: restore(stand_path, few, keep_both, NOW + timedelta(hours=2)))
    seeded = random.Random(7)
    for number in range(KILLS):
        at = NOW + timedelta(days=1, minutes=number)
        wanted = many if number % 2 else few
        _killed(partial(restore, stand_path, wanted, keep_both, at), seeded.uniform(0, 1.5 * whole_s))
        check_whole(stand_path)
        assert len(names(stand_path)) in (1500, 3000)
    for wanted, trees in ((many, 3000), (few, 1500)):  # and what was killed does not stand in the way of the next
        restore(stand_path, wanted, keep_both, NOW + timedelta(days=2))
        assert len(names(stand_path)) == trees
