"""Copies through SQLite: whole while others write, stopped without a trace, and put in place in one transaction."""

from __future__ import annotations

import os
import shutil
import sqlite3
from contextlib import closing
from datetime import datetime
from pathlib import Path

import pytest

from standmap.errors import NothingToDo, UserError
from standmap.progress import Unwatched
from standmap.stand.tree import Tree
from standmap.store import copying
from standmap.store.copying import check_whole, copy_stand, put_in_place
from standmap.store.stand_file import StandFile


class Stops(Unwatched):
    """Progress that asks for a stop at once."""

    def stop_wanted(self) -> bool:
        return True


def plant(file: StandFile, now: datetime, *names: str) -> None:
    with file.writing("planted", now) as writing:
        for name in names:
            writing.insert(Tree(f"key-{name}", name, (27.0, 62.0)))


def names(path: Path) -> list[str]:
    with StandFile.open(path, read_only=True) as file:
        return [t.name for t in file.stand().trees]


def test_a_copy_holds_every_row_and_the_time_of_change(stand_file: StandFile, now: datetime, tmp_path: Path) -> None:
    plant(stand_file, now, "B1", "B2")
    copy = tmp_path / "deep" / "copy.gpkg"
    copy_stand(stand_file.path, copy, Unwatched())
    assert names(copy) == ["B1", "B2"]
    assert copy.stat().st_mtime_ns == stand_file.path.stat().st_mtime_ns
    assert [p.name for p in copy.parent.iterdir()] == ["copy.gpkg"]
    with StandFile.open(copy, read_only=True) as opened:
        assert opened.stand() == stand_file.stand()
        assert opened.history() == stand_file.history()


def test_a_copy_never_writes_over_a_file(stand_file: StandFile, tmp_path: Path) -> None:
    copy = tmp_path / "copy.gpkg"
    copy.write_text("mine")
    with pytest.raises(UserError, match="there already"):
        copy_stand(stand_file.path, copy, Unwatched())
    assert copy.read_text() == "mine"
    assert sorted(p.name for p in tmp_path.iterdir()) == ["copy.gpkg", "wood.gpkg"]


def test_a_stopped_copy_leaves_nothing(stand_file: StandFile, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(copying, "PAGES_AT_ONCE", 5)
    with pytest.raises(NothingToDo, match="stopped"):
        copy_stand(stand_file.path, tmp_path / "copies" / "copy.gpkg", Stops())
    assert list((tmp_path / "copies").iterdir()) == []


def test_a_copy_taken_between_two_writes_is_one_state(
    stand_file: StandFile, now: datetime, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Another writer comes in while pages are copied: the copy begins anew and holds whole edits only."""
    monkeypatch.setattr(copying, "PAGES_AT_ONCE", 5)
    plant(stand_file, now, "B1")
    written: list[str] = []

    class Writes(Unwatched):
        def at(self, done: float, total: float, what: str) -> None:  # noqa: ARG002 - as the protocol has it
            if len(written) < 3 and 0 < done < total:
                written.append(f"N{len(written)}")
                plant(stand_file, now, written[-1], written[-1] + "b")

    copy = tmp_path / "copy.gpkg"
    copy_stand(stand_file.path, copy, Writes())
    assert written == ["N0", "N1", "N2"]
    assert names(copy) == ["B1", "N0", "N0b", "N1", "N1b", "N2", "N2b"]


def test_a_copy_of_a_file_in_another_mode_is_one_file(stand_path: Path, tmp_path: Path) -> None:
    StandFile.create(stand_path).close()
    with closing(sqlite3.connect(stand_path)) as db:
        db.execute("PRAGMA journal_mode = WAL")
        db.execute("CREATE TABLE beside (x)")
        db.commit()
        shutil.copy(stand_path, tmp_path / "as-left.gpkg")
    copy = tmp_path / "copies" / "copy.gpkg"
    copy_stand(tmp_path / "as-left.gpkg", copy, Unwatched())
    assert copy.read_bytes()[18:20] == b"\x01\x01"
    assert [p.name for p in copy.parent.iterdir()] == ["copy.gpkg"]


def test_put_in_place_is_seen_by_whoever_has_it_open(stand_file: StandFile, now: datetime, tmp_path: Path) -> None:
    plant(stand_file, now, "B1")
    copy = tmp_path / "copy.gpkg"
    copy_stand(stand_file.path, copy, Unwatched())
    plant(stand_file, now, "B2")
    before = stand_file.version()
    inode = stand_file.path.stat().st_ino
    put_in_place(copy, stand_file.path, Unwatched())
    assert stand_file.version() != before
    assert stand_file.path.stat().st_ino == inode
    assert [t.name for t in stand_file.stand().trees] == ["B1"]
    plant(stand_file, now, "B3")  # and it goes on from there
    assert names(stand_file.path) == ["B1", "B3"]
    assert sorted(p.name for p in tmp_path.iterdir()) == ["copy.gpkg", "wood.gpkg"]


def test_a_stand_being_written_is_not_replaced(
    stand_file: StandFile, now: datetime, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(copying, "BUSY_SECONDS", 0.1)
    copy = tmp_path / "copy.gpkg"
    copy_stand(stand_file.path, copy, Unwatched())
    with stand_file.writing("planted", now) as writing:
        writing.insert(Tree("key", "B9", (27.0, 62.0)))
        with pytest.raises(UserError, match="written in another program"):
            put_in_place(copy, stand_file.path, Unwatched())
    assert names(stand_file.path) == ["B9"]


def test_damage_inside_is_found(stand_file: StandFile, now: datetime, tmp_path: Path) -> None:
    plant(stand_file, now, *(f"B{n}" for n in range(300)))
    check_whole(stand_file.path)
    content = bytearray(stand_file.path.read_bytes())
    middle = len(content) // 2 // 4096 * 4096
    content[middle : middle + 4096] = os.urandom(4096)
    spoilt = tmp_path / "spoilt.gpkg"
    spoilt.write_bytes(content)
    with pytest.raises(UserError, match="damaged"):
        check_whole(spoilt)
