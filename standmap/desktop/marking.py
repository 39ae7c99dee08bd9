"""Marking the chosen trees for the season looked at, from wherever it is asked for."""

from __future__ import annotations

from collections.abc import Sequence

from standmap.desktop.desk import Desk
from standmap.desktop.guard import guard_of
from standmap.desktop.words import said, tr, tr_n
from standmap.jobs.mark import mark_trees, plans_of, unmark_trees
from standmap.jobs.rotation import PlannedRotation
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
    if would_unmark(desk, holes):
        about = _about(keys, season)
        guard_of(desk).once(about, lambda file, _: unmark_trees(file, keys, season, now), tr("taking marks off"))
        return
    _mark(desk, keys, season, holes)


def planned_marks(desk: Desk, planned: PlannedRotation | None) -> str:
    """Return what marking the trees of a plan's first season is called, empty where there is nothing to mark."""
    if planned is None or desk.read_only or not planned.seasons[0].trees:
        return ""
    first = planned.seasons[0]
    return tr("mark {count} for {season}", count=tr_n("{n} tree", "{n} trees", len(first.trees)), season=first.season)


def mark_planned(desk: Desk, planned: PlannedRotation | None) -> None:
    """Mark the trees of a plan's first season, as one step that can be taken back."""
    if planned is not None and planned_marks(desk, planned):
        first = planned.seasons[0]
        _mark(desk, [tree.key for tree, _ in first.trees], first.season, None, tell=True)


def _mark(desk: Desk, keys: Sequence[str], season: int, holes: int | None, *, tell: bool = False) -> None:
    heard, now = Collected(), desk.now()

    def told(plans: Sequence[object]) -> None:
        if tell:
            desk.tell(tr_n("{n} tree marked", "{n} trees marked", len(plans)))
        _warn(desk, heard.cautions)

    guard_of(desk).once(
        _about(keys, season), lambda file, _: mark_trees(file, keys, season, now, holes, heard), tr("marking"), told
    )


def _about(keys: Sequence[str], season: int) -> tuple[object, ...]:
    """Return what a press is told by: the trees, and not what is done with them, so that a second does not undo it."""
    return ("mark", tuple(keys), season)


def _warn(desk: Desk, cautions: Sequence[str]) -> None:
    if cautions:
        # What concerns several trees at once (a shared root, an owner's limit) comes last, and is not left out.
        told = [desk.units.in_sentence(said(text)) for text in cautions[-MOST_SAID:]]
        if len(cautions) > MOST_SAID:
            told.append(tr_n("and {n} more like these", "and {n} more like these", len(cautions) - MOST_SAID))
        desk.caution("\n".join(told))
