"""A season in little, from the window alone: tap, give out, returns, collect, a phone's file, the track, close."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFileDialog

from standmap.desktop.pages.collect.done_lines import ClosedLine, MadeLine
from standmap.desktop.pages.collect.planning import Stage
from standmap.jobs.given_walk import GivenWalk, walks_given_out
from standmap.jobs.opening import open_stand
from standmap.jobs.planned_round import PlannedRound, Purpose
from standmap.stand.tapping import Act
from tests.desktop.collect.brought import entry, returns_file, track_file
from tests.desktop.whole.whole_window import CTRL, Whole, exact_rows

TAPPED = ("B07", "B10")


@pytest.fixture
def asked_for(monkeypatch: pytest.MonkeyPatch) -> list[Path]:
    """Return the files that a person names next, the first first."""
    named: list[Path] = []
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (str(named.pop(0)), ""))
    monkeypatch.setattr(QFileDialog, "getOpenFileName", lambda *_: (str(named.pop(0)), ""))
    return named


def planned(whole: Whole, purpose: Purpose, day: str) -> PlannedRound:
    """Plan a walk for a purpose from an empty form."""
    page = whole.collect
    whole.press(page.ask.purposes[purpose])
    whole.fill(page.ask.day, day)
    whole.press(page.plan_button)
    whole.until(lambda: page.planning.stage is Stage.PLANNED)
    walk = page.planning.planned
    assert walk is not None
    assert walk.purpose is purpose
    return walk


def given_out(path: Path, purpose: Purpose) -> GivenWalk:
    with open_stand(path, read_only=True) as file:
        return next(walk for walk in walks_given_out(file) if walk.purpose is purpose)


def test_from_drilling_to_the_last_plug(
    begin: Callable[..., Whole],
    alder_brook: Path,
    tmp_path: Path,
    asked_for: list[Path],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    untouched = exact_rows(alder_brook)
    whole = begin(alder_brook)
    page, home, before = whole.collect, whole.collect.home, whole.seen.undo_label

    # Mark two trees, plan the tapping walk, give it out on paper.
    whole.go(2)
    whole.click_tree(TAPPED[0])
    whole.click_tree(TAPPED[1], CTRL)
    whole.find("mark the chosen trees")
    whole.until(lambda: len(whole.seen.plans) == 2)
    whole.go(3)
    tapping = planned(whole, Purpose.TAPPING, "2026-03-28")
    assert sorted(stop.tree.name for trip in tapping.trips for stop in trip.stops) == sorted(TAPPED)
    assert any("drill" in line.what or "bit" in line.what for line in tapping.kit)
    asked_for.append(tmp_path / "tapping.pdf")
    whole.press(page.paper_button)
    whole.until(lambda: any("tapping.pdf is in" in text for _, text in whole.told))
    assert (tmp_path / "tapping.pdf").read_bytes().startswith(b"%PDF")

    # Type the holes that were made, by keys.
    whole.press(page.returns_button)
    for line in home.done.lines.values():
        assert isinstance(line, MadeLine)
        line.cells["height"].setFocus()
        for text in ("60", "S", "40", "10"):
            whole.type(text)
            whole.key(Qt.Key.Key_Tab)
    whole.press(home.done.store_button)
    whole.until(lambda: whole.seen.undo_label == "holes made on 2026-03-28")
    made = {hole.key: hole for hole in whole.seen.stand.holes if (hole.height_mm, hole.depth_mm) == (600, 40)}
    assert {whole.seen.stand.by_key[hole.tree_key].name for hole in made.values()} == set(TAPPED)

    # The next morning: collect, with the page for a phone.
    monkeypatch.setenv("STANDMAP_TODAY", "2026-03-29")
    whole.press(home.done.back)
    whole.find("plan another walk")
    collecting = planned(whole, Purpose.COLLECTING, "2026-03-29")
    stops = [stop for trip in collecting.trips for stop in trip.stops]
    assert set(made) < {stop.key for stop in stops}
    asked_for.append(tmp_path / "collecting.html")
    whole.press(page.phone_button)
    whole.until((tmp_path / "collecting.html").exists)
    whole.idle()

    # The phone's returns and the track of the morning.
    given = given_out(alder_brook, Purpose.COLLECTING)
    at = datetime.fromisoformat("2026-03-29T06:20:00").astimezone()
    entries = [entry(stop, at, given="2", unit="l") for stop in given.stops]
    asked_for.append(returns_file(tmp_path / "returns.txt", given, entries))
    whole.find("take returns from a phone")
    whole.until(home.phone.store_button.isEnabled)
    whole.press(home.phone.store_button)
    whole.until(lambda: whole.seen.undo_label == "returns of 2026-03-29 from a phone")
    asked_for.append(track_file(tmp_path / "morning.gpx", given, [stop.at for stop in given.stops]))
    whole.press(page.walk.beside)
    whole.press(home.beside.choose_button)
    whole.until(lambda: home.beside.walked is not None)
    assert home.beside.walked is not None
    assert home.beside.walked.brought_l == pytest.approx(2 * len(stops))
    assert home.beside.walked.missed == ()
    whole.press(home.beside.back)

    # Close everything that is open.
    whole.find("plan another walk")
    closing = planned(whole, Purpose.CLOSING, "2026-03-29")
    assert closing.taps >= len(stops)
    whole.press(page.returns_button)
    whole.press(home.done.all_out)
    for line in home.done.lines.values():
        assert isinstance(line, ClosedLine)
        whole.press(line.boxes[Act.PLUGGED])
    whole.press(home.done.store_button)
    whole.until(lambda: whole.seen.undo_label == "holes seen to on 2026-03-29")
    plugged = {o.hole_key for o in whole.seen.stand.observations if o.what is Act.PLUGGED}
    assert set(made) <= plugged
    assert not home.done.store_button.isEnabled()

    # Everything was one step each, and all of it can be taken back.
    assert whole.undo_all(before) == 6  # marks, two walks given out, holes, returns, plugs
    whole.window.close()
    assert exact_rows(alder_brook) == untouched
