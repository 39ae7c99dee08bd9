"""Review which trees are resting this year: the table, the card and the map say what `judge` says."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication, QLabel

from standmap.desktop.words import said
from standmap.rules.columns import CODES
from standmap.rules.judgement import Verdict
from tests.desktop.whole.whole_window import ALT, CTRL, Whole, answer_of


def in_table(whole: Whole) -> dict[str, str]:
    model = whole.choose.model
    return {str(model.index(r, 0).data()): str(model.index(r, 2).data()) for r in range(model.rowCount())}


def resting(answer: Any) -> dict[str, str]:
    return {t["tree"]: str(t["back_in"]) for t in answer["trees"] if t["verdict"] == "resting"}


def on_map(whole: Whole) -> dict[str, str]:
    """Return the verdict of each tree as the map is coloured, whatever the season of the desk."""
    trees = whole.window.canvas.scene.trees
    return {name: str(CODES[int(code)]) for name, code in zip(trees.names, trees.codes, strict=True)}


def card_says(whole: Whole, judged: Any) -> None:
    """Compare everything on the card with one tree of the answer."""
    card = whole.window.card
    QApplication.processEvents()
    texts = [w.text().replace("\u200b", "") for w in card.findChildren(QLabel) if w.isVisibleTo(card)]
    assert judged["tree"] in texts
    back = f", back in {judged['back_in']}" if judged["back_in"] else ""
    assert f"{judged['verdict']}{back}" in texts
    assert judged["reasons"]
    for reason in judged["reasons"]:
        assert said(reason["text"]) in texts
        assert any(reason["rule"] in t and said(reason["source"]) in t for t in texts)
    for caution in judged["cautions"]:
        assert caution in texts


def test_from_the_file_to_each_tree_and_through_the_seasons(
    begin: Callable[..., Whole], alder_brook: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    whole = begin(alder_brook)
    whole.go(2)
    page = whole.choose
    whole.until(lambda: page.asked.fresh and bool(whole.window.strip.counted.seasons))
    now = answer_of(capsys, "judge", alder_brook, "--season", "2026")
    assert {str(v): row.count for v, row in page.verdicts.rows.items()} == now["counts"]
    assert on_map(whole) == {t["tree"]: t["verdict"] for t in now["trees"]}
    whole.qtbot.mouseClick(page.verdicts.rows[Verdict.RESTING], Qt.MouseButton.LeftButton)
    assert in_table(whole) == resting(now)
    faded = whole.window.canvas.scene.trees.faded
    assert faded is not None
    assert {n for n, f in zip(whole.window.canvas.scene.trees.names, faded, strict=True) if not f} == set(resting(now))

    by_name = {t["tree"]: t for t in now["trees"]}
    first = page.table.visualRect(page.model.index(0, 0)).center()
    whole.qtbot.mouseClick(page.table.viewport(), Qt.MouseButton.LeftButton, pos=first)
    for name in resting(now):
        assert whole.on_card == name
        card_says(whole, by_name[name])
        whole.key(Qt.Key.Key_Down)
    whole.click_tree("B04")
    assert whole.on_card == "B04"
    card_says(whole, by_name["B04"])

    strip = whole.window.strip.cells
    for season in (2027, 2030, 2023):
        row = strip.seasons.row_of(season)
        assert row is not None
        index = strip.seasons.index(row)
        strip.scrollTo(index)
        whole.qtbot.mouseClick(strip.viewport(), Qt.MouseButton.LeftButton, pos=strip.visualRect(index).center())
        assert whole.desk.season == season
        then = answer_of(capsys, "judge", alder_brook, "--season", season)
        assert in_table(whole) == resting(then)
        assert on_map(whole) == {t["tree"]: t["verdict"] for t in then["trees"]}
        card_says(whole, next(t for t in then["trees"] if t["tree"] == "B04"))
        counted = next(c for c in whole.window.strip.counted.seasons if c.season == season)
        assert {v: n for v, n in counted.counts.items() if n} == {v: n for v, n in then["counts"].items() if n}


def test_by_keyboard_alone(begin: Callable[..., Whole], alder_brook: Path, capsys: pytest.CaptureFixture[str]) -> None:
    whole = begin(alder_brook)
    whole.go(2)
    whole.until(lambda: whole.choose.asked.fresh)
    now = answer_of(capsys, "judge", alder_brook)
    whole.find("show only trees that are resting")
    assert in_table(whole) == resting(now)
    whole.key(Qt.Key.Key_T, ALT)
    whole.key(Qt.Key.Key_Home)
    whole.key(Qt.Key.Key_End)
    last = list(resting(now))[-1]
    assert whole.on_card == last
    card_says(whole, next(t for t in now["trees"] if t["tree"] == last))
    whole.key(Qt.Key.Key_Right, Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.ShiftModifier)
    then = answer_of(capsys, "judge", alder_brook, "--season", "2027")
    assert in_table(whole) == resting(then)
    whole.key(Qt.Key.Key_F, CTRL)
    whole.type("B04")
    whole.key(Qt.Key.Key_Return)
    assert whole.on_card == "B04"
    assert whole.window.canvas.hasFocus()
