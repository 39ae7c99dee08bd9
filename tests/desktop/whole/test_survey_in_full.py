"""The whole survey of an empty stand: walk, notes, field sheet and picture, reviewed, stored, adjusted, accepted."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QAbstractButton, QFileDialog

from standmap.assets import sample_stand
from standmap.jobs.opening import open_stand
from standmap.jobs.sample_wood import SURVEYED, SURVEYED_WOOD
from standmap.stand.records import Media
from standmap.stand.snapshot import Stand
from tests.desktop.whole.whole_window import ALT, CTRL, Whole, bare_rows, exact_rows, tell_command

FILES = [sample_stand(SURVEYED_WOOD, source) for source in SURVEYED]
NAMES = {f"N{n:02d}" for n in range(1, 13)} | {f"G{n}" for n in range(1, 8)} | {"W1"}


@pytest.fixture
def by_commands(tmp_path: Path) -> Path:
    """Make the stand by commands alone."""
    path = tmp_path / "theirs.gpkg"
    tell_command("new", path)
    tell_command("bring", path, *FILES)
    tell_command("adjust", path, "--accept")
    return path


@pytest.fixture(autouse=True)
def answered(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Answer the questions for files as a person would."""
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (str(tmp_path / "slope"), ""))
    monkeypatch.setattr(QFileDialog, "getOpenFileNames", lambda *_: ([str(f) for f in FILES], ""))


def brought(whole: Whole) -> Path:
    """Look at what was stored; return where."""
    path = whole.desk.path
    assert path is not None
    assert {t.name for t in whole.seen.trees} == NAMES
    return path


def outcome(whole: Whole, path: Path, by_commands: Path, before: dict[str, list[tuple[object, ...]]]) -> None:
    """Compare with what the commands make, and take both steps back."""
    assert "9 positions were moved" in {text for _, text in whole.told}
    after = exact_rows(path)
    moved = [new for new, old in zip(after["tree"], before["tree"], strict=True) if new != old]
    assert len(moved) >= 9
    assert after["sight"] == before["sight"]
    with open_stand(path, read_only=True) as file:
        (picture,) = file.rows(Media)
        assert file.stand().by_key[picture.tree_key or ""].name == "N07"
        assert [event.label for event in file.history()][1:] == ["adjust 9 positions"]
    ours, theirs = bare_rows(path), bare_rows(by_commands)
    for name in ("tree", "measurement", "sight", "stop", "place", "walk"):
        assert len(ours[name]) == len(theirs[name]), name
    spots = [{t.name: t.at for t in stand.trees} for stand in (whole.seen.stand, _stand(by_commands))]
    assert spots[0] == {name: pytest.approx(at, abs=1e-9) for name, at in spots[1].items()}
    whole.idle()
    assert whole.undo_all() == 2
    assert not exact_rows(path)["tree"]


def _stand(path: Path) -> Stand:
    with open_stand(path, read_only=True) as file:
        return file.stand()


def test_with_the_mouse(begin: Callable[..., Whole], by_commands: Path) -> None:
    whole = begin()
    whole.until(whole.window.start.new_button.isVisible)
    whole.press(whole.window.start.new_button)
    whole.until(lambda: whole.desk.seen is not None)
    survey = whole.survey
    whole.press(survey.home.files)
    review = survey.bringing.sheet
    whole.until(review.isVisible)
    assert not whole.seen.trees  # looked through, nothing stored
    assert review.review is not None
    names = {item.name for item in review.review.items}
    assert {"N05", "N05 → G1", "upper gate", "north slope"} <= names
    whole.press(review.store)
    whole.until(lambda: bool(whole.seen.trees) and not whole.desk.busy)
    path = brought(whole)
    before = exact_rows(path)
    whole.press(survey.home.adjust)
    sheet = survey.adjusting.sheet
    whole.until(lambda: sheet.isVisible() and sheet.adjustment is not None)
    assert sheet.adjustment is not None
    assert "from G3 to G6" in sheet.adjustment.disagreeing[0].text
    assert exact_rows(path) == before  # shown, nothing moved
    whole.press(sheet.accept)
    whole.until(lambda: survey.sheet is survey.home and not whole.desk.busy)
    outcome(whole, path, by_commands, before)


def test_by_keyboard_alone(begin: Callable[..., Whole], by_commands: Path) -> None:
    whole = begin()
    whole.until(whole.window.start.new_button.hasFocus)
    whole.key(Qt.Key.Key_Space)
    whole.until(lambda: whole.desk.seen is not None)
    whole.idle()
    whole.key(Qt.Key.Key_F, ALT)
    review = whole.survey.bringing.sheet
    whole.until(review.isVisible)
    assert review.list.hasFocus()
    whole.key(Qt.Key.Key_Return, CTRL)
    whole.until(lambda: bool(whole.seen.trees) and not whole.desk.busy)
    path = brought(whole)
    before = exact_rows(path)
    whole.key(Qt.Key.Key_J, ALT)
    sheet = whole.survey.adjusting.sheet
    whole.until(lambda: sheet.isVisible() and sheet.adjustment is not None)
    assert sheet.accept.hasFocus()
    whole.key(Qt.Key.Key_Return, CTRL)
    whole.until(lambda: whole.survey.sheet is whole.survey.home and not whole.desk.busy)
    outcome(whole, path, by_commands, before)


def test_a_reading_that_is_left_out_no_longer_pulls(begin: Callable[..., Whole]) -> None:
    whole = begin()
    whole.until(whole.window.start.new_button.isVisible)
    whole.press(whole.window.start.new_button)
    whole.until(lambda: whole.desk.seen is not None)
    whole.press(whole.survey.home.files)
    whole.until(whole.survey.bringing.sheet.isVisible)
    whole.press(whole.survey.bringing.sheet.store)
    whole.until(lambda: bool(whole.seen.trees) and not whole.desk.busy)
    whole.find("adjust positions")
    sheet = whole.survey.adjusting.sheet
    whole.until(lambda: sheet.isVisible() and sheet.adjustment is not None)
    assert sheet.adjustment is not None
    (wrong,) = sheet.adjustment.disagreeing
    (button,) = sheet.findChildren(QAbstractButton, f"use-{wrong.id}")
    whole.until(button.isVisible)
    whole.press(button)
    whole.until(lambda: sheet.adjustment is not None and bool(sheet.adjustment.left_out) and not whole.desk.busy)
    assert sheet.adjustment.disagreeing == ()
    assert [o.id for o in sheet.adjustment.left_out] == [wrong.id]
    whole.press(sheet.leave)
    assert whole.survey.sheet is whole.survey.home
