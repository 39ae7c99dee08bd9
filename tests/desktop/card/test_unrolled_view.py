"""The unrolled stem as plain numbers, and on the card of the real window."""

from __future__ import annotations

from datetime import date

import pytest

from standmap.desktop.card.unrolled_view import ABOVE_MM, unrolled_view
from standmap.desktop.card.wording import place_line
from standmap.jobs.next_place import NextPlace, next_place
from standmap.jobs.tree_facts import HoleFacts, holes_of
from standmap.rules.ruleset import load
from standmap.stand.snapshot import Stand
from standmap.stand.tapping import TapHole, Wound
from standmap.stand.tree import Measurement, Tree
from standmap.units_shown import System, UnitsShown

TREE = Tree("t", "B1", (27.6, 61.9), "Betula pendula")
GIRTH = Measurement("m", "t", date(2025, 9, 1), 800.0, None, "800", "mm")


def known(*holes: TapHole) -> tuple[tuple[HoleFacts, ...], NextPlace]:
    stand = Stand(trees=(TREE,), measurements=(GIRTH,), holes=holes)
    return holes_of(stand, TREE), next_place(stand, TREE, date(2026, 3, 28), load("cautious"))


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


def test_nothing_is_drawn_of_what_is_not_known() -> None:
    assert unrolled_view(None, *known(hole(90.0, 600.0))) is None
    assert unrolled_view(800.0, *known(hole(None, 600.0))) is None
    assert unrolled_view(800.0, *known()) is None
    slit = unrolled_view(800.0, *known(hole(0.0, 900.0, Wound.SLIT)))
    assert slit is not None
    assert (slit.old[0].slit, slit.old[0].wide) == (True, 0.0)


def test_the_place_in_words_and_units() -> None:
    _, place = known(hole(90.0, 600.0))
    assert (
        place_line(place, UnitsShown()) == "most room for the next hole: 120 cm up, west (270°), 72 cm from the nearest"
    )
    imperial = place_line(place, UnitsShown(System.IMPERIAL))
    assert "47 in up" in imperial
    assert place_line(known()[1], UnitsShown()) == ""
