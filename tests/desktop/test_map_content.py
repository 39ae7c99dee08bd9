"""What is on the map whichever page is shown, and what it tells back."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from PySide6.QtCore import QPoint, Qt
from pytestqt.qtbot import QtBot

from standmap.desktop.actions import Action
from standmap.desktop.canvas.canvas import MapCanvas
from standmap.desktop.desk import Desk
from standmap.desktop.map_content import TURN_DEG, MapContent
from standmap.desktop.theme import LIGHT
from standmap.rules.columns import CODES
from standmap.rules.judgement import Verdict
from standmap.settings import Settings


@pytest.fixture
def content(qtbot: QtBot, alder_brook: Path) -> Iterator[MapContent]:
    desk = Desk(Settings(motion="less"))
    canvas = MapCanvas(LIGHT)
    qtbot.addWidget(canvas)
    made = MapContent(desk, canvas)
    canvas.resize(900, 700)
    canvas.show()
    with qtbot.waitSignal(desk.stand_opened):
        desk.open_stand(alder_brook)
    qtbot.waitUntil(lambda: canvas.sharp)
    yield made
    desk.close_stand()
    desk.deleteLater()


def action(content: MapContent, name: str) -> Action:
    return next(a for a in content.actions() if a.id == name)


def test_turning_left_brings_what_was_at_the_right_up(qtbot: QtBot, content: MapContent) -> None:
    canvas = content._canvas
    action(content, "map.turn_left").run()
    qtbot.waitUntil(lambda: abs(canvas.camera.turn_deg - TURN_DEG) < 0.01)
    action(content, "map.turn_right").run()
    qtbot.waitUntil(lambda: min(canvas.camera.turn_deg, 360 - canvas.camera.turn_deg) < 0.01)


@pytest.mark.parametrize("name", ["map.round", "map.rectangle"])
def test_drawing_round_trees_chooses_them_once_and_then_the_pointer_drags_again(
    qtbot: QtBot, content: MapContent, name: str
) -> None:
    desk, canvas = content._desk, content._canvas
    assert desk.seen is not None
    action(content, name).run()
    corners = [QPoint(2, 2), QPoint(898, 2), QPoint(898, 698), QPoint(2, 698)]
    path = corners if name == "map.round" else [corners[0], corners[2]]
    qtbot.mousePress(canvas, Qt.MouseButton.LeftButton, pos=path[0])
    for corner in path[1:]:
        qtbot.mouseMove(canvas, corner)
    qtbot.mouseRelease(canvas, Qt.MouseButton.LeftButton, pos=path[-1])
    assert len(desk.chosen) == len(desk.seen.trees)
    before = canvas.camera
    qtbot.mousePress(canvas, Qt.MouseButton.LeftButton, pos=QPoint(450, 20))
    qtbot.mouseMove(canvas, QPoint(500, 60))
    qtbot.mouseRelease(canvas, Qt.MouseButton.LeftButton, pos=QPoint(500, 60))
    qtbot.waitUntil(lambda: canvas.camera != before)


def test_a_screen_reader_is_told_the_chosen_tree_and_when_it_comes_back(content: MapContent) -> None:
    desk = content._desk
    assert desk.seen is not None
    row = int((desk.codes == CODES.index(Verdict.RESTING)).argmax())
    tree = desk.seen.trees[row]
    desk.choose([tree.key])
    told = content._canvas.accessibleDescription()
    assert told == f"tree {tree.name}, resting, back in {int(desk.back_in[row])}"


def test_names_are_hidden_and_shown_again_by_the_setting(qtbot: QtBot, content: MapContent) -> None:
    desk, canvas = content._desk, content._canvas

    def named() -> set[str]:
        placed = canvas.scene.labels(canvas.camera, canvas._lettering)
        return {one.label.text for one in placed} & {t.name for t in desk.seen.trees} if desk.seen else set()

    assert len(named()) > 10
    desk.settings = replace(desk.settings, names_on_map=False)
    desk.settings_changed.emit()
    assert named() == set()
    desk.choose([desk.seen.trees[0].key] if desk.seen else [])
    qtbot.waitUntil(lambda: len(named()) == 1)  # the chosen one keeps its name


def test_with_less_motion_the_map_is_there_at_once(content: MapContent) -> None:
    canvas = content._canvas
    action(content, "map.turn_left").run()
    assert canvas.camera.turn_deg == pytest.approx(TURN_DEG)
    assert not canvas.gliding
