"""The stem disc as numbers: to the scale of the girth, each hole on its side, years where holes lie together."""

from __future__ import annotations

import math
from datetime import date

from standmap.desktop.card.stem_view import SMALLEST_PART, stem_view
from standmap.jobs.tree_facts import HoleFacts
from standmap.stand.tapping import Wound


def hole(season: int, side: float | None, depth: float | None = None, kind: Wound = Wound.HOLE) -> HoleFacts:
    return HoleFacts(f"{season}", 1, kind, season, date(season, 3, 20), 900.0, side, depth, 10.0, "plugged")


def test_depth_is_to_the_scale_of_the_stem() -> None:
    girth = math.pi * 400.0
    (mark,) = stem_view(girth, [hole(2024, 90.0, 50.0)]).marks
    assert (mark.angle_deg, mark.depth, mark.slit, mark.open) == (90.0, 0.25, False, False)
    assert mark.width == 0.05
    (deep,) = stem_view(200.0, [hole(2024, 90.0, 90.0)]).marks
    assert deep.depth == 1.0


def test_thicker_stems_are_drawn_larger_up_to_a_limit() -> None:
    sizes = [stem_view(girth, ()).size for girth in (300.0, 1000.0, 1400.0, 5000.0)]
    assert sizes == sorted(sizes)
    assert sizes[0] == SMALLEST_PART
    assert sizes[-1] == 1.0


def test_a_hole_without_its_side_is_listed_and_not_drawn() -> None:
    view = stem_view(None, [hole(2024, None), hole(2020, 10.0)])
    assert [h.season for h in view.loose] == [2024]
    assert len(view.marks) == 1
    assert not view.measured


def test_holes_side_by_side_share_a_label_also_across_north() -> None:
    view = stem_view(900.0, [hole(2024, 5.0), hole(2020, 350.0), hole(2016, 180.0)])
    assert [(label.text, label.angle_deg) for label in view.labels] == [("2020, 2024", 357.5), ("2016", 180.0)]
    many = stem_view(900.0, [hole(year, 90.0 + year % 7) for year in (2012, 2016, 2020, 2024)])
    assert [label.text for label in many.labels] == ["2012–2024"]
    assert len(many.marks) == 4
