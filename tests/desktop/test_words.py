"""Texts in another language: word for word, and finished sentences by their pattern."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

import pytest
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from standmap.desktop.words import Catalogue, catalogue, day_text, said, tr, tr_n


@pytest.fixture
def spoken(qtbot: QtBot) -> Iterator[None]:
    del qtbot
    app = QApplication.instance()
    assert app is not None
    catalogue = Catalogue(
        {"rest": "Ruhe", "{n} tree": "{n} Baum", "{n} trees": "{n} Bäume"},
        {
            "tapped in {season}, returns after {years} years": "{season} angezapft, Wiederkehr nach {years} Jahren",
            "resting, {why}": "ruht: {why}",
            "the tube came out": "das Rohr ist heraus",
        },
    )
    app.installTranslator(catalogue)
    yield
    app.removeTranslator(catalogue)


@pytest.mark.usefixtures("spoken")
def test_a_known_text_is_translated_and_an_unknown_one_stays_english() -> None:
    assert tr("rest") == "Ruhe"
    assert tr("no such text") == "no such text"
    assert tr_n("{n} tree", "{n} trees", 1) == "1 Baum"
    assert tr_n("{n} tree", "{n} trees", 4) == "4 Bäume"


@pytest.mark.usefixtures("spoken")
def test_a_finished_sentence_is_translated_by_its_pattern_with_what_it_names() -> None:
    assert said("tapped in 2024, returns after 4 years") == "2024 angezapft, Wiederkehr nach 4 Jahren"
    assert said("resting, the tube came out") == "ruht: das Rohr ist heraus"
    assert said("resting, B7 {odd}") == "ruht: B7 {odd}"
    assert said("something else") == "something else"


@pytest.mark.usefixtures("qtbot")
def test_without_a_catalogue_the_english_stands() -> None:
    assert tr("{n} taps in {place}", n=3, place="the wood {x}") == "3 taps in the wood {x}"
    assert said("tapped in 2024") == "tapped in 2024"


@pytest.mark.usefixtures("qtbot")
def test_days_are_written_as_they_are_read_and_left_alone_where_they_are_to_be_typed() -> None:
    assert said("hole made on 2026-03-01, in the rain") == "hole made on 1 Mar 2026, in the rain"
    assert said("2027-01-01 is after today (2026-03-28).") == "1 Jan 2027 is after today (28 Mar 2026)."
    for left in (
        "write it like 2026-03-28",
        "'2026-03-28' is no name",
        "wood-2026-03-28.gpkg is there already",
        "no day: 2026-02-31",
    ):
        assert said(left) == left


def test_days_are_written_in_the_language_of_the_person(qtbot: QtBot) -> None:
    del qtbot
    app, german = QApplication.instance(), catalogue("de")
    assert app is not None
    assert german is not None
    app.installTranslator(german)
    try:
        assert day_text(date(2026, 3, 1)) == "1. M\u00e4rz 2026"
        assert said("hole made on 2026-03-01") == "Bohrloch gemacht am 1. M\u00e4rz 2026"
        assert said("write it like 2025-04-01") == "schreiben wie 2025-04-01"
        assert said("they lie 40.0 m apart, within 2.5 %, at 10.0°") == "they lie 40,0 m apart, within 2,5 %, at 10,0°"
        assert said("standmap 1.2 reads GPX 1.1, B1.5 minor") == "standmap 1.2 reads GPX 1.1, B1.5 minor"
    finally:
        app.removeTranslator(german)
