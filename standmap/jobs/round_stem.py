"""Where on a stem a new hole may go: what is known of the old ones, and a side that is far enough from them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import date

from standmap.jobs.planned_round import Todo
from standmap.rules.ruleset import RuleSet
from standmap.stand.snapshot import Stand
from standmap.stand.tapping import TapHole
from standmap.stand.tree import Tree

SIDES = ("north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west")

MOST_NAMED = 3
"""Old holes that are named at a stop, the newest; more are counted."""


def place_on_stem(stand: Stand, tree: Tree, day: date, rules: RuleSet) -> list[Todo]:
    """Return what there is to say of the place of a new hole; nothing for a stem that was never opened."""
    old = sorted(stand.holes_of.get(tree.key, ()), key=lambda hole: hole.made_on, reverse=True)
    if not old:
        return []
    spacing = rules.figure("spacing_mm")
    measured = stand.newest_measurement(tree.key, day)
    around_mm = None if measured is None else measured.girth()
    named = "; ".join(_told(hole) for hole in old[:MOST_NAMED])
    more = f" and {len(old) - MOST_NAMED} older" if len(old) > MOST_NAMED else ""
    free = free_side(old, around_mm, spacing.value)
    steer = f"; the {SIDES[free]} side is free" if free is not None else ""
    return [
        Todo(
            f"keep {spacing.value:g} mm from old holes: {named}{more}{steer}",
            f"{rules.title}: {spacing.source}",
        )
    ]


def free_side(old: Sequence[TapHole], around_mm: float | None, spacing_mm: float) -> int | None:
    """Return the side of the stem that is farthest from all old holes, at whatever height they are.

    Parameters
    ----------
    around_mm
        The girth.

    Returns
    -------
    int or None
        A place in `SIDES`; None where the girth or the side of an old hole is not known, or no side is far enough.
    """
    if around_mm is None or any(hole.side_deg is None for hole in old):
        return None

    def nearest_mm(side: int) -> float:
        turns = (abs((side * 45 - (hole.side_deg or 0.0) + 180) % 360 - 180) for hole in old)
        return min(around_mm * turn / 360 for turn in turns)

    best = max(range(len(SIDES)), key=nearest_mm)
    return best if nearest_mm(best) >= spacing_mm else None


def _told(hole: TapHole) -> str:
    """Return where an old hole is, as far as it was noted."""
    height = "" if hole.height_mm is None else f"{math.floor(hole.height_mm + 0.5)} mm up"
    side = "" if hole.side_deg is None else f"{SIDES[round(hole.side_deg / 45) % 8]} side"
    place = ", ".join(part for part in (height, side) if part) or "place not noted"
    return f"{hole.season}: {place}"
