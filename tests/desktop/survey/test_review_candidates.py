"""A stop that may have been made at one of several trees: told in words, decided by a press or by a digit."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QPushButton
from pytestqt.qtbot import QtBot

from standmap.desktop.pages.survey.review_words import candidate_words, chance_word, spoken
from standmap.jobs.bring import BringOptions, bring
from standmap.jobs.opening import new_stand, open_stand
from standmap.jobs.review import Decision, Fate, Item, Possible, Verb
from standmap.stand.walks import Stop
from standmap.store.stand_file import StandFile
from standmap.units_shown import UnitsShown
from tests.desktop.survey.survey_bench import Bench
from tests.jobs.stand_rows import walk_text

NOW = datetime(2026, 3, 28, 7, 30, tzinfo=UTC)
DEGREE_M = 52_400.0


@pytest.fixture
def bench(qtbot: QtBot, tmp_path: Path) -> Iterator[Bench]:
    path, trees = tmp_path / "wood.gpkg", tmp_path / "trees.csv"
    rows = [f"{name},{27.6 + east / DEGREE_M:.8f},61.9" for name, east in (("B4", -1.0), ("B5", 1.2), ("B6", 80))]
    trees.write_text("\n".join(["name,lon,lat", *rows]) + "\n")
    new_stand(path)
    with open_stand(path) as file:
        bring(file, [trees], BringOptions(), NOW)
    (tmp_path / "walk.gpx").write_text(walk_text(0, 40, 80))
    made = Bench()
    qtbot.addWidget(made)
    made.open(qtbot, path)
    made.page.bring_files([tmp_path / "walk.gpx"])
    made.idle(qtbot)
    yield made
    made.desk.close_stand()


def looked_at(bench: Bench) -> Item:
    """Look at the doubtful stop."""
    sheet = bench.page.bringing.sheet
    sheet.next_doubtful()
    item = sheet.item
    assert item is not None
    assert item.fate is Fate.DOUBTFUL
    return item


def buttons(bench: Bench) -> list[QPushButton]:
    found = bench.page.bringing.sheet.candidates.findChildren(QPushButton)
    return [b for b in found if b.isVisible()]


def place_of(item: Item, name: str) -> int:
    return next(place for place, one in enumerate(item.candidates) if one.name == name)


def test_candidates_are_told_with_distance_and_chance(bench: Bench) -> None:
    item = looked_at(bench)
    review = bench.page.bringing.review
    assert review is not None
    words = [candidate_words(one, UnitsShown()) for one in item.candidates]
    assert [b.text().split("   ", 1)[1] for b in buttons(bench)] == [*words, "nobody can say yet: ask again"]
    assert words[place_of(item, "B4")].startswith("B4, 1.0 m off, ")
    assert words[place_of(item, "")].startswith("a new tree, ")
    assert all(text in spoken(review, item, UnitsShown()) for text in words)
    assert bench.page.bringing.sheet.outcome.text() == "waits without a tree, to be asked again"
    assert [b.isChecked() for b in buttons(bench)] == [False] * len(words) + [True]


def test_a_press_decides_and_it_is_stored(bench: Bench, qtbot: QtBot, tmp_path: Path) -> None:
    item = looked_at(bench)
    qtbot.mouseClick(buttons(bench)[place_of(item, "B5")], Qt.MouseButton.LeftButton)
    sheet = bench.page.bringing.sheet
    assert sheet.outcome.text().endswith("B5") or sheet.outcome.text().startswith("is B5")
    assert [b.isChecked() for b in buttons(bench)] == [*(one.name == "B5" for one in item.candidates), False]
    qtbot.mouseClick(sheet.store, Qt.MouseButton.LeftButton)
    bench.idle(qtbot)
    with StandFile.open(tmp_path / "wood.gpkg", read_only=True) as file:
        stop = min(file.rows(Stop), key=lambda s: s.from_at)
        assert stop.tree_key == file.stand().tree("B5").key


def test_digits_decide_each_for_its_candidate(bench: Bench, qtbot: QtBot) -> None:
    item = looked_at(bench)
    review, sheet = bench.page.bringing.review, bench.page.bringing.sheet
    assert review is not None
    new = place_of(item, "")
    qtbot.keyClick(sheet.list, str(new + 1))
    assert review.decision(item) == Decision(Verb.SPLIT)
    assert sheet.outcome.text() == "a tree of its own"
    for place, one in enumerate(item.candidates):
        qtbot.keyClick(sheet.list, str(place + 1))
        assert buttons(bench)[place].isChecked()
        target = review.target(item)
        assert (None if target is None else target.name) == (one.name or None)
    qtbot.keyClick(sheet.list, Qt.Key.Key_I)
    assert sheet.outcome.text() == "left out"
    assert not any(b.isChecked() for b in buttons(bench))
    qtbot.keyClick(sheet.list, Qt.Key.Key_0)
    assert sheet.outcome.text() == "waits without a tree, to be asked again"
    assert review.decisions == {}


def test_what_is_sure_has_no_candidates_and_digits_do_nothing(bench: Bench, qtbot: QtBot) -> None:
    review, sheet = bench.page.bringing.review, bench.page.bringing.sheet
    assert review is not None
    row = next(r for r, item in enumerate(review.items) if item.fate is Fate.MATCHED and item.walk)
    sheet.look_at(row)
    assert buttons(bench) == []
    qtbot.keyClick(sheet.list, Qt.Key.Key_1)
    assert review.decisions == {}


@pytest.mark.usefixtures("qapp")
def test_chances_in_words() -> None:
    assert [chance_word(c) for c in (0.97, 0.6, 0.2, 0.03)] == ["very likely", "likely", "possible", "unlikely"]
    assert candidate_words(Possible("k", "B4", 1.84, 0.6), UnitsShown()) == "B4, 1.8 m off, likely"
    assert candidate_words(Possible(None, "", None, 0.2), UnitsShown()) == "a new tree, possible"
