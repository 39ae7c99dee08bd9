"""What a night is expected to give, and how past seasons came, as plots and as files of them."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from standmap.formats.run_plot import HoleSpread, NightDrawn, night_plot, past_plot, rows_px
from standmap.formats.season_plot import Say
from standmap.jobs.returns import called
from standmap.jobs.tonight import TonightAnswer
from standmap.sap.spread import spread_of

if TYPE_CHECKING:
    from standmap.sap.calibration import Calibration

WIDTH_PX = 620.0
LITRE_ML = 1000.0


def night_drawn(
    answer: TonightAnswer,
    unit: str = "L",
    unit_ml: float = LITRE_ML,
    *,
    vessel_told: str | None = None,
    most: int | None = None,
    say: Say = str,
) -> NightDrawn:
    """Return what is drawn of a night.

    Parameters
    ----------
    unit, unit_ml
        The unit of the plot and how many millilitres it has.
    vessel_told
        What a vessel holds as a text with its unit; in that unit when absent.
    most
        No more holes than this: those whose vessels run over the likeliest, in their usual order.
    """
    holes = answer.holes
    if most is not None and len(holes) > most:
        kept = {id(hole) for hole in sorted(holes, key=lambda hole: -hole.overflow)[:most]}
        holes = tuple(hole for hole in holes if id(hole) in kept)
    spreads = [
        HoleSpread(
            say(called(hole.tree.name, hole.hanging.hole.number)),
            spread_of(hole.hanging.run).low_ml / unit_ml,
            hole.hanging.run.median_ml / unit_ml,
            hole.hanging.run.most_ml / unit_ml,
            hole.overflow > answer.options.overflow_chance,
        )
        for hole in holes
    ]
    vessel = answer.options.vessel_ml / unit_ml
    return NightDrawn(spreads, unit, vessel, vessel_told or f"{vessel:.3g} {unit}")


def night_plot_bytes(answer: TonightAnswer, path: Path, say: Say = str) -> bytes:
    """Return the plot of a night as the content of a file of that name.

    Raises
    ------
    UserError
        If no plot is written with such a suffix.
    """
    from standmap.formats.plot import PAPER, checked_plot_path, plot_bytes

    checked_plot_path(path)
    height_px = rows_px(len(answer.holes), PAPER.text_px)
    sheet = night_plot(night_drawn(answer, say=say), PAPER, WIDTH_PX, height_px, say)
    return plot_bytes(sheet, path.suffix, answer.day.isoformat())


def past_plot_bytes(found: Calibration, path: Path, say: Say = str) -> bytes:
    """Return the plot of how past seasons came as the content of a file of that name.

    Raises
    ------
    UserError
        If no plot is written with such a suffix.
    """
    from standmap.formats.plot import PAPER, checked_plot_path, plot_bytes

    checked_plot_path(path)
    sheet = past_plot(found, PAPER, WIDTH_PX, rows_px(len(found.seasons), PAPER.text_px), say)
    return plot_bytes(sheet, path.suffix)
