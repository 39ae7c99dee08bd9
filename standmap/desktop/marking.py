"""Marking the chosen trees for the season looked at, from wherever it is asked for."""

from __future__ import annotations

from collections.abc import Sequence

from standmap.desktop.desk import Desk
from standmap.desktop.guard import guard_of
from standmap.desktop.words import said, tr, tr_n
from standmap.jobs.mark import mark_trees, plans_of, unmark_trees
from standmap.messages import Collected

MOST_SAID = 3
"""So many cautions are said in full when many trees are marked at once."""


def why_not(desk: Desk) -> str:
    """Return why the chosen trees cannot be marked now, or "" where they can."""
    if desk.read_only:
        return tr("this stand can be looked at, not changed")
    if desk.season < desk.today.year:
        return tr("{season} is past: marks are for a season to come", season=desk.season)
    if not desk.chosen:
        return tr("no tree is chosen: choose the trees to be marked, on the map or in the table")
    return ""


def would_unmark(desk: Desk, holes: int | None = None) -> bool:
    """Whether all chosen trees are marked already for the season looked at, with so many holes where that is said."""
    plans = plans_of(desk.seen.plans, desk.season) if desk.seen is not None else {}
    mine = [plans.get(key) for key in desk.chosen]
    return bool(mine) and all(plan is not None and holes in (None, plan.holes) for plan in mine)


def mark_or_unmark(desk: Desk, holes: int | None = None) -> None:
    """Mark the chosen trees, or take the marks off when all of them have one; say why where that cannot be.

    Parameters
    ----------
    holes
        How many in each; None for as many as the rules allow each stem.
    """
    why = why_not(desk)
    if why:
        desk.tell(why)
        return
    keys, season, now = list(desk.chosen), desk.season, desk.now()
    # Told by the trees and not by what is done with them: a second press means the first, and does not undo it.
    about = ("mark", tuple(keys), season)
    if would_unmark(desk, holes):
        guard_of(desk).once(about, lambda file, _: unmark_trees(file, keys, season, now), tr("taking marks off"))
        return
    heard = Collected()
    guard_of(desk).once(
        about,
        lambda file, _: mark_trees(file, keys, season, now, holes, heard),
        tr("marking"),
        lambda _: _warn(desk, heard.cautions),
    )


def _warn(desk: Desk, cautions: Sequence[str]) -> None:
    if cautions:
        # What concerns several trees at once (a shared root, an owner's limit) comes last, and is not left out.
        told = [desk.units.in_sentence(said(text)) for text in cautions[-MOST_SAID:]]
        if len(cautions) > MOST_SAID:
            told.append(tr_n("and {n} more like these", "and {n} more like these", len(cautions) - MOST_SAID))
        desk.caution("\n".join(told))
