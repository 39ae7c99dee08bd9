"""Stems that share a position: each can be chosen, and the others keep their dials."""

from __future__ import annotations

import numpy as np
import pytest
from PySide6.QtCore import QPoint, Qt
from pytestqt.qtbot import QtBot

from standmap.desktop.canvas.canvas import MapCanvas
from standmap.desktop.canvas.detail import detail
from standmap.desktop.canvas.nearby import spacing_m
from standmap.desktop.theme import LIGHT

LEFT, Key, Modifier = Qt.MouseButton.LeftButton, Qt.Key, Qt.KeyboardModifier
ROW = [(20.0 * i, 0.0) for i in range(5)]
PLACES = [*ROW[:3], ROW[2], ROW[2], *ROW[3:]]
"""Three stems, T2 to T4, on the middle spot of a row."""


@pytest.fixture
def canvas(qtbot: QtBot) -> MapCanvas:
    made = MapCanvas(LIGHT)
    qtbot.addWidget(made)
    made.resize(800, 600)
    count = len(PLACES)
    names = [f"T{i}" for i in range(count)]
    made.show_trees(
        names, names, np.array(PLACES), np.full(count, 900.0), np.zeros(count, np.uint8), np.full(count, np.nan)
    )
    made.tree_clicked.connect(lambda key, _: made.set_chosen([names.index(key)]))
    with qtbot.waitExposed(made):
        made.show()
    made.fit(animated=False)
    return made


@pytest.mark.parametrize("where", [ROW, [(20.0 * i, 20.0 * k) for i in range(5) for k in range(5)]])
def test_two_stems_on_one_spot_change_no_dial(where: list[tuple[float, float]]) -> None:
    apart = spacing_m(np.array(where))
    assert 18 < apart < 42
    for doubled in (1, len(where)):
        assert spacing_m(np.array([*where, *where[:doubled]])) == pytest.approx(apart, rel=0.35)
    assert detail(spacing_m(np.array([*where, where[0]])), 8.0).names


def test_each_further_click_takes_the_next_stem(canvas: MapCanvas, qtbot: QtBot) -> None:
    x, y = canvas.camera.point_to_screen(*ROW[2])
    at, clicked = QPoint(round(x), round(y)), []
    canvas.tree_clicked.connect(lambda key, add: clicked.append((key, add)))
    for _ in range(4):
        qtbot.mouseClick(canvas, LEFT, pos=at)
    assert clicked == [("T2", False), ("T3", False), ("T4", False), ("T2", False)]
    qtbot.mouseDClick(canvas, LEFT, pos=at)  # the second of a double click is no further one
    assert clicked[-1] == ("T2", False)
    x, y = canvas.camera.point_to_screen(*ROW[3])
    qtbot.mouseClick(canvas, LEFT, pos=QPoint(round(x), round(y)))
    qtbot.mouseClick(canvas, LEFT, pos=at)
    assert [key for key, _ in clicked[-2:]] == ["T5", "T2"]


def test_steps_reach_every_stem(canvas: MapCanvas, qtbot: QtBot) -> None:
    canvas.set_chosen([0])
    way = []
    for key in [Key.Key_Right] * 6 + [Key.Key_Left] * 6:
        qtbot.keyClick(canvas, key, Modifier.AltModifier)
        way.append(canvas.scene.pointed)
    assert way == [1, 2, 3, 4, 5, 6, 5, 4, 3, 2, 1, 0]
