"""A plan of coming seasons kept to in any stand: whoever is tapped is ready, and no owner's limit is passed."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from standmap.errors import NothingToDo
from standmap.jobs.rotation import PlannedSeason, RotationOptions, plan_rotation
from standmap.jobs.rotation_shown import columns_under
from standmap.jobs.rule_choice import rules_of
from standmap.rules.columns import columns, verdict_columns
from standmap.rules.decisions import in_force
from standmap.rules.ground import gives, inside_areas
from standmap.rules.verdicts import Verdict, judge_all
from standmap.stand.ground import Area, AreaKind
from standmap.stand.snapshot import Stand
from standmap.stand.tapping import Act, Observation, TapHole, Wound
from tests.jobs.test_rotation import RING, TODAY, wood
from tests.rules.test_columns import areas, plain_stands, stands


@st.composite
def thick_stands(draw: st.DrawFn) -> Stand:
    """Sound birches on a few roots, under owners' limits."""
    return replace(draw(plain_stands()), areas=tuple(draw(areas(n)) for n in range(draw(st.integers(0, 2)))))


def with_holes_of(stand: Stand, planned: PlannedSeason) -> Stand:
    """Return the stand after a season in which the plan was kept to."""
    made = tuple(
        TapHole(f"p{planned.season}{tree.key}{n}", tree.key, n, Wound.HOLE, date(planned.season, 4, 1))
        for tree, holes in planned.trees
        for n in range(1, holes + 1)
    )
    return replace(stand, holes=(*stand.holes, *made))


def passed(stand: Stand, season: int) -> list[str]:
    """Return the areas of which more trees give in a season than their owner lets be tapped."""
    inside = inside_areas(stand.areas, stand.present)
    giving = [gives(stand, tree, season) for tree in stand.present]
    return [
        area.name
        for area, within in zip(stand.areas, inside, strict=True)
        if area.kind is AreaKind.PERMITTED and area.most_trees is not None and in_force(area, season)
        if sum(a and b for a, b in zip(within, giving, strict=True)) > area.most_trees
    ]


@given(stand=thick_stands() | stands(), season=st.integers(2020, 2034))
@settings(deadline=None, max_examples=40)
def test_a_plan_is_shown_as_if_it_had_been_kept_to(stand: Stand, season: int) -> None:
    try:
        planned = plan_rotation(stand, TODAY, RotationOptions(seasons=4, growth_mm=20.0, seconds=5))
    except NothingToDo:
        return
    kept = replace(stand, measurements=(*stand.measurements, *planned.girths))
    for one in planned.seasons:
        kept = with_holes_of(kept, one)
    shown = verdict_columns(columns_under(columns(stand), planned), season, rules_of(stand))
    as_kept = verdict_columns(columns(kept), season, rules_of(stand))
    assert np.array_equal(shown[0], as_kept[0])
    assert np.array_equal(shown[1], as_kept[1])


@given(stand=thick_stands() | stands())
@settings(deadline=None, max_examples=60)
def test_a_plan_that_is_kept_to_never_breaks_a_rule(stand: Stand) -> None:
    # Measured once, nothing grows: the plan knows no more than the rules do.
    once = replace(stand, measurements=tuple({m.tree_key: m for m in stand.measurements}.values()))
    try:
        planned = plan_rotation(once, TODAY, RotationOptions(seasons=5, seconds=5))
    except NothingToDo:
        return
    rules, then = rules_of(once), once
    for season in planned.seasons:
        before = dict(zip((t.key for t in then.present), judge_all(then, season.season, rules), strict=True))
        assert all(before[tree.key].verdict is Verdict.READY for tree, _ in season.trees)
        broken = passed(then, season.season)
        then = with_holes_of(then, season)
        assert passed(then, season.season) == broken


def test_what_gives_already_counts_for_the_owners_limit() -> None:
    area = Area("a", "east", AreaKind.PERMITTED, (RING,), most_trees=3)
    given_now = tuple(TapHole(f"h{k}", f"t{k}", 1, Wound.HOLE, date(2026, 3, 20)) for k in range(2))
    planned = plan_rotation(wood(areas=(area,), holes=given_now), TODAY, RotationOptions(seasons=2, most=True))
    assert [len(s.trees) for s in planned.seasons] == [1, 3]
    assert "trees that give in 2026 already, and are not counted: 2" in planned.assumptions


def test_a_tree_with_an_old_hole_still_open_is_left_in_peace() -> None:
    old = (TapHole("h", "t0", 1, Wound.HOLE, date(2015, 3, 20)),)
    seen = (Observation("o", "t0", "h", Act.SEEN_OPEN, date(2025, 8, 1)),)
    with pytest.raises(NothingToDo, match="no tree may be tapped"):
        plan_rotation(wood(1, holes=old, observations=seen), TODAY, RotationOptions(seasons=4))
    planned = plan_rotation(wood(1, holes=old), TODAY, RotationOptions(seasons=4))
    assert sum(len(s.trees) for s in planned.seasons) == 1
