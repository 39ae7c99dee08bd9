"""Where there is little room, and where the keyboard goes."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import QMimeData, QPoint, QPointF, Qt, QUrl
from PySide6.QtGui import QDragEnterEvent, QDropEvent
from PySide6.QtWidgets import QApplication, QWidget

from tests.desktop.whole.whole_window import Whole


def drop(window: QWidget, *paths: Path) -> None:
    data = QMimeData()
    data.setUrls([QUrl.fromLocalFile(str(p)) for p in paths])
    held = (Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier)
    entered = QDragEnterEvent(QPoint(300, 300), Qt.DropAction.CopyAction, data, *held)
    QApplication.sendEvent(window, entered)
    assert entered.isAccepted()
    QApplication.sendEvent(window, QDropEvent(QPointF(300, 300), Qt.DropAction.CopyAction, data, *held))


def test_the_card_does_not_cover_the_list_that_is_worked_in(begin: Callable[..., Whole], alder_brook: Path) -> None:
    whole = begin()
    whole.window.resize(1000, 700)
    whole.open(alder_brook)
    whole.window.show_page("choose")
    whole.to_front()
    table = whole.choose.table
    table.setFocus()
    whole.key(Qt.Key.Key_Down)
    whole.until(lambda: bool(whole.desk.chosen))
    assert table.hasFocus()
    assert not whole.window.card.isVisible()
    whole.key(Qt.Key.Key_F8)
    whole.until(whole.window.card.isVisible)
    whole.key(Qt.Key.Key_F7)
    whole.until(lambda: not whole.window.card.isVisible())
    whole.key(Qt.Key.Key_F9)
    assert whole.window.strip.cells.hasFocus()
    whole.key(Qt.Key.Key_F6)
    assert whole.window.canvas.hasFocus()


def test_tab_goes_from_the_header_through_the_panel_to_the_map(begin: Callable[..., Whole], alder_brook: Path) -> None:
    whole = begin()
    whole.open(alder_brook)
    whole.window.show_page("aftercare")
    whole.idle()
    whole.to_front()
    header, panel, canvas = whole.window.header, whole.aftercare.panel, whole.window.canvas
    header.stand.setFocus()
    seen: list[str] = []
    for _ in range(60):
        focus = QApplication.focusWidget()
        assert focus is not None
        for name, part in (("header", header), ("panel", panel), ("map", canvas)):
            if (part is focus or part.isAncestorOf(focus)) and seen[-1:] != [name]:
                seen.append(name)
        if "map" in seen:
            break
        whole.key(Qt.Key.Key_Tab)
    assert seen == ["header", "panel", "map"]


def test_what_is_dropped_is_told_by_what_it_is(begin: Callable[..., Whole], alder_brook: Path, tmp_path: Path) -> None:
    whole = begin()
    whole.open(alder_brook)
    before = whole.desk.seen
    (tmp_path / "no.gpkg").mkdir()
    drop(whole.window, tmp_path / "no.gpkg")
    whole.until(lambda: any(kind == "error" for kind, _ in whole.told))
    assert whole.desk.seen is before
    walk = tmp_path / "walk.gpx"
    walk.write_text("<gpx/>")
    with whole.qtbot.waitSignal(whole.desk.stand_opened):
        drop(whole.window, alder_brook, walk)
    assert any("walk.gpx" in text for kind, text in whole.told if kind == "tell")
