"""The desk: the open stand as the window sees it, edits off the GUI thread, other writers noticed."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
from pytestqt.qtbot import QtBot

from standmap.cli.main import run as command
from standmap.desktop.desk import Desk
from standmap.desktop.working import Watch
from standmap.errors import NothingToDo, UserError
from standmap.jobs.correct import fell
from standmap.jobs.opening import open_stand
from standmap.settings import Settings
from standmap.stand.tree import Standing
from standmap.store.stand_file import StandFile


@pytest.fixture
def desk(qtbot: QtBot) -> Iterator[Desk]:
    made = Desk(Settings())
    yield made
    made.close_stand()
    del qtbot


@pytest.fixture
def notices(desk: Desk) -> list[tuple[str, str]]:
    heard: list[tuple[str, str]] = []
    desk.notice.connect(lambda kind, text: heard.append((kind, text)))
    return heard


def opened(qtbot: QtBot, desk: Desk, path: Path) -> None:
    with qtbot.waitSignal(desk.stand_opened):
        desk.open_stand(path)
    qtbot.waitUntil(lambda: not desk.busy)


def test_an_open_stand_is_seen_whole_and_judged_for_the_year(qtbot: QtBot, desk: Desk, alder_brook: Path) -> None:
    looks: list[object] = []
    desk.first_look_ready.connect(looks.append)
    opened(qtbot, desk, alder_brook)
    assert desk.seen is not None
    assert len(looks) == 1
    lengths = [len(desk.seen.trees), len(desk.codes), len(desk.rest), len(desk.seen.xy)]
    assert lengths == [57] * 4
    assert desk.season == 2026
    assert not desk.read_only
    before = desk.codes.copy()
    with qtbot.waitSignal(desk.season_changed):
        desk.set_season(2030)
    assert (desk.codes != before).any()


def test_an_edit_is_seen_and_taken_back_and_done_again(
    qtbot: QtBot, desk: Desk, alder_brook: Path, notices: list[tuple[str, str]]
) -> None:
    opened(qtbot, desk, alder_brook)
    assert desk.seen is not None
    tree = desk.seen.trees[0]
    desk.choose([tree.key])
    with qtbot.waitSignal(desk.seen_changed):
        desk.run(lambda file, _: fell(file, tree.name, desk.today, desk.now()), "felling")
    assert desk.seen.stand.by_key[tree.key].standing is Standing.FELLED
    assert desk.seen.undo_label == f"{tree.name}: felled"
    assert desk.chosen == (tree.key,)
    with qtbot.waitSignal(desk.seen_changed):
        desk.undo()
    assert desk.seen.stand.by_key[tree.key] == tree
    assert desk.seen.redo_label == f"{tree.name}: felled"
    qtbot.waitUntil(lambda: ("tell", f"taken back: {tree.name}: felled") in notices)
    with qtbot.waitSignal(desk.seen_changed):
        desk.redo()
    assert desk.seen.stand.by_key[tree.key].standing is Standing.FELLED


def test_what_cannot_be_is_told_and_nothing_changes(
    qtbot: QtBot, desk: Desk, alder_brook: Path, notices: list[tuple[str, str]]
) -> None:
    opened(qtbot, desk, alder_brook)
    seen = desk.seen
    desk.run(lambda file, _: fell(file, "no such tree", desk.today, desk.now()), "felling")
    qtbot.waitUntil(lambda: bool(notices))
    assert notices == [("error", "no tree is called 'no such tree'. Name a tree of this stand, or its id")]
    assert desk.seen is seen
    caught: list[Exception] = []
    desk.run(_nothing, "nothing", failed=caught.append)
    qtbot.waitUntil(lambda: bool(caught))
    assert isinstance(caught[0], NothingToDo)
    broken: list[object] = []
    desk.broke.connect(broken.append)
    desk.run(_ours, "ours")
    qtbot.waitUntil(lambda: bool(broken))
    assert isinstance(broken[0], ZeroDivisionError)


def _nothing(_: StandFile, __: Watch) -> None:
    raise NothingToDo("nothing to do here")


def _ours(_: StandFile, __: Watch) -> float:
    return 1 / 0


def test_what_another_program_writes_is_read_again(
    qtbot: QtBot, desk: Desk, alder_brook: Path, notices: list[tuple[str, str]]
) -> None:
    opened(qtbot, desk, alder_brook)
    assert desk.seen is not None
    name = desk.seen.trees[3].name
    with qtbot.waitSignal(desk.seen_changed, timeout=8000):
        assert command(["correct", "felled", str(alder_brook), name]) == 0
    assert desk.seen.stand.tree(name).standing is Standing.FELLED
    assert notices[-1] == ("tell", "another program has changed the stand: it was read again")


def test_a_second_window_looks_but_does_not_touch(qtbot: QtBot, desk: Desk, alder_brook: Path) -> None:
    opened(qtbot, desk, alder_brook)
    second = Desk(Settings())
    heard: list[str] = []
    second.notice.connect(lambda _, text: heard.append(text))
    opened(qtbot, second, alder_brook)
    assert second.read_only
    assert any("open in another window" in text for text in heard)
    caught: list[Exception] = []
    assert second.seen is not None
    name = second.seen.trees[0].name
    second.run(lambda file, _: fell(file, name, desk.today, desk.now()), "felling", failed=caught.append)
    qtbot.waitUntil(lambda: bool(caught))
    assert isinstance(caught[0], UserError)
    second.close_stand()
    desk.close_stand()
    assert [p.name for p in alder_brook.parent.iterdir() if p.is_file()] == ["alder-brook.gpkg"]
    with open_stand(alder_brook) as file:  # and whoever comes next may write
        fell(file, name, desk.today, desk.now())


def test_closing_waits_for_an_edit_that_was_begun(qtbot: QtBot, desk: Desk, alder_brook: Path) -> None:
    opened(qtbot, desk, alder_brook)
    assert desk.seen is not None
    name = desk.seen.trees[0].name
    desk.run(lambda file, _: fell(file, name, desk.today, desk.now()), "felling")
    desk.close_stand()
    assert desk.seen is None
    with open_stand(alder_brook) as file:
        assert file.stand().tree(name).standing is Standing.FELLED


def test_long_work_is_asked_to_stop_when_the_stand_is_closed(qtbot: QtBot, desk: Desk, alder_brook: Path) -> None:
    opened(qtbot, desk, alder_brook)
    ended: list[str] = []
    begun = threading.Event()

    def long(watch: Watch) -> None:
        begun.set()
        while not watch.stop_wanted():
            pass
        ended.append("stopped")

    desk.compute(long, "long")
    qtbot.waitUntil(begun.is_set)
    assert desk.busy
    desk.close_stand()
    assert not desk.busy
    assert ended == ["stopped"]


def test_a_file_that_is_no_stand_is_told_and_nothing_is_open(
    qtbot: QtBot, desk: Desk, tmp_path: Path, notices: list[tuple[str, str]]
) -> None:
    path = tmp_path / "no.gpkg"
    path.write_text("no stand")
    desk.open_stand(path)
    qtbot.waitUntil(lambda: bool(notices))
    assert notices[0][0] == "error"
    assert "this is not a GeoPackage" in notices[0][1]
    assert desk.seen is None
    assert desk.path is None


def test_choosing_adds_takes_away_and_forgets_what_is_gone(qtbot: QtBot, desk: Desk, alder_brook: Path) -> None:
    opened(qtbot, desk, alder_brook)
    assert desk.seen is not None
    a, b, c = (t.key for t in desk.seen.trees[:3])
    desk.choose([a])
    desk.choose([b], add=True)
    assert list(desk.chosen) == [a, b]
    assert desk.chosen_tree is not None
    assert desk.chosen_tree.key == b
    desk.choose([a], add=True)
    assert list(desk.chosen) == [b]
    desk.choose([c, "no such key"])
    assert list(desk.chosen) == [c]
    desk.choose(())
    assert desk.chosen_tree is None


def test_what_is_no_stand_leaves_the_open_one_open(
    qtbot: QtBot, desk: Desk, alder_brook: Path, tmp_path: Path, notices: list[tuple[str, str]]
) -> None:
    opened(qtbot, desk, alder_brook)
    seen = desk.seen
    for name in ("folder.gpkg", "missing.gpkg", "text.gpkg"):
        path = tmp_path / name
        if name.startswith("folder"):
            path.mkdir()
        elif name.startswith("text"):
            path.write_text("no stand")
        desk.open_stand(path)
        assert notices[-1][0] == "error"
        assert name in notices[-1][1]
    assert desk.seen is seen
    assert desk.path == alder_brook


def test_a_file_that_is_taken_away_is_noticed_and_not_written_any_more(
    qtbot: QtBot, desk: Desk, alder_brook: Path, notices: list[tuple[str, str]]
) -> None:
    opened(qtbot, desk, alder_brook)
    alder_brook.rename(alder_brook.with_name("elsewhere.gpkg"))
    qtbot.waitUntil(lambda: desk.read_only, timeout=8000)
    assert notices[-1][0] == "caution"
    assert "moved, deleted or replaced" in notices[-1][1]
