"""The stem unrolled as plain numbers: its bark as a sheet, from north round to north, and what lies on it. No Qt."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from standmap.jobs.next_place import NextPlace
from standmap.jobs.stem_facts import LeftByHole, StemFacts
from standmap.jobs.tree_facts import HoleFacts
from standmap.stand.tapping import Wound

ABOVE_MM = 150.0
"""Drawn above and below the outermost thing on the sheet."""


@dataclass(frozen=True, slots=True)
class OldMark:
    """An old wound on the sheet.

    Attributes
    ----------
    around, height_mm
        Part of the girth clockwise from north, 0 to below 1; above ground.
    wide, long_mm
        What it left that carries no more sap by the model: part of the girth, and along the stem; 0 for a slit.
    buried
        Whether that lies deeper than a new hole reaches.
    """

    around: float
    height_mm: float
    wide: float
    long_mm: float
    year: str
    slit: bool
    key: str = ""
    buried: bool = False


@dataclass(frozen=True, slots=True)
class UnrolledView:
    """What is drawn.

    Attributes
    ----------
    low_mm, high_mm
        Heights above ground at the lower and upper edge.
    band_mm
        Between these the next hole may be.
    next_around, next_height_mm
        Where it has most room; None where there is none, or it may go anywhere.
    clearance_mm
        From there to the nearest old hole.
    """

    girth_mm: float
    low_mm: float
    high_mm: float
    band_mm: tuple[float, float]
    old: tuple[OldMark, ...]
    next_around: float | None
    next_height_mm: float | None
    clearance_mm: float | None = None


def unrolled_view(
    girth_mm: float | None, holes: Sequence[HoleFacts], place: NextPlace | None, stem: StemFacts | None = None
) -> UnrolledView | None:
    """Return the sheet of a stem; None while its girth, or where any of its wounds is, is not known."""
    known = [hole for hole in holes if hole.side_deg is not None and hole.height_mm is not None]
    if girth_mm is None or place is None or not known:
        return None
    left = stem.by_key() if stem is not None else {}
    old = tuple(_mark(hole, girth_mm, left.get(hole.key)) for hole in known)
    heights = [mark.height_mm for mark in old]
    low = max(0.0, min(*heights, place.band_mm[0]) - ABOVE_MM)
    high = max(*heights, place.band_mm[1]) + ABOVE_MM
    room = place.room
    shown = room is not None and math.isfinite(room.clearance_mm)
    return UnrolledView(
        girth_mm=girth_mm,
        low_mm=low,
        high_mm=high,
        band_mm=place.band_mm,
        old=old,
        next_around=room.side_deg / 360 % 1 if shown and room is not None else None,
        next_height_mm=room.height_mm if shown and room is not None else None,
        clearance_mm=room.clearance_mm if shown and room is not None else None,
    )


def _mark(hole: HoleFacts, girth_mm: float, left: LeftByHole | None) -> OldMark:
    return OldMark(
        around=(hole.side_deg or 0.0) / 360 % 1,
        height_mm=hole.height_mm or 0.0,
        wide=0.0 if left is None else min(1.0, left.column.width_mm / girth_mm),
        long_mm=0.0 if left is None else left.column.length_mm,
        year=str(hole.season),
        slit=hole.kind is Wound.SLIT,
        key=hole.key,
        buried=left is not None and left.buried,
    )
