"""The pictures of a tree on its card: small, large when asked for, and taken out as one edit."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from standmap.desktop.card.pictures import PictureView
from standmap.desktop.card.tree_card import TreeCard
from standmap.desktop.desk import Desk
from standmap.formats.photos import read_photo
from standmap.stand.records import Media
from standmap.store.stand_file import StandFile
from tests.photo_files import photo

Choose = Callable[..., None]


@pytest.fixture
def pictured(desk: Desk, qtbot: QtBot, tmp_path: Path) -> tuple[str, str]:
    """Give the first tree two pictures; return its name and that of a tree without any."""
    assert desk.seen is not None
    one, other = desk.seen.trees[:2]
    colours = {"b.jpg": "red", "a.jpg": "white"}
    content = {
        name: read_photo(photo(tmp_path / name, colour=colour, size=(400, 300))).photos[0].content
        for name, colour in colours.items()
    }

    def keep(file: StandFile, _: object) -> None:
        with file.writing("keep pictures", desk.now()) as writing:
            for number, name in enumerate(colours):
                media = Media(f"m{number}", one.key, name, "image/jpeg", content[name], desk.now() if number else None)
                writing.insert(media)

    with qtbot.waitSignal(desk.seen_changed):
        desk.run(keep, "")
    return one.name, other.name


def view_of(qtbot: QtBot) -> PictureView:
    def there() -> PictureView | None:
        return next((w for w in QApplication.topLevelWidgets() if isinstance(w, PictureView) and w.isVisible()), None)

    qtbot.waitUntil(lambda: there() is not None)
    found = there()
    assert found is not None
    return found


def test_thumbnails_are_those_of_the_chosen_tree_alone(
    qtbot: QtBot, card: TreeCard, choose: Choose, pictured: tuple[str, str]
) -> None:
    one, other = pictured
    choose(one)
    qtbot.waitUntil(lambda: len(card.pictures.thumbs) == 2)
    assert [m.file_name for m in card.pictures.media] == ["a.jpg", "b.jpg"]  # that which tells no time comes last
    assert card.pictures.isVisible()
    assert not any(t.icon().isNull() for t in card.pictures.thumbs)
    assert "28" in card.pictures.thumbs[0].accessibleName()
    assert card.pictures.thumbs[1].accessibleName() == "picture b.jpg"
    choose(other)
    assert card.pictures.thumbs == []
    qtbot.wait(50)
    assert not card.pictures.isVisible()


@pytest.mark.parametrize("by_key", [False, True])
def test_a_thumbnail_opens_large_and_the_arrows_go_on(
    qtbot: QtBot, card: TreeCard, choose: Choose, pictured: tuple[str, str], by_key: bool
) -> None:
    choose(pictured[0])
    qtbot.waitUntil(lambda: len(card.pictures.thumbs) == 2)
    thumb = card.pictures.thumbs[0]
    if by_key:
        thumb.setFocus()
        QTest.keyClick(thumb, Qt.Key.Key_Space)
    else:
        QTest.mouseClick(thumb, Qt.MouseButton.LeftButton)
    view = view_of(qtbot)
    assert view.number == 0
    shown = view.picture.pixmap().toImage()
    assert shown.pixelColor(shown.width() - 5, shown.height() - 5).green() > 200
    QTest.keyClick(view, Qt.Key.Key_Right)
    assert view.number == 1
    shown = view.picture.pixmap().toImage()
    assert shown.pixelColor(shown.width() - 5, shown.height() - 5).green() < 60
    QTest.keyClick(view, Qt.Key.Key_Right)
    assert view.number == 0
    QTest.keyClick(view, Qt.Key.Key_Escape)
    qtbot.waitUntil(lambda: not any(isinstance(w, PictureView) for w in QApplication.topLevelWidgets()))


def test_a_picture_is_taken_out_and_brought_back(
    qtbot: QtBot, desk: Desk, card: TreeCard, choose: Choose, pictured: tuple[str, str]
) -> None:
    choose(pictured[0])
    qtbot.waitUntil(lambda: len(card.pictures.thumbs) == 2)
    card.show_picture(1)
    view = view_of(qtbot)
    with qtbot.waitSignal(desk.seen_changed):
        QTest.mouseClick(view.remove, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: [m.file_name for m in card.pictures.media] == ["a.jpg"])
    assert desk.seen is not None
    assert desk.seen.undo_label == f"remove picture b.jpg of {pictured[0]}"
    desk.undo()
    qtbot.waitUntil(lambda: [m.file_name for m in card.pictures.media] == ["a.jpg", "b.jpg"])


def test_the_find_list_opens_them_only_where_there_are_any(
    qtbot: QtBot, card: TreeCard, choose: Choose, pictured: tuple[str, str]
) -> None:
    action = next(a for a in card.actions() if a.id == "card.pictures")
    choose(pictured[1])
    assert not action.enabled()
    choose(pictured[0])
    qtbot.waitUntil(action.enabled)
    action.run()
    view_of(qtbot).close()
