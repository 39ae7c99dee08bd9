"""The signs of places on paper, as on the window's map: small black squares with a drawing of what is there."""

from __future__ import annotations

from typing import TYPE_CHECKING

from reportlab.lib.units import mm

from standmap.formats.walk_sheet_values import Sign

if TYPE_CHECKING:
    from reportlab.pdfgen.canvas import Canvas

SIGN_MM = 3.8
_UNIT = SIGN_MM / 18 * mm
"""The drawings are on squares of 18 by 18."""


def draw_sign(canvas: Canvas, x_mm: float, y_mm: float, sign: Sign) -> None:
    """Draw the sign of a gate, a tank, a landmark, a hazard, or a bridge where no stream is near."""
    canvas.saveState()
    canvas.translate(x_mm * mm, y_mm * mm)
    canvas.scale(_UNIT, _UNIT)
    canvas.setDash()
    canvas.setFillGray(1)
    canvas.roundRect(-10.5, -10.5, 21, 21, 4, stroke=0, fill=1)
    canvas.setFillGray(0)
    canvas.roundRect(-9, -9, 18, 18, 3, stroke=0, fill=1)
    canvas.setStrokeGray(1)
    canvas.setLineWidth(1.8)
    canvas.setLineCap(1)
    for line in _STROKES[sign]:
        path = canvas.beginPath()
        path.moveTo(*line[0])
        for point in line[1:]:
            path.lineTo(*point)
        canvas.drawPath(path)
    canvas.restoreState()


_STROKES: dict[Sign, tuple[tuple[tuple[float, float], ...], ...]] = {
    Sign.GATE: (
        ((-4.5, -5), (-4.5, 5)), ((4.5, -5), (4.5, 5)), ((-4.5, 2.5), (4.5, 2.5)), ((-4.5, -2), (4.5, -2)),
    ),
    Sign.TANK: (((-4, 5), (4, 5), (4, -5), (-4, -5), (-4, 5)), ((-4, 0.8), (4, 0.8))),
    Sign.LANDMARK: (((-5, -4.5), (-1, 4.5), (1.5, 1), (2.5, 2.5), (5, -4.5), (-5, -4.5)),),
    Sign.HAZARD: (((0, 5.5), (0, -1.5)), ((0, -5.5), (0, -5.6))),
    Sign.BRIDGE: (((-2.6, -5), (-2.6, 5)), ((2.6, -5), (2.6, 5))),
    Sign.FORD: tuple(((x, y), (x, y + 0.1)) for x, y in ((-4.5, -2.5), (0, 0.5), (4.5, 3.5))),
}  # fmt: skip


def draw_crossing(canvas: Canvas, x_mm: float, y_mm: float, stream_deg: float, sign: Sign) -> None:
    """Draw a bridge as two strokes, or a ford as two rows of stones, across a stream.

    Parameters
    ----------
    stream_deg
        Which way the stream runs, degrees anticlockwise from right.
    """
    canvas.saveState()
    canvas.translate(x_mm * mm, y_mm * mm)
    canvas.rotate(stream_deg + 90)
    canvas.scale(_UNIT, _UNIT)
    canvas.setDash()
    canvas.setLineCap(1)
    stones = sign is Sign.FORD
    for grey, wide in ((1.0, 6.0), (0.0, 3.6 if stones else 2.4)):
        canvas.setStrokeGray(grey)
        canvas.setLineWidth(wide)
        if stones and not grey:
            canvas.setDash(0.1, 6.5)
        for aside in (-4.5, 4.5):
            canvas.line(-10, aside, 10, aside)
    canvas.restoreState()
