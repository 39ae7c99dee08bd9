"""The next hole's place, from what is noted of the old ones."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date

from standmap.jobs.next_place import REACH_MM, next_place
from standmap.rules.ruleset import load
from standmap.stand.snapshot import Stand
from standmap.stand.tapping import TapHole, Wound
from standmap.stand.tree import Measurement, Tree

DAY = date(2026, 3, 28)
RULES = load("cautious")
TREE = Tree("t", "B1", (27.6, 61.9), "Betula pendula")
GIRTH = Measurement("m", "t", date(2025, 9, 1), 800.0, None, "800", "mm")


def hole(key: str, year: int, side: float | None, height: float | None = 600.0, **more: object) -> TapHole:
    made = TapHole(
        key, "t", 1, Wound.HOLE, date(year, 3, 20), height_mm=height, side_deg=side, depth_mm=15.0, bit_mm=10.0
    )
    return replace(made, **more)  # type: ignore[arg-type]


def stand(*holes: TapHole, measurements: tuple[Measurement, ...] = (GIRTH,)) -> Stand:
    return Stand(trees=(TREE,), measurements=measurements, holes=holes)


def test_a_stem_never_opened_is_free_at_its_lowest_reach() -> None:
    found = next_place(stand(), TREE, DAY, RULES)
    assert found.room is not None
    assert (found.room.height_mm, found.room.clearance_mm) == (REACH_MM[0], math.inf)
    assert found.band_mm == REACH_MM
    assert next_place(stand(), TREE, DAY, load("belarus")).band_mm == (350.0, 500.0)


def test_what_is_not_noted_is_not_guessed() -> None:
    assert next_place(stand(hole("a", 2020, None)), TREE, DAY, RULES).unknown == 1
    assert next_place(stand(hole("a", 2020, 90.0), measurements=()), TREE, DAY, RULES).unknown == 1
    later = next_place(stand(hole("a", 2027, None)), TREE, DAY, RULES)
    assert later.unknown == 0  # a hole of a later day says nothing yet


def test_new_wood_over_an_old_column_makes_room_again() -> None:
    # Holes round the stem far below the reach: only what they left above them is in the way.
    ring = tuple(hole(f"h{k}", 2001, k * 10.0, height=80.0) for k in range(36))
    still = next_place(stand(*ring), TREE, DAY, RULES)
    assert still.room is None or still.room.height_mm > 600
    earlier = Measurement("e", "t", date(2015, 9, 1), 700.0, None, "700", "mm")  # 10 mm of girth a year
    grown = next_place(stand(*ring, measurements=(earlier, GIRTH)), TREE, DAY, RULES)
    assert grown.room is not None
    assert grown.room.clearance_mm >= RULES.value("spacing_mm")
    assert still.room is None or grown.room.clearance_mm >= still.room.clearance_mm


def test_a_full_stem_says_so() -> None:
    ring = tuple(hole(f"h{k}", 2024, k * 45.0, height=None) for k in range(8))
    found = next_place(stand(*ring), TREE, DAY, RULES)
    assert found.full
    assert found.leaves.volume_ml > 200
