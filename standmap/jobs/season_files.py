"""The plot of a season as a file."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from standmap.season.answer import SeasonAnswer

if TYPE_CHECKING:
    from standmap.formats.season_plot import Words

WIDTH_PX, HEIGHT_PX = 760.0, 440.0


def season_plot_bytes(answer: SeasonAnswer, path: Path, words: Words | None = None) -> bytes:
    """Return the plot of a season as the content of a file of that name.

    Parameters
    ----------
    words
        How its texts and days are said; in English when absent.

    Raises
    ------
    UserError
        If no plot is written with such a suffix.
    """
    from standmap.formats.plot import PAPER, checked_plot_path, plot_bytes
    from standmap.formats.season_plot import ENGLISH, season_plot

    checked_plot_path(path)
    sheet = season_plot(answer, PAPER, WIDTH_PX, HEIGHT_PX, words or ENGLISH)
    return plot_bytes(sheet, path.suffix, f"{answer.season}")
