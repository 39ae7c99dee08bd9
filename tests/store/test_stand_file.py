"""A stand on disk: whole edits, exact undo, plain words for every file that is none."""

from __future__ import annotations

import os
import shutil
import signal
import sqlite3
import stat
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path

import numpy as np
import pytest

from standmap.errors import BugError, NothingToDo, UserError
from standmap.stand.ground import Area, AreaKind, Line, LineKind, Place, PlaceKind
from standmap.stand.records import Media, Plan, PlannedWalk, SeasonSign, Source, Terrain, Weather
from standmap.stand.sights import North, Origin, Sight, TakenPosition
from standmap.stand.tapping import Act, Batch, Collection, Observation, TapHole, Wound
from standmap.stand.tree import Measurement, Soundness, Standing, Tree
from standmap.stand.walks import Fixes, Stop, StopState, Walk
from standmap.store import migrations
from standmap.store.opening import connect
from standmap.store.rows import CODEC
from standmap.store.schema import SCHEMA
from standmap.store.stand_file import StandFile

NOW = datetime(2026, 3, 28, 7, 30, tzinfo=UTC)
RING = ((27.0, 62.0), (27.01, 62.0), (27.01, 62.01), (27.0, 62.0))


def everything() -> list[object]:
    """Return one thing of each kind, every field set."""
    fixes = Fixes(
        lon=np.array([27.0, 27.001]),
        lat=np.array([62.0, 62.001]),
        time_s=np.array([1.5, np.nan]),
        sigma_m=np.array([3.0, np.nan]),
        elevation_m=np.array([np.nan, 88.25]),
        segment=np.array([0, 1], dtype=np.int32),
    )
    day = date(2026, 3, 20)
    return [
        Source("s", "walk.gpx", "ab" * 32, "gpx", 12, NOW, 3),
        Walk("w", "walk 1", fixes, "damp", "s"),
        Tree("a", "B1", (27.0, 62.0), "Betula pendula", Standing.DEAD, day, None, Soundness.SOUND, "r", source_key="s"),
        Tree("b", "B2", (27.0, 62.0), proposed=True, tag_confirmed=True, pinned=True, var_e_m2=1.5, walk_key="w"),
        Place("p", "gate", PlaceKind.GATE, (27.0, 62.0), "iron", "s"),
        Line("l", "brook", LineKind.STREAM, ((27.0, 62.0), (27.1, 62.1)), source_key="s"),
        Area("x", "east", AreaKind.PERMITTED, (RING,), "the board", day, day, 12, "n", "s"),
        Stop("t", "w", (27.0, 62.0), NOW, NOW, 9, 1.0, 2.0, -0.5, "a", StopState.ACCEPTED, 0.25),
        TakenPosition("k", "a", None, (27.0, 62.0), 4.0, 9.0, 0.5, Origin.PHOTO, NOW, "w", False, "n", "s"),
        Sight(
            *("g", "a", "b", "p", 359.5, 179.0, North.MAGNETIC, 12.5, 20.5, "20.5", "m", -3.0),
            *(1.5, -0.5, 2.0, 0.1, day, False, "line 7", "n", "s"),
        ),
        Measurement("m", "a", day, None, 228.6, "9", "in", 1300.0, "n", "s"),
        TapHole("h", "a", 1, Wound.SLIT, day, NOW, 900.0, 123.5, 14.5, 10.0, "n", "s"),
        Batch("z", "first", day, "syrup", 4500.0, 1.1, "n", 4.5, "boiled", day),
        Collection("c", "h", day, NOW, 2950.0, "2.95", "l", "z", "n", "s", True, "u"),
        Observation("o", "a", "h", Act.PLUGGED, day, NOW, "n", "s"),
        Media("i", "a", "a.jpg", "image/jpeg", b"\x00\xff", NOW, "n", "s"),
        Weather("y", day, -3.0, 1.5, 6.0, 0.0, 4.0, "s", "at the lake"),
        Plan("q", "a", 2027, 1, "n"),
        SeasonSign("v", "leaf-out", day, "n", "s"),
        PlannedWalk("j", day, "collecting", NOW, '{"stops": []}', "n"),
        Terrain("e", -12.5, 3.0, 5.0, 1, 2, np.array([88.5, np.nan], dtype="<f4").tobytes(), "n", "s"),
    ]


def fill(file: StandFile) -> None:
    with file.writing("fill", NOW) as writing:
        writing.insert(*everything())


def dump(path: Path) -> dict[str, list[tuple[object, ...]]]:
    """Return every row by plain SQL, but for the event log and the standard's last_change stamps."""
    db = connect(path)
    tables = [r[0] for r in db.execute("SELECT table_name FROM gpkg_contents WHERE table_name != 'event'")]
    tables += [f"rtree_{t}_geom" for t in ("tree", "place", "line", "area", "walk", "stop")]
    rows: dict[str, list[tuple[object, ...]]] = {}
    for t in tables:
        rows[t] = [tuple(r) for r in db.execute(f"SELECT * FROM {t} ORDER BY 1")]
    rows["contents"] = db.execute("SELECT table_name, min_x, min_y, max_x, max_y FROM gpkg_contents").fetchall()
    db.close()
    return rows


def test_every_kind_of_thing_comes_back_as_it_was(stand_file: StandFile) -> None:
    fill(stand_file)
    for kind, codec in CODEC.items():
        sent = [t for t in everything() if type(t) is kind]
        assert sent, f"no example of {codec.table}"
        got: list[object] = list(stand_file.rows(kind))
        if kind is Walk:  # arrays have no plain equality
            assert [codec.encode(w) for w in got] == [codec.encode(w) for w in sent]
        else:
            assert got == sent


def test_at_rest_the_stand_is_one_file(stand_path: Path) -> None:
    with StandFile.create(stand_path) as file:
        fill(file)
        file.undo(NOW)
    assert [p.name for p in stand_path.parent.iterdir()] == [stand_path.name]


def test_a_failing_edit_leaves_nothing(stand_file: StandFile, stand_path: Path) -> None:
    before = dump(stand_path)
    # The last tree's key is taken, so the edit fails when all else has been written.
    with pytest.raises(BugError, match="UNIQUE"), stand_file.writing("half", NOW) as writing:
        writing.insert(*everything(), Tree("a", "twin", (27.0, 62.0)))
    assert dump(stand_path) == before
    assert stand_file.history() == ()


def test_undo_and_redo_bring_rows_back_exactly(stand_file: StandFile, stand_path: Path) -> None:
    empty = dump(stand_path)
    fill(stand_file)
    full = dump(stand_path)
    tree = stand_file.stand().by_key["a"]
    with stand_file.writing("change", NOW) as writing:
        writing.change(tree, name="B1a", at=(27.5, 62.5))
        writing.delete(stand_file.rows(Plan)[0])
        writing.set_setting("x", {"y": 1})
    changed = dump(stand_path)
    assert [e.label for e in stand_file.undo(NOW)] == ["change"]
    assert dump(stand_path) == full
    stand_file.undo(NOW)
    assert dump(stand_path) == empty
    stand_file.redo(NOW)
    assert dump(stand_path) == full
    stand_file.redo(NOW)
    assert dump(stand_path) == changed
    with pytest.raises(NothingToDo):
        stand_file.redo(NOW)
    stand_file.undo(NOW)
    stand_file.undo(NOW)
    with pytest.raises(NothingToDo):
        stand_file.undo(NOW)
    assert dump(stand_path) == empty


def test_a_new_edit_ends_what_could_be_done_again(stand_file: StandFile) -> None:
    fill(stand_file)
    stand_file.undo(NOW)
    with stand_file.writing("other", NOW) as writing:
        writing.set_setting("a", 1)
    with pytest.raises(NothingToDo):
        stand_file.redo(NOW)


def test_neighbours_of_one_group_are_taken_back_together(stand_file: StandFile) -> None:
    for value, group in ((1, None), (2, "drag"), (3, "drag")):
        with stand_file.writing(f"set {value}", NOW, group=group) as writing:
            writing.set_setting("a", value)
    assert [e.label for e in stand_file.undo(NOW)] == ["set 3", "set 2"]
    assert stand_file.settings() == {"a": 1}
    assert [e.label for e in stand_file.redo(NOW)] == ["set 2", "set 3"]
    assert stand_file.settings() == {"a": 3}


def test_an_edit_whose_rows_have_changed_since_is_not_taken_back(stand_file: StandFile, stand_path: Path) -> None:
    fill(stand_file)
    first = stand_file.history()[-1].number
    other = connect(stand_path)
    other.execute("UPDATE tree SET note = 'changed elsewhere' WHERE key = 'a'")
    other.close()
    before = dump(stand_path)
    with pytest.raises(UserError, match="tree 'B1' has been changed since"):
        stand_file.take_back(first, NOW)
    assert dump(stand_path) == before


def test_an_edit_that_changes_nothing_is_no_step(stand_file: StandFile) -> None:
    with stand_file.writing("nothing", NOW) as writing:
        writing.set_setting("absent", None)
    assert stand_file.history() == ()


def test_another_writer_is_noticed(stand_file: StandFile, stand_path: Path) -> None:
    before = stand_file.version()
    with StandFile.open(stand_path) as other, other.writing("elsewhere", NOW) as writing:
        writing.set_setting("a", 1)
    assert stand_file.version() != before
    assert stand_file.settings() == {"a": 1}


def test_an_edit_thought_out_on_an_older_state_is_refused(stand_file: StandFile, stand_path: Path) -> None:
    fill(stand_file)
    stand_file.stand()
    with StandFile.open(stand_path) as other, other.writing("elsewhere", NOW) as writing:
        writing.set_setting("a", 1)
    with pytest.raises(UserError, match="another program has changed the stand"), stand_file.writing("x", NOW) as late:
        late.set_setting("a", 2)
    assert stand_file.settings() == {"a": 1}
    stand_file.stand()
    with stand_file.writing("x", NOW) as writing:
        writing.set_setting("a", 2)
    # One's own edits do not stand in the way.
    with stand_file.writing("y", NOW) as writing:
        writing.set_setting("a", 3)
    assert stand_file.settings() == {"a": 3}


def test_a_step_that_others_build_on_is_not_taken_back(stand_file: StandFile) -> None:
    with stand_file.writing("plant", NOW) as writing:
        writing.insert(Tree("1", "B1", (27.0, 62.0)))
    with stand_file.writing("tap", NOW) as writing:
        writing.insert(TapHole("h", "1", 1, Wound.HOLE, date(2026, 3, 20)))
    with pytest.raises(UserError, match=r"step 1 \(plant\) cannot be taken back: later steps build on it"):
        stand_file.take_back(1, NOW)
    assert len(stand_file.stand().holes) == 1


def test_a_column_that_another_program_added_does_not_hinder_undo(stand_file: StandFile, stand_path: Path) -> None:
    fill(stand_file)
    other = connect(stand_path)
    other.execute("ALTER TABLE tree ADD COLUMN crown TEXT")
    other.execute("UPDATE tree SET crown = 'wide'")
    other.close()
    stand_file.undo(NOW)
    assert stand_file.stand().trees == ()


def test_an_unfinished_write_is_taken_back_by_a_reader_too(stand_path: Path) -> None:
    """A program killed while it writes leaves a journal; also a reading command must then find whole edits."""
    with StandFile.create(stand_path) as file:
        fill(file)
    before = dump(stand_path)
    child = os.fork()
    if child == 0:
        db = connect(stand_path)
        db.execute("PRAGMA cache_size = 1")  # so that pages reach the file before the commit
        db.execute("BEGIN IMMEDIATE")
        codec = CODEC[Tree]
        rows = [codec.encode(Tree(f"k{i}", f"T{i}", (27.0, 62.0))) for i in range(3000)]
        sql = f"INSERT INTO tree ({', '.join(codec.columns)}) VALUES ({', '.join('?' * len(codec.columns))})"
        db.executemany(sql, rows)
        os.kill(os.getpid(), signal.SIGKILL)
    os.waitpid(child, 0)
    assert stand_path.with_name("wood.gpkg-journal").exists()
    with StandFile.open(stand_path, read_only=True) as file:
        assert len(file.stand().trees) == 2
        with pytest.raises(UserError, match="may not be written"), file.writing("x", NOW) as writing:
            writing.set_setting("a", 1)
    assert dump(stand_path) == before
    assert not stand_path.with_name("wood.gpkg-journal").exists()


@pytest.mark.parametrize("read_only", [False, True])
@pytest.mark.parametrize("left", [b"", bytes(512)], ids=["empty", "not begun"])
def test_a_journal_with_nothing_in_it_goes_when_the_stand_is_opened(
    stand_path: Path, left: bytes, *, read_only: bool
) -> None:
    """A program killed as it began to write leaves one."""
    with StandFile.create(stand_path) as file:
        fill(file)
    before = (stand_path.read_bytes(), stand_path.stat().st_mtime_ns)
    journal = stand_path.with_name("wood.gpkg-journal")
    journal.write_bytes(left)
    with StandFile.open(stand_path, read_only=read_only) as file:
        assert len(file.stand().trees) == 2
        assert not journal.exists()
    assert (stand_path.read_bytes(), stand_path.stat().st_mtime_ns) == before


def test_the_journal_of_a_program_that_is_writing_stays(stand_path: Path) -> None:
    StandFile.create(stand_path).close()
    writer = connect(stand_path)
    writer.execute("BEGIN IMMEDIATE")
    writer.execute("PRAGMA user_version = 10300")
    assert stand_path.with_name("wood.gpkg-journal").exists()
    with StandFile.open(stand_path, read_only=True) as file:
        assert file.stand().trees == ()
    assert stand_path.with_name("wood.gpkg-journal").exists()
    writer.execute("INSERT INTO setting (name, value) VALUES ('a', '1')")
    writer.execute("COMMIT")
    writer.close()
    with StandFile.open(stand_path) as file:
        assert file.settings() == {"a": 1}


def test_a_file_left_in_wal_mode_is_one_file_again(stand_file: StandFile, stand_path: Path) -> None:
    stand_file.close()
    other = connect(stand_path)
    other.execute("PRAGMA journal_mode = WAL")
    other.execute("INSERT INTO setting (name, value) VALUES ('a', '1')")
    other.close()
    with StandFile.open(stand_path) as file:
        assert file.settings() == {"a": 1}
    assert stand_path.read_bytes()[18:20] == b"\x01\x01"  # rollback journal, by the file format
    assert [p.name for p in stand_path.parent.iterdir()] == [stand_path.name]


@pytest.mark.parametrize(
    ("sql", "told"),
    [
        ("UPDATE tree SET standing = 'Felled' WHERE key = 'b'", "table 'tree', fid 2 .* 'Felled'"),
        ("UPDATE measurement SET measured_on = '2025/05/01'", "table 'measurement', fid 1 .* '2025/05/01'"),
        ("UPDATE tree SET geom = (SELECT geom FROM line) WHERE key = 'a'", "table 'tree', fid 1 .* not a point"),
        ("INSERT INTO setting (name, value) VALUES ('rules', '{')", "the setting 'rules' is not JSON"),
    ],
)
def test_what_another_program_wrote_wrongly_is_named(
    stand_file: StandFile, stand_path: Path, sql: str, told: str
) -> None:
    fill(stand_file)
    other = connect(stand_path)
    other.execute(sql)
    other.close()
    with pytest.raises(UserError, match=told):
        stand_file.stand()


# Files that cannot be used


def refused(path: Path, pattern: str) -> None:
    before = path.read_bytes() if path.is_file() else b""
    with pytest.raises(UserError, match=pattern) as caught:
        StandFile.open(path)
    assert str(caught.value).startswith(path.name)
    assert "\n" not in str(caught.value)
    if path.is_file():
        assert path.read_bytes() == before


def test_missing_folder_text_and_other_databases_are_refused(tmp_path: Path) -> None:
    refused(tmp_path / "none.gpkg", "there is no such file")
    refused(tmp_path, "this is a folder")
    os.mkfifo(tmp_path / "pipe.gpkg")
    with pytest.raises(UserError, match="not a plain file"):
        StandFile.open(tmp_path / "pipe.gpkg")
    text = tmp_path / "text.gpkg"
    text.write_text("tree,date\n" * 50)
    refused(text, "this is not a GeoPackage")
    (tmp_path / "empty.gpkg").touch()
    refused(tmp_path / "empty.gpkg", "this is not a GeoPackage")
    plain = tmp_path / "plain.gpkg"
    sqlite3.connect(plain).executescript("CREATE TABLE a (b)").connection.close()
    refused(plain, "a database but not a GeoPackage")
    other = tmp_path / "other.gpkg"
    sqlite3.connect(other).executescript("PRAGMA application_id = 1196444487; CREATE TABLE a (b)").connection.close()
    refused(other, "this GeoPackage is not a stand")


def test_a_file_cut_short_is_refused(stand_file: StandFile, stand_path: Path) -> None:
    fill(stand_file)
    stand_file.close()
    cut = stand_path.with_name("cut.gpkg")
    cut.write_bytes(stand_path.read_bytes()[:-5000])
    refused(cut, "cut short or damaged")


def test_a_scrambled_file_is_told_as_damaged(stand_file: StandFile, stand_path: Path) -> None:
    fill(stand_file)
    stand_file.close()
    content = bytearray(stand_path.read_bytes())
    content[200:] = b"\xaa" * (len(content) - 200)
    stand_path.write_bytes(content)
    refused(stand_path, "is damaged")


def test_a_newer_layout_is_left_untouched(stand_file: StandFile, stand_path: Path) -> None:
    stand_file.close()
    db = connect(stand_path)
    db.execute("UPDATE standmap_schema SET number = ?", (SCHEMA + 1,))
    db.close()
    refused(stand_path, f"made by a newer standmap .layout {SCHEMA + 1}")


def test_a_locked_file_is_told(stand_file: StandFile, stand_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("standmap.store.opening.BUSY_SECONDS", 0.05)
    other = connect(stand_path)
    other.execute("BEGIN IMMEDIATE")
    with StandFile.open(stand_path) as second:
        assert second.stand().trees == ()  # reading goes on
        with (
            pytest.raises(UserError, match="written in another program"),
            second.writing("x", NOW) as writing,
        ):
            writing.set_setting("a", 1)
    other.execute("ROLLBACK")
    other.close()
    assert stand_file.settings() == {}


def test_a_file_that_may_not_be_written_is_read_and_not_changed(stand_path: Path) -> None:
    """Run without root's rights in a child process, since root may write everything."""
    with StandFile.create(stand_path) as file:
        fill(file)
    before = stand_path.read_bytes()
    stand_path.chmod(stat.S_IRUSR | stat.S_IRGRP | stat.S_IROTH)
    for folder in (stand_path.parent, *stand_path.parent.parents[:3]):
        if os.geteuid() == 0 and folder != Path("/"):
            folder.chmod(folder.stat().st_mode | stat.S_IXOTH | stat.S_IROTH)
    child = os.fork()
    if child == 0:
        code = 1
        try:
            if os.geteuid() == 0:
                os.setegid(65534)
                os.seteuid(65534)
            with StandFile.open(stand_path) as file:
                assert len(file.stand().trees) == 2
                try:
                    with file.writing("x", NOW) as writing:
                        writing.set_setting("a", 1)
                except UserError as error:
                    code = 0 if "may not be written" in str(error) else 2
        finally:
            os._exit(code)
    assert os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == 0
    assert stand_path.read_bytes() == before


def test_a_full_disk_leaves_the_file_as_it_was(stand_file: StandFile, stand_path: Path) -> None:
    fill(stand_file)
    before = dump(stand_path)
    # SQLite's own limit of pages fails just as a disk without space does, with SQLITE_FULL.
    pages = stand_file._db.execute("PRAGMA page_count").fetchone()[0]
    stand_file._db.execute(f"PRAGMA max_page_count = {pages + 2}")
    trees = [Tree(f"k{i}", f"T{i}", (27.0, 62.0)) for i in range(2000)]
    with pytest.raises(UserError, match="the disk is full"), stand_file.writing("x", NOW) as writing:
        writing.insert_many(trees)
    assert dump(stand_path) == before
    with stand_file.writing("small", NOW) as writing:
        writing.set_setting("a", 1)
    assert stand_file.settings() == {"a": 1}


def test_new_never_writes_over_a_file(stand_path: Path) -> None:
    stand_path.write_text("precious")
    with pytest.raises(UserError, match="is there already"):
        StandFile.create(stand_path)
    assert stand_path.read_text() == "precious"
    with pytest.raises(UserError, match="there is no folder"):
        StandFile.create(stand_path.parent / "nowhere" / "wood.gpkg")
    assert [p.name for p in stand_path.parent.iterdir()] == [stand_path.name]


# Older files


def test_an_older_layout_is_brought_up_to_date_after_a_backup(stand_file: StandFile, stand_path: Path) -> None:
    fill(stand_file)
    stand_file.close()
    original = stand_path.read_bytes()

    def step(db: sqlite3.Connection) -> None:
        db.execute("ALTER TABLE tree ADD COLUMN height_m REAL")

    db = migrations.bring_up_to_date(stand_path, connect(stand_path), SCHEMA, {SCHEMA: step}, SCHEMA + 1)
    assert db.execute("SELECT number FROM standmap_schema").fetchone() == (SCHEMA + 1,)
    assert db.execute("SELECT count(height_m), count(*) FROM tree").fetchone() == (0, 2)
    db.close()
    assert stand_path.with_name(f"wood.layout{SCHEMA}.gpkg").read_bytes() == original


def test_a_migration_that_fails_changes_nothing(stand_file: StandFile, stand_path: Path) -> None:
    stand_file.close()
    original = stand_path.read_bytes()

    def first(db: sqlite3.Connection) -> None:
        db.execute("ALTER TABLE tree ADD COLUMN height_m REAL")

    def second(db: sqlite3.Connection) -> None:
        db.execute("ALTER TABLE tree ADD COLUMN height_m REAL")

    steps = {SCHEMA: first, SCHEMA + 1: second}
    with pytest.raises(BugError, match="duplicate column"):
        migrations.bring_up_to_date(stand_path, connect(stand_path), SCHEMA, steps, SCHEMA + 2)
    assert connect(stand_path).execute("SELECT number FROM standmap_schema").fetchone() == (SCHEMA,)
    copy = stand_path.with_name(f"wood.layout{SCHEMA}.gpkg")
    assert copy.read_bytes() == original
    assert migrations.backup_path(stand_path, SCHEMA).name == f"wood.layout{SCHEMA}-2.gpkg"


LEGACY = sorted((Path(__file__).parents[1] / "legacy").glob("*.gpkg"))


@pytest.mark.parametrize("legacy", LEGACY, ids=lambda p: p.name)
def test_files_of_every_earlier_layout_open(legacy: Path, tmp_path: Path) -> None:
    copy = tmp_path / legacy.name
    shutil.copy(legacy, copy)
    with StandFile.open(copy) as file:
        stand = file.stand()
        assert [t.name for t in stand.trees] == ["B1", "B2"]
        assert stand.collections[0].volume_ml == 2950.0
        fresh = replace(stand.trees[1], note="seen")
        with file.writing("note", NOW) as writing:
            writing.replace(fresh)
        file.undo(NOW)
        assert file.stand().trees == stand.trees


def shape_of(path: Path) -> dict[str, object]:
    db = sqlite3.connect(path)
    try:
        tables = [name for (name,) in db.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
        shape: dict[str, object] = {
            name: sorted(row[1:] for row in db.execute(f"PRAGMA table_info({name})")) for name in tables
        }
        others = "SELECT name, sql FROM sqlite_master WHERE type IN ('index', 'trigger')"
        shape["others"] = sorted(str(row) for row in db.execute(others))
        shape["contents"] = sorted(str(row) for row in db.execute("SELECT table_name, data_type FROM gpkg_contents"))
        shape["extensions"] = sorted(str(row) for row in db.execute("SELECT * FROM gpkg_extensions"))
        return shape
    finally:
        db.close()


@pytest.mark.parametrize("legacy", LEGACY, ids=lambda p: p.name)
def test_a_file_brought_up_to_date_has_the_shape_of_a_new_one(legacy: Path, tmp_path: Path) -> None:
    copy, fresh = tmp_path / legacy.name, tmp_path / "new.gpkg"
    shutil.copy(legacy, copy)
    StandFile.open(copy).close()
    StandFile.create(fresh).close()
    assert shape_of(copy) == shape_of(fresh)


@pytest.mark.parametrize("legacy", LEGACY, ids=lambda p: p.name)
def test_every_step_of_an_earlier_layout_can_be_taken_back(legacy: Path, tmp_path: Path) -> None:
    copy = tmp_path / legacy.name
    shutil.copy(legacy, copy)
    with StandFile.open(copy) as file:
        while any(event.standing and event.kind != "undo" for event in file.history()):
            file.undo(NOW)
        assert file.stand().trees == ()
        assert file.rows(Stop) == ()


def test_a_file_of_the_present_layout_is_kept_for_later() -> None:
    assert f"layout{SCHEMA}.gpkg" in [p.name for p in LEGACY]
