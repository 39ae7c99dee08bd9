"""The map as a person uses it: real clicks, drags, wheel and keys."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from PySide6.QtCore import QEvent, QPoint, QPointF, QRectF, QSizeF, Qt
from PySide6.QtGui import (
    QColor,
    QImage,
    QInputDevice,
    QKeyEvent,
    QMouseEvent,
    QNativeGestureEvent,
    QPainter,
    QPicture,
    QPointingDevice,
    QWheelEvent,
)
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from standmap.desktop.canvas.camera import Camera
from standmap.desktop.canvas.canvas import MapCanvas
from standmap.desktop.canvas.enclosing import Lasso
from standmap.desktop.canvas.labels import Label, Rank
from standmap.desktop.theme import DARK, LIGHT, Theme
from standmap.rules.columns import CODES
from standmap.rules.judgement import Verdict
from standmap.stand.ground import Place, PlaceKind
from standmap.survey.frame import WorkingFrame

Button, Key, Modifier = Qt.MouseButton, Qt.Key, Qt.KeyboardModifier
GRID = [(20.0 * i, 20.0 * k) for k in range(4) for i in range(5)]
READY, RESTING = CODES.index(Verdict.READY), CODES.index(Verdict.RESTING)


def show(canvas: MapCanvas, codes: list[int] | None = None) -> None:
    found = np.array(codes or [READY] * len(GRID), np.uint8)
    rest = np.where(found == RESTING, 0.5, np.nan)
    keys = [f"k{i}" for i in range(len(GRID))]
    canvas.show_trees(
        keys, [f"T{i}" for i in range(len(GRID))], np.array(GRID), np.full(len(GRID), 1000.0), found, rest
    )


@pytest.fixture
def canvas(qtbot: QtBot) -> MapCanvas:
    made = MapCanvas(LIGHT)
    qtbot.addWidget(made)
    made.resize(800, 600)
    show(made)
    made.show_ground([Place("p", "gate", PlaceKind.GATE, (25.0, 60.0))], [], [], WorkingFrame(25.0, 60.0))
    with qtbot.waitExposed(made):
        made.show()
    made.fit(animated=False)
    return made


def at(canvas: MapCanvas, row: int) -> QPoint:
    x, y = canvas.camera.point_to_screen(*GRID[row])
    return QPoint(round(x), round(y))


def settled(qtbot: QtBot, canvas: MapCanvas) -> None:
    qtbot.waitUntil(lambda: not canvas.gliding and canvas.sharp)


def mouse(
    canvas: MapCanvas,
    kind: QEvent.Type,
    to: QPoint,
    button: Qt.MouseButton,
    held: Qt.MouseButton,
    keys: Qt.KeyboardModifier,
) -> None:
    here = QPointF(to)
    QApplication.sendEvent(canvas, QMouseEvent(kind, here, canvas.mapToGlobal(here), button, held, keys))


def drag(canvas: MapCanvas, way: list[QPoint], keys: Qt.KeyboardModifier = Modifier.NoModifier) -> None:
    mouse(canvas, QEvent.Type.MouseButtonPress, way[0], Button.LeftButton, Button.LeftButton, keys)
    for to in way[1:]:
        mouse(canvas, QEvent.Type.MouseMove, to, Button.NoButton, Button.LeftButton, keys)
    mouse(canvas, QEvent.Type.MouseButtonRelease, way[-1], Button.LeftButton, Button.NoButton, keys)


def wheel(canvas: MapCanvas, to: QPoint, notches: int) -> None:
    here = QPointF(to)
    event = QWheelEvent(
        here, canvas.mapToGlobal(here), QPoint(), QPoint(0, 120 * notches), Button.NoButton, Modifier.NoModifier,
        Qt.ScrollPhase.NoScrollPhase, False,
    )  # fmt: skip
    QApplication.sendEvent(canvas, event)


def test_a_click_on_a_dial_chooses_it_and_with_shift_or_ctrl_adds_it(qtbot: QtBot, canvas: MapCanvas) -> None:
    clicked: list[tuple[str, bool]] = []
    canvas.tree_clicked.connect(lambda key, add: clicked.append((key, add)))
    qtbot.mouseClick(canvas, Button.LeftButton, pos=at(canvas, 7))
    qtbot.mouseClick(canvas, Button.LeftButton, Modifier.ShiftModifier, at(canvas, 8))
    qtbot.mouseClick(canvas, Button.LeftButton, Modifier.ControlModifier, at(canvas, 9))
    assert clicked == [("k7", False), ("k8", True), ("k9", True)]


def test_a_click_beside_the_trees_tells_where_on_earth(qtbot: QtBot, canvas: MapCanvas) -> None:
    between = (at(canvas, 0) + at(canvas, 6)) / 2
    with qtbot.waitSignal(canvas.ground_clicked) as told:
        qtbot.mouseClick(canvas, Button.LeftButton, pos=between)
    frame = canvas.frame
    assert frame is not None
    x, y = frame.to_xy(np.array(told.args[0]), np.array(told.args[1]))
    assert (float(x), float(y)) == pytest.approx((10, 10), abs=0.2)


def test_dragging_pushes_the_map_and_chooses_nothing(canvas: MapCanvas) -> None:
    clicked: list[object] = []
    canvas.tree_clicked.connect(lambda *told: clicked.append(told))
    canvas.ground_clicked.connect(lambda *told: clicked.append(told))
    start, before = at(canvas, 7), canvas.camera
    drag(canvas, [start, start + QPoint(30, 10), start + QPoint(90, 40)])
    assert at(canvas, 7) == start + QPoint(90, 40)
    assert (canvas.camera.px_per_m, canvas.camera.turn_deg) == (before.px_per_m, before.turn_deg)
    assert clicked == []


def test_the_wheel_zooms_about_the_pointer_and_loses_no_notch(qtbot: QtBot, canvas: MapCanvas) -> None:
    spot, before = at(canvas, 13), canvas.camera
    for _ in range(3):
        wheel(canvas, spot, 1)
    settled(qtbot, canvas)
    assert canvas.camera.px_per_m == pytest.approx(before.px_per_m * 1.25**3, rel=1e-6)
    # Half a pixel off along each axis, for the pointer stands on whole ones, grows twofold.
    assert (at(canvas, 13) - spot).manhattanLength() <= 2
    for _ in range(3):
        wheel(canvas, spot, -1)
    settled(qtbot, canvas)
    assert canvas.camera.px_per_m == pytest.approx(before.px_per_m, rel=1e-6)


def test_two_fingers_on_a_touchpad_push_and_pinch_and_turn(qtbot: QtBot, canvas: MapCanvas) -> None:
    pad = QPointingDevice(
        "pad", 77, QInputDevice.DeviceType.TouchPad, QPointingDevice.PointerType.Finger,
        QInputDevice.Capability.Position, 2, 2,
    )  # fmt: skip
    here, before = QPointF(at(canvas, 13)), canvas.camera
    scroll = QWheelEvent(
        here, canvas.mapToGlobal(here), QPoint(12, -30), QPoint(12, -30), Button.NoButton, Modifier.NoModifier,
        Qt.ScrollPhase.ScrollUpdate, False, Qt.MouseEventSource.MouseEventNotSynthesized, pad,
    )  # fmt: skip
    QApplication.sendEvent(canvas, scroll)
    assert canvas.camera == before.panned(12, -30)
    canvas.look(before)
    fixed = before.point_to_world(here.x(), here.y())
    for kind, value in (
        (Qt.NativeGestureType.ZoomNativeGesture, 0.5),
        (Qt.NativeGestureType.RotateNativeGesture, 20.0),
    ):
        pinch = QNativeGestureEvent(kind, pad, 2, here, here, canvas.mapToGlobal(here), value, QPointF())
        QApplication.sendEvent(canvas, pinch)
    assert canvas.camera.px_per_m == pytest.approx(1.5 * before.px_per_m)
    assert canvas.camera.turn_deg == pytest.approx(20)
    assert canvas.camera.point_to_screen(*fixed) == pytest.approx((here.x(), here.y()))
    settled(qtbot, canvas)


def test_shift_and_a_drag_choose_in_a_rectangle(qtbot: QtBot, canvas: MapCanvas) -> None:
    with qtbot.waitSignal(canvas.trees_enclosed) as told:
        drag(
            canvas,
            [at(canvas, 0) + QPoint(-20, 20), at(canvas, 3), at(canvas, 6) + QPoint(20, -20)],
            Modifier.ShiftModifier,
        )
    assert told.args == [["k0", "k1", "k5", "k6"], False]
    both = Modifier.ShiftModifier | Modifier.ControlModifier
    with qtbot.waitSignal(canvas.trees_enclosed) as told:
        drag(canvas, [at(canvas, 9) + QPoint(20, -20), at(canvas, 9) + QPoint(-20, 20)], both)
    assert told.args == [["k9"], True]


def test_alt_and_a_drag_choose_with_a_line_drawn_round(qtbot: QtBot, canvas: MapCanvas) -> None:
    out = QPoint(25, 25)
    corner = [
        at(canvas, 0) + QPoint(-25, 25),
        at(canvas, 1) + out,
        at(canvas, 11) + QPoint(25, -25),
        at(canvas, 10) - out,
    ]
    with qtbot.waitSignal(canvas.trees_enclosed) as told:
        drag(canvas, corner, Modifier.AltModifier)
    assert told.args == [["k0", "k1", "k5", "k6", "k10", "k11"], False]


def test_a_gesture_that_is_set_comes_first_and_escape_leaves_it(qtbot: QtBot, canvas: MapCanvas) -> None:
    canvas.set_gesture(Lasso())
    with qtbot.waitSignal(canvas.trees_enclosed) as told:
        drag(canvas, [QPoint(1, 1), QPoint(799, 1), QPoint(799, 599), QPoint(1, 599)])
    assert len(told.args[0]) == len(GRID)
    mouse(canvas, QEvent.Type.MouseButtonPress, QPoint(1, 1), Button.LeftButton, Button.LeftButton, Modifier.NoModifier)
    mouse(canvas, QEvent.Type.MouseMove, QPoint(700, 1), Button.NoButton, Button.LeftButton, Modifier.NoModifier)
    qtbot.keyClick(canvas, Key.Key_Escape)
    with qtbot.assertNotEmitted(canvas.trees_enclosed):
        mouse(
            canvas,
            QEvent.Type.MouseButtonRelease,
            QPoint(700, 500),
            Button.LeftButton,
            Button.NoButton,
            Modifier.NoModifier,
        )
    canvas.set_gesture(None)
    with qtbot.waitSignal(canvas.tree_clicked):
        qtbot.mouseClick(canvas, Button.LeftButton, pos=at(canvas, 3))


def test_keys_push_zoom_turn_and_fit(qtbot: QtBot, canvas: MapCanvas) -> None:
    home = canvas.camera
    for key, moved in [
        (Key.Key_Left, home.panned(80, 0)),
        (Key.Key_Right, home.panned(-80, 0)),
        (Key.Key_Up, home.panned(0, 80)),
        (Key.Key_Down, home.panned(0, -80)),
        (Key.Key_Plus, home.zoomed(1.5, (400, 300))),
        (Key.Key_Minus, home.zoomed(1 / 1.5, (400, 300))),
        (Key.Key_BracketLeft, home.turned(15, (400, 300))),
        (Key.Key_BracketRight, home.turned(-15, (400, 300))),
    ]:
        qtbot.keyClick(canvas, key)
        settled(qtbot, canvas)
        for name in ("centre_x", "centre_y", "px_per_m", "turn_deg"):
            assert getattr(canvas.camera, name) == pytest.approx(getattr(moved, name), abs=1e-6), (key, name)
        canvas.look(home)
    qtbot.keyClick(canvas, Key.Key_Down)
    settled(qtbot, canvas)
    qtbot.keyClick(canvas, Key.Key_0)
    settled(qtbot, canvas)
    assert canvas.camera == home


def test_trees_are_stepped_through_and_chosen_by_keys_alone(qtbot: QtBot, canvas: MapCanvas) -> None:
    canvas.set_chosen([6])
    clicked: list[tuple[str, bool]] = []
    canvas.tree_clicked.connect(lambda key, add: clicked.append((key, add)))
    qtbot.keyClick(canvas, Key.Key_Right, Modifier.AltModifier)
    assert canvas.accessibleDescription() == "tree T7, ready"
    qtbot.keyClick(canvas, Key.Key_Up, Modifier.AltModifier)
    qtbot.keyClick(canvas, Key.Key_Return)
    qtbot.keyClick(canvas, Key.Key_Left, Modifier.AltModifier)
    qtbot.keyClick(canvas, Key.Key_Space)
    assert clicked == [("k12", False), ("k11", True)]
    qtbot.keyClick(canvas, Key.Key_Escape)
    assert canvas.accessibleDescription() == "tree T6, ready"
    with qtbot.waitSignal(canvas.trees_enclosed) as told:
        qtbot.keyClick(canvas, Key.Key_Escape)
    assert told.args == [[], False]


def test_a_tree_stepped_to_is_brought_into_sight(qtbot: QtBot, canvas: MapCanvas) -> None:
    canvas.set_margins(300, 0, 0, 0)
    canvas.look(canvas.camera.zoomed(8, canvas.camera.point_to_screen(*GRID[7])))
    canvas.set_chosen([7])
    for _ in range(2):
        qtbot.keyClick(canvas, Key.Key_Right, Modifier.AltModifier)
        settled(qtbot, canvas)
    x, y = canvas.camera.point_to_screen(*GRID[9])
    assert 300 < x < 800
    assert 0 < y < 600


def test_the_map_s_keys_do_not_become_shortcuts_elsewhere(canvas: MapCanvas) -> None:
    for key, mine in [(Key.Key_Left, True), (Key.Key_Space, True), (Key.Key_F5, False), (Key.Key_Escape, False)]:
        event = QKeyEvent(QEvent.Type.ShortcutOverride, key, Modifier.NoModifier)
        event.ignore()
        QApplication.sendEvent(canvas, event)
        assert event.isAccepted() is mine, key


def test_fit_keeps_clear_of_what_floats_over_the_map_also_when_turned_and_resized(
    qtbot: QtBot, canvas: MapCanvas
) -> None:
    canvas.set_margins(300, 10, 150, 40)
    canvas.turn_to(40)
    settled(qtbot, canvas)
    canvas.fit()
    settled(qtbot, canvas)
    canvas.resize(1000, 500)
    px = canvas.camera.to_screen(np.array(GRID))
    assert px[:, 0].min() >= 300
    assert px[:, 0].max() <= 850
    assert px[:, 1].min() >= 10
    assert px[:, 1].max() <= 460
    assert canvas.camera.turn_deg == pytest.approx(40)


def test_a_view_that_a_person_chose_keeps_its_middle_when_the_window_grows(canvas: MapCanvas) -> None:
    drag(canvas, [QPoint(100, 100), QPoint(160, 130)])
    before = canvas.camera
    canvas.resize(1000, 700)
    assert canvas.camera == replace(before, width=1000, height=700)


def colours(canvas: MapCanvas, row: int) -> str:
    image = canvas.grab().toImage()
    scale = image.width() / canvas.width()
    x, y = canvas.camera.point_to_screen(*GRID[row])
    # Aside of the middle, where a resting dial is hollow.
    return image.pixelColor(round((x + 4.4) * scale), round((y + 0.5) * scale)).name().upper()


def test_another_season_recolours_the_dials_gently(qtbot: QtBot, canvas: MapCanvas) -> None:
    assert colours(canvas, 7) == LIGHT.fills[Verdict.READY]
    codes = np.full(len(GRID), RESTING, np.uint8)
    canvas.recolour(codes, np.full(len(GRID), 0.75))
    qtbot.waitUntil(lambda: colours(canvas, 7) == LIGHT.rest_ring)
    canvas.set_chosen([7])
    assert canvas.accessibleDescription() == "tree T7, resting"


def test_what_a_tree_is_called_aloud_can_be_told_in_full(canvas: MapCanvas) -> None:
    canvas.set_spoken(lambda row: f"tree T{row}, resting, back in 2028")
    canvas.set_chosen([2, 3])
    assert canvas.accessibleDescription() == "tree T3, resting, back in 2028"
    canvas.set_chosen([])
    assert canvas.accessibleDescription() == "no tree is chosen"
    assert canvas.accessibleName() == "map of the stand"


def test_a_chosen_tree_is_ringed_from_however_far_away(qtbot: QtBot, canvas: MapCanvas) -> None:
    canvas.set_chosen([7])
    canvas.look(canvas.camera.zoomed(0.02, (400, 300)))
    settled(qtbot, canvas)
    image = canvas.grab().toImage()
    x, y = canvas.camera.point_to_screen(*GRID[7])
    ink = QColor(LIGHT.ink)
    ring = canvas.scene.ring.ring_px(7)
    over = [image.pixelColor(round(x), round(y - ring) + step).lightness() for step in (-1, 0, 1)]
    assert min(over) <= ink.lightness() + 60
    assert image.pixelColor(round(x), round(y)).name().upper() == LIGHT.fills[Verdict.READY]


def test_all_chosen_at_once_are_marked_by_their_dials(qtbot: QtBot, canvas: MapCanvas) -> None:
    many = np.random.default_rng(4).uniform(0, 400, (500, 2))
    keys = [f"k{i}" for i in range(500)]
    canvas.show_trees(keys, keys, many, np.full(500, 900.0), np.full(500, READY, np.uint8), np.full(500, np.nan))
    canvas.fit(animated=False)
    before = canvas.grab().toImage()
    canvas.set_chosen(range(500))
    settled(qtbot, canvas)
    accent = QColor(LIGHT.accent)
    after = canvas.grab().toImage()

    def accented(image: QImage) -> int:
        plain = image.convertToFormat(QImage.Format.Format_RGB32)
        pixels = np.frombuffer(plain.constBits(), np.uint32)
        return int((pixels & 0xFFFFFF == accent.rgb() & 0xFFFFFF).sum())

    assert accented(after) > accented(before) + 500
    canvas.set_chosen([])
    settled(qtbot, canvas)
    assert accented(canvas.grab().toImage()) == accented(before)


def test_faded_trees_step_back_and_come_again(qtbot: QtBot, canvas: MapCanvas) -> None:
    faded = np.zeros(len(GRID), bool)
    faded[7] = True
    canvas.set_faded(faded)
    settled(qtbot, canvas)
    assert colours(canvas, 7) not in (LIGHT.fills[Verdict.READY], LIGHT.ground)
    assert colours(canvas, 8) == LIGHT.fills[Verdict.READY]
    canvas.set_faded(None)
    settled(qtbot, canvas)
    assert colours(canvas, 7) == LIGHT.fills[Verdict.READY]


def test_the_theme_changes_while_the_map_is_shown(qtbot: QtBot, canvas: MapCanvas) -> None:
    canvas.set_theme(DARK)
    settled(qtbot, canvas)
    image = canvas.grab().toImage()
    assert image.pixelColor(2, 2).name().upper() == DARK.ground
    assert colours(canvas, 7) == DARK.fills[Verdict.READY]


def test_what_was_chosen_stays_chosen_when_the_stand_is_read_again(canvas: MapCanvas) -> None:
    canvas.set_chosen([7, 3])
    order = [i for i in range(len(GRID)) if i != 0]
    keys = [f"k{i}" for i in order]
    count = len(order)
    xy = np.array(GRID)[order]
    canvas.show_trees(keys, keys, xy, np.full(count, 900.0), np.full(count, READY, np.uint8), np.full(count, np.nan))
    assert [keys[row] for row in canvas.scene.chosen] == ["k7", "k3"]


def test_a_tree_under_the_pointer_says_its_name(canvas: MapCanvas) -> None:
    mouse(canvas, QEvent.Type.MouseMove, at(canvas, 12), Button.NoButton, Button.NoButton, Modifier.NoModifier)
    assert canvas.scene.hovered == 12
    assert canvas.cursor().shape() is Qt.CursorShape.PointingHandCursor
    assert [label.text for label in canvas.scene.ring.labels(canvas.camera)] == ["T12"]
    mouse(canvas, QEvent.Type.MouseMove, QPoint(3, 3), Button.NoButton, Button.NoButton, Modifier.NoModifier)
    assert canvas.scene.hovered is None


def test_the_focus_is_seen_when_it_comes_by_keyboard(qtbot: QtBot, canvas: MapCanvas) -> None:
    def edge() -> str:
        return canvas.grab().toImage().pixelColor(1, 300).name().upper()

    canvas.setFocus(Qt.FocusReason.MouseFocusReason)
    assert edge() == LIGHT.ground
    canvas.clearFocus()
    canvas.setFocus(Qt.FocusReason.TabFocusReason)
    qtbot.waitUntil(lambda: edge() == LIGHT.accent)


def test_an_empty_map_is_bare_ground(qtbot: QtBot) -> None:
    bare = MapCanvas(LIGHT)
    qtbot.addWidget(bare)
    bare.resize(300, 200)
    image = bare.grab().toImage().convertToFormat(QImage.Format.Format_RGB32)
    pixels = np.frombuffer(image.constBits(), np.uint32) & 0xFFFFFF
    assert set(pixels.tolist()) == {int(LIGHT.ground[1:], 16)}
    bare.fit()
    qtbot.mouseClick(bare, Button.LeftButton, pos=QPoint(50, 50))
    qtbot.keyClick(bare, Key.Key_Right, Modifier.AltModifier)


class Cross:
    """An overlay that draws a cross at one tree and names it."""

    def paint(self, painter: QPainter, camera: Camera, theme: Theme) -> None:
        del theme
        x, y = camera.point_to_screen(*GRID[0])
        painter.fillRect(QRectF(x - 3, y - 3, 6, 6), QColor("#FF00FF"))

    def labels(self, camera: Camera) -> list[Label]:
        x, y = camera.point_to_screen(*GRID[0])
        return [Label("one", x, y, 6, Rank.STOP)]


def test_overlays_lie_over_the_trees_and_their_labels_among_the_others(canvas: MapCanvas) -> None:
    canvas.set_overlays([Cross()])
    x, y = canvas.camera.point_to_screen(*GRID[0])
    assert canvas.grab().toImage().pixelColor(round(x), round(y)).name().upper() == "#FF00FF"
    placed = canvas.scene.labels(canvas.camera, canvas._lettering)
    assert "one" in [p.label.text for p in placed]


def test_no_name_is_set_where_a_sheet_lies_over_the_map(canvas: MapCanvas) -> None:
    x, _ = canvas.camera.point_to_screen(*GRID[0])
    free = canvas.scene.labels(canvas.camera, canvas._lettering)
    margins = (x - 20.0, 0.0, 0.0, 0.0)
    placed = canvas.scene.labels(canvas.camera, canvas._lettering, margins)
    assert placed
    assert all(p.left >= margins[0] for p in placed)
    named = {p.label.text for p in placed}
    assert named == {p.label.text for p in free if p.label.x >= margins[0]}
    beyond = canvas.scene.labels(canvas.camera, canvas._lettering, (x + 1.0, 0.0, 0.0, 0.0))
    assert canvas.scene.trees.names[0] not in {p.label.text for p in beyond}


def test_a_drawing_that_fails_is_told_and_the_map_lives_on(canvas: MapCanvas, monkeypatch: pytest.MonkeyPatch) -> None:
    class Broken(Cross):
        def paint(self, painter: QPainter, camera: Camera, theme: Theme) -> None:
            raise RuntimeError(f"no such pen: {painter.isActive(), camera.width, theme.name}")

    told: list[str] = []
    monkeypatch.setattr("sys.excepthook", lambda *raised: told.append(str(raised[1])))
    canvas.set_overlays([Broken()])
    canvas.grab()
    assert told[0].startswith("no such pen")
    canvas.set_overlays([])
    assert colours(canvas, 7) == LIGHT.fills[Verdict.READY]


def test_the_picture_on_paper_is_made_of_lines_and_looks_like_the_map(qtbot: QtBot, canvas: MapCanvas) -> None:
    canvas.set_chosen([7])
    settled(qtbot, canvas)
    shown = canvas.grab().toImage().convertToFormat(QImage.Format.Format_RGB32)
    drawn = QImage(shown.size(), QImage.Format.Format_RGB32)
    painter = QPainter(drawn)
    canvas.paint_picture(painter, QSizeF(drawn.size()), canvas.camera)
    painter.end()
    one, other = (np.frombuffer(i.constBits(), np.uint8).reshape(-1, 4)[:, :3].astype(int) for i in (shown, drawn))
    assert (np.abs(one - other).max(axis=1) > 60).mean() < 0.01
    recorded = QPicture()
    painter = QPainter(recorded)
    canvas.paint_picture(painter, QSizeF(400, 300), canvas.camera, DARK)
    painter.end()
    # Twenty dials and their names as pictures would be far larger than as lines.
    assert 0 < recorded.size() < 400_000


def test_positions_that_are_not_sure_are_ringed_when_asked(canvas: MapCanvas) -> None:
    before = canvas.grab().toImage()
    canvas.set_spread(np.full((len(GRID), 3), np.nan))
    canvas.show_ellipses(True)
    assert canvas.grab().toImage() == before
    canvas.set_spread(np.tile([9.0, 4.0, 1.0], (len(GRID), 1)))
    assert canvas.grab().toImage() != before
    canvas.show_ellipses(False)
    assert canvas.grab().toImage() == before
