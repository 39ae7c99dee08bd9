"""A planned walk as a sheet of paper. Light to import: what draws it is loaded when a sheet is made."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from standmap.jobs.language import said_in, spoken
from standmap.settings import Settings
from standmap.units_shown import System, UnitsShown

if TYPE_CHECKING:
    from standmap.jobs.planned_round import PlannedRound
    from standmap.stand.snapshot import Stand

Say = Callable[[str], str]
"""Turns a finished English sentence into the person's language; the window's `said` is one."""


@dataclass(frozen=True, slots=True)
class PaperOptions:
    """How a walk is put on paper.

    Attributes
    ----------
    paper
        "A4" or "Letter".
    magnetic
        Whether bearings are told as a compass shows them on the day of the walk.
    """

    paper: str = "A4"
    units: UnitsShown = field(default_factory=UnitsShown)
    magnetic: bool = False
    say: Say = str


def paper_options(settings: Settings, paper: str | None = None, language_code: str | None = None) -> PaperOptions:
    """Return how a person has set it.

    Parameters
    ----------
    paper
        For another one this time.
    language_code
        What the caller speaks, such as "de", where it knows better than the settings and the system's variables.
    """
    language = spoken(settings.language if language_code is None else language_code)
    return PaperOptions(
        paper=settings.paper if paper is None else paper,
        units=UnitsShown(System(settings.units), language.decimal_mark),
        magnetic=settings.bearings == "magnetic",
        say=said_in(language),
    )


def walk_paper(planned: PlannedRound, stand: Stand, name: str, options: PaperOptions | None = None) -> bytes:
    """Return the walk sheet of a planned round as PDF.

    Parameters
    ----------
    name
        What the stand is called: the name of its file.
    options
        As from `paper_options`, or with the window's own `said`; English, metric and A4 when absent.

    Raises
    ------
    UserError
        If the paper is not known.
    """
    from standmap.formats.paper import paper_of
    from standmap.formats.walk_sheet import walk_sheet
    from standmap.jobs.walk_paper_texts import sheet_of

    options = options or PaperOptions()
    paper, say = paper_of(options.paper), options.say
    sheet = sheet_of(planned, stand, name, options)
    return walk_sheet(sheet, paper, options.units, lambda n, count: say(f"page {n} of {count}"))
