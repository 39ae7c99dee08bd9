"""What old holes left in a stem, and how far they are closed, at a terminal and as JSON."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from datetime import date

    from standmap.aftercare.closing import Closing
    from standmap.jobs.stem_facts import LeftByHole, StemFacts
    from standmap.stand.tapping import TapHole


def left_lines(stem: StemFacts) -> Iterator[str]:
    """Yield what each hole left, and how much of the tapping zone is clear; nothing for a stem without holes."""
    from standmap.stem.column import RATIO_TOLD
    from standmap.stem.zone import ZONE_TOLD

    for left in stem.left:
        hole, column = left.hole, left.column
        guessed = "" if left.noted else ", by the rule set where its size was not noted"
        covered = ""
        if left.cover_mm > 0:
            covered = f"; {left.cover_mm:.0f} mm of wood over it" + (", buried" if left.buried else "")
        yield (
            f"hole {hole.number} of {hole.season} left {column.volume_ml:.0f} mL without sap, "
            f"{column.width_mm:.0f} mm wide and {column.length_mm:.0f} mm along the stem{guessed}{covered}"
        )
    if stem.left and stem.clear is not None:
        low, high = stem.band_mm
        yield f"  {RATIO_TOLD}"
        yield (
            f"{100 * stem.clear:.0f} % of the wood within reach carries sap ({stem.depth_mm:g} mm deep, "
            f"{low:.0f} to {high:.0f} mm up; a model)"
        )
        yield f"  {ZONE_TOLD}"
        if stem.growth_mm is None:
            yield "growth was not measured: nothing counts as grown over"
        else:
            yield f"{stem.growth_mm:.1f} mm of wood grow over it in a year, as measured"
        if stem.unplaced:
            holes = "1 hole" if stem.unplaced == 1 else f"{stem.unplaced} holes"
            yield f"the side of {holes} is not noted: counted as if apart from the others"


def stem_json(stem: StemFacts) -> dict[str, object]:
    """Return the same as JSON."""
    return {
        "clear_share": None if stem.clear is None else round(stem.clear, 4),
        "depth_mm": stem.depth_mm,
        "from_mm": stem.band_mm[0],
        "to_mm": stem.band_mm[1],
        "growth_mm": None if stem.growth_mm is None else round(stem.growth_mm, 2),
        "unplaced": stem.unplaced,
        "left": [_left_json(left) for left in stem.left],
    }


def _left_json(left: LeftByHole) -> dict[str, object]:
    hole, column = left.hole, left.column
    return {
        "hole": hole.number,
        "season": hole.season,
        "height_mm": hole.height_mm,
        "side_deg": hole.side_deg,
        "left_ml": round(column.volume_ml, 1),
        "deep_mm": column.depth_mm,
        "wide_mm": column.width_mm,
        "long_mm": round(column.length_mm, 1),
        "cover_mm": round(left.cover_mm, 1),
        "buried": left.buried,
        "size_noted": left.noted,
    }


def closing_lines(closings: Sequence[tuple[TapHole, Closing]], on: date, rests_on: str) -> Iterator[str]:
    """Yield how far each wound is closed, and what the expected season rests on; nothing where there is no wound."""
    for hole, closing in closings:
        yield f"{hole.kind} {hole.number} of {hole.season}: {closing.told(on)}"
    if closings:
        yield f"  {rests_on}"


def closing_json(closings: Sequence[tuple[TapHole, Closing]]) -> list[dict[str, object]]:
    """Return the same as JSON."""
    return [
        {
            "hole": hole.number,
            "season": hole.season,
            "kind": str(hole.kind),
            "seen": None if closing.look is None else {"on": closing.look.on.isoformat(), "open": closing.look.is_open},
            "expected_by": closing.expected_by,
            "maple_by": closing.maple_by,
        }
        for hole, closing in closings
    ]
