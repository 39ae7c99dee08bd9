"""The coming seasons of a stand: rest, growth, owners' limits and dates hold, and what binds is said."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from standmap.errors import NothingToDo, UserError
from standmap.jobs.rotation import RotationOptions, plan_rotation
from standmap.sap.expected import expected_runs
from standmap.stand.ground import Area, AreaKind
from standmap.stand.snapshot import Stand
from standmap.stand.tapping import TapHole, Wound
from standmap.stand.tree import Measurement, Soundness, Tree

TODAY = date(2026, 3, 28)
RING = ((27.59, 61.89), (27.61, 61.89), (27.61, 61.91), (27.59, 61.91), (27.59, 61.89))


def wood(count: int = 8, **more: object) -> Stand:
    trees = tuple(
        Tree(f"t{k}", f"B{k}", (27.6 + k * 1e-4, 61.9), "Betula pendula", soundness=Soundness.SOUND)
        for k in range(count)
    )
    girths = tuple(Measurement(f"m{k}", f"t{k}", date(2025, 9, 1), 900.0, None, "900", "mm") for k in range(count))
    stand = Stand(trees=trees, measurements=girths, settings={"working_frame": {"lon0": 27.6, "lat0": 61.9}})
    return replace(stand, **more)  # type: ignore[arg-type]


def hole_l() -> float:
    """Return the litres of one hole in the 14 nights of a season, as they are told."""
    return round(expected_runs(wood(), ["t0"])["t0"].volume_ml / 1000 * 14, 1)


def names(stand: Stand, options: RotationOptions) -> list[list[str]]:
    return [[tree.name for tree, _ in s.trees] for s in plan_rotation(stand, TODAY, options).seasons]


def test_eight_trees_and_four_years_of_rest_are_two_a_year() -> None:
    planned = plan_rotation(wood(), TODAY, RotationOptions(seasons=8))
    assert planned.proved
    assert [len(s.trees) for s in planned.seasons] == [2] * 8
    assert planned.leanest_l == pytest.approx(2 * hole_l())
    assert [s.season for s in planned.seasons] == list(range(2026, 2034))
    assert [s.unplanned_trees for s in planned.seasons] == [8, 0, 0, 0, 8, 0, 0, 0]
    for early, late in ((a, b) for a in range(8) for b in range(a + 1, min(a + 4, 8))):
        assert not set(planned.seasons[early].trees) & set(planned.seasons[late].trees)


def test_a_root_tapped_before_rests_on() -> None:
    tapped = tuple(TapHole(f"h{k}", f"t{k}", 1, Wound.HOLE, date(2025, 3, 25)) for k in range(8))
    planned = plan_rotation(wood(holes=tapped), TODAY, RotationOptions(seasons=5))
    assert [len(s.trees) for s in planned.seasons[:3]] == [0, 0, 0]
    assert [s.possible for s in planned.seasons] == [False, False, False, True, True]
    assert len(planned.seasons[3].trees) + len(planned.seasons[4].trees) == 8


def test_the_owners_limit_and_dates_hold() -> None:
    area = Area("a", "east", AreaKind.PERMITTED, (RING,), most_trees=1, until_date=date(2027, 12, 31))
    planned = plan_rotation(wood(areas=(area,)), TODAY, RotationOptions(seasons=3, wanted_l=80.0))
    assert [len(s.trees) for s in planned.seasons] == [1, 1, 0]
    assert planned.short
    assert planned.binding[0].rule == "owners' limits"
    assert planned.binding[0].leanest_l == pytest.approx(2 * hole_l())


def test_girths_grow_as_measured_or_as_stated_only() -> None:
    thin = tuple(Measurement(f"m{k}", f"t{k}", date(2025, 9, 1), 700.0, None, "700", "mm") for k in range(2))
    with pytest.raises(NothingToDo, match="no tree may be tapped in 2026 to 2029"):
        plan_rotation(wood(2, measurements=thin), TODAY, RotationOptions(seasons=4))
    stated = names(wood(2, measurements=thin), RotationOptions(seasons=4, growth_mm=12.0))
    assert stated[0] == []  # 704 mm in 2026 and 716 mm in 2027; from 718 mm on
    assert stated[1] == []
    assert len([name for season in stated[2:] for name in season]) == 2
    earlier = (*thin, Measurement("e", "t0", date(2021, 9, 1), 660.0, None, "660", "mm"))
    own = plan_rotation(wood(2, measurements=earlier), TODAY, RotationOptions(seasons=4))
    assert {tree.name for s in own.seasons for tree, _ in s.trees} == {"B0"}
    assert any("girths ahead grow on 1 of 2 trees" in text for text in own.assumptions)


def test_no_more_is_tapped_than_is_wanted() -> None:
    planned = plan_rotation(wood(12), TODAY, RotationOptions(seasons=4, wanted_l=40.0))
    assert [len(s.trees) for s in planned.seasons] == [1] * 4
    assert not planned.short
    assert planned.binding == ()


def test_what_binds_may_be_the_stand_itself() -> None:
    planned = plan_rotation(wood(1), TODAY, RotationOptions(seasons=1, wanted_l=500.0))
    assert [w.rule for w in planned.binding] == ["number of trees that are ready, or will be"]


@pytest.mark.parametrize(
    ("change", "why"),
    [
        ({"seasons": 0}, "0 seasons are out of bounds"),
        ({"wanted_l": -3.0}, "-3 L a season is out of bounds"),
        ({"growth_mm": 90.0}, "a growth of 90 mm"),
        ({"nights": 0}, "0 nights"),
        ({"block_cost_l": -1.0}, "-1 L for a part"),
    ],
)
def test_what_cannot_be_asked(change: dict[str, float], why: str) -> None:
    with pytest.raises(UserError, match=why):
        plan_rotation(wood(), TODAY, replace(RotationOptions(seasons=3), **change))  # type: ignore[arg-type]
