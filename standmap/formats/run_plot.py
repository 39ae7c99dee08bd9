"""What a night is expected to give by hole, and how what was told of past seasons came, as plots."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from standmap.formats.plot import PlotLook, calm_axes, figure, text_of
from standmap.formats.season_plot import Say

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from standmap.sap.calibration import Calibration

ROW_EM = 1.5
"""Height of a row, in sizes of the text; a head and a foot have as much and half of it again."""

LETTER_EM = 0.56
BEYOND_VESSEL = 1.3
"""At least so much of a vessel is drawn, that the room beyond its brim is seen."""


@dataclass(frozen=True, slots=True)
class HoleSpread:
    """What is expected of one hole, all in one unit of volume.

    Attributes
    ----------
    low, median, high
        What nine times of ten is passed, what half of the times is, and what one time of ten is.
    likely_over
        Whether its vessel runs over more likely than chosen.
    """

    name: str
    low: float
    median: float
    high: float
    likely_over: bool


@dataclass(frozen=True, slots=True)
class NightDrawn:
    """All holes of a night; what a vessel holds in the same unit, and the same as a text with its unit."""

    holes: Sequence[HoleSpread]
    unit: str
    vessel: float
    vessel_told: str


def rows_px(count: int, text_px: float) -> float:
    """Return how high a plot of so many rows is."""
    return (count * ROW_EM + 2 * 1.5 * ROW_EM) * text_px


def night_plot(night: NightDrawn, look: PlotLook, width_px: float, height_px: float, say: Say = str) -> Figure:
    """Draw what each hole is expected to give beside what a vessel holds.

    Notes
    -----
    A dot is the median; eight times of ten it lies on the line. What lies beyond the brim is tinted, and names of holes
    whose vessel runs over too likely are bold.
    """
    names = [hole.name for hole in night.holes]
    sheet, axes = _rows(look, width_px, height_px, names, [hole.likely_over for hole in night.holes])
    most = max([night.vessel * BEYOND_VESSEL, *(hole.high * 1.04 for hole in night.holes)])
    axes.set_xlim(0, most)
    axes.axvspan(night.vessel, most, facecolor=look.warm, alpha=0.2, linewidth=0, zorder=0)
    axes.axvline(night.vessel, color=look.ink, linewidth=look.stroke(1.1))
    for row, hole in enumerate(night.holes):
        axes.plot([hole.low, hole.high], [row, row], color=look.ink, linewidth=look.stroke(1.2), zorder=3)
        axes.plot([hole.median], [row], "o", color=look.ink, markersize=look.text_px * 0.42, zorder=4)
    _above(axes, look, night.vessel, f"{night.vessel_told} ", "right", bold=True)
    if night.vessel < most * 0.75:
        _above(axes, look, night.vessel, f" {say('runs over')}", "left")
    axes.locator_params(axis="x", nbins=4)
    ticks = [tick for tick in axes.get_xticks() if 0 <= tick <= most]
    last = len(ticks) - 1
    axes.set_xticks(ticks, [f"{tick:g} {night.unit}" if n == last else f"{tick:g}" for n, tick in enumerate(ticks)])
    return sheet


def past_plot(found: Calibration, look: PlotLook, width_px: float, height_px: float, say: Say = str) -> Figure:
    """Draw which part of each season's collections lay within what had been told, beside what it should be.

    Notes
    -----
    A ring is the part in the middle half of what was told and belongs on the line at 50 %; a dot is the part in nine
    tenths of it and belongs on the line at 90 %. The count of collections stands at the right.
    """
    names = [str(one.season) for one in found.seasons]
    counts = [str(one.collections) for one in found.seasons]
    sheet, axes = _rows(look, width_px, height_px, names, [False] * len(names), counts)
    axes.set_xlim(0, 100)
    size = look.text_px * 0.5
    for wanted, told in ((50, say("middle half")), (90, say("nine tenths"))):
        axes.axvline(wanted, color=look.second_ink, linewidth=look.stroke(0.9), linestyle=(0, (4, 2)))
        _above(axes, look, wanted, told, "center")
    for row, one in enumerate(found.seasons):
        half, nine = one.inside_50 * 100, one.inside_90 * 100
        axes.plot([half, nine], [row, row], color=look.second_ink, linewidth=look.stroke(0.7), zorder=2)
        axes.plot([half], [row], "o", markersize=size, markerfacecolor=look.panel, markeredgecolor=look.ink, zorder=3)
        axes.plot([nine], [row], "o", markersize=size, color=look.ink, zorder=3)
    axes.set_xticks([0, 50, 90], ["0", "50 %", "90 %"])
    return sheet


def _rows(
    look: PlotLook,
    width_px: float,
    height_px: float,
    names: Sequence[str],
    bold: Sequence[bool],
    beside: Sequence[str] = (),
) -> tuple[Figure, Axes]:
    """Return a sheet with a row for each name, the first at the top; `beside` stands at the right of the rows."""
    sheet = figure(look, width_px, height_px)
    letter = look.text_px * LETTER_EM
    left = max((len(name) for name in names), default=0) * letter + look.text_px * 1.4
    right = max((len(text) for text in beside), default=0) * letter + look.text_px * 1.6
    edge = 1.5 * ROW_EM * look.text_px
    axes = calm_axes(sheet, look, (left, edge, width_px - left - right, height_px - 2 * edge))
    axes.grid(visible=False)
    axes.set_ylim(len(names) - 0.5, -0.5)
    axes.set_yticks(range(len(names)), names)
    for text, strong in zip(axes.get_yticklabels(), bold, strict=True):
        text.set(**text_of(look, bold=strong))
    for row, told in enumerate(beside):
        axes.text(1.0, row, f"  {told}", transform=axes.get_yaxis_transform(), ha="left", va="center", clip_on=False,
                  **text_of(look, second=True))  # fmt: skip
    axes.tick_params(axis="both", pad=look.text_px * 0.4)
    return sheet, axes


def _above(axes: Axes, look: PlotLook, x: float, text: str, side: str, *, bold: bool = False) -> None:
    axes.text(x, 1.0, text, transform=axes.get_xaxis_transform(), ha=side, va="bottom", clip_on=False,
              **text_of(look, bold=bold))  # fmt: skip
