"""Owners' permissions, their dates and limits, and no-go areas."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Any

import pytest

from standmap.rules.ruleset import load
from standmap.rules.verdicts import Judgement, Verdict, judge_tree
from standmap.stand.ground import Area, AreaKind
from standmap.stand.snapshot import Stand
from standmap.stand.tapping import TapHole, Wound
from standmap.stand.tree import LonLat, Measurement, Soundness, Tree

HERE = (25.0, 60.0)


@dataclass
class Ground:
    """Ground with thick sound birches, against which only the ground itself can speak."""

    trees: list[Tree] = field(default_factory=list)
    holes: list[TapHole] = field(default_factory=list)
    areas: list[Area] = field(default_factory=list)

    def tree(self, at: LonLat = HERE, **more: Any) -> Tree:
        name = f"B{len(self.trees) + 1}"
        sound = Soundness.SOUND
        tree = Tree(name, name, at, "Betula pendula", soundness=sound, tag_confirmed=True, **more)
        self.trees.append(tree)
        return tree

    def tap(self, tree: Tree, *years: int) -> None:
        for year in years:
            self.holes.append(TapHole(f"h{len(self.holes)}", tree.key, 1, Wound.HOLE, date(year, 4, 2)))

    def area(self, kind: AreaKind, low: LonLat, high: LonLat, **more: Any) -> None:
        (a, b), (c, d) = low, high
        ring = ((a, b), (c, b), (c, d), (a, d), (a, b))
        self.areas.append(Area(f"a{len(self.areas)}", f"A{len(self.areas)}", kind, (ring,), **more))

    def judge(self, tree: Tree, season: int = 2026, overrides: Mapping[str, float] | None = None) -> Judgement:
        girths = tuple(Measurement(f"m{t.key}", t.key, date(2025, 9, 1), 842.0, None, "", "mm") for t in self.trees)
        stand = Stand(tuple(self.trees), girths, tuple(self.holes), areas=tuple(self.areas))
        return judge_tree(stand, tree, season, load("cautious", overrides))


def texts(judged: Judgement, *, against: bool) -> list[str]:
    return [r.text for r in judged.reasons if r.against is against]


def test_outside_the_permission_is_off_limits() -> None:
    ground = Ground()
    ground.area(AreaKind.PERMITTED, (25.0, 60.0), (25.01, 60.01), owner="Anna Virtanen")
    inside, edge, outside = ground.tree((25.005, 60.005)), ground.tree((25.0, 60.005)), ground.tree((25.02, 60.005))
    assert ground.judge(inside).verdict is Verdict.READY
    assert ground.judge(edge).verdict is Verdict.READY
    judged = ground.judge(outside)
    assert judged.verdict is Verdict.OFF_LIMITS
    assert texts(judged, against=True) == ["outside every permitted area"]
    told = [r for r in ground.judge(inside).reasons if r.text == "inside a permitted area"]
    assert [r.rule for r in told] == ["permission of Anna Virtanen for 'A0'"]


@pytest.mark.parametrize(
    ("first", "last", "holds"),
    [
        (None, None, True),
        (date(2026, 12, 31), None, True),
        (date(2027, 1, 1), None, False),
        (None, date(2026, 1, 1), True),
        (None, date(2025, 12, 31), False),
        (date(2020, 1, 1), date(2030, 1, 1), True),
        (date(2026, 5, 1), date(2026, 4, 1), False),
    ],
)
def test_a_permission_holds_in_the_seasons_that_its_dates_touch(
    first: date | None, last: date | None, holds: bool
) -> None:
    ground = Ground()
    ground.area(AreaKind.PERMITTED, (24.9, 59.9), (25.1, 60.1), owner="Anna", from_date=first, until_date=last)
    judged = ground.judge(ground.tree())
    assert (judged.verdict is Verdict.READY) is holds
    if not holds:
        assert judged.verdict is Verdict.OFF_LIMITS
        assert judged.reasons[0].text == "not permitted in 2026"
        assert "Anna" in judged.reasons[0].rule


def test_a_second_permission_that_holds_is_enough() -> None:
    ground = Ground()
    ground.area(AreaKind.PERMITTED, (24.9, 59.9), (25.1, 60.1), until_date=date(2020, 1, 1))
    ground.area(AreaKind.PERMITTED, (24.9, 59.9), (25.1, 60.1))
    assert ground.judge(ground.tree()).verdict is Verdict.READY


def test_a_no_go_area_holds_edges_included_and_its_hole_left_out() -> None:
    ground = Ground()
    ground.area(AreaKind.NO_GO, (25.0, 60.0), (25.02, 60.02))
    clearing = ((25.005, 60.005), (25.005, 60.015), (25.015, 60.015), (25.015, 60.005), (25.005, 60.005))
    ground.areas[0] = replace(ground.areas[0], outline=(*ground.areas[0].outline, clearing))
    places = {(25.001, 60.001): True, (25.02, 60.01): True, (25.0, 60.0): True, (25.01, 60.01): False}
    for at, off in places.items():
        assert (ground.judge(ground.tree(at)).verdict is Verdict.OFF_LIMITS) is off
    # A no-go area with dates is one all the same: dates are those of a permission.
    ground.areas[0] = replace(ground.areas[0], until_date=date(2000, 1, 1))
    assert ground.judge(ground.trees[0]).verdict is Verdict.OFF_LIMITS


def test_a_no_go_ring_that_crosses_itself_still_holds() -> None:
    ground = Ground()
    ground.area(AreaKind.NO_GO, (25.0, 60.0), (25.02, 60.02))
    bow = ((25.0, 60.0), (25.02, 60.02), (25.02, 60.0), (25.0, 60.02), (25.0, 60.0))
    ground.areas[0] = replace(ground.areas[0], outline=(bow,))
    assert ground.judge(ground.tree((25.001, 60.01))).verdict is Verdict.OFF_LIMITS
    assert ground.judge(ground.tree((25.019, 60.01))).verdict is Verdict.OFF_LIMITS
    assert ground.judge(ground.tree((25.01, 60.001))).verdict is Verdict.READY


def test_the_owners_limit_closes_the_area_for_the_rest() -> None:
    ground = Ground()
    ground.area(AreaKind.PERMITTED, (24.9, 59.9), (25.1, 60.1), owner="Anna", most_trees=2)
    trees = [ground.tree((25.0 + 0.01 * i, 60.0)) for i in range(4)]
    ground.tap(trees[0], 2026, 2026)
    assert ground.judge(trees[3]).verdict is Verdict.READY
    ground.tap(trees[1], 2026)
    judged = ground.judge(trees[3])
    assert judged.verdict is Verdict.OFF_LIMITS
    assert judged.reasons[0].text == "2 trees give here, 2 allowed"
    assert "Anna" in judged.reasons[0].rule
    assert texts(ground.judge(trees[0]), against=True) == ["2 holes this season, 1 allowed"]
    ground.tap(trees[2], 2026)
    assert "3 trees give here, 2 allowed" in texts(ground.judge(trees[0]), against=True)
    assert ground.judge(trees[3], 2031).verdict is Verdict.READY


def test_near_an_edge_the_side_is_in_doubt() -> None:
    ground = Ground()
    ground.area(AreaKind.NO_GO, (25.0, 60.0), (25.01, 60.01))
    metre = 1 / 111_195
    near, far = ground.tree((25.005, 60 - 7.9 * metre)), ground.tree((25.005, 60 - 8.1 * metre))
    sure = ground.tree((25.005, 60 - 3 * metre), var_e_m2=1.0, var_n_m2=1.0)
    assert ground.judge(near).cautions == (
        "within 8.0 m (twice its error) of the edge of no-go area 'A0': see which side it is on",
    )
    assert ground.judge(far).cautions == ()
    assert ground.judge(sure).cautions == ()
    assert ground.judge(far, overrides={"mistake_sigma_m": 5.0}).cautions != ()
