"""The table of a walk sheet: one row a stop, with boxes to write in that take a pencil and cold fingers."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from reportlab.lib.colors import black
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.platypus import Flowable, Paragraph, Spacer, Table, TableStyle

from standmap.formats.paper_type import BOLD, PLAIN, markup
from standmap.formats.walk_sheet_map import dashes_of
from standmap.formats.walk_sheet_values import Cell, Column, Fill, SheetTrip

if TYPE_CHECKING:
    from reportlab.pdfgen.canvas import Canvas

BODY_PT, HEAD_PT, FINE_PT = 8.5, 7.0, 6.5
ROW_MM = 8.5
"""No row is lower: so much a handwritten number needs."""

SIDE_MM = 1.0
SAMPLE_MM = 26.0
"""At the right of a trip's heading: how its line is drawn on the map."""

MOST_WHOLE_MM = 80.0
"""A row that is higher may be split."""

TICK, DASH = "☐", "–"
TICK_PT = 13.0


def style(size_pt: float, *, bold: bool = False, hang_pt: float = 0.0) -> ParagraphStyle:
    """Return how a paragraph is set.

    Parameters
    ----------
    hang_pt
        Lines after the first begin so far to the right.
    """
    return ParagraphStyle(
        f"{size_pt}-{bold}-{hang_pt}",
        fontName=BOLD if bold else PLAIN,
        fontSize=size_pt,
        leading=size_pt * 1.22,
        leftIndent=hang_pt,
        firstLineIndent=-hang_pt,
    )


def paragraph(text: str, size_pt: float, most_pt: float, *, bold: bool = False, mark: str = "") -> Paragraph:
    """Return a text as a paragraph of this width, with `TICK` or `DASH` before it where wanted."""
    hang = {TICK: 1.35, DASH: 0.8}.get(mark, 0.0) * size_pt
    body = markup(text, bold=bold, size_pt=size_pt, most_pt=most_pt - hang)
    size = size_pt * 1.25 if mark == TICK else size_pt
    before = f'<font name="{PLAIN}" size="{size:.1f}">{mark}</font> ' if mark else ""
    return Paragraph(before + body, style(size_pt, bold=bold, hang_pt=hang))


def trip_tables(trips: Sequence[SheetTrip], columns: Sequence[Column], width_mm: float) -> list[Flowable]:
    """Return the table of all trips of one part; its heading comes again on every page."""
    share = width_mm / sum(column.width_mm for column in columns)
    widths = [column.width_mm * share * mm for column in columns]
    rows: list[list[Any]] = [
        [paragraph(c.title, HEAD_PT, w - 2 * SIDE_MM * mm) for c, w in zip(columns, widths, strict=True)]
    ]
    marks: list[Any] = []
    room = (width_mm - 2 * SIDE_MM) * mm
    for number, trip in enumerate(trips):
        if trip.head:
            head = _TripHead(trip.head, room, number if len(trips) > 1 and trip.legs else None)
            _add_across(rows, marks, [head], len(columns))
            marks.append(("LINEABOVE", (0, len(rows) - 1), (-1, len(rows) - 1), 1.2, black))
        begun = len(rows)
        rows += [_row(columns, stop.cells, widths) for stop in trip.stops]
        # On a trip that only empties the cans there is no stop.
        if trip.head and trip.stops and _stays_whole(rows[begun], widths):
            marks.append(("NOSPLIT", (0, begun - 1), (-1, begun)))
        if trip.end:
            _add_across(rows, marks, [paragraph(trip.end, BODY_PT, room), Spacer(1, 1.5 * mm)], len(columns))
            if trip.stops and _stays_whole(rows[-2], widths):
                marks.append(("NOSPLIT", (0, len(rows) - 2), (-1, len(rows) - 1)))
    # A row that is longer than a page is split too; nothing that a person wrote may stop the sheet.
    table = Table(rows, colWidths=widths, repeatRows=1, splitByRow=1, splitInRow=1)
    table.setStyle(TableStyle([*_plain_style(columns), *marks]))
    return [table]


class _TripHead(Flowable):
    """What is told of a trip and, at the right, how its line is drawn on the map."""

    def __init__(self, text: str, room_pt: float, trip: int | None) -> None:
        super().__init__()
        self._trip = trip
        sample = 0 if trip is None else SAMPLE_MM * mm
        self._text = paragraph(text, BODY_PT, room_pt - sample, bold=True)
        self.width, self.height = room_pt, float(self._text.wrap(room_pt - sample, 10_000)[1])

    def wrap(self, _width: float, _height: float) -> tuple[float, float]:
        return self.width, self.height

    def draw(self) -> None:
        canvas: Canvas = self.canv
        self._text.drawOn(canvas, 0, 0)
        if self._trip is not None:
            y, right = self.height - BODY_PT * 0.7, self.width
            canvas.setLineWidth(1.1)
            canvas.setDash(list(dashes_of(self._trip)))
            canvas.line(right - (SAMPLE_MM - 4) * mm, y, right, y)
            canvas.setDash()


def _row(columns: Sequence[Column], cells: Sequence[Cell], widths: Sequence[float]) -> list[list[Flowable]]:
    """Return the row of a stop."""
    held = zip(columns, cells, widths, strict=True)
    return [_cell(column, cell, width - 2 * SIDE_MM * mm) for column, cell, width in held]


def _stays_whole(row: Sequence[Sequence[Flowable]], widths: Sequence[float]) -> bool:
    """Return whether the row of a stop is so low that it can stay on one page with what belongs to it."""
    cells = zip(row, widths, strict=True)
    return all(sum(f.wrap(width, 10_000)[1] for f in cell) < MOST_WHOLE_MM * mm for cell, width in cells)


def _add_across(rows: list[list[Any]], marks: list[Any], held: list[Flowable], columns: int) -> None:
    """Add a row that is one cell from side to side."""
    rows.append([held, *[""] * (columns - 1)])
    marks.append(("SPAN", (0, len(rows) - 1), (-1, len(rows) - 1)))


def _cell(column: Column, cell: Cell, room_pt: float) -> list[Flowable]:
    """Return what stands in a cell; an empty one is as high as a line of handwriting."""
    if column.fill is Fill.TICK:
        box = ParagraphStyle("tick", fontName=PLAIN, fontSize=TICK_PT, leading=TICK_PT * 1.1, alignment=1)
        return [Paragraph(TICK, box)]
    held: list[Flowable] = []
    if cell.text:
        held.append(paragraph(cell.text, BODY_PT, room_pt, bold=cell.strong))
    held += [paragraph(text, BODY_PT - 0.5, room_pt, mark=TICK) for text in cell.ticks]
    held += [paragraph(text, FINE_PT, room_pt) for text in cell.fine]
    return held or [Spacer(1, (ROW_MM - 2) * mm)]


def _plain_style(columns: Sequence[Column]) -> list[Any]:
    written = [k for k, column in enumerate(columns) if column.fill is not Fill.TEXT]
    return [
        ("VALIGN", (0, 0), (-1, 0), "BOTTOM"),
        ("VALIGN", (0, 1), (-1, -1), "TOP"),
        ("LEFTPADDING", (0, 0), (-1, -1), SIDE_MM * mm),
        ("RIGHTPADDING", (0, 0), (-1, -1), SIDE_MM * mm),
        ("TOPPADDING", (0, 0), (-1, -1), 1.0 * mm),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 1.0 * mm),
        ("LINEBELOW", (0, 0), (-1, 0), 1.2, black),
        ("LINEBELOW", (0, 1), (-1, -1), 0.4, black),
        *(("LINEBEFORE", (k, 0), (k, -1), 0.8, black) for k in written),
        *(("LINEAFTER", (k, 0), (k, -1), 0.8, black) for k in written),
    ]
