"""Which files are no copy to merge, each in its own words; and that the other file is never touched."""

from __future__ import annotations

import shutil
import sqlite3
from pathlib import Path

import pytest

from standmap.errors import NothingToDo, UserError
from standmap.jobs import correct
from standmap.jobs.keys import new_key
from standmap.jobs.merge_copies import (
    CopyChangedError,
    propose_merge,
    store_merge,
)
from standmap.jobs.trees_by_hand import move_tree
from standmap.stand.ground import Place, PlaceKind
from standmap.stand.tree import Tree
from standmap.store.opening import add_functions
from standmap.store.stand_file import StandFile
from tests.jobs.stand_rows import rows
from tests.jobs.two_copies import DAY, NOW, changed, content, edit, merged, planted, proposed, put, setting

LEGACY = Path(__file__).parents[1] / "legacy"


@pytest.fixture
def ours(tmp_path: Path) -> Path:
    return planted(tmp_path)


@pytest.fixture
def theirs(ours: Path) -> Path:
    return Path(shutil.copy(ours, ours.with_name("anna.gpkg")))


def test_two_stands_are_refused(ours: Path, tmp_path: Path) -> None:
    other = tmp_path / "else.gpkg"
    with StandFile.create(other) as file, file.writing("plant", NOW) as writing:
        writing.insert(Tree(new_key(), "B1", (27.0, 62.0)))
    with pytest.raises(UserError, match=r"else\.gpkg: these are two stands, not copies of one; .*GeoJSON"):
        proposed(ours, other)


def test_copies_with_other_frames_are_refused(ours: Path, theirs: Path) -> None:
    edit(theirs, setting("working_frame", {"lon0": 28.0, "lat0": 62.0}))
    with pytest.raises(UserError, match="working frames differ"):
        proposed(ours, theirs)


def test_the_stand_itself_is_refused(ours: Path) -> None:
    linked = ours.with_name("linked.gpkg")
    linked.symlink_to(ours)
    for other in (ours, linked):
        with pytest.raises(UserError, match="this is the stand itself"):
            proposed(ours, other)


def test_an_empty_stand_takes_all(ours: Path, tmp_path: Path) -> None:
    empty = tmp_path / "empty.gpkg"
    StandFile.create(empty).close()
    merged(empty, ours)
    assert content(empty) == content(ours)
    StandFile.create(tmp_path / "another.gpkg").close()
    with pytest.raises(NothingToDo):
        merged(ours, tmp_path / "another.gpkg")


def test_an_older_layout_is_read_from_a_copy(tmp_path: Path) -> None:
    old = Path(shutil.copy(LEGACY / "layout1.gpkg", tmp_path / "old.gpkg"))
    path = Path(shutil.copy(old, tmp_path / "wood.gpkg"))
    before = (old.read_bytes(), old.stat().st_mtime_ns)
    with StandFile.open(path) as file:
        first = next(t for t in file.stand().trees)
        correct.retag(file, first.key, "renamed", DAY, NOW)
        assert propose_merge(file, old).nothing
    assert (old.read_bytes(), old.stat().st_mtime_ns) == before
    assert sorted(p.name for p in tmp_path.iterdir()) == ["old.gpkg", "wood.gpkg", "wood.layout1.gpkg"]


def test_a_newer_layout_is_refused_untouched(ours: Path, theirs: Path) -> None:
    db = sqlite3.connect(theirs)
    db.execute("UPDATE standmap_schema SET number = 99")
    db.commit()
    db.close()
    before = theirs.read_bytes()
    with pytest.raises(UserError, match="newer standmap"):
        proposed(ours, theirs)
    assert theirs.read_bytes() == before


def test_a_damaged_copy_is_refused(ours: Path, theirs: Path) -> None:
    held = bytearray(theirs.read_bytes())
    for page in range(3, len(held) // 4096):
        held[page * 4096 : page * 4096 + 64] = b"\xff" * 64
    theirs.write_bytes(held)
    before = rows(ours)
    with pytest.raises(UserError, match=r"anna\.gpkg: .*damaged"):
        proposed(ours, theirs)
    assert rows(ours) == before


def test_a_copy_with_an_unfinished_write_is_left_as_it_is(ours: Path, theirs: Path) -> None:
    journal = theirs.with_name("anna.gpkg-journal")
    journal.write_bytes(b"\xd9\xd5\x05\xf9\x20\xa1\x63\xd7" + bytes(512))
    with pytest.raises(UserError, match=r"an unfinished write lies beside it \(anna\.gpkg-journal\)"):
        proposed(ours, theirs)
    assert journal.exists()
    journal.write_bytes(b"")  # an empty one says nothing
    assert proposed(ours, theirs).nothing


def test_a_copy_that_is_being_written_is_refused(ours: Path, theirs: Path) -> None:
    db = sqlite3.connect(theirs, isolation_level=None)
    db.execute("BEGIN EXCLUSIVE")
    with pytest.raises(UserError, match="being written in another program"):
        proposed(ours, theirs)
    db.execute("ROLLBACK")
    db.close()


def test_a_copy_in_write_ahead_mode_is_read_and_left_so(ours: Path, theirs: Path) -> None:
    edit(theirs, changed("t1", note="hollow"))
    db = sqlite3.connect(theirs)
    db.execute("PRAGMA journal_mode = WAL")
    db.close()
    before = theirs.read_bytes()
    assert proposed(ours, theirs).total.changed == 1
    assert theirs.read_bytes() == before
    assert sorted(p.name for p in ours.parent.iterdir()) == ["anna.gpkg", "wood.gpkg"]


def test_a_copy_that_may_not_be_written_is_read(ours: Path, theirs: Path) -> None:
    edit(theirs, changed("t1", note="hollow"))
    theirs.chmod(0o444)
    assert proposed(ours, theirs).total.changed == 1


def test_a_row_that_no_stand_can_hold_is_refused(ours: Path, theirs: Path) -> None:
    edit(theirs, put(Place("p2", "bridge", PlaceKind.BRIDGE, (27.0, 62.0))))
    db = sqlite3.connect(theirs)
    add_functions(db)
    db.execute("UPDATE place SET kind = 'moon' WHERE key = 'p2'")
    db.commit()
    db.close()
    with pytest.raises(UserError, match=r"anna\.gpkg: table 'place', key p2 holds what no stand can"):
        proposed(ours, theirs)


def test_a_log_that_cannot_be_read_is_refused(ours: Path, theirs: Path) -> None:
    edit(theirs, changed("t1", note="hollow"))
    db = sqlite3.connect(theirs)
    db.execute("UPDATE event SET changes = x'00' WHERE label = 'edit'")
    db.commit()
    db.close()
    with pytest.raises(UserError, match=r"anna\.gpkg: the log of the stand is damaged"):
        proposed(ours, theirs)


def test_a_stand_changed_meanwhile_is_not_written(ours: Path, theirs: Path) -> None:
    edit(theirs, changed("t1", note="hollow"))
    with StandFile.open(ours) as file:
        proposal = propose_merge(file, theirs)
        move_tree(file, "B1", (27.0011, 62.0), DAY, NOW)
        before = rows(ours)
        with pytest.raises(CopyChangedError, match="compare them again"):
            store_merge(file, proposal, {}, NOW)
    assert rows(ours) == before
