"""Plot a new stand from a GPS walk: from an empty start to files on disk, as the command line would make them."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFileDialog

from standmap.assets import sample_stand
from standmap.cli.demonstration import SOURCES, WOOD
from standmap.jobs.opening import open_stand
from tests.desktop.whole.whole_window import ALT, CTRL, Whole, bare_rows, exact_rows, tell_command

FILES = [sample_stand(WOOD, source) for source in SOURCES]


@pytest.fixture
def plotted(tmp_path: Path) -> Path:
    """Make the stand by commands alone."""
    path = tmp_path / "theirs.gpkg"
    tell_command("new", path)
    tell_command("bring", path, *FILES)
    tell_command("confirm", path, "--all")
    return path


@pytest.fixture
def answered(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Path:
    """Answer the questions for files as a person would; return the folder of what is handed on."""
    out = tmp_path / "mine"
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (str(tmp_path / "alder-brook"), ""))
    monkeypatch.setattr(QFileDialog, "getOpenFileNames", lambda *_: ([str(f) for f in FILES], ""))
    monkeypatch.setattr(QFileDialog, "getExistingDirectory", lambda *_: str(out))
    return out


def same_outcome(whole: Whole, plotted: Path, mine: Path, tmp_path: Path) -> None:
    path = whole.desk.path
    assert path == tmp_path / "alder-brook.gpkg"
    whole.window.close()
    ours, theirs = bare_rows(path), bare_rows(plotted)
    for table in theirs:
        assert ours[table] == theirs[table], table
    assert len(ours["tree"]) > 44
    again, other = tmp_path / "again", tmp_path / "other"
    tell_command("export", path, "--out", again)
    names = sorted(p.name for p in again.iterdir())
    assert names == sorted(p.name for p in mine.iterdir())
    for name in names:
        assert (mine / name).read_bytes() == (again / name).read_bytes(), name
    # What each stand's own keys are made of is chance; all else is the same in both.
    tell_command("export", plotted, "--out", other)
    for ours_file, theirs_file in zip(sorted(mine.glob("*.csv")), sorted(other.glob("*.csv")), strict=True):
        assert _rows_without_ids(ours_file, path) == _rows_without_ids(theirs_file, plotted)
    (one,), (two,) = mine.glob("*.geojson"), other.glob("*.geojson")
    assert _features(one, path) == _features(two, plotted)


def _ids(path: Path) -> dict[str, str]:
    """Return what each key of a stand stands for."""
    found: dict[str, str] = {}
    for table, rows in exact_rows(path).items():
        for number, row in enumerate(rows):
            found |= {cell: f"{table} {number}" for cell in row[1:3] if isinstance(cell, str) and len(cell) in (26, 36)}
    return found


def _rows_without_ids(file: Path, path: Path) -> list[list[str]]:
    ids = _ids(path)
    return [[ids.get(c, c) for c in line.split(",")] for line in file.read_text().splitlines()]


def _features(file: Path, path: Path) -> object:
    text = file.read_text()
    for key, stands_for in _ids(path).items():
        text = text.replace(key, stands_for)
    return json.loads(text)


def test_with_the_mouse(begin: Callable[..., Whole], plotted: Path, answered: Path, tmp_path: Path) -> None:
    whole = begin()
    whole.until(whole.window.start.new_button.isVisible)
    whole.press(whole.window.start.new_button)
    whole.until(lambda: whole.desk.seen is not None)
    survey = whole.survey
    assert whole.window.page is survey
    assert survey.home.title.text() == "An empty stand"
    whole.press(survey.home.files)
    whole.until(survey.bringing.sheet.isVisible)
    assert not whole.seen.trees  # looked through, nothing stored
    whole.press(survey.bringing.sheet.store)
    whole.until(lambda: len(whole.seen.trees) > 44 and not whole.desk.busy)
    assert survey.home.confirm_all.text() == f"confirm all {sum(t.proposed for t in whole.seen.trees)}"
    whole.press(survey.home.confirm_all)
    whole.until(lambda: not any(t.proposed for t in whole.seen.trees))
    whole.idle()
    whole.key(Qt.Key.Key_E, CTRL)
    whole.until(lambda: any(text.startswith(f"written to {answered}") for _, text in whole.told))
    same_outcome(whole, plotted, answered, tmp_path)


def test_by_keyboard_alone(begin: Callable[..., Whole], plotted: Path, answered: Path, tmp_path: Path) -> None:
    whole = begin()
    whole.until(whole.window.start.new_button.hasFocus)
    whole.key(Qt.Key.Key_Space)
    whole.until(lambda: whole.desk.seen is not None)
    whole.idle()
    whole.key(Qt.Key.Key_F, ALT)
    sheet = whole.survey.bringing.sheet
    whole.until(sheet.isVisible)
    assert sheet.list.hasFocus()
    whole.key(Qt.Key.Key_Down)
    assert sheet.list.chosen == [1]
    whole.key(Qt.Key.Key_Return, CTRL)
    whole.until(lambda: len(whole.seen.trees) > 44 and not whole.desk.busy)
    whole.find("confirm all")
    whole.until(lambda: not any(t.proposed for t in whole.seen.trees))
    whole.idle()
    whole.key(Qt.Key.Key_E, CTRL)
    whole.until(lambda: any(text.startswith(f"written to {answered}") for _, text in whole.told))
    same_outcome(whole, plotted, answered, tmp_path)


def test_what_was_left_out_in_the_review_is_left_out(begin: Callable[..., Whole], answered: Path) -> None:
    whole = begin()
    whole.until(whole.window.start.new_button.hasFocus)
    whole.key(Qt.Key.Key_Space)
    whole.until(lambda: whole.desk.seen is not None)
    whole.idle()
    whole.key(Qt.Key.Key_F, ALT)
    sheet = whole.survey.bringing.sheet
    whole.until(sheet.isVisible)
    review = sheet.review
    assert review is not None
    left = next(i for i, item in enumerate(review.items) if item.name == "B07")
    while sheet.current != left:
        whole.key(Qt.Key.Key_Down)
    whole.key(Qt.Key.Key_I)
    whole.key(Qt.Key.Key_Return, CTRL)
    whole.until(lambda: bool(whole.seen.trees) and not whole.desk.busy)
    assert "B07" not in {t.name for t in whole.seen.trees}
    assert not answered.exists()
    assert whole.desk.path is not None
    with open_stand(whole.desk.path, read_only=True) as file:
        assert len(file.history()) == 1
