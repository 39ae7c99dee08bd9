"""The stem seen from above as plain numbers: where its bark is, and where each hole goes in. No Qt here.

Angles run clockwise from true north, which is up; lengths are parts of the disc's radius.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from standmap.jobs.next_place import NextPlace
from standmap.jobs.stem_facts import LeftByHole, StemFacts
from standmap.jobs.tree_facts import HoleFacts
from standmap.stand.tapping import Wound
from standmap.units import diameter_of

TOGETHER_DEG = 20.0
"""Holes nearer to each other than this share one label."""

USUAL_DEPTH_MM = 30.0
"""Drawn where no depth was noted (an assumption of the drawing only)."""

USUAL_BIT_MM = 10.0
"""Drawn where no width was noted (an assumption of the drawing only)."""

USUAL_GIRTH_MM = 800.0
"""Drawn where no girth was measured (an assumption of the drawing only)."""

LARGEST_GIRTH_MM = 1600.0
"""A stem of this girth or more fills the drawing; thinner ones are drawn to the same scale."""

SMALLEST_PART = 0.55
"""No stem is drawn smaller than this part of the largest."""


@dataclass(frozen=True, slots=True)
class Mark:
    """One hole or slit on the disc.

    Attributes
    ----------
    depth, width
        Of the hole: parts of the stem's radius.
    cover
        How deep under the bark it begins: what has grown over it.
    left_depth, left_width
        Of the wood that it left without sap, from the same depth on; 0 for none.
    buried
        Whether that lies deeper than a new hole reaches.
    """

    angle_deg: float
    depth: float
    width: float
    slit: bool
    open: bool
    cover: float = 0.0
    left_depth: float = 0.0
    left_width: float = 0.0
    buried: bool = False


@dataclass(frozen=True, slots=True)
class MarkLabel:
    """The years of holes that lie together."""

    angle_deg: float
    text: str


@dataclass(frozen=True, slots=True)
class StemView:
    """What the disc shows.

    Attributes
    ----------
    size
        Radius as a part of the largest drawn.
    measured
        Whether a girth is known: else the circle stands for any stem.
    loose
        Holes whose side is not known, newest first: listed, not drawn.
    next_deg
        On which side the next hole has most room; None where there is no place, none is told, or it may go anywhere.
    """

    size: float
    measured: bool
    marks: tuple[Mark, ...]
    labels: tuple[MarkLabel, ...]
    loose: tuple[HoleFacts, ...]
    next_deg: float | None = None


def stem_view(
    girth_mm: float | None,
    holes: Sequence[HoleFacts],
    stem: StemFacts | None = None,
    place: NextPlace | None = None,
) -> StemView:
    """Lay out the holes of a stem of this girth, what they left in it, and where the next one has most room."""
    girth = girth_mm or USUAL_GIRTH_MM
    radius_mm = diameter_of(girth) / 2
    drawn = [h for h in holes if h.side_deg is not None]
    left = stem.by_key() if stem is not None else {}
    marks = tuple(_mark(h, radius_mm, left.get(h.key)) for h in drawn)
    room = place.room if place is not None else None
    return StemView(
        size=min(1.0, max(SMALLEST_PART, girth / LARGEST_GIRTH_MM)),
        measured=girth_mm is not None,
        marks=marks,
        labels=_labels(drawn),
        loose=tuple(h for h in holes if h.side_deg is None),
        next_deg=room.side_deg % 360 if room is not None and math.isfinite(room.clearance_mm) else None,
    )


def _mark(hole: HoleFacts, radius_mm: float, left: LeftByHole | None) -> Mark:
    cover = 0.0 if left is None else min(left.cover_mm / radius_mm, 1.0)
    return Mark(
        angle_deg=hole.side_deg or 0.0,
        depth=min((hole.depth_mm or USUAL_DEPTH_MM) / radius_mm, 1.0 - cover),
        width=min((hole.bit_mm or USUAL_BIT_MM) / radius_mm, 0.5),
        slit=hole.kind is Wound.SLIT,
        open=hole.state == "open",
        cover=cover,
        left_depth=0.0 if left is None else min(left.column.depth_mm / radius_mm, 1.0 - cover),
        left_width=0.0 if left is None else min(left.column.width_mm / radius_mm, 1.0),
        buried=left is not None and left.buried,
    )


def _labels(drawn: Sequence[HoleFacts]) -> tuple[MarkLabel, ...]:
    """Return one label for each bunch of holes, at the middle of the bunch."""
    ordered = sorted((h.side_deg or 0.0, h.season) for h in drawn)
    bunches: list[list[tuple[float, int]]] = []
    for side, season in ordered:
        if bunches and side - bunches[-1][-1][0] <= TOGETHER_DEG:
            bunches[-1].append((side, season))
        else:
            bunches.append([(side, season)])
    # The bunch that straddles north is one.
    if len(bunches) > 1 and bunches[0][0][0] + 360 - bunches[-1][-1][0] <= TOGETHER_DEG:
        bunches[0] = [(side - 360, season) for side, season in bunches.pop()] + bunches[0]
    return tuple(
        MarkLabel(
            angle_deg=(bunch[0][0] + bunch[-1][0]) / 2 % 360,
            text=_years({season for _, season in bunch}),
        )
        for bunch in bunches
    )


def _years(seasons: set[int]) -> str:
    """Return seasons in a few signs: each of two, the first and the last of more."""
    years = sorted(seasons)
    return ", ".join(map(str, years)) if len(years) <= 2 else f"{years[0]}–{years[-1]}"
