"""What there is to do on a day, for each purpose of a walk: counted, and said when there is nothing."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from standmap.desktop.seen import Seen
from standmap.desktop.words import day_text, tr, tr_n
from standmap.jobs.mark import plans_of
from standmap.jobs.planned_round import Purpose
from standmap.stand.snapshot import Stand


@dataclass(frozen=True, slots=True)
class ThatDay:
    """How much there is to do, in words, and what to do first where there is nothing."""

    count: int
    about: str
    what_to_do: str = ""


def open_that_day(seen: Seen, purpose: Purpose, day: date) -> ThatDay:
    """Return what there is to do on a day."""
    stand = seen.stand
    match purpose:
        case Purpose.COLLECTING:
            count = sum(len(stand.open_holes(key, day)) for key in _tapped(stand, seen, day))
            return ThatDay(
                count,
                tr_n("{n} open hole on this day", "{n} open holes on this day", count),
                tr(
                    "no hole is open on {day}; {last}. Note what was tapped on a tree's card, or choose another day.",
                    day=day_text(day),
                    last=_last(stand),
                ),
            )
        case Purpose.TAPPING:
            marked = plans_of(seen.plans, day.year)
            left = 0
            for key, plan in marked.items():
                if key in seen.row_of:
                    made = sum(1 for hole in stand.holes_of.get(key, ()) if hole.season == day.year)
                    left += max(plan.holes - made, 0)
            return ThatDay(
                left,
                tr_n("{n} hole to be made in marked trees", "{n} holes to be made in marked trees", left),
                tr("no tree is marked for {season} and waits to be tapped: mark some first", season=day.year)
                if not marked
                else tr("every tree marked for {season} is tapped", season=day.year),
            )
        case Purpose.CLOSING:
            count = sum(len(stand.open_holes(key, day, closing_day=True)) for key in _tapped(stand, seen, day))
            return ThatDay(
                count,
                tr_n("{n} tube still in on this day", "{n} tubes still in on this day", count),
                tr(
                    "no hole is open on {day}; {last}. What older wounds need is told under aftercare.",
                    day=day_text(day),
                    last=_last(stand),
                ),
            )


def _tapped(stand: Stand, seen: Seen, day: date) -> list[str]:
    """Return the trees with a wound of the day's season, each once."""
    return list(dict.fromkeys(h.tree_key for h in stand.holes if h.season == day.year and h.tree_key in seen.row_of))


def _last(stand: Stand) -> str:
    seasons = sorted({hole.season for hole in stand.holes})
    return tr("the last holes are of {season}", season=seasons[-1]) if seasons else tr("none was ever noted")
