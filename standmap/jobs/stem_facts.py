"""What the holes of a stem left in it, by what is noted of them and the rule set in force; and what is still clear."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from standmap.rotation.growth import growth_mm_per_year
from standmap.rules.ruleset import RuleSet
from standmap.stand.snapshot import Stand
from standmap.stand.tapping import TapHole, Wound
from standmap.stand.tree import Tree
from standmap.stem.column import Column, buried, column_of
from standmap.stem.zone import Left, clear_share

REACH_MM = (300.0, 1200.0)
"""Heights at which one drills and hangs a vessel standing, where a rule set names none: an assumption."""

TWO_PI = 6.283185307179586


@dataclass(frozen=True, slots=True)
class LeftByHole:
    """What one hole left that carries no more sap.

    Attributes
    ----------
    cover_mm
        Wood that has grown over it since; 0 where the growth was not measured.
    buried
        Whether a hole as deep as the rule set lets it be no longer reaches it.
    noted
        Whether width and depth of the hole were noted; else those of the rule set stand in.
    """

    hole: TapHole
    column: Column
    cover_mm: float
    buried: bool
    noted: bool


@dataclass(frozen=True, slots=True)
class StemFacts:
    """The wood of one stem.

    Attributes
    ----------
    left
        By each hole, oldest first; slits leave nothing here.
    growth_mm
        How much thicker the wood round the stem gets in a year; None where the girth was not measured twice.
    depth_mm, band_mm
        Of the tapping zone: how deep holes go, between which heights.
    clear
        Share of the tapping zone that carries sap; None where the girth is not known.
    unplaced
        Holes whose side was not noted: they are counted as if apart from all others.
    """

    left: tuple[LeftByHole, ...]
    growth_mm: float | None
    depth_mm: float
    band_mm: tuple[float, float]
    clear: float | None
    unplaced: int

    def by_key(self) -> dict[str, LeftByHole]:
        """Return what each hole left by its key."""
        return {left.hole.key: left for left in self.left}


def stem_facts(stand: Stand, tree: Tree, day: date, rules: RuleSet) -> StemFacts:
    """Return what holes made by a day left in a stem, and how much of its tapping zone is clear.

    A hole of unknown height is taken to be in the middle of the band.
    """
    band, depth = band_of(rules), rules.value("hole_depth_most_mm")
    a_year = growth_mm_per_year(stand.measurements_of.get(tree.key, ()))
    growth = None if a_year is None else a_year / TWO_PI
    holes = [hole for hole in stand.holes_of.get(tree.key, ()) if hole.made_on <= day and hole.kind is Wound.HOLE]
    left = tuple(left_by(hole, (growth or 0.0) * (day.year - hole.season), rules) for hole in holes)
    measured = stand.newest_measurement(tree.key, day)
    clear = None if measured is None else _clear(measured.girth(), band, depth, left)
    return StemFacts(left, growth, depth, band, clear, sum(hole.side_deg is None for hole in holes))


def band_of(rules: RuleSet) -> tuple[float, float]:
    """Return between which heights holes may be made: what the rule set says, else what one reaches; millimetres."""
    low, high = (rules.figures.get(f"hole_height_{end}_mm") for end in ("least", "most"))
    band = (REACH_MM[0] if low is None else low.value, REACH_MM[1] if high is None else high.value)
    return min(band), max(band)


def left_by(hole: TapHole, cover_mm: float, rules: RuleSet) -> LeftByHole:
    """Return what a hole left under so much new wood."""
    deepest = rules.value("hole_depth_most_mm")
    column = column_of(hole.bit_mm or rules.value("hole_width_mm"), hole.depth_mm or deepest)
    noted = hole.depth_mm is not None and hole.bit_mm is not None
    return LeftByHole(hole, column, cover_mm, buried(deepest, cover_mm), noted)


def _clear(girth_mm: float, band: tuple[float, float], depth_mm: float, left: tuple[LeftByHole, ...]) -> float:
    middle = (band[0] + band[1]) / 2
    placed, lost = [], 0.0
    for one in left:
        hole = one.hole
        height = middle if hole.height_mm is None else hole.height_mm
        box = Left((hole.side_deg or 0.0) / 360 * girth_mm, height, one.column, one.cover_mm)
        if hole.side_deg is None:
            lost += 1.0 - clear_share(girth_mm, band, depth_mm, [box])
        else:
            placed.append(box)
    return max(0.0, clear_share(girth_mm, band, depth_mm, placed) - lost)
