"""Draw the figure of how-sure-a-position-is.md.

`python docs/figures/draw.py` draws how-sure.svg from how-sure.json, which stands beside it. Given what
`python tests/benchmarks/survey.py` printed, `python docs/figures/draw.py survey.json`, it renews that file first.
"""

from __future__ import annotations

import json
import math
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

HERE = Path(__file__).parent
KEPT, DRAWN = HERE / "how-sure.json", HERE / "how-sure.svg"

BLUE, ORANGE, GREEN, INK, FAINT = "#0072B2", "#B84700", "#00704F", "#1f2328", "#d0d4d9"
WIDTH, HEIGHT, TOP, FOOT = 860, 380, 66, 62
PANEL = 330

Points = Sequence[tuple[float, float]]


def kept_of(measured: dict[str, Any]) -> dict[str, Any]:
    """Return what the figure needs of a benchmark's output."""
    moves = measured["over_moves_with_and_without_notes"]
    return {
        "from": "tests/benchmarks/survey.py",
        "over_moves": [
            {k: row[k] for k in ("move_m", "notes", "correlation_s", "trees", "found_pct")} for row in moves
        ],
        "over_stays": measured["over_stays"],
    }


def text(
    x: float, y: float, words: str, *, anchor: str = "middle", colour: str = INK, size: int = 13, more: str = ""
) -> str:
    """Return a line of text."""
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" fill="{colour}" font-size="{size}" {more}>{words}</text>'
    )


def mark(shape: str, x: float, y: float, colour: str) -> str:
    """Return a mark of a line: shapes differ, so that the lines do without colour."""
    if shape == "disc":
        return f'<circle cx="{x:.1f}" cy="{y:.1f}" r="4" fill="{colour}"/>'
    if shape == "square":
        return f'<rect x="{x - 3.6:.1f}" y="{y - 3.6:.1f}" width="7.2" height="7.2" fill="{colour}"/>'
    if shape == "ring":
        return f'<circle cx="{x:.1f}" cy="{y:.1f}" r="3.6" fill="#ffffff" stroke="{colour}" stroke-width="1.8"/>'
    return f'<path d="M{x:.1f} {y - 4.8:.1f} l4.6 8.2 h-9.2 z" fill="{colour}"/>'


class Panel:
    """One pair of axes."""

    def __init__(self, left: float, title: str, across: Callable[[float], float], most: float) -> None:
        self._left, self._across, self._most = left, across, most
        self.parts = [text(left, TOP - 30, title, anchor="start", size=15, more='font-weight="600"')]

    def x(self, value: float) -> float:
        """Return where a value stands across the panel."""
        return self._left + self._across(value) * PANEL

    def y(self, value: float) -> float:
        """Return where a value stands up the panel."""
        return HEIGHT - FOOT - value / self._most * (HEIGHT - FOOT - TOP)

    def axes(
        self, ups: Sequence[float], acrosses: Sequence[float], unit: str, up_label: str, across_label: str
    ) -> None:
        """Draw grid, figures and labels."""
        for value in ups:
            y = self.y(value)
            self.parts.append(f'<path d="M{self._left} {y:.1f} h{PANEL}" stroke="{FAINT}"/>')
            self.parts.append(text(self._left - 8, y + 4, f"{value:g}{unit}", anchor="end", size=12))
        for value in acrosses:
            x = self.x(value)
            self.parts.append(f'<path d="M{x:.1f} {self.y(0):.1f} v5" stroke="{INK}"/>')
            self.parts.append(text(x, self.y(0) + 19, f"{value:g}", size=12))
        self.parts.append(f'<path d="M{self._left} {self.y(0):.1f} h{PANEL}" stroke="{INK}"/>')
        self.parts.append(text(self._left + PANEL / 2, HEIGHT - 20, across_label))
        self.parts.append(text(self._left, TOP - 11, up_label, anchor="start", size=12))

    def line(self, points: Points, colour: str, shape: str, dash: str = "") -> None:
        """Draw a line with a mark at each point."""
        way = " ".join(f"{self.x(a):.1f},{self.y(b):.1f}" for a, b in points)
        self.parts.append(
            f'<polyline points="{way}" fill="none" stroke="{colour}" stroke-width="2" stroke-dasharray="{dash}"/>'
        )
        self.parts += [mark(shape, self.x(a), self.y(b), colour) for a, b in points]

    def key(self, x: float, y: float, words: str, colour: str, shape: str, dash: str = "") -> None:
        """Name a line in words beside a piece of it."""
        self.parts.append(
            f'<rect x="{x - 4:.1f}" y="{y - 11:.1f}" width="{42 + 6.7 * len(words):.0f}" height="22" fill="#ffffff"/>'
        )
        self.parts.append(
            f'<path d="M{x} {y} h26" stroke="{colour}" stroke-width="2" fill="none" stroke-dasharray="{dash}"/>'
        )
        self.parts += [mark(shape, x + 13, y, colour), text(x + 34, y + 4, words, anchor="start", size=12)]


def drawn(kept: dict[str, Any]) -> str:
    """Return the figure as SVG."""

    def found(correlation_s: float, *, notes: bool) -> Points:
        rows = kept["over_moves"]
        return [
            (r["move_m"], r["found_pct"]) for r in rows if r["correlation_s"] == correlation_s and r["notes"] is notes
        ]

    one = Panel(64, "Trees told apart", lambda v: v / 30, 100)
    one.axes((0, 25, 50, 75, 100), (2, 6, 10, 15, 20, 30), " %", "Stops found", "Way from tree to tree, metres")
    lines = (
        (found(60.0, notes=True), "note at each tree, error lasts 1 min", BLUE, "disc", ""),
        (found(300.0, notes=False), "no notes, error lasts 5 min", GREEN, "peak", "7 4"),
        (found(60.0, notes=False), "no notes, error lasts 1 min", ORANGE, "square", "7 4"),
        (found(10.0, notes=False), "no notes, error lasts 10 s", INK, "ring", "2 4"),
    )
    for number, (points, words, colour, shape, dash) in enumerate(lines):
        one.line(points, colour, shape, dash)
        one.key(64 + 84, one.y(33) + 22 * number, words, colour, shape, dash)

    stays = kept["over_stays"]
    two = Panel(64 + PANEL + 116, "Standing longer, coming again", lambda v: math.log2(v / 15) / math.log2(400 / 15), 6)
    two.axes((0, 1, 2, 3, 4, 5, 6), [r["stay_s"] for r in stays], " m", "Usual error", "Seconds stood at each tree")
    two.line([(r["stay_s"], r["once_rms_m"]) for r in stays], ORANGE, "square", "7 4")
    two.line([(r["stay_s"], r["two_days_rms_m"]) for r in stays], BLUE, "disc")
    two.key(64 + PANEL + 140, two.y(1.3), "one walk", ORANGE, "square", "7 4")
    two.key(64 + PANEL + 140, two.y(1.3) + 22, "mean of two walks on two days", BLUE, "disc")
    body = "\n".join((*one.parts, *two.parts))
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" width="{WIDTH}" height="{HEIGHT}" '
        'font-family="sans-serif" role="img" aria-label="Stops found over the way between trees, and the error over '
        'the time stood">\n'
        f'<rect x="0.5" y="0.5" width="{WIDTH - 1}" height="{HEIGHT - 1}" rx="8" fill="#ffffff" stroke="{FAINT}"/>\n'
        f"{body}\n</svg>\n"
    )


def main(arguments: Sequence[str]) -> None:
    """Renew the data where a benchmark's output is named, then draw."""
    if arguments:
        measured = json.loads(Path(arguments[0]).read_text(encoding="utf-8"))
        KEPT.write_text(json.dumps(kept_of(measured), indent=1) + "\n", encoding="utf-8")
    DRAWN.write_text(drawn(json.loads(KEPT.read_text(encoding="utf-8"))), encoding="utf-8")


if __name__ == "__main__":
    main(sys.argv[1:])
