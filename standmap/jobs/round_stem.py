"""Where on a stem a new hole may go: what is known of the old ones, and a side that is far enough from them."""

from __future__ import annotations

import math
from datetime import date

from standmap.jobs.next_place import next_place
from standmap.jobs.planned_round import Todo
from standmap.rules.ruleset import RuleSet
from standmap.stand.snapshot import Stand
from standmap.stand.tapping import TapHole
from standmap.stand.tree import Tree

SIDES = ("north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west")

MODEL = "a model: 220 times the drilled volume carries no more sap (van den Berg et al. 2018), its shape is assumed"
"""What the place with most room rests on."""

MOST_NAMED = 3
"""Old holes that are named at a stop, the newest; more are counted."""


def place_on_stem(stand: Stand, tree: Tree, day: date, rules: RuleSet) -> list[Todo]:
    """Return what there is to say of the place of a new hole; nothing for a stem that was never opened."""
    old = sorted(stand.holes_of.get(tree.key, ()), key=lambda hole: hole.made_on, reverse=True)
    if not old:
        return []
    spacing = rules.figure("spacing_mm")
    named = "; ".join(_told(hole) for hole in old[:MOST_NAMED])
    more = f" and {len(old) - MOST_NAMED} older" if len(old) > MOST_NAMED else ""
    kept = Todo(
        f"keep {spacing.value:g} mm from old holes: {named}{more}",
        f"{rules.title}: {spacing.source}",
    )
    place = next_place(stand, tree, day, rules)
    if place.full:
        return [kept, Todo("no place left on this stem keeps clear of old holes: leave it this year", MODEL)]
    if place.room is None:
        return [kept]
    room = place.room
    where = f"{room.height_mm:.0f} mm up on the {SIDES[round(room.side_deg / 45) % 8]} side"
    return [kept, Todo(f"most room: {where}, {room.clearance_mm:.0f} mm from the nearest old hole", MODEL)]


def _told(hole: TapHole) -> str:
    """Return where an old hole is, as far as it was noted."""
    height = "" if hole.height_mm is None else f"{math.floor(hole.height_mm + 0.5)} mm up"
    side = "" if hole.side_deg is None else f"{SIDES[round(hole.side_deg / 45) % 8]} side"
    place = ", ".join(part for part in (height, side) if part) or "place not noted"
    return f"{hole.season}: {place}"
