"""The plot of a season as a file."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from standmap.season.answer import SeasonAnswer

WIDTH_PX, HEIGHT_PX = 760.0, 440.0


def season_plot_bytes(answer: SeasonAnswer, path: Path, say: Callable[[str], str] = str) -> bytes:
    """Return the plot of a season as the content of a file of that name.

    Raises
    ------
    UserError
        If no plot is written with such a suffix.
    """
    from standmap.formats.plot import PAPER, checked_plot_path, plot_bytes
    from standmap.formats.season_plot import season_plot

    checked_plot_path(path)
    sheet = season_plot(answer, PAPER, WIDTH_PX, HEIGHT_PX, say)
    return plot_bytes(sheet, path.suffix, f"{answer.season}")
