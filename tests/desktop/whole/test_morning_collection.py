"""Plan the morning collection: from the file of a stand to the files of the walk and the returns in it."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFileDialog

from standmap.cli.round_answer import round_json
from standmap.desktop.pages.collect.planning import Stage
from tests.desktop.whole.whole_window import CTRL, Whole, answer_of, bare_rows, tell_command

WALK_FILES = ("walk.csv", "walk.geojson", "walk.gpx")
AMOUNTS = [f"{2 + k / 10:g}" for k in range(9)]


def planned_by_command(stand: Path, out: Path, capsys: pytest.CaptureFixture[str]) -> dict[str, object]:
    found: dict[str, object] = answer_of(capsys, "round", stand, "--out", out)
    return found


def recorded_by_command(stand: Path, order: list[str], tmp_path: Path) -> None:
    table = tmp_path / "returns.csv"
    lines = [f"{name},2026-03-28,collected,{amount}" for name, amount in zip(order, AMOUNTS, strict=True)]
    table.write_text("\n".join(["tree,date,what,litres", *lines]) + "\n")
    tell_command("record", stand, table)


def same_rows_but_the_source(ours: Path, theirs: Path) -> None:
    """Compare all rows; a table that was read leaves its name behind, a grid that was typed does not.

    The walk given out is compared but for the moment at which it was.
    """
    one, two = bare_rows(ours), bare_rows(theirs)
    (table,) = [row for row in two.pop("source") if "returns.csv" in row]
    one.pop("source")
    for rows_of in (one, two):  # both gave the walk out, each at its own moment
        rows_of["planned_walk"] = [(*row[:2], *row[3:]) for row in rows_of["planned_walk"]]
    for name, rows in two.items():
        expected = sorted((tuple(None if cell == table else cell for cell in row) for row in rows), key=repr)
        assert one[name] == expected, name


@pytest.fixture
def theirs(alder_brook: Path, tmp_path: Path) -> Path:
    copy = tmp_path / "theirs.gpkg"
    shutil.copy(alder_brook, copy)
    return copy


def test_with_the_mouse(
    begin: Callable[..., Whole],
    alder_brook: Path,
    theirs: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    mine, other = tmp_path / "mine", tmp_path / "other"
    monkeypatch.setattr(QFileDialog, "getOpenFileName", lambda *_: (str(alder_brook), ""))
    monkeypatch.setattr(QFileDialog, "getExistingDirectory", lambda *_: str(mine))
    whole = begin()
    whole.until(whole.window.start.open_button.isVisible)
    whole.press(whole.window.start.open_button)
    whole.until(lambda: whole.desk.seen is not None)
    whole.idle()
    whole.press(whole.window.header.findChildren(type(whole.collect.plan_button))[2])
    page = whole.collect
    assert whole.window.page is page
    whole.press(page.plan_button)
    whole.until(lambda: page.planning.stage is Stage.PLANNED)
    told = planned_by_command(theirs, other, capsys)
    assert page.planning.planned is not None
    assert round_json(page.planning.planned) == told | {"walk": None}
    assert [row.name for row in page.walk.model.rows if not row.is_trip] == order_of(other)
    whole.press(page.save_button)
    whole.until(lambda: any(text.endswith(f"are in {mine}") for _, text in whole.told))
    for name in WALK_FILES:
        assert (mine / name).read_bytes() == (other / name).read_bytes(), name

    whole.press(page.returns_button)
    for line, amount in zip(page.returns.lines.values(), AMOUNTS, strict=True):
        whole.qtbot.mouseClick(line.amount, Qt.MouseButton.LeftButton)
        whole.type(amount)
    whole.press(page.returns.store_button)
    whole.until(lambda: whole.seen.undo_label == "returns of 2026-03-28")
    whole.window.close()
    recorded_by_command(theirs, order_of(other), tmp_path)
    same_rows_but_the_source(alder_brook, theirs)


def order_of(folder: Path) -> list[str]:
    walk = json.loads((folder / "walk.geojson").read_text())
    stops = [
        f["properties"] for f in walk["features"] if f["geometry"]["type"] == "Point" and "tree" in f["properties"]
    ]
    return [stop["tree"] for stop in sorted(stops, key=lambda s: (s["trip"], s["order"]))]


def test_by_keyboard_alone(
    begin: Callable[..., Whole],
    alder_brook: Path,
    theirs: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    mine, other = tmp_path / "mine", tmp_path / "other"
    monkeypatch.setattr(QFileDialog, "getOpenFileName", lambda *_: (str(alder_brook), ""))
    monkeypatch.setattr(QFileDialog, "getExistingDirectory", lambda *_: str(mine))
    whole = begin()
    whole.key(Qt.Key.Key_O, CTRL)
    whole.until(lambda: whole.desk.seen is not None)
    whole.idle()
    whole.go(3)
    page = whole.collect
    assert whole.window.page is page
    whole.key(Qt.Key.Key_Return, CTRL)
    assert page.planning.stage is Stage.SEARCHING
    whole.until(lambda: page.planning.stage is Stage.PLANNED)
    assert page.walk.list.hasFocus()
    told = planned_by_command(theirs, other, capsys)
    assert page.planning.planned is not None
    assert round_json(page.planning.planned) == told | {"walk": None}
    whole.key(Qt.Key.Key_S, CTRL)
    whole.until(lambda: any(text.endswith(f"are in {mine}") for _, text in whole.told))
    for name in WALK_FILES:
        assert (mine / name).read_bytes() == (other / name).read_bytes(), name

    whole.find("enter returns")
    assert page.returns.isVisible()
    for amount in AMOUNTS:
        whole.type(amount)
        whole.key(Qt.Key.Key_Return)
    assert page.returns.store_button.hasFocus()
    whole.key(Qt.Key.Key_Space)
    whole.until(lambda: whole.seen.undo_label == "returns of 2026-03-28")
    whole.window.close()
    recorded_by_command(theirs, order_of(other), tmp_path)
    same_rows_but_the_source(alder_brook, theirs)
