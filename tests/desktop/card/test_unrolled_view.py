"""The unrolled stem as plain numbers, and on the card of the real window."""

from __future__ import annotations

import math
from datetime import date

import pytest

from standmap.desktop.card.stem_view import stem_view
from standmap.desktop.card.unrolled_view import ABOVE_MM, unrolled_view
from standmap.desktop.card.wording import place_line, zone_line
from standmap.jobs.next_place import NextPlace, next_place
from standmap.jobs.stem_facts import StemFacts, stem_facts
from standmap.jobs.tree_facts import HoleFacts, holes_of
from standmap.rules.ruleset import load
from standmap.stand.snapshot import Stand
from standmap.stand.tapping import TapHole, Wound
from standmap.stand.tree import Measurement, Tree
from standmap.units_shown import System, UnitsShown

HoleSeen = tuple[HoleFacts, ...]

TREE = Tree("t", "B1", (27.6, 61.9), "Betula pendula")
GIRTH = Measurement("m", "t", date(2025, 9, 1), 800.0, None, "800", "mm")


def known(*holes: TapHole, girths: tuple[Measurement, ...] = (GIRTH,)) -> tuple[HoleSeen, NextPlace, StemFacts]:
    stand, day, rules = Stand(trees=(TREE,), measurements=girths, holes=holes), date(2026, 3, 28), load("cautious")
    return holes_of(stand, TREE), next_place(stand, TREE, day, rules), stem_facts(stand, TREE, day, rules)


def hole(side: float | None, height: float | None, kind: Wound = Wound.HOLE) -> TapHole:
    return TapHole("h", "t", 1, kind, date(2021, 3, 20), None, height, side, 15.0, 10.0)


def test_old_holes_and_the_next_place_lie_where_they_are() -> None:
    view = unrolled_view(800.0, *known(hole(90.0, 600.0)))
    assert view is not None
    (mark,) = view.old
    assert (mark.around, mark.height_mm, mark.year) == (0.25, 600.0, "2021")
    assert mark.wide == pytest.approx(30 / 800)
    assert mark.long_mm == pytest.approx(576, abs=0.1)
    assert (view.low_mm, view.high_mm) == (300 - ABOVE_MM, 1200 + ABOVE_MM)
    assert (view.next_around, view.next_height_mm) == (0.75, 1200.0)
    assert view.clearance_mm == pytest.approx(math.hypot(400, 600))
    assert not mark.buried


def test_what_new_wood_covers_is_drawn_as_buried_and_deeper() -> None:
    earlier = Measurement("e", "t", date(2015, 9, 1), 400.0, None, "400", "mm")  # 40 mm of girth a year
    holes, place, stem = known(hole(90.0, 600.0), girths=(earlier, GIRTH))
    view = unrolled_view(800.0, holes, place, stem)
    assert view is not None
    assert view.old[0].buried
    (mark,) = stem_view(800.0, holes, stem, place).marks
    radius_mm = 800 / math.tau
    cover_mm = 40 / math.tau * 5
    assert mark.buried
    assert mark.cover == pytest.approx(cover_mm / radius_mm, rel=0.02)
    assert (mark.left_depth, mark.left_width) == pytest.approx((15 / radius_mm, 30 / radius_mm))


def test_the_disc_marks_the_side_with_most_room_and_none_where_all_are_alike() -> None:
    holes, place, stem = known(hole(90.0, 600.0))
    assert stem_view(800.0, holes, stem, place).next_deg == 270.0
    holes, place, stem = known()
    assert stem_view(800.0, holes, stem, place).next_deg is None
    assert zone_line(stem, UnitsShown()) == ""


def test_the_clear_share_in_words_and_units() -> None:
    _, _, stem = known(hole(90.0, 600.0))
    told = zone_line(stem, UnitsShown())
    assert told.startswith("98 % of the wood within reach carries sap: 15 mm deep, 30 cm to 120 cm up")
    assert told.endswith("growth was not measured, so nothing counts as grown over")
    assert "12 in to 47 in up" in zone_line(stem, UnitsShown(System.IMPERIAL))


def test_nothing_is_drawn_of_what_is_not_known() -> None:
    assert unrolled_view(None, *known(hole(90.0, 600.0))) is None
    assert unrolled_view(800.0, *known(hole(None, 600.0))) is None
    assert unrolled_view(800.0, *known()) is None
    slit = unrolled_view(800.0, *known(hole(0.0, 900.0, Wound.SLIT)))
    assert slit is not None
    assert (slit.old[0].slit, slit.old[0].wide) == (True, 0.0)


def test_the_place_in_words_and_units() -> None:
    _, place, _ = known(hole(90.0, 600.0))
    assert (
        place_line(place, UnitsShown()) == "most room for the next hole: 120 cm up, west (270°), 72 cm from the nearest"
    )
    imperial = place_line(place, UnitsShown(System.IMPERIAL))
    assert "47 in up" in imperial
    assert place_line(known()[1], UnitsShown()) == ""
