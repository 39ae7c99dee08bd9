"""What every sheet on paper has: its size, its margins, and a foot with "page x of y"."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from standmap.errors import UserError
from standmap.formats.paper_type import draw_line

MARGIN_MM = 12.0
FOOT_MM = 6.0
"""Kept free for the foot, within the margins."""

FOOT_PT = 7.0

PageWords = Callable[[int, int], str]
"""Says "page 2 of 5" in the person's language."""


@dataclass(frozen=True, slots=True)
class Paper:
    """A kind of paper, upright; millimetres."""

    name: str
    width_mm: float
    height_mm: float

    @property
    def size_pt(self) -> tuple[float, float]:
        """Width and height in points."""
        return self.width_mm * mm, self.height_mm * mm

    @property
    def inside_mm(self) -> tuple[float, float]:
        """Width and height between the margins, above the foot."""
        return self.width_mm - 2 * MARGIN_MM, self.height_mm - 2 * MARGIN_MM - FOOT_MM


A4 = Paper("A4", 210.0, 297.0)
LETTER = Paper("Letter", 215.9, 279.4)
PAPERS = {paper.name.casefold(): paper for paper in (A4, LETTER)}
"""Sizes by ISO 216 and ANSI Y14.1 (from memory)."""


def paper_of(text: str) -> Paper:
    """Return a kind of paper by its name.

    Raises
    ------
    UserError
        If it is none.
    """
    found = PAPERS.get(text.strip().casefold())
    if found is None:
        raise UserError(f"'{text[:40]}' is no paper known here", "choose A4 or Letter")
    return found


def counted_canvas(paper: Paper, foot: str, page_words: PageWords) -> type[Canvas]:
    """Return a kind of canvas that writes a foot on each page once it is known how many there are.

    Parameters
    ----------
    foot
        Written at the left of every page; what is drawn may set `sheet_foot` of the canvas, from its page on.
    """

    class Counted(Canvas):
        """Keeps its pages back until the last is there."""

        def __init__(self, *arguments: Any, **named: Any) -> None:
            super().__init__(*arguments, **named)
            self.sheet_foot = foot
            self._kept: list[dict[str, Any]] = []

        def showPage(self) -> None:  # noqa: N802 - reportlab's name
            self._kept.append(dict(self.__dict__))
            self._startPage()  # type: ignore[attr-defined]  # reportlab's own way of keeping pages

        def save(self) -> None:
            kept = self._kept
            for number, page in enumerate(kept, start=1):
                self.__dict__.update(page)
                self._draw_foot(page_words(number, len(kept)))
                super().showPage()
            super().save()

        def _draw_foot(self, pages: str) -> None:
            left, right = MARGIN_MM * mm, (paper.width_mm - MARGIN_MM) * mm
            self.setLineWidth(0.4)
            self.line(left, (MARGIN_MM + 3.4) * mm, right, (MARGIN_MM + 3.4) * mm)
            taken = draw_line(self, right, MARGIN_MM * mm, pages, FOOT_PT, side="right")
            draw_line(self, left, MARGIN_MM * mm, self.sheet_foot, FOOT_PT, most_pt=right - left - taken - 12)

    return Counted
