"""A walk on paper, as PDF: for each person a map at a true scale and a table to write in, and what to take along.

Black on white, for any printer. The same values give the same bytes.
"""

from __future__ import annotations

import io
from collections.abc import Sequence

from reportlab.lib.colors import black
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import (
    BaseDocTemplate,
    Flowable,
    Frame,
    KeepTogether,
    PageBreak,
    PageTemplate,
    Spacer,
    Table,
    TableStyle,
)

from standmap.formats.paper import FOOT_MM, MARGIN_MM, PageWords, Paper, counted_canvas
from standmap.formats.paper_type import font_ready
from standmap.formats.walk_sheet_key import MapKey
from standmap.formats.walk_sheet_map import WalkMap
from standmap.formats.walk_sheet_table import BODY_PT, DASH, FINE_PT, TICK, paragraph, trip_tables
from standmap.formats.walk_sheet_values import Block, SheetPart, WalkSheet
from standmap.units_shown import UnitsShown

TITLE_PT, FACT_PT, CAUTION_PT = 13.0, 8.5, 7.0
LEAST_MAP_MM = 95.0
"""Where less height than this would be left for the map, the cautions go to the next page."""

FACTS_IN_A_ROW = 2


def walk_sheet(sheet: WalkSheet, paper: Paper, units: UnitsShown, page_words: PageWords) -> bytes:
    """Return a walk sheet as PDF.

    Parameters
    ----------
    sheet
        Everything that is written, as the person reads it.
    units
        For the scale bar.
    page_words
        Says "page 2 of 5".
    """
    font_ready()
    written = io.BytesIO()
    document = BaseDocTemplate(
        written,
        pagesize=paper.size_pt,
        leftMargin=MARGIN_MM * mm,
        rightMargin=MARGIN_MM * mm,
        title=sheet.title,
        creator="standmap",
        author="standmap",
        subject="",
        invariant=1,
    )
    width, height = paper.inside_mm
    frame = Frame(
        MARGIN_MM * mm, (MARGIN_MM + FOOT_MM) * mm, width * mm, height * mm,
        leftPadding=0, rightPadding=0, topPadding=0, bottomPadding=0,
    )  # fmt: skip
    document.addPageTemplates(PageTemplate("sheet", [frame]))
    story: list[Flowable] = []
    for part in sheet.parts:
        if story:
            story.append(PageBreak())
        story += _part(sheet, part, units, width, height)
    story += [_KeptBlock(block, width * mm) for block in sheet.last if block.lines]
    document.build(story, canvasmaker=counted_canvas(paper, sheet.title, page_words))
    return written.getvalue()


class _Foot(Flowable):
    """Draws nothing: it sets what stands at the foot of its page and those after it."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self._text = text
        self.width = self.height = 0.0

    def wrap(self, _width: float, _height: float) -> tuple[float, float]:
        return 0.0, 0.0

    def draw(self) -> None:
        canvas: Canvas = self.canv
        canvas.sheet_foot = self._text  # type: ignore[attr-defined]  # of the counted canvas


def _part(sheet: WalkSheet, part: SheetPart, units: UnitsShown, width_mm: float, height_mm: float) -> list[Flowable]:
    """Return the pages of one person: first the map with what may be needed at once, then the table."""
    room = width_mm * mm
    top: list[Flowable] = [_Foot(part.foot), paragraph(part.title, TITLE_PT, room, bold=True), Spacer(1, 1.5 * mm)]
    top += [_facts(part.facts, room), Spacer(1, 2 * mm)]
    emergency = [Spacer(1, 2 * mm), _framed(sheet.emergency, room, 1.6)]
    cautions: list[Flowable] = [Spacer(1, 2 * mm), *_lines(sheet.cautions, CAUTION_PT, room)]
    key = MapKey(sheet.legend, sheet.north, sheet.scale_note, units, width_mm)
    kept = _height_mm([*top, key, *emergency], room)
    left = height_mm - kept - 1
    beside = left - _height_mm(cautions, room) >= LEAST_MAP_MM
    high = left - _height_mm(cautions, room) if beside else max(left, LEAST_MAP_MM)
    chart = WalkMap(part, sheet.ground, width_mm, high)
    key.scale = chart.view.scale
    table = [*_above_table(sheet.at_each_stop, room), *trip_tables(part.trips, sheet.columns, width_mm)]
    first: list[Flowable] = [*top, chart, key, *emergency]
    return [*first, *cautions, PageBreak(), *table] if beside else [*first, PageBreak(), *cautions, *table]


def _above_table(block: Block, room_pt: float) -> list[Flowable]:
    return [*_lines(block, BODY_PT, room_pt), Spacer(1, 3 * mm)] if block.lines else []


def _height_mm(flowables: Sequence[Flowable], room_pt: float) -> float:
    return float(sum(f.wrap(room_pt, 10_000)[1] + f.getSpaceBefore() + f.getSpaceAfter() for f in flowables)) / mm


def _facts(facts: Sequence[tuple[str, str]], room_pt: float) -> Table:
    """Return facts in two columns, each with its title before it."""
    titles = 24 * mm
    texts = room_pt / FACTS_IN_A_ROW - titles
    held = [
        [paragraph(title, FINE_PT, titles - 4), paragraph(text, FACT_PT, texts - 4, bold=True)] for title, text in facts
    ]
    cells: list[object] = [cell for pair in held for cell in pair]
    alone = len(facts) % FACTS_IN_A_ROW == 1
    if alone:  # the last one has the whole row
        cells[-1] = paragraph(facts[-1][1], FACT_PT, room_pt - titles - 4, bold=True)
    cells += [""] * (-len(cells) % (2 * FACTS_IN_A_ROW))
    rows = [cells[k : k + 2 * FACTS_IN_A_ROW] for k in range(0, len(cells), 2 * FACTS_IN_A_ROW)]
    table = Table(rows, colWidths=[titles, texts] * FACTS_IN_A_ROW)
    table.setStyle(
        TableStyle(
            [
                ("VALIGN", (0, 0), (-1, -1), "TOP"),
                ("LEFTPADDING", (0, 0), (-1, -1), 0),
                ("RIGHTPADDING", (0, 0), (-1, -1), 4),
                ("TOPPADDING", (0, 0), (-1, -1), 0.4 * mm),
                ("BOTTOMPADDING", (0, 0), (-1, -1), 0.4 * mm),
                *([("SPAN", (1, -1), (-1, -1))] if alone else []),
            ]
        )
    )
    return table


def _lines(block: Block, size_pt: float, room_pt: float) -> list[Flowable]:
    title = [paragraph(block.title, size_pt, room_pt, bold=True)] if block.title and block.lines else []
    mark = TICK if block.ticked else DASH
    return [*title, *(paragraph(line, size_pt, room_pt, mark=mark) for line in block.lines)]


def _framed(block: Block, room_pt: float, line_pt: float) -> Table:
    """Return a block in a heavy frame."""
    inside = room_pt - 5 * mm
    held: list[Flowable] = [paragraph(block.title, BODY_PT, inside, bold=True)]
    for line in block.lines:
        held += [Spacer(1, 1.6 * mm), paragraph(line, BODY_PT, inside)]
    table = Table([[held]], colWidths=[room_pt])
    pad = 2 * mm
    table.setStyle(
        TableStyle(
            [
                ("BOX", (0, 0), (-1, -1), line_pt, black),
                ("LEFTPADDING", (0, 0), (-1, -1), pad),
                ("RIGHTPADDING", (0, 0), (-1, -1), pad),
                ("TOPPADDING", (0, 0), (-1, -1), pad / 2),
                ("BOTTOMPADDING", (0, 0), (-1, -1), pad),
            ]
        )
    )
    return table


def _KeptBlock(block: Block, room_pt: float) -> KeepTogether:  # noqa: N802 - reads as a flowable
    """Return a block of the last pages, on one page where it fits there."""
    return KeepTogether([Spacer(1, 4 * mm), *_lines(block, BODY_PT, room_pt)])
