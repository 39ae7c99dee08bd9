"""Tags for trees on paper, or on what else goes through a printer: the name large, and a QR code for a phone.

A code holds two lines of plain text, UTF-8: the tree's name, then "standmap tree " and its id. Anything that reads QR
codes shows both; nothing is looked up anywhere.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import segno
from reportlab.lib.units import mm

from standmap.errors import UserError
from standmap.formats.paper import MARGIN_MM, PageWords, Paper, counted_canvas
from standmap.formats.paper_type import draw_line, font_ready, lines_of, shortened

if TYPE_CHECKING:
    from reportlab.pdfgen.canvas import Canvas

ID_PREFIX = "standmap tree "
"""What stands before the id in a code."""

LEAST_MM, MOST_MM = (35.0, 20.0), (180.0, 250.0)
"""Width and height of a tag."""

PAD_MM = 3.0
HOLE_MM = 3.5
"""Across the ring that marks where the wire goes through."""

NAME_SIZES_PT = (40, 34, 28, 24, 20, 17, 14, 12, 10, 8.5, 7, 6)
LEADING = 1.1
ID_PT = 4.6
QUIET = 4
"""So many light modules are kept round a code (ISO/IEC 18004, from memory)."""

FINE_MM = 0.4
"""A module smaller than this asks much of a phone and of a printer (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Tag:
    """One tag: the tree's name and its id."""

    name: str
    id: str

    @property
    def coded(self) -> str:
        """What its code says."""
        return f"{' '.join(self.name.split())}\n{ID_PREFIX}{self.id}"


@dataclass(frozen=True, slots=True)
class TagSize:
    """How large tags are, millimetres.

    Raises
    ------
    UserError
        If a tag of this size cannot be read, or does not go on a sheet.
    """

    width_mm: float = 60.0
    height_mm: float = 40.0

    def __post_init__(self) -> None:
        given = (self.width_mm, self.height_mm)
        if not all(low <= value <= high for low, value, high in zip(LEAST_MM, given, MOST_MM, strict=True)):
            raise UserError(
                f"a tag of {self.width_mm:g} by {self.height_mm:g} mm is out of bounds",
                f"choose from {LEAST_MM[0]:g} by {LEAST_MM[1]:g} mm to {MOST_MM[0]:g} by {MOST_MM[1]:g} mm",
            )

    @property
    def code_mm(self) -> float:
        """Side of the code with the light rim round it."""
        return min(self.height_mm - 2 * PAD_MM, self.width_mm / 2)

    def on(self, paper: Paper) -> tuple[int, int]:
        """Return how many stand beside and below each other on a sheet.

        Raises
        ------
        UserError
            If not even one does.
        """
        width, height = paper.inside_mm
        columns, rows = int(width // self.width_mm), int(height // self.height_mm)
        if not (columns and rows):
            raise UserError(
                f"a tag of {self.width_mm:g} by {self.height_mm:g} mm does not go on {paper.name}",
                f"choose at most {width:.0f} by {height:.0f} mm",
            )
        return columns, rows


def module_mm(tag: Tag, size: TagSize) -> float:
    """Return how large one module of a tag's code is."""
    return size.code_mm / (len(_code(tag)) + 2 * QUIET)


def tag_sheet(tags: Sequence[Tag], size: TagSize, paper: Paper, title: str, note: str, page_words: PageWords) -> bytes:
    """Return tags as PDF, row by row, with lines to cut along; the same tags give the same bytes.

    Parameters
    ----------
    tags
        At least one.
    note
        Stands at the foot of every page.

    Raises
    ------
    UserError
        If a tag does not go on the paper.
    """
    font_ready()
    columns, rows = size.on(paper)
    written = io.BytesIO()
    canvas = counted_canvas(paper, note, page_words)(written, pagesize=paper.size_pt, invariant=1)
    canvas.setTitle(title)
    canvas.setCreator("standmap")
    canvas.setAuthor("standmap")
    top = paper.height_mm - MARGIN_MM
    for first in range(0, len(tags), columns * rows):
        page = tags[first : first + columns * rows]
        for k, tag in enumerate(page):
            row, column = divmod(k, columns)
            _draw_tag(canvas, tag, size, MARGIN_MM + column * size.width_mm, top - (row + 1) * size.height_mm)
        _draw_cuts(canvas, size, columns, -(-len(page) // columns), top)
        canvas.showPage()
    canvas.save()
    return written.getvalue()


def _code(tag: Tag) -> tuple[bytearray, ...]:
    """Return a code as rows of dark and light, without the rim round it."""
    return segno.make_qr(tag.coded, error="m", encoding="utf-8").matrix


def _draw_tag(canvas: Canvas, tag: Tag, size: TagSize, left: float, low: float) -> None:
    matrix = _code(tag)
    module = size.code_mm / (len(matrix) + 2 * QUIET)
    code_left = left + size.width_mm - size.code_mm
    code_top = low + (size.height_mm + size.code_mm) / 2
    canvas.setFillGray(0)
    for down, line in enumerate(matrix):
        for begin, end in _dark(line):
            x, y = code_left + (QUIET + begin) * module, code_top - (QUIET + down + 1) * module
            canvas.rect(x * mm, y * mm, (end - begin) * module * mm, module * mm, stroke=0, fill=1)
    canvas.setLineWidth(0.5)
    hole = low + size.height_mm - PAD_MM - HOLE_MM / 2
    canvas.circle((left + PAD_MM + HOLE_MM / 2) * mm, hole * mm, HOLE_MM / 2 * mm)
    _write(canvas, tag, left + PAD_MM, code_left - 0.5, low + PAD_MM, hole - HOLE_MM / 2 - 1)


def _dark(line: bytearray) -> list[tuple[int, int]]:
    """Return where dark stretches of a row of modules begin and end."""
    found: list[tuple[int, int]] = []
    for k, dark in enumerate(line):
        if not dark:
            continue
        if found and found[-1][1] == k:
            found[-1] = (found[-1][0], k + 1)
        else:
            found.append((k, k + 1))
    return found


def _write(canvas: Canvas, tag: Tag, left: float, right: float, low: float, high: float) -> None:
    """Write the id at the foot of a box, millimetres, and above it the name as large as there is room for."""
    wide = (right - left) * mm
    ids = lines_of(tag.id, ID_PT, wide)
    for k, line in enumerate(reversed(ids)):
        draw_line(canvas, left * mm, low * mm + k * ID_PT * LEADING, line, ID_PT)
    foot = low * mm + len(ids) * ID_PT * LEADING + 1.5
    room = high * mm - foot
    size, lines = _fitted(tag.name, wide, room)
    below = foot + (room - len(lines) * size * LEADING) / 2
    for k, line in enumerate(reversed(lines)):
        draw_line(canvas, left * mm, below + (k * LEADING + 0.25) * size, line, size, bold=True)


def _fitted(name: str, wide_pt: float, high_pt: float) -> tuple[float, list[str]]:
    """Return the largest size at which a name fits, unbroken where it can be, and its lines."""
    for whole in (True, False):
        for size in NAME_SIZES_PT:
            lines = lines_of(name, size, wide_pt, bold=True)
            broken = " ".join(lines) != " ".join(name.split())
            if len(lines) * size * LEADING <= high_pt and not (whole and broken):
                return size, lines
    size = NAME_SIZES_PT[-1]
    most = max(int(high_pt // (size * LEADING)), 1)
    lines = lines_of(name, size, wide_pt, bold=True)
    return size, [*lines[: most - 1], shortened(" ".join(lines[most - 1 :]), size, wide_pt, bold=True)]


def _draw_cuts(canvas: Canvas, size: TagSize, columns: int, rows: int, top: float) -> None:
    """Draw the lines between tags, a little longer than these are."""
    over = 3.0
    right, low = MARGIN_MM + columns * size.width_mm, top - rows * size.height_mm
    canvas.saveState()
    canvas.setLineWidth(0.3)
    canvas.setDash(2, 2)
    for column in range(columns + 1):
        x = (MARGIN_MM + column * size.width_mm) * mm
        canvas.line(x, (low - over) * mm, x, (top + over) * mm)
    for row in range(rows + 1):
        y = (top - row * size.height_mm) * mm
        canvas.line((MARGIN_MM - over) * mm, y, (right + over) * mm, y)
    canvas.restoreState()
