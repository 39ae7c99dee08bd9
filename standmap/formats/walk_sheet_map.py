"""The map of a walk sheet as it is drawn: black on white, so that a bad printer shows it too."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray
from reportlab.lib.units import mm
from reportlab.platypus import Flowable

from standmap.formats.paper_type import draw_line, shortened, width_pt
from standmap.formats.walk_sheet_signs import SIGN_MM, draw_crossing, draw_sign
from standmap.formats.walk_sheet_values import Ground, SheetPart, Sign, Spot, Way
from standmap.formats.walk_sheet_view import LED_FROM_MM, MARK_MM, MapView, number_places, view_of

if TYPE_CHECKING:
    from reportlab.pdfgen.canvas import Canvas

FloatArray = NDArray[np.float64]

NUMBER_PT, NAME_PT = 8.0, 6.5
NAME_MOST_MM = 30.0
STOP_MM = 0.75

ASIDE_MM = 0.5
"""The line runs so far to the right of the way, so that a way walked out and back shows as two lines."""

ARROW_EVERY_MM = 30.0
LEAST_STEP_MM = 1e-3
LEAST_FOR_ARROW_MM = 6.0
HATCH_MM = 2.0
HATCH_GREY = 0.55
WAVE_MM, WAVE_HIGH_MM = 3.0, 0.45
POST_MM = 4.0

DASHES: tuple[tuple[float, ...], ...] = ((), (6, 1.6), (2.4, 1.2), (8, 1.4, 1.4, 1.4))
"""Lines of one trip after the other, points."""


@dataclass(frozen=True, slots=True)
class _Number:
    """What is written at one place: the numbers of all stops there."""

    text: str
    at: tuple[float, float]
    size: tuple[float, float]


class WalkMap(Flowable):
    """A map with one part of a walk, at the largest round scale that holds it.

    Parameters
    ----------
    width_mm, height_mm
        Of the map, its frame included.
    """

    def __init__(self, part: SheetPart, ground: Ground, width_mm: float, height_mm: float) -> None:
        super().__init__()
        self._part, self._ground = part, ground
        self.width, self.height = width_mm * mm, height_mm * mm
        self.view = _view(part, ground, width_mm, height_mm)

    def wrap(self, _width: float, _height: float) -> tuple[float, float]:
        """Return how large it is, points."""
        return self.width, self.height

    def draw(self) -> None:
        """Draw the map."""
        canvas: Canvas = self.canv
        canvas.saveState()
        frame = canvas.beginPath()
        frame.rect(0, 0, self.width, self.height)
        canvas.clipPath(frame, stroke=0)
        canvas.setLineJoin(1)
        canvas.setLineCap(1)
        _draw_ground(canvas, self._ground, self.view)
        lines = _draw_walk(canvas, self._part, self.view)
        self._draw_marks(canvas, lines)
        canvas.restoreState()
        canvas.setLineWidth(0.8)
        canvas.rect(0, 0, self.width, self.height)

    def _draw_marks(self, canvas: Canvas, lines: FloatArray) -> None:
        spots = _on_map(self._ground.spots, self.view)
        streams = [self.view.on_paper(course) for sign, course in self._ground.lines if sign is Sign.STREAM]
        signs = [(x - SIGN_MM / 2, y - SIGN_MM / 2, x + SIGN_MM / 2, y + SIGN_MM / 2) for _, x, y in spots]
        numbers = list(_numbers(self._part, self.view))
        names = [_named(spot, x, y) for spot, x, y in spots if spot.name]
        marks = np.array([n.at for n in numbers], float).reshape(-1, 2)
        rim = MARK_MM
        stops = np.column_stack([marks - rim, marks + rim])
        taken = np.concatenate([np.array(signs, float).reshape(-1, 4), stops])
        at = np.array([n.at for n in (*numbers, *names)], float).reshape(-1, 2)
        sizes = np.array([n.size for n in (*numbers, *names)], float).reshape(-1, 2)
        places = number_places(at, sizes, taken, lines, self.view)
        # Thin lines first, then marks, then what is written.
        for number, (x, y) in zip(numbers, places, strict=False):
            _lead(canvas, number, x, y)
        for spot, x, y in spots:
            if streams and spot.sign in (Sign.BRIDGE, Sign.FORD):
                draw_crossing(canvas, x, y, _direction_near(streams, x, y), spot.sign)
            else:
                draw_sign(canvas, x, y, spot.sign)
        for x, y in marks.tolist():
            canvas.setFillGray(1)
            canvas.circle(x * mm, y * mm, MARK_MM * mm, stroke=0, fill=1)
            canvas.setFillGray(0)
            canvas.circle(x * mm, y * mm, STOP_MM * mm, stroke=0, fill=1)
        for k, (label, (x, y)) in enumerate(zip((*numbers, *names), places, strict=True)):
            strong = k < len(numbers)
            size = NUMBER_PT if strong else NAME_PT
            wide, high = label.size
            canvas.setFillGray(1)
            canvas.rect((x - wide / 2) * mm, (y - high / 2) * mm, wide * mm, high * mm, stroke=0, fill=1)
            canvas.setFillGray(0)
            draw_line(canvas, x * mm, y * mm - size * 0.36, label.text, size, bold=strong, side="middle")


def _walked(part: SheetPart) -> FloatArray:
    points = [xy for trip in part.trips for way in (*trip.legs, *((s.at,) for s in trip.stops)) for xy in way]
    return np.asarray(points, dtype=np.float64).reshape(-1, 2)


def _view(part: SheetPart, ground: Ground, width_mm: float, height_mm: float) -> MapView:
    """Return the view of a walk; gates that do not make its scale smaller are on it too."""
    shown = _walked(part)
    view = view_of(shown, width_mm, height_mm)
    for spot in ground.spots:
        if spot.sign is Sign.GATE:
            wider = view_of(np.vstack([shown, spot.at]), width_mm, height_mm)
            if wider.scale == view.scale:
                shown, view = np.vstack([shown, spot.at]), wider
    return view


def _on_map(spots: Sequence[Spot], view: MapView) -> list[tuple[Spot, float, float]]:
    """Return the places whose whole sign is on the map, and where."""
    at, half = view.on_paper([s.at for s in spots]), SIGN_MM / 2
    seen = view.holds(at - half) & view.holds(at + half)
    return [(s, x, y) for s, (x, y), whole in zip(spots, at.tolist(), seen, strict=True) if whole]


def _numbers(part: SheetPart, view: MapView) -> Iterator[_Number]:
    """Yield the number of each stop, those at one tree together."""
    numbers: dict[tuple[float, float], list[int]] = {}
    for trip in part.trips:
        for stop in trip.stops:
            numbers.setdefault(stop.at, []).append(stop.number)
    for at, found in numbers.items():
        text = "·".join(map(str, found))
        wide = width_pt(text, NUMBER_PT, bold=True) / mm + 0.8
        x, y = view.on_paper([at])[0].tolist()
        yield _Number(text, (x, y), (wide, NUMBER_PT * 0.36))


def _named(spot: Spot, x: float, y: float) -> _Number:
    text = shortened(spot.name, NAME_PT, NAME_MOST_MM * mm)
    return _Number(text, (x, y), (max(width_pt(text, NAME_PT) / mm + 0.8, SIGN_MM), NAME_PT * 0.4))


def _lead(canvas: Canvas, number: _Number, x: float, y: float) -> None:
    """Draw a thin line from a mark to its number where that stands away from it."""
    across, up = x - number.at[0], y - number.at[1]
    half = (number.size[0] / 2, number.size[1] / 2)
    inside = min(half[0] / max(abs(across), 1e-9), half[1] / max(abs(up), 1e-9), 1.0)
    if math.hypot(across, up) * (1 - inside) > LED_FROM_MM:
        canvas.setLineWidth(0.3)
        canvas.setDash()
        canvas.line(number.at[0] * mm, number.at[1] * mm, x * mm, y * mm)


def _draw_ground(canvas: Canvas, ground: Ground, view: MapView) -> None:
    canvas.setStrokeGray(0)
    for sign, rings in ground.areas:
        _draw_area(canvas, sign, [view.on_paper(ring) for ring in rings])
    for sign, course in ground.lines:
        line = view.on_paper(course)
        if sign is Sign.STREAM:
            draw_way(canvas, wavy(line), 0.7)
        elif sign is Sign.PATH:
            draw_way(canvas, line, 2.0)
        else:
            draw_fence(canvas, line)
    canvas.setStrokeGray(1)
    for sign, course in ground.lines:
        if sign is Sign.PATH:
            draw_way(canvas, view.on_paper(course), 1.1)
    canvas.setStrokeGray(0)
    canvas.setLineWidth(0.4)
    trees = view.on_paper(ground.trees)
    for x, y in trees[view.holds(trees)].tolist():
        canvas.circle(x * mm, y * mm, 0.45 * mm, stroke=1, fill=0)


def draw_way(canvas: Canvas, line: FloatArray, wide_pt: float) -> None:
    """Draw a line on paper, millimetres, shape (n, 2)."""
    if len(line) < 2:
        return
    canvas.setLineWidth(wide_pt)
    path = canvas.beginPath()
    path.moveTo(line[0, 0] * mm, line[0, 1] * mm)
    for x, y in line[1:].tolist():
        path.lineTo(x * mm, y * mm)
    canvas.drawPath(path)


def _draw_area(canvas: Canvas, sign: Sign, rings: Sequence[FloatArray]) -> None:
    path = canvas.beginPath()
    for ring in rings:
        path.moveTo(ring[0, 0] * mm, ring[0, 1] * mm)
        for x, y in ring[1:].tolist():
            path.lineTo(x * mm, y * mm)
        path.close()
    if sign is Sign.NO_GO:
        canvas.saveState()
        canvas.clipPath(path, stroke=0, fill=0, fillMode=0)
        low, high = rings[0].min(axis=0), rings[0].max(axis=0)
        draw_hatch(canvas, *low.tolist(), *high.tolist())
        canvas.restoreState()
        canvas.setLineWidth(0.8)
        canvas.setDash()
    else:
        canvas.setLineWidth(0.5)
        canvas.setDash(0.1, 2.4)
    canvas.drawPath(path)
    canvas.setDash()


def draw_hatch(canvas: Canvas, left: float, low: float, right: float, high: float) -> None:
    """Hatch a box, millimetres; what it is clipped to is the caller's."""
    canvas.saveState()
    canvas.setStrokeGray(HATCH_GREY)
    canvas.setLineWidth(0.4)
    rise = high - low
    for k in range(math.ceil((right - left + rise) / HATCH_MM) + 1):
        foot = left - rise + k * HATCH_MM
        canvas.line(foot * mm, low * mm, (foot + rise) * mm, high * mm)
    canvas.restoreState()


def _along(line: FloatArray, every_mm: float) -> tuple[FloatArray, FloatArray]:
    """Return points along a line at equal steps, and the unit vectors of its direction there, shape (n, 2) each."""
    step = np.diff(line, axis=0)
    kept = np.hypot(*step.T) > 1e-6
    line, step = np.vstack([line[:1], line[1:][kept]]), step[kept]
    if not len(step):
        return np.zeros((0, 2)), np.zeros((0, 2))
    length = np.hypot(*step.T)
    along = np.concatenate([[0.0], np.cumsum(length)])
    wanted = np.linspace(0, along[-1], max(round(along[-1] / every_mm), 1) + 1)
    at = np.column_stack([np.interp(wanted, along, line[:, 0]), np.interp(wanted, along, line[:, 1])])
    part = np.clip(np.searchsorted(along, wanted, side="right") - 1, 0, len(step) - 1)
    return at, step[part] / length[part][:, None]


def wavy(line: FloatArray) -> FloatArray:
    """Return a line on paper as water runs."""
    at, ways = _along(line, WAVE_MM / 8)
    swing = WAVE_HIGH_MM * np.sin(np.arange(len(at)) * 2 * np.pi / 8)
    waves: FloatArray = at + swing[:, None] * np.column_stack([-ways[:, 1], ways[:, 0]])
    return waves


def draw_fence(canvas: Canvas, line: FloatArray) -> None:
    """Draw a wire with its posts."""
    draw_way(canvas, line, 0.4)
    at, ways = _along(line, POST_MM)
    for (x, y), (east, north) in zip(at.tolist(), ways.tolist(), strict=True):
        dx, dy = -north * 0.7, east * 0.7
        canvas.line((x - dx) * mm, (y - dy) * mm, (x + dx) * mm, (y + dy) * mm)


def _draw_walk(canvas: Canvas, part: SheetPart, view: MapView) -> FloatArray:
    """Draw the lines of a walk with their arrows; return points along them, millimetres, shape (n, 2)."""
    drawn = [np.zeros((0, 2))]
    canvas.setFillGray(0)
    for number, trip in enumerate(part.trips):
        for leg in trip.legs:
            line = _aside(view, leg)
            if len(line) < 2:
                continue
            canvas.setDash(list(dashes_of(number)))
            draw_way(canvas, line, 1.1)
            canvas.setDash()
            _draw_arrows(canvas, line)
            drawn.append(_along(line, 1.0)[0])
    return np.concatenate(drawn)


def dashes_of(trip: int) -> tuple[float, ...]:
    """Return how the line of a trip, counted from 0, is broken; points, empty for not at all."""
    return DASHES[trip % len(DASHES)]


def _aside(view: MapView, leg: Way) -> FloatArray:
    """Return a leg on paper, a little to the right of the way; empty where it leads nowhere."""
    line = view.on_paper(leg)
    step = np.diff(line, axis=0)
    kept = np.hypot(*step.T) > LEAST_STEP_MM
    if not kept.any():
        return np.zeros((0, 2))
    line, step = np.vstack([line[:1], line[1:][kept]]), step[kept]
    right = np.column_stack([step[:, 1], -step[:, 0]]) / np.hypot(*step.T)[:, None]
    before, after = np.vstack([right[:1], right]), np.vstack([right, right[-1:]])
    middle = before + after
    # Where a way bends, along the middle of both sides, but never far out where it turns back on itself.
    moved: FloatArray = line + 2 * ASIDE_MM * middle / np.maximum((middle**2).sum(axis=1), 1.0)[:, None]
    return moved


def _draw_arrows(canvas: Canvas, line: FloatArray) -> None:
    length = float(np.hypot(*np.diff(line, axis=0).T).sum())
    if length < LEAST_FOR_ARROW_MM:
        return
    count = max(round(length / ARROW_EVERY_MM), 1)
    at, ways = _along(line, length / (5 * count))
    # A little before the middle of each piece: those of the way back then stand beside, not on them.
    for (x, y), (east, north) in zip(at[2::5].tolist(), ways[2::5].tolist(), strict=True):
        draw_arrow(canvas, x, y, east, north)


def draw_arrow(canvas: Canvas, x: float, y: float, east: float, north: float) -> None:
    """Draw the head of an arrow at a place on paper, millimetres, that points along a unit vector."""
    path = canvas.beginPath()
    path.moveTo((x + east * 1.1) * mm, (y + north * 1.1) * mm)
    for side in (1, -1):
        path.lineTo((x - east * 1.1 - side * north * 0.85) * mm, (y - north * 1.1 + side * east * 0.85) * mm)
    path.close()
    canvas.drawPath(path, stroke=0, fill=1)


def _direction_near(streams: Sequence[FloatArray], x: float, y: float) -> float:
    """Return which way the nearest of some streams runs, degrees anticlockwise from right."""
    nearest, angle = math.inf, 90.0
    for line in streams:
        at, ways = _along(line, 1.0)
        if len(at):
            away = np.hypot(*(at - (x, y)).T)
            k = int(np.argmin(away))
            if away[k] < nearest:
                nearest, angle = float(away[k]), math.degrees(math.atan2(ways[k, 1], ways[k, 0]))
    return angle
