"""The stem as a file: every kind of picture, in words and units, by the action of the card."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from PySide6.QtGui import QImage
from PySide6.QtWidgets import QFileDialog
from pytestqt.qtbot import QtBot

from standmap.desktop.card.doing import actions
from standmap.desktop.card.stem_picture import stem_picture
from standmap.desktop.card.tree_card import TreeCard
from standmap.desktop.desk import Desk
from standmap.desktop.theme import LIGHT
from standmap.errors import UserError
from standmap.units_shown import System, UnitsShown
from tests.formats.pdf_reading import text


def test_every_kind_of_picture_is_drawn(card: TreeCard, choose: Callable[..., None]) -> None:
    choose("B03")
    facts = card.facts
    assert facts is not None
    told = " ".join(text(stem_picture(facts, UnitsShown(System.US), "B03: stem", 2026, ".pdf")).split())
    for wanted in ("B03: stem", "2024", "most room for the next hole", "10.4236/as.2018.93018", "0.39 in wide"):
        assert wanted in told, wanted
    assert b"<svg" in stem_picture(facts, UnitsShown(), "B03", 2026, ".svg")
    image = QImage.fromData(stem_picture(facts, UnitsShown(), "B03", 2026, ".png"))
    ink = {image.pixelColor(x, y).name() for x in range(0, image.width(), 2) for y in range(0, image.height(), 2)}
    assert {"#ffffff", LIGHT.ink.lower(), LIGHT.accent.lower()} <= ink
    with pytest.raises(UserError, match="cannot be written"):
        stem_picture(facts, UnitsShown(), "B03", 2026, ".gif")


def test_it_is_saved_by_its_action(
    qtbot: QtBot,
    card: TreeCard,
    desk: Desk,
    choose: Callable[..., None],
    told: list[tuple[str, str]],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    (action,) = (one for one in actions(desk, card) if one.id == "card.stem")
    choose("B01")
    assert not action.enabled()
    choose("B03")
    assert action.enabled()
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (str(tmp_path / "stem"), ""))
    action.run()
    qtbot.waitUntil(lambda: (tmp_path / "stem.pdf").exists() and bool(told))
    assert any("stem.pdf is in" in text for _, text in told)
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (str(tmp_path / "stem.gif"), ""))
    action.run()
    assert any("this is no kind of picture" in text for _, text in told)
    assert not (tmp_path / "stem.gif").exists()
