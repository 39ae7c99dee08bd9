"""The start as a person meets it: nothing yet, stands opened lately, one that is gone, one dropped, a sample."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from PySide6.QtCore import QMimeData, QPoint, QPointF, Qt, QUrl
from PySide6.QtGui import QDragEnterEvent, QDragLeaveEvent, QDropEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QFileDialog, QVBoxLayout, QWidget
from pytestqt.qtbot import QtBot

from standmap.desktop.desk import Desk
from standmap.desktop.pages.start.start_page import StartPage
from standmap.desktop.theme import HIGH_CONTRAST, LIGHT, style_sheet
from standmap.jobs.opening import new_stand
from standmap.jobs.preferences import Lately, read_lately, write_lately
from standmap.jobs.sample_wood import sample_path
from standmap.settings import Settings

PATIENCE_MS = 20_000


Started = Callable[..., StartPage]


class Around(QWidget):
    """What the page needs of the window around it."""

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self.desk = desk
        self.page = StartPage(desk)
        down = QVBoxLayout(self)
        down.setContentsMargins(0, 0, 0, 0)
        down.addWidget(self.page)
        self.setStyleSheet(style_sheet(desk.theme, desk.settings.text_size_percent / 100))
        self.resize(1280, 748)


@pytest.fixture
def desk(qapp: QApplication) -> Iterator[Desk]:
    assert qapp is not None
    made = Desk(Settings())
    yield made
    made.close_stand()


@pytest.fixture
def start(qtbot: QtBot) -> Iterator[Started]:
    """Yield what shows the start, after some stands were open lately, the last one first."""
    kept: list[Around] = []

    def show(desk: Desk, *recent: Path) -> StartPage:
        lately = Lately()
        for path in reversed(recent):
            lately = lately.opened(path)
        write_lately(lately)
        around = Around(desk)
        kept.append(around)
        qtbot.addWidget(around)
        around.show()
        qtbot.waitExposed(around)
        page = around.page
        qtbot.waitUntil(lambda: len(page.recent) == len(recent) and all_there(page), timeout=PATIENCE_MS)
        return page

    yield show
    kept.clear()


def all_there(page: StartPage) -> bool:
    shown = [item.widget() for n in range(page._lately.count()) if (item := page._lately.itemAt(n)) is not None]
    return any(shown) and all(w.isVisible() for w in shown if w is not None)


def press(button: QWidget) -> None:
    assert button.isVisible()
    QTest.mouseClick(button, Qt.MouseButton.LeftButton)


def texts(page: StartPage) -> str:
    return "\n".join(w.text() for w in page.findChildren(type(page.told)) if w.isVisible())


def files(*paths: Path) -> QMimeData:
    held = QMimeData()
    held.setUrls([QUrl.fromLocalFile(str(path)) for path in paths])
    return held


def drop(page: StartPage, *paths: Path) -> None:
    held, copy = files(*paths), Qt.DropAction.CopyAction
    left, none = Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier
    entering = QDragEnterEvent(QPoint(9, 9), copy, held, left, none)
    QApplication.sendEvent(page, entering)
    assert entering.isAccepted()
    QApplication.sendEvent(page, QDropEvent(QPointF(9, 9), copy, held, left, none))


def test_an_empty_start_says_what_to_do_first(desk: Desk, start: Started) -> None:
    page = start(desk)
    told = texts(page)
    for words in ("no stand yet", "drop a stand here", "try an invented wood", "alder brook", "heron ridge"):
        assert words in told
    assert page.new_button.property("role") == "primary"
    assert page.window().focusWidget() is page.new_button


def test_the_last_stand_opens_with_one_key(desk: Desk, alder_brook: Path, qtbot: QtBot, start: Started) -> None:
    page = start(desk, alder_brook)
    assert "alder brook" in texts(page)
    assert page.new_button.property("role") == "quiet"
    go = page.window().focusWidget()
    assert go is page.recent[0].go
    assert go.accessibleName() == "open alder brook"
    QTest.keyClick(go, Qt.Key.Key_Space)
    qtbot.waitUntil(lambda: desk.seen is not None, timeout=PATIENCE_MS)
    assert desk.path == alder_brook


def test_stands_before_it_stand_in_rows_and_missing_ones_are_told(
    desk: Desk, alder_brook: Path, tmp_path: Path, qtbot: QtBot, start: Started
) -> None:
    gone, other = tmp_path / "gone.gpkg", tmp_path / "north_slope.gpkg"
    new_stand(other)
    page = start(desk, alder_brook, gone, other)
    assert [row.stand.is_there for row in page.recent] == [True, False, True]
    assert "not there any more" in texts(page)
    forget = page.recent[1].go
    assert forget.text() == "forget it"
    press(forget)
    assert [row.stand.path for row in page.recent] == [alder_brook, other]
    assert read_lately().recent == (alder_brook, other)
    qtbot.waitUntil(page.recent[1].go.isVisible)
    press(page.recent[1].go)
    qtbot.waitUntil(lambda: desk.path == other and desk.seen is not None, timeout=PATIENCE_MS)


def test_the_tab_key_goes_through_the_page_as_it_is_read(desk: Desk, alder_brook: Path, start: Started) -> None:
    page = start(desk, alder_brook, alder_brook.with_name("gone.gpkg"))
    wanted = [page.recent[0].go, page.recent[1].go, page.open_button, page.new_button, *page.samples.values()]
    found = []
    for _ in wanted:
        widget = page.window().focusWidget()
        found.append(widget)
        QTest.keyClick(widget, Qt.Key.Key_Tab)
    assert found == wanted


def test_a_new_stand_is_made_where_it_was_asked_for(
    desk: Desk, tmp_path: Path, qtbot: QtBot, start: Started, monkeypatch: pytest.MonkeyPatch
) -> None:
    page = start(desk)
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (str(tmp_path / "rowan hollow"), ""))
    press(page.new_button)
    qtbot.waitUntil(lambda: desk.seen is not None, timeout=PATIENCE_MS)
    assert desk.path == tmp_path / "rowan hollow.gpkg"


def test_a_stand_is_chosen_from_disk(
    desk: Desk, alder_brook: Path, qtbot: QtBot, start: Started, monkeypatch: pytest.MonkeyPatch
) -> None:
    page = start(desk)
    monkeypatch.setattr(QFileDialog, "getOpenFileName", lambda *_: (str(alder_brook), ""))
    press(page.open_button)
    qtbot.waitUntil(lambda: desk.seen is not None, timeout=PATIENCE_MS)


def test_a_stand_is_dropped(desk: Desk, alder_brook: Path, qtbot: QtBot, start: Started) -> None:
    page = start(desk)
    drop(page, alder_brook)
    qtbot.waitUntil(lambda: desk.seen is not None, timeout=PATIENCE_MS)
    assert desk.path == alder_brook


def test_other_files_dropped_are_told_to_wait(desk: Desk, tmp_path: Path, start: Started) -> None:
    page = start(desk)
    drop(page, tmp_path / "walk.gpx")
    assert "open or make a stand first" in page.wrong.text()
    assert desk.path is None


def test_the_place_lights_up_while_a_file_is_held_over_it(desk: Desk, tmp_path: Path, start: Started) -> None:
    page = start(desk)
    before = page.drop_place.grab().toImage()
    held = files(tmp_path / "wood.gpkg")
    entering = QDragEnterEvent(
        QPoint(9, 9), Qt.DropAction.CopyAction, held, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier
    )
    QApplication.sendEvent(page, entering)
    assert page.drop_place.grab().toImage() != before
    QApplication.sendEvent(page, QDragLeaveEvent())
    assert page.drop_place.grab().toImage() == before


def test_an_invented_wood_is_built_and_opened_and_found_again(desk: Desk, qtbot: QtBot, start: Started) -> None:
    page = start(desk)
    press(page.samples["alder-brook"])
    assert "building alder brook" in page.told.text()
    assert not page.samples["heron-ridge"].isEnabled()
    qtbot.waitUntil(lambda: desk.seen is not None, timeout=PATIENCE_MS)
    assert desk.path == sample_path("alder-brook")
    assert desk.seen is not None
    assert len(desk.seen.stand.present) > 40
    desk.close_stand()
    built = sample_path("alder-brook").stat().st_mtime_ns
    qtbot.waitUntil(page.samples["alder-brook"].isEnabled, timeout=PATIENCE_MS)
    press(page.samples["alder-brook"])
    qtbot.waitUntil(lambda: desk.seen is not None, timeout=PATIENCE_MS)
    assert sample_path("alder-brook").stat().st_mtime_ns == built


def test_a_wood_that_cannot_be_built_is_told(desk: Desk, qtbot: QtBot, start: Started) -> None:
    page = start(desk)
    sample_path("alder-brook").parent.parent.mkdir(parents=True)
    sample_path("alder-brook").parent.write_text("a file")
    press(page.samples["alder-brook"])
    qtbot.waitUntil(page.wrong.isVisible, timeout=PATIENCE_MS)
    assert "cannot be written" in page.wrong.text()
    assert desk.path is None


@pytest.mark.parametrize(("percent", "width"), [(100, 1280), (100, 720), (200, 1280), (200, 720)])
def test_nothing_is_cut_off_at_any_size(
    percent: int, width: int, alder_brook: Path, tmp_path: Path, qtbot: QtBot, start: Started
) -> None:
    desk = Desk(Settings(text_size_percent=percent))
    page = start(desk, alder_brook, tmp_path / "a stand with a long name that goes on and on.gpkg")
    page.window().resize(width, 700)
    qtbot.waitUntil(lambda: page.width() == width)
    QApplication.processEvents()
    for child in (*page.findChildren(QWidget),):
        if child.isVisible() and hasattr(child, "text") and child.text():
            right = child.mapTo(page, QPoint(child.width(), 0)).x()
            assert right <= page.width(), child.text()
    for button in (page.new_button, page.open_button, *page.samples.values(), *(row.go for row in page.recent)):
        assert button.width() >= button.sizeHint().width()
    desk.close_stand()


@pytest.mark.usefixtures("qapp")
def test_high_contrast_has_no_decoration(start: Started) -> None:
    def colours(theme_desk: Desk) -> int:
        page = start(theme_desk)
        image = page.grab().toImage()
        corner = (image.width() - 300, image.height() - 200)
        found = {image.pixel(corner[0] + x, corner[1] + y) for x in range(280) for y in range(0, 180, 3)}
        theme_desk.close_stand()
        return len(found)

    assert colours(Desk(Settings(), HIGH_CONTRAST)) == 1
    assert colours(Desk(Settings(), LIGHT)) > 1
