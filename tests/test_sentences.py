"""Finished sentences are taken apart so that the most of them is known."""

from __future__ import annotations

import pytest

from standmap.sentences import Sentences

KNOWN = Sentences(
    {
        "line {p1}": "Zeile {p1}",
        "{p1} '{p2}' is not a number": "{p1} „{p2}“ ist keine Zahl",
        "'{p1}' cannot be a name": "„{p1}“ geht nicht als Name",
        "{p1} {p2} is not {p3}": "{p1} {p2} ist nicht {p3}",
        "is not a table ({p1})": "ist keine Tabelle ({p1})",
        "{p1}: the file {p2}": "{p1}: die Datei {p2}",
        "the file says {p1}; it stays {p2}": "die Datei sagt {p1}; es bleibt {p2}",
        "may not be written": "darf nicht geschrieben werden",
        "{p1} on {p2}": "{p1} am {p2}",
        "{p1}: look whether it closed": "{p1}: nachsehen, ob sie sich schloss",
        "plugged": "Zapfen gesetzt",
        "trimmed": "gekürzt",
        "felled": "gefällt",
        "standing": "steht",
        "hole": "Bohrloch",
        "last {p1}": "zuletzt {p1}",
        "tapped in {p1}, returns after {p2} years": "angezapft {p1}, Wiederkehr nach {p2} Jahren",
    },
    {"litres": "Liter"},
)


@pytest.mark.parametrize(
    ("english", "german"),
    [
        ("wood.csv, line 3: litres 'x' is not a number", "wood.csv, Zeile 3: Liter „x“ ist keine Zahl"),
        ("wood.csv: is not a table (cut off)", "wood.csv: ist keine Tabelle (cut off)"),
        ("B1: the file says standing; it stays felled", "B1: die Datei sagt steht; es bleibt gefällt"),
        ("wood.gpkg: the file may not be written", "wood.gpkg: die Datei darf nicht geschrieben werden"),
        ("plugged on 1 May, trimmed on 2 May: look whether it closed",
         "Zapfen gesetzt am 1 May, gekürzt am 2 May: nachsehen, ob sie sich schloss"),
        ("last tapped in 2020, returns after 4 years", "zuletzt angezapft 2020, Wiederkehr nach 4 Jahren"),
        ("plugged, trimmed: B1, B2", "Zapfen gesetzt, gekürzt: B1, B2"),
        ("B1 (felled), B2 (standing)", "B1 (gefällt), B2 (steht)"),
        ("hole 2", "Bohrloch 2"),
    ],
)  # fmt: skip
def test_sentences_are_told_whole_or_in_their_pieces(english: str, german: str) -> None:
    assert KNOWN.said(english) == german


@pytest.mark.parametrize("wrote", ["felled", "", "a: b; c, d", "{p1}", "it's"])
def test_what_somebody_wrote_is_left_as_it_is(wrote: str) -> None:
    assert KNOWN.said(f"'{wrote}' cannot be a name") == f"„{wrote}“ geht nicht als Name"


@pytest.mark.parametrize("text", ["", "B12", "quite another thing", ": ; , ()", "{p1}", "x" * 10_000])
def test_what_is_not_known_stays_as_it_came(text: str) -> None:
    assert KNOWN.said(text) == text
