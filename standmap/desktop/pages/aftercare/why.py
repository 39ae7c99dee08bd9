"""Why what is chosen is asked for: reasons with their sources, the peg, how others rule on it, and cautions."""

from __future__ import annotations

from collections.abc import Iterator

from PySide6.QtWidgets import QWidget

from standmap.aftercare.peg import PEG_SOURCE
from standmap.desktop.kit import caution_line, label, source_line
from standmap.desktop.words import said, tr
from standmap.jobs.aftercare import StandCare, cautions_for, closing_told, others_on_plugging, plugging_told
from standmap.stand.tapping import Act
from standmap.units_shown import UnitsShown

MOST_TOLD = 3
"""Of many reasons only so many are told."""

LEFT = frozenset({Act.TAKEN_OUT, Act.PLUGGED, Act.LEFT_OPEN})


def why_lines(chosen: StandCare, units: UnitsShown) -> Iterator[QWidget]:
    """Yield the lines that stand below the list.

    Parameters
    ----------
    chosen
        The day's answer with nothing but what is chosen.
    """
    shown = units.in_sentence
    reasons = dict.fromkeys((due.need.why, f"{due.need.rule} · {due.need.source}") for due in chosen.due)
    for why, source in list(reasons)[:MOST_TOLD]:
        yield label(said(why))
        yield source_line(said(source))
    pegs = dict.fromkeys(due.peg.told for due in chosen.due if due.peg is not None)
    for told in list(pegs)[:MOST_TOLD]:
        yield label(shown(said(told)))
        yield source_line(said(PEG_SOURCE))
    acts = {due.need.what for due in chosen.due}
    if acts & LEFT:
        yield label(said(plugging_told(chosen.rules)))
        others = "; ".join(f"{shown(said(what))} ({said(source)})" for what, source in others_on_plugging(chosen.rules))
        yield source_line(tr("published rules disagree: {others}", others=others))
    if Act.LOOKED_AT in acts:
        yield source_line(said(closing_told(chosen.rules)))
    # Only the cautions of the work that is chosen: the others would drown them.
    for text in cautions_for(chosen):
        yield caution_line(said(text))
