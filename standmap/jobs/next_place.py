"""Where on a stem the next hole has most room, by what is noted of the old ones and the rule set in force."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from standmap.jobs.stem_facts import REACH_MM, band_of, stem_facts
from standmap.rules.ruleset import RuleSet
from standmap.stand.snapshot import Stand
from standmap.stand.tapping import TapHole
from standmap.stand.tree import Tree
from standmap.stem.column import Column, column_of
from standmap.stem.room import Old, Room, widest_room

__all__ = ["REACH_MM", "NextPlace", "next_place"]

UNKNOWN_STEP_MM = 50.0
"""A hole of unknown height is taken to be at every height, this close together."""


@dataclass(frozen=True, slots=True)
class NextPlace:
    """An answer about one stem.

    Attributes
    ----------
    room
        None where no place is left, or none can be told.
    unknown
        Old holes whose side was not noted, or of any while the girth is not known: then no place can be told.
    spacing_mm, band_mm
        Asked for.
    leaves
        What the next hole will leave that carries no more sap, by the model.
    """

    room: Room | None
    unknown: int
    spacing_mm: float
    band_mm: tuple[float, float]
    leaves: Column

    @property
    def full(self) -> bool:
        """Whether no good place is left."""
        return self.room is None and not self.unknown


def next_place(stand: Stand, tree: Tree, day: date, rules: RuleSet) -> NextPlace:
    """Return where the next hole has most room.

    Of old holes only those made by the day count. Slits count for the spacing alone. What an old hole left counts until
    new wood as thick as new holes may be deep has grown over it, where the growth of the girth was measured.
    """
    band, spacing = band_of(rules), rules.value("spacing_mm")
    leaves = column_of(rules.value("hole_width_mm"), rules.value("hole_depth_most_mm"))
    old = [hole for hole in stand.holes_of.get(tree.key, ()) if hole.made_on <= day]
    measured = stand.newest_measurement(tree.key, day)
    unknown = sum(hole.side_deg is None for hole in old)
    if old and measured is None:
        unknown = len(old)
    if unknown:
        return NextPlace(None, unknown, spacing, band, leaves)
    girth = measured.girth() if measured is not None else 1.0
    in_the_way = {left.hole.key: left.column for left in stem_facts(stand, tree, day, rules).left if not left.buried}
    found = [one for hole in old for one in _old(hole, girth, band, in_the_way.get(hole.key))]
    room = widest_room(girth, band, found, spacing, leaves.width_mm / 2, leaves.length_mm / 2)
    return NextPlace(room, 0, spacing, band, leaves)


def _old(hole: TapHole, girth: float, band: tuple[float, float], left: Column | None) -> Iterator[Old]:
    half_width, half_length = (0.0, 0.0) if left is None else (left.width_mm / 2, left.length_mm / 2)
    around = (hole.side_deg or 0.0) / 360 * girth
    if hole.height_mm is not None:
        yield Old(around, hole.height_mm, half_width, half_length)
        return
    height = band[0]
    while height <= band[1]:
        yield Old(around, height, half_width, half_length)
        height += UNKNOWN_STEP_MM
