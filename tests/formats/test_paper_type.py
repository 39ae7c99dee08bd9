"""Type on paper: names of any script as they are read, in lines that fit, with nothing lost."""

from __future__ import annotations

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from reportlab.platypus import Paragraph

from standmap.formats.paper_type import (
    BOLD,
    CHINESE,
    JAPANESE,
    KOREAN,
    PLAIN,
    all_drawn,
    as_read,
    isolated,
    lines_of,
    markup,
    runs,
    shortened,
    width_pt,
)

HEBREW = "\u05e9\u05dc\u05d5\u05dd"
ARABIC = "\u0634\u062c\u0631\u0629"


@pytest.mark.parametrize("text", ["birch 12", "Ærø ß", "Бе́рёза", "Ωμέγα", HEBREW, ARABIC, "± 0.4 m · 90° → ☐"])
def test_scripts_of_the_typeface_are_in_the_file(text: str) -> None:
    assert all_drawn(text)
    assert {name for name, _ in runs(text)} == {PLAIN}
    assert {name for name, _ in runs(text, bold=True)} == {BOLD}


def test_other_scripts_are_set_in_the_standard_typefaces() -> None:
    assert [name for name, _ in runs("A 白桦树")] == [PLAIN, CHINESE]
    assert {name for name, _ in runs("白樺の木")} == {JAPANESE}
    assert {name for name, _ in runs("자작나무")} == {KOREAN}
    assert not any(map(all_drawn, ("白桦树", "白樺の木", "자작나무", "\U0001f333")))


def test_what_is_read_from_the_right_stands_so() -> None:
    assert as_read(HEBREW) == HEBREW[::-1]
    assert as_read(f"tree {HEBREW} 12") == f"tree 12 {HEBREW[::-1]}"
    # Four letters, joined: first, two middle forms and the last, from right to left.
    assert as_read(ARABIC) == "\ufe93\ufeae\ufea0\ufeb7"


def test_a_name_in_a_sentence_does_not_turn_the_sentence() -> None:
    assert as_read(f"{isolated(HEBREW)}: cut off") == f"{HEBREW[::-1]}: cut off"
    assert as_read(f"{HEBREW}: cut off") != f"{HEBREW[::-1]}: cut off"
    assert isolated("birch") == "birch"


def test_lines_of_a_name_keep_the_order_of_reading() -> None:
    words = [f"{HEBREW}{k}" for k in range(9)]
    lines = lines_of(" ".join(words), 9, 70)
    assert len(lines) > 2
    assert " ".join(lines) == " ".join(words)
    assert markup(" ".join(words), size_pt=9, most_pt=70).count("<br/>") == len(lines) - 1


@settings(max_examples=150, deadline=None)
@given(st.text(max_size=80), st.floats(20, 200))
def test_lines_fit_and_hold_every_word(text: str, most: float) -> None:
    lines = lines_of(text, 8, most)
    assert all(width_pt(line, 8) <= most or len(line) == 1 for line in lines)
    kept = "".join("".join(lines).split())
    assert kept == "".join(lines_of(text, 8, 1e9)[0].split())


@settings(max_examples=150, deadline=None)
@given(st.text(max_size=60))
def test_any_text_is_a_paragraph(text: str) -> None:
    assert Paragraph(markup(text)).getPlainText().replace("\u00a0", " ").split() == as_read(text).split()


@settings(max_examples=100, deadline=None)
@given(st.text(max_size=60), st.floats(12, 120))
@example("0000 00", 26.0)
def test_a_shortened_text_fits_on_its_line(text: str, most: float) -> None:
    assert width_pt(shortened(text, 8, most), 8) <= most or len(shortened(text, 8, most)) <= 2


def test_a_number_stays_with_its_unit() -> None:
    assert "10\u00a0mm" in markup("a peg of 10 mm")
    assert "10 mmm" in markup("10 mmm")
