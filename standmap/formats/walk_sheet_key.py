"""What stands below the map of a walk sheet: its scale with a bar, what the signs mean, and north."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np
from reportlab.lib.units import mm
from reportlab.platypus import Flowable

from standmap.formats.paper_type import draw_line, lines_of, width_pt
from standmap.formats.walk_sheet_map import draw_arrow, draw_fence, draw_hatch, draw_way, wavy
from standmap.formats.walk_sheet_signs import draw_crossing, draw_sign
from standmap.formats.walk_sheet_values import North, Sign
from standmap.survey.scale_bar import scale_bar
from standmap.units_shown import UnitsShown

if TYPE_CHECKING:
    from reportlab.pdfgen.canvas import Canvas

BAR_MOST_MM = 45.0
SIDE_MM = 52.0
"""Width of the parts at both sides."""

HIGH_MM = 18.0
TEXT_PT = 6.5
ROW_MM = 4.2
SIGN_ROOM_MM = 7.0
NEEDLE_MM = 4.6


class MapKey(Flowable):
    """The strip below the map.

    Attributes
    ----------
    scale
        Of the map above it, to be set before it is drawn.
    """

    def __init__(
        self, legend: Mapping[Sign, str], north: North, scale_note: str, units: UnitsShown, width_mm: float
    ) -> None:
        super().__init__()
        self._scale_note = scale_note
        self._legend, self._north, self._units = legend, north, units
        self._legend_rows = _in_rows(legend, width_mm - 2 * SIDE_MM)
        self.width, self.height = width_mm * mm, max(HIGH_MM, len(self._legend_rows) * ROW_MM + 1) * mm
        self.scale = 1000

    def wrap(self, _width: float, _height: float) -> tuple[float, float]:
        """Return how large it is, points."""
        return self.width, self.height

    def draw(self) -> None:
        """Draw the strip."""
        canvas: Canvas = self.canv
        canvas.saveState()
        canvas.setStrokeGray(0)
        canvas.setFillGray(0)
        self._draw_bar(canvas)
        self._draw_legend(canvas)
        self._draw_north(canvas)
        canvas.restoreState()

    def _draw_bar(self, canvas: Canvas) -> None:
        """Draw a bar of a round length in four parts, in turn full and open."""
        bar = scale_bar(BAR_MOST_MM / 1000 * self.scale, self._units)
        long, foot, high = bar.metres * 1000 / self.scale * mm, 3 * mm, 1.5 * mm
        canvas.setLineWidth(0.6)
        for part in range(4):
            canvas.rect(part * long / 4, foot, long / 4, high, stroke=1, fill=part % 2 == 0)
        draw_line(canvas, 0, foot + high + 2, "0", TEXT_PT)
        draw_line(canvas, long, foot + high + 2, bar.text, TEXT_PT, side="right")
        taken = draw_line(canvas, 0, foot + high + 11, f"1:{self.scale}", 9, bold=True)
        room = SIDE_MM * mm - taken - 8
        draw_line(canvas, taken + 4, foot + high + 11, self._scale_note, TEXT_PT, most_pt=room)

    def _draw_legend(self, canvas: Canvas) -> None:
        for row, signs in enumerate(self._legend_rows):
            y = self.height / mm - (row + 0.9) * ROW_MM
            for sign, x in signs:
                draw_sample(canvas, sign, SIDE_MM + x, y)
                at = (SIDE_MM + x + SIGN_ROOM_MM) * mm
                draw_line(canvas, at, y * mm - TEXT_PT * 0.36, self._legend[sign], TEXT_PT)

    def _draw_north(self, canvas: Canvas) -> None:
        """Draw a needle to true north with its letter, and a thin line to where a compass points."""
        x, y = self.width - NEEDLE_MM * mm, (HIGH_MM / 2 - 1.2) * mm
        long = NEEDLE_MM * mm
        canvas.setLineWidth(0.5)
        canvas.circle(x, y, long * 0.6, stroke=1, fill=0)
        needle = canvas.beginPath()
        needle.moveTo(x, y + long)
        needle.lineTo(x + long * 0.14, y)
        needle.lineTo(x - long * 0.14, y)
        needle.close()
        canvas.drawPath(needle, stroke=0, fill=1)
        canvas.line(x, y, x, y - long * 0.6)
        draw_line(canvas, x, y + long + 4.5, self._north.letter, 7.5, bold=True, side="middle")
        if self._north.magnetic_deg is not None:
            turn = math.radians(self._north.magnetic_deg)
            canvas.setLineWidth(0.6)
            canvas.line(x, y, x + long * math.sin(turn), y + long * math.cos(turn))
            canvas.circle(x + long * 1.09 * math.sin(turn), y + long * 1.09 * math.cos(turn), long * 0.09)
        room = (SIDE_MM - 2 * NEEDLE_MM - 2) * mm
        for k, line in enumerate(_few_lines(self._north.text, room)):
            draw_line(canvas, x - long - 2 * mm, y + 3 - k * 8, line, TEXT_PT, side="right", most_pt=room)


def _in_rows(legend: Mapping[Sign, str], width_mm: float) -> list[list[tuple[Sign, float]]]:
    """Return signs in rows, each with where it begins, millimetres."""
    rows: list[list[tuple[Sign, float]]] = [[]]
    x = 0.0
    for sign, text in legend.items():
        wide = SIGN_ROOM_MM + width_pt(text, TEXT_PT) / mm + 3
        if rows[-1] and x + wide > width_mm:
            rows.append([])
            x = 0.0
        rows[-1].append((sign, x))
        x += wide
    return rows


def _few_lines(text: str, room_pt: float) -> list[str]:
    return lines_of(text, TEXT_PT, room_pt)[:3]


def draw_sample(canvas: Canvas, sign: Sign, x: float, y: float) -> None:
    """Draw what a sign looks like, in a space of `SIGN_ROOM_MM`, from its left end at half its height."""
    ends = np.array([(x, y), (x + SIGN_ROOM_MM - 1.5, y)])
    middle = x + (SIGN_ROOM_MM - 1.5) / 2
    match sign:
        case Sign.STOP:
            canvas.circle(middle * mm, y * mm, 0.75 * mm, stroke=0, fill=1)
        case Sign.WALK:
            draw_way(canvas, ends, 1.1)
            draw_arrow(canvas, middle, y, 1.0, 0.0)
        case Sign.PATH:
            draw_way(canvas, ends, 2.0)
            canvas.setStrokeGray(1)
            draw_way(canvas, ends, 1.1)
            canvas.setStrokeGray(0)
        case Sign.STREAM:
            draw_way(canvas, wavy(ends), 0.7)
        case Sign.FENCE:
            draw_fence(canvas, ends)
        case Sign.TREE:
            canvas.setLineWidth(0.4)
            canvas.circle(middle * mm, y * mm, 0.45 * mm, stroke=1, fill=0)
        case Sign.NO_GO | Sign.PERMITTED:
            canvas.saveState()
            box = canvas.beginPath()
            box.rect(x * mm, (y - 1.3) * mm, (SIGN_ROOM_MM - 1.5) * mm, 2.6 * mm)
            if sign is Sign.NO_GO:
                canvas.saveState()
                canvas.clipPath(box, stroke=0)
                draw_hatch(canvas, x, y - 1.3, x + SIGN_ROOM_MM - 1.5, y + 1.3)
                canvas.restoreState()
            else:
                canvas.setDash(0.1, 2.4)
            canvas.setLineWidth(0.6)
            canvas.drawPath(box)
            canvas.restoreState()
        case Sign.BRIDGE | Sign.FORD:
            draw_crossing(canvas, middle, y, 90.0, sign)
        case _:
            draw_sign(canvas, middle, y, sign)
