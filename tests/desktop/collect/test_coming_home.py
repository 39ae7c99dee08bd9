"""What comes home from a walk: a phone's file, holes made and seen to, walks opened again, a track beside the plan."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QFileDialog, QLabel, QPushButton
from pytestqt.qtbot import QtBot

from standmap.cli.main import run as command
from standmap.desktop.desk import Desk
from standmap.desktop.pages.collect import planning as planning_room
from standmap.desktop.pages.collect.beside_overlays import TrackOverlay
from standmap.desktop.pages.collect.done_lines import ClosedLine, MadeLine
from standmap.desktop.pages.collect.over_sheet import OverSheet
from standmap.desktop.pages.collect.overlay import RoundOverlay
from standmap.desktop.pages.collect.page import CollectPage
from standmap.desktop.pages.collect.planning import Stage
from standmap.desktop.window import Window
from standmap.jobs.given_walk import GivenWalk, give_out, given_walk, walks_given_out
from standmap.jobs.mark import mark_trees
from standmap.jobs.opening import open_stand
from standmap.jobs.planned_round import Purpose
from standmap.rounds.solve import plan
from standmap.stand.snapshot import Stand
from standmap.stand.tapping import Act
from tests.desktop.collect.brought import entry, returns_file, track_file

PATIENCE_MS = 30_000
AT = datetime.fromisoformat("2026-03-28T06:20:00").astimezone()


def click(button: QPushButton) -> None:
    assert button.isVisible(), button.text()
    assert button.isEnabled(), button.text()
    QTest.mouseClick(button, Qt.MouseButton.LeftButton)


def stand_of(window: Window) -> Stand:
    assert window.desk.seen is not None
    return window.desk.seen.stand


def idle(qtbot: QtBot, window: Window) -> None:
    qtbot.waitUntil(lambda: not window.desk.busy, timeout=PATIENCE_MS)
    QApplication.processEvents()


@pytest.fixture
def plan_for(
    qtbot: QtBot, window: Window, page: CollectPage, monkeypatch: pytest.MonkeyPatch
) -> Callable[[Purpose], CollectPage]:
    """Return what plans a walk for a purpose, with one tree marked to be tapped."""
    monkeypatch.setattr(planning_room, "solve_apart", plan)

    def planned(purpose: Purpose) -> CollectPage:
        if purpose is Purpose.TAPPING:
            names = [stand_of(window).tree(name).key for name in ("B07", "B10")]
            now = window.desk.now()
            window.desk.run(lambda file, _: mark_trees(file, names, 2026, now, 1), "marking")
            idle(qtbot, window)
        click(page.ask.purposes[purpose])
        click(page.plan_button)
        qtbot.waitUntil(lambda: page.planning.stage is Stage.PLANNED, timeout=PATIENCE_MS)
        return page

    return planned


@pytest.fixture
def given(qtbot: QtBot, window: Window, planned: CollectPage) -> GivenWalk:
    """Give the planned walk out."""
    walk = planned.planning.planned
    assert walk is not None
    kept = given_walk(walk, window.desk.now())
    window.desk.run(lambda file, _: give_out(file, kept), "giving out")
    idle(qtbot, window)
    return kept


def texts(sheet: OverSheet) -> list[str]:
    """Return every text that a sheet shows."""
    QApplication.processEvents()  # what was put in just now is shown
    return [one.text() for one in sheet.findChildren(QLabel) if one.isVisible()]


def litres(window: Window) -> dict[str, tuple[float, bool]]:
    day = window.desk.today
    taken = (c for c in stand_of(window).collections if c.collected_on == day)
    return {c.hole_key: (c.volume_ml, c.overflowed) for c in taken}


# From a phone


def test_a_phones_file_is_shown_then_written_down_as_one_step(
    qtbot: QtBot,
    window: Window,
    planned: CollectPage,
    given: GivenWalk,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    page = planned
    stops = [entry(stop, AT, given="2.5", unit="l", overflowed=stop.order == 1) for stop in given.stops[:3]]
    skipped = {**entry(given.stops[3], AT), "what": "skipped", "reason": "not reached", "note": "brook too high"}
    path = returns_file(tmp_path / "returns.txt", given, [*stops, skipped])
    monkeypatch.setattr(QFileDialog, "getOpenFileName", lambda *_: (str(path), ""))
    click(page.returns_button)
    click(page.returns.phone_button)
    phone = page.home.phone
    qtbot.waitUntil(lambda: phone.proposal is not None, timeout=PATIENCE_MS)
    assert phone.isVisible()
    assert phone.choices.isHidden()
    assert {"new", "3", "skipped", "1", "?: not reached (brook too high)"} <= set(texts(phone))
    assert not litres(window)  # shown first, written only when told to
    click(phone.store_button)
    idle(qtbot, window)
    assert litres(window) == {stop.hole_key: (2500.0, stop.order == 1) for stop in given.stops[:3]}
    assert page.over is page.returns  # back where it was asked for
    first = page.returns.lines[given.stops[0].key]
    assert first.told.text() == "written down: 2.5 L, ran over"
    QTest.keyClick(window, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    qtbot.waitUntil(lambda: not litres(window), timeout=PATIENCE_MS)


@pytest.mark.parametrize("word", ["ours", "theirs"])
def test_what_disagrees_waits_for_a_word(
    qtbot: QtBot, window: Window, planned: CollectPage, given: GivenWalk, tmp_path: Path, word: str
) -> None:
    page = planned
    click(page.returns_button)
    QTest.keyClicks(page.returns.lines[given.stops[0].key].amount, "2")
    click(page.returns.store_button)
    idle(qtbot, window)
    stops = [entry(stop, AT, given="3", unit="l") for stop in given.stops[:2]]
    page.home.phone.look_at(returns_file(tmp_path / "returns.txt", given, stops))
    page.lay(page.home.phone)
    phone = page.home.phone
    qtbot.waitUntil(lambda: phone.proposal is not None, timeout=PATIENCE_MS)
    assert "here 2 L · phone 3 L" in texts(phone)
    assert not phone.store_button.isEnabled()
    click(getattr(phone, word))
    click(phone.store_button)
    idle(qtbot, window)
    first, second = (given.stops[k].hole_key or "" for k in (0, 1))
    assert litres(window) == {first: (2000.0 if word == "ours" else 3000.0, False), second: (3000.0, False)}


def test_pasted_text_is_taken_and_what_is_no_returns_file_is_refused(
    qtbot: QtBot, window: Window, planned: CollectPage, given: GivenWalk, tmp_path: Path
) -> None:
    phone = planned.home.phone
    planned.lay(phone)
    QApplication.clipboard().setText("good morning")
    click(phone.paste_button)
    qtbot.waitUntil(phone.wrong.isVisible, timeout=PATIENCE_MS)
    assert "pasted.txt" in phone.wrong.text()
    assert not phone.store_button.isEnabled()
    text = returns_file(tmp_path / "r.txt", given, [entry(given.stops[0], AT, given="1.5", unit="l")]).read_text()
    QApplication.clipboard().setText(text)
    click(phone.paste_button)
    qtbot.waitUntil(lambda: phone.proposal is not None, timeout=PATIENCE_MS)
    assert phone.wrong.isHidden()
    QTest.keyClick(phone.store_button, Qt.Key.Key_Space)
    idle(qtbot, window)
    assert litres(window) == {given.stops[0].hole_key: (1500.0, False)}


def test_a_stand_that_changed_meanwhile_is_asked_again(
    qtbot: QtBot, window: Window, planned: CollectPage, given: GivenWalk, tmp_path: Path
) -> None:
    phone, path = (
        planned.home.phone,
        returns_file(tmp_path / "r.txt", given, [entry(given.stops[0], AT, given="1.5", unit="l")]),
    )
    planned.lay(phone)
    phone.look_at(path)
    qtbot.waitUntil(lambda: phone.proposal is not None, timeout=PATIENCE_MS)
    assert command(["record", str(window.desk.path), str(path)]) == 0  # somebody else takes the very same file
    qtbot.waitUntil(lambda: phone.proposal is not None and phone.proposal.same == 1, timeout=PATIENCE_MS)
    assert not phone.store_button.isEnabled()
    assert "all of this is written down already" in texts(phone)


# Ran over


def test_a_vessel_that_ran_over_is_ticked_and_needs_an_amount(
    qtbot: QtBot, window: Window, planned: CollectPage
) -> None:
    click(planned.returns_button)
    (key, line), *_ = planned.returns.lines.items()
    line.overflowed.setFocus()
    QTest.keyClick(line.overflowed, Qt.Key.Key_Space)
    assert not planned.returns.store_button.isEnabled()
    assert planned.returns.tell().errors
    assert line.told.text() == "there is a tick without an amount; type the amount too, 0 if there was none"
    QTest.keyClicks(line.amount, "4.5")
    click(planned.returns.store_button)
    idle(qtbot, window)
    assert litres(window) == {key: (4500.0, True)}
    click(planned.returns.back)
    click(planned.returns_button)
    assert planned.returns.lines[key].overflowed.isChecked()


# Holes made, and seen to


def test_holes_of_a_tapping_walk_are_typed_and_written_once(
    qtbot: QtBot, window: Window, plan_for: Callable[[Purpose], CollectPage]
) -> None:
    page = plan_for(Purpose.TAPPING)
    click(page.returns_button)
    done = page.home.done
    first, second = done.lines.values()
    assert isinstance(first, MadeLine)
    assert isinstance(second, MadeLine)
    assert first.box.hasFocus()
    assert not done.store_button.isEnabled()
    for cell, text in zip(first.cells.values(), ("55", "SW", "x", "8"), strict=True):
        QTest.keyClicks(cell, text)
    assert first.box.isChecked()  # a hole that was measured was made
    done.go()
    assert first.told.text().startswith("'x' is no unit") or "x" in first.told.text()
    assert [cell.property("wrong") for cell in first.cells.values()].count("true") == 1
    first.cells["depth"].selectAll()
    QTest.keyClicks(first.cells["depth"], "40")
    assert first.told.isHidden()
    QTest.keyClick(first.cells["bit"], Qt.Key.Key_Down)
    assert second.cells["bit"].hasFocus()
    click(done.store_button)
    idle(qtbot, window)
    made = [h for h in stand_of(window).holes if h.made_on == window.desk.today]
    assert [(h.height_mm, h.side_deg, h.depth_mm, h.bit_mm) for h in made] == [(550, 225, 40, 8)]
    assert window.desk.seen is not None
    assert window.desk.seen.undo_label == "holes made on 2026-03-28"
    assert first.told.text() == "written down"
    assert not first.box.isEnabled()
    assert not done.store_button.isEnabled()  # what is written down is not written twice
    window.desk.undo()
    qtbot.waitUntil(first.box.isEnabled, timeout=PATIENCE_MS)
    assert first.cells["height"].text() == "55"


def test_a_closing_walk_is_ticked_off(qtbot: QtBot, window: Window, plan_for: Callable[[Purpose], CollectPage]) -> None:
    page = plan_for(Purpose.CLOSING)
    click(page.returns_button)
    done = page.home.done
    click(done.all_out)
    line = next(iter(done.lines.values()))
    assert isinstance(line, ClosedLine)
    for act in (Act.PLUGGED, Act.LEFT_OPEN):
        line.boxes[act].setFocus()
        QTest.keyClick(line.boxes[act], Qt.Key.Key_Space)
    assert (line.boxes[Act.PLUGGED].isChecked(), line.boxes[Act.LEFT_OPEN].isChecked()) == (False, True)
    click(done.store_button)
    idle(qtbot, window)
    told = [(o.what, o.hole_key) for o in stand_of(window).observations if o.observed_on == window.desk.today]
    assert len([what for what, _ in told if what is Act.TAKEN_OUT]) == len(done.lines)
    assert [key for what, key in told if what is Act.LEFT_OPEN] == [line.row.hole_key]
    assert window.desk.seen is not None
    assert window.desk.seen.undo_label == "holes seen to on 2026-03-28"
    assert line.told.text() == "written down"
    assert [box.isEnabled() for box in line.boxes.values()] == [False, False, False]
    other = list(done.lines.values())[1]
    assert isinstance(other, ClosedLine)
    assert [box.isEnabled() for box in other.boxes.values()] == [False, True, True]  # the plug may come later


# Walks given out, and the walk beside its plan


def test_a_walk_given_out_is_there_after_a_new_start(
    qtbot: QtBot, window: Window, planned: CollectPage, given: GivenWalk, alder_brook: Path
) -> None:
    assert planned.planning.planned is not None
    window.desk.close_stand()
    desk = Desk(window.desk.settings)
    again = Window(desk)
    qtbot.addWidget(again)
    again.show()
    with qtbot.waitSignal(desk.stand_opened, timeout=PATIENCE_MS):
        desk.open_stand(alder_brook)
    again.show_page("collect")
    page = again.pages["collect"]
    assert isinstance(page, CollectPage)
    idle(qtbot, again)
    click(page.ask.to_given)
    idle(qtbot, again)
    sheet = page.home.given
    assert sheet.box.currentText().startswith("28 Mar 2026 · collecting · ")
    names = [row.name for row in sheet.model.rows if not row.is_trip]
    assert names == [stand_of(again).by_key[stop.tree_key].name for stop in given.stops]
    (overlay,) = again.canvas.scene.overlays
    assert isinstance(overlay, RoundOverlay)
    assert overlay.shown.orders == tuple(stop.order for stop in given.stops)
    click(sheet.returns_button)
    assert list(page.returns.lines) == [stop.key for stop in given.stops]
    QTest.keyClicks(page.returns.lines[given.stops[0].key].amount, "2.2")
    click(page.returns.store_button)
    idle(qtbot, again)
    assert litres(again) == {given.stops[0].hole_key: (2200.0, False)}
    click(page.returns.back)
    assert page.over is sheet
    desk.close_stand()


def test_a_stand_without_walks_given_out_says_what_to_do(qtbot: QtBot, window: Window, page: CollectPage) -> None:
    click(page.ask.to_given)
    idle(qtbot, window)
    assert page.home.given.nothing.text().startswith("None yet. Plan a walk and give it out")
    assert not page.home.given.returns_button.isEnabled()
    click(page.home.given.back)
    assert page.ask.isVisible()


def test_a_track_is_held_beside_the_plan(
    qtbot: QtBot,
    window: Window,
    planned: CollectPage,
    given: GivenWalk,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    one, two, *others, last = given.stops
    path = track_file(tmp_path / "morning.gpx", given, [stop.at for stop in (two, one, *others)])
    monkeypatch.setattr(QFileDialog, "getOpenFileName", lambda *_: (str(path), ""))
    click(planned.walk.beside)
    beside = planned.home.beside
    click(beside.choose_button)
    qtbot.waitUntil(lambda: beside.walked is not None, timeout=PATIENCE_MS)
    assert beside.walked is not None
    name = {stop.key: stand_of(window).by_key[stop.tree_key].name for stop in given.stops}
    shown = texts(beside)
    assert f"not come to: {name[last.key]}" in shown
    assert f"{len(given.stops) - 1} of {len(given.stops)}" in shown
    assert "1 pair the other way round" in shown
    assert {"1 → 2", "2 → 1", "missed"} <= set(shown)
    track, walk = window.canvas.scene.overlays
    assert isinstance(track, TrackOverlay)
    assert isinstance(walk, RoundOverlay)
    picture = window.canvas.grab()
    assert not picture.isNull()
    click(beside.back)
    assert len(window.canvas.scene.overlays) == 1
    with open_stand(window.desk.path or Path(), read_only=True) as file:
        assert len(walks_given_out(file)) == 1  # nothing of the track is stored


def test_a_file_without_a_track_is_told_beside(qtbot: QtBot, planned: CollectPage, tmp_path: Path) -> None:
    path = tmp_path / "empty.gpx"
    path.write_text('<gpx version="1.1" creator="t" xmlns="http://www.topografix.com/GPX/1/1"></gpx>')
    click(planned.walk.beside)
    planned.home.beside.look_at(path)
    qtbot.waitUntil(planned.home.beside.wrong.isVisible, timeout=PATIENCE_MS)
    assert "holds no track" in planned.home.beside.wrong.text()
