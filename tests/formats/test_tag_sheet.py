"""Tags: names large, codes that say what they should, sizes that are true."""

from __future__ import annotations

import numpy as np
import pytest
import segno

from standmap.errors import UserError
from standmap.formats.paper import A4, LETTER, MARGIN_MM, Paper
from standmap.formats.tag_sheet import NAME_SIZES_PT, QUIET, Tag, TagSize, module_mm, tag_sheet
from tests.formats.pdf_reading import pages, shapes, sizes_mm, text

ID = "0198c0de-0000-7000-8000-00000000000{}"


def made(tags: list[Tag], size: TagSize | None = None, paper: Paper = A4) -> bytes:
    return tag_sheet(tags, size or TagSize(), paper, "wood · tags", "hang loosely", lambda n, of: f"page {n} of {of}")


def modules(content: bytes, size: TagSize, side: int) -> np.ndarray:
    """Return the dark modules of the first tag's code as they are drawn, shape (side, side)."""
    module = size.code_mm / (side + 2 * QUIET)
    left = MARGIN_MM + size.width_mm - size.code_mm + QUIET * module
    top = A4.height_mm - MARGIN_MM - (size.height_mm - size.code_mm) / 2 - QUIET * module
    dark = np.zeros((side, side), dtype=bool)
    for shape in shapes(content):
        x0, y0, x1, y1 = shape.box
        if shape.filled and not shape.curved and abs(y1 - y0 - module) < 0.01 and x1 <= MARGIN_MM + size.width_mm:
            row, first, last = round((top - y1) / module), round((x0 - left) / module), round((x1 - left) / module)
            if 0 <= row < side and first >= 0:
                dark[row, first:last] = True
    return dark


@pytest.mark.parametrize("name", ["B23", "白樺 <&> שלום", "x" * 120])
def test_the_code_that_is_drawn_is_the_one_of_name_and_id(name: str) -> None:
    tag = Tag(name, ID.format(1))
    assert tag.coded == f"{name}\nstandmap tree {ID.format(1)}"
    wanted = np.array([list(row) for row in segno.make_qr(tag.coded, error="m", encoding="utf-8").matrix]) == 1
    size = TagSize(90, 60)
    assert (modules(made([tag], size), size, len(wanted)) == wanted).all()


@pytest.mark.parametrize("paper", [A4, LETTER])
def test_tags_fill_the_sheet_and_go_on_over_pages(paper: Paper) -> None:
    tags = [Tag(f"B{k}", ID.format(k % 10)) for k in range(40)]
    columns, rows = TagSize().on(paper)
    content = made(tags, paper=paper)
    found = pages(content)
    assert set(sizes_mm(content)) == {(paper.width_mm, paper.height_mm)}
    assert len(found) == -(-40 // (columns * rows))
    assert "page 1 of" in found[0]
    assert "hang loosely" in found[-1]
    told = text(content).split()
    assert [t.name for t in tags if t.name not in told] == []


def test_tags_are_as_large_as_asked_for() -> None:
    content = made([Tag("B1", ID.format(1))], TagSize(80, 50))
    lines = [s.box for s in shapes(content) if not s.filled and not s.curved]
    across = sorted({round(b[0], 2) for b in lines if b[3] - b[1] > 50 and b[2] - b[0] < 0.01})
    down = sorted({round(b[1], 2) for b in lines if b[2] - b[0] > 80 and b[3] - b[1] < 0.01})
    assert across[1] - across[0] == pytest.approx(80, abs=0.02)
    assert down[-1] - down[-2] == pytest.approx(50, abs=0.02)


@pytest.mark.parametrize("size", [TagSize(35, 20), TagSize(), TagSize(180, 250)])
@pytest.mark.parametrize("name", ["B1", "the old birch by the mill", "y" * 120, "שלום " * 20])
def test_names_of_any_length_stay_on_their_tag(size: TagSize, name: str) -> None:
    content = made([Tag(name, ID.format(1))], size)
    told = text(content)
    assert ID.format(1)[:8] in told
    if name == "B1":
        assert "B1" in told
    assert len(pages(content)) == 1


def test_the_same_tags_give_the_same_bytes() -> None:
    tags = [Tag("B1", ID.format(1)), Tag("B2", ID.format(2))]
    assert made(tags) == made(tags)


def test_a_tag_that_cannot_be_is_refused() -> None:
    with pytest.raises(UserError, match="out of bounds; choose from 35 by 20 mm to 180 by 250 mm"):
        TagSize(10, 10)
    with pytest.raises(UserError, match="does not go on Letter"):
        made([Tag("B1", ID.format(1))], TagSize(100, 250), LETTER)


def test_a_long_name_makes_a_finer_code() -> None:
    assert module_mm(Tag("x" * 120, ID.format(1)), TagSize()) < module_mm(Tag("B1", ID.format(1)), TagSize())
    assert list(NAME_SIZES_PT) == sorted(NAME_SIZES_PT, reverse=True)
