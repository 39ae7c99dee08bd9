from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Any

import pytest

from standmap.errors import BugError, UserError
from standmap.rules.ruleset import load
from standmap.rules.verdicts import Judgement, Verdict, ground_context, judge_all, judge_tree
from standmap.stand.ground import Area, AreaKind
from standmap.stand.snapshot import Stand
from standmap.stand.tapping import TapHole, Wound
from standmap.stand.tree import LonLat, Measurement, Soundness, Standing, Tree

SEASON = 2026
HERE = (25.0, 60.0)


@dataclass
class Wood:
    """A stand put together tree by tree."""

    trees: list[Tree] = field(default_factory=list)
    measurements: list[Measurement] = field(default_factory=list)
    holes: list[TapHole] = field(default_factory=list)
    areas: list[Area] = field(default_factory=list)

    def tree(self, at: LonLat = HERE, *, girth: float | None = 842.0, **more: Any) -> Tree:
        number = len(self.trees) + 1
        usual: dict[str, Any] = {"species": "Betula pendula", "soundness": Soundness.SOUND, "tag_confirmed": True}
        tree = Tree(f"key{number}", f"B{number}", at, **(usual | more))
        self.trees.append(tree)
        if girth is not None:
            self.measure(tree, girth=girth)
        return tree

    def measure(
        self, tree: Tree, *, girth: float | None = None, diameter: float | None = None, year: int | None = 2025
    ) -> None:
        on = None if year is None else date(year, 9, 1)
        self.measurements.append(Measurement(f"m{len(self.measurements)}", tree.key, on, girth, diameter, "", "mm"))

    def tap(self, tree: Tree, *years: int, kind: Wound = Wound.HOLE) -> None:
        for year in years:
            self.holes.append(TapHole(f"h{len(self.holes)}", tree.key, 1, kind, date(year, 4, 2)))

    def area(self, kind: AreaKind, low: LonLat, high: LonLat, **more: Any) -> None:
        (a, b), (c, d) = low, high
        ring = ((a, b), (c, b), (c, d), (a, d), (a, b))
        self.areas.append(Area(f"a{len(self.areas)}", f"A{len(self.areas)}", kind, (ring,), **more))

    def stand(self) -> Stand:
        return Stand(tuple(self.trees), tuple(self.measurements), tuple(self.holes), areas=tuple(self.areas))

    def judge(
        self, tree: Tree, season: int = SEASON, rules: str = "cautious", overrides: Mapping[str, float] | None = None
    ) -> Judgement:
        return judge_tree(self.stand(), tree, season, load(rules, overrides))


def texts(judged: Judgement, *, against: bool) -> list[str]:
    return [r.text for r in judged.reasons if r.against is against]


def test_a_thick_sound_birch_is_ready_and_says_why() -> None:
    wood = Wood()
    judged = wood.judge(wood.tree())
    assert judged.verdict is Verdict.READY
    assert judged.holes_allowed == 1
    assert judged.back_in is None
    assert judged.cautions == ()
    assert texts(judged, against=True) == []
    assert "girth 842 mm is above 718 mm" in texts(judged, against=False)
    assert all(r.rule and r.text and r.source for r in judged.reasons)


def test_a_resting_tree_tells_the_season_it_comes_back() -> None:
    wood = Wood()
    tree = wood.tree()
    wood.tap(tree, 2020, 2024)
    judged = wood.judge(tree)
    assert judged.verdict is Verdict.RESTING
    assert judged.back_in == 2028
    assert judged.holes_allowed == 0
    assert judged.reasons[0].text == "tapped in 2024, returns after 4 years: back in 2028"
    assert judged.reasons[0].rule == "cautious set"
    assert judged.reasons[0].source == "common practice, no source"


@pytest.mark.parametrize(("years", "returns"), [(4, 2028), (3, 2027)])
def test_rest_runs_out_in_the_very_season(years: int, returns: int) -> None:
    wood = Wood()
    tree = wood.tree()
    wood.tap(tree, 2024, kind=Wound.SLIT)
    overrides = {"return_after_years": years}
    assert wood.judge(tree, returns - 1, overrides=overrides).verdict is Verdict.RESTING
    back = wood.judge(tree, returns, overrides=overrides)
    assert back.verdict is Verdict.READY
    assert f"last tapped in 2024, returns after {years} years" in texts(back, against=False)


def test_without_rest_a_tree_is_ready_the_next_season() -> None:
    wood = Wood()
    tree = wood.tree()
    wood.tap(tree, 2025)
    judged = wood.judge(tree, rules="finland")
    assert judged.verdict is Verdict.READY
    assert "last tapped in 2025, returns after 1 year" in texts(judged, against=False)
    assert wood.judge(tree, rules="cautious").verdict is Verdict.RESTING


def test_wounds_of_later_seasons_are_not_known_yet() -> None:
    wood = Wood()
    tree = wood.tree()
    wood.tap(tree, 2027)
    assert wood.judge(tree, 2026).verdict is Verdict.READY
    assert wood.judge(tree, 2027).verdict is Verdict.GIVING
    assert wood.judge(tree, 2028).verdict is Verdict.RESTING


def test_giving_is_a_fact_that_keeps_the_reasons_against_it() -> None:
    wood = Wood()
    tree = wood.tree(girth=600.0)
    wood.tap(tree, 2024, 2026)
    judged = wood.judge(tree)
    assert judged.verdict is Verdict.GIVING
    assert judged.back_in == 2030
    assert judged.reasons[0].text == "hole made on 2026-04-02"
    assert not judged.reasons[0].against
    assert texts(judged, against=True) == [
        "girth 600 mm is below 718 mm",
        "tapped in 2024, returns after 4 years: back in 2028",
    ]


def test_more_holes_than_the_set_allows_are_told() -> None:
    wood = Wood()
    tree = wood.tree(girth=900.0)
    wood.tap(tree, 2026, 2026)
    judged = wood.judge(tree)
    assert judged.verdict is Verdict.GIVING
    assert texts(judged, against=True) == ["2 holes this season, 1 allowed"]
    assert texts(wood.judge(tree, rules="belarus"), against=True) == []


def test_rest_is_the_roots() -> None:
    wood = Wood()
    first, second = wood.tree(rootstock="r"), wood.tree(rootstock="r")
    other, felled = wood.tree(), wood.tree(rootstock="q", standing=Standing.FELLED)
    stump = wood.tree(rootstock="q")
    wood.tap(first, 2024)
    wood.tap(felled, 2025)
    judged = wood.judge(second)
    assert judged.verdict is Verdict.RESTING
    assert judged.back_in == 2028
    assert judged.reasons[0].text == "stem B1 of the same root tapped in 2024, returns after 4 years: back in 2028"
    assert wood.judge(other).verdict is Verdict.READY
    assert wood.judge(stump).verdict is Verdict.RESTING


def test_a_stem_rests_while_its_sister_gives() -> None:
    wood = Wood()
    first, second = wood.tree(rootstock="r"), wood.tree(rootstock="r")
    wood.tap(first, 2026)
    for rules, back in (("cautious", 2030), ("finland", 2027)):
        judged = wood.judge(second, rules=rules)
        assert (judged.verdict, judged.back_in) == (Verdict.RESTING, back)
    assert texts(wood.judge(first), against=True) == []
    wood.tap(second, 2026)
    assert "stem B2 of the same root" in texts(wood.judge(first), against=True)[0]


def test_an_empty_rootstock_joins_nothing() -> None:
    wood = Wood()
    first, second = wood.tree(rootstock=""), wood.tree(rootstock="")
    wood.tap(first, 2025)
    assert wood.judge(second).verdict is Verdict.READY


@pytest.mark.parametrize(
    ("more", "verdict", "text"),
    [
        ({"species": "Picea abies"}, Verdict.UNFIT, "'Picea abies' is not a species of this set"),
        ({"soundness": Soundness.UNSOUND}, Verdict.UNFIT, "seen to be unsound"),
        ({"standing": Standing.DEAD}, Verdict.UNFIT, "dead"),
        ({"standing": Standing.FELLED, "standing_since": date(2026, 12, 1)}, Verdict.UNFIT, "felled since 2026-12-01"),
        ({"species": None}, Verdict.UNSURE, "species is not recorded"),
        ({"species": " "}, Verdict.UNSURE, "species is not recorded"),
        ({"girth": None}, Verdict.UNSURE, "girth is not recorded"),
        ({"proposed": True}, Verdict.UNSURE, "suggested by a walk, not yet confirmed by a person"),
    ],
)
def test_unfit_and_unsure(more: dict[str, Any], verdict: Verdict, text: str) -> None:
    wood = Wood()
    judged = wood.judge(wood.tree(**more))
    assert judged.verdict is verdict
    assert texts(judged, against=True) == [text]
    assert judged.back_in is None


def test_a_tree_felled_later_still_stood() -> None:
    wood = Wood()
    tree = wood.tree(standing=Standing.FELLED, standing_since=date(2027, 1, 1))
    assert wood.judge(tree, 2026).verdict is Verdict.READY
    assert wood.judge(tree, 2027).verdict is Verdict.UNFIT


def test_the_newest_measurement_of_the_time_is_taken() -> None:
    wood = Wood()
    tree = wood.tree(girth=None)
    wood.measure(tree, girth=800.0, year=2026)
    wood.measure(tree, girth=600.0, year=2022)
    wood.measure(tree, girth=2000.0, year=None)
    assert wood.judge(tree, 2026).verdict is Verdict.READY
    assert wood.judge(tree, 2025).verdict is Verdict.GROWING_ON
    assert wood.judge(tree, 2021).verdict is Verdict.READY

    late = wood.tree(girth=None)
    wood.measure(late, girth=800.0, year=2027)
    judged = wood.judge(late, 2026)
    assert judged.verdict is Verdict.UNSURE
    assert texts(judged, against=True) == ["girth is not recorded until after 2026"]


def test_the_first_that_holds_is_shown_and_all_are_listed() -> None:
    """One tree with everything against it; taken away one by one, the next verdict shows."""
    wood = Wood()
    wood.area(AreaKind.NO_GO, (24.9, 59.9), (25.1, 60.1))
    tree = wood.tree(girth=500.0, rootstock="r", species="oak", proposed=True)
    wood.tap(wood.tree(rootstock="r"), 2025)
    wood.tap(tree, 2026)
    seen = [wood.judge(tree)]
    wood.holes.pop()
    seen.append(wood.judge(tree))
    wood.areas.clear()
    for change in ({}, {"species": "birch"}, {"proposed": False}):
        tree = wood.trees[0] = replace(tree, **change)
        seen.append(wood.judge(tree))
    wood.measure(tree, girth=800.0, year=2026)
    seen.append(wood.judge(tree))
    wood.holes.clear()
    seen.append(wood.judge(tree))
    assert [judged.verdict for judged in seen] == list(Verdict)
    assert [len(texts(judged, against=True)) for judged in seen] == [5, 5, 4, 3, 2, 1, 0]


def test_old_undated_and_elsewhere_measured_girths_ask_for_care() -> None:
    wood = Wood()
    tree = wood.tree(girth=None)
    wood.measure(tree, girth=842.0, year=2020)
    assert wood.judge(tree, 2025).cautions == ()
    assert wood.judge(tree, 2026).cautions == ("girth last measured in 2020: measure again",)
    assert wood.judge(tree, 2026, overrides={"old_measurement_years": 6}).cautions == ()
    wood.measurements[0] = replace(wood.measurements[0], measured_on=None, at_height_mm=1000.0)
    assert wood.judge(tree).cautions == (
        "girth has no date: measure again",
        "girth measured at 1 m, cautious set reads it at 1.3 m",
    )


def test_growth_is_never_guessed() -> None:
    wood = Wood()
    tree = wood.tree(girth=None)
    wood.measure(tree, girth=717.0, year=1990)
    judged = wood.judge(tree, 2026)
    assert judged.verdict is Verdict.GROWING_ON
    assert "girth last measured in 1990: measure again" in judged.cautions


def test_genus_only_and_unlooked_at_trees_ask_for_care() -> None:
    wood = Wood()
    judged = wood.judge(wood.tree(species="birch", soundness=None))
    assert judged.verdict is Verdict.READY
    assert judged.cautions == (
        "identified to genus only (Betula): be sure what it is",
        "soundness is not recorded: look it over before drilling",
    )


def test_what_a_set_asks_beyond_the_record_is_told_with_every_ready_tree() -> None:
    wood = Wood()
    ready, thin = wood.tree(), wood.tree((25.1, 60.0), girth=300.0)
    assert "taller than 20 m" in " ".join(wood.judge(ready, rules="russia-own-use").cautions)
    assert wood.judge(thin, rules="russia-own-use").cautions == ()


def test_check_the_tag_names_the_three_likeliest_of_those_that_are_not_ready() -> None:
    wood = Wood()
    metre = 1 / 111_195
    tree = wood.tree(tag_confirmed=False)
    for i, girth in enumerate((842.0, 300.0, 300.0, 300.0, 300.0)):
        wood.tree((25.0, 60 + (5 - i) * metre), girth=girth)
    wood.tree((25.0, 60 + 20 * metre), girth=300.0)
    caution = wood.judge(tree).cautions[0]
    assert caution == (
        "check the tag: could be mistaken for B6 (growing on), B5 (growing on), B4 (growing on) and 1 more"
    )
    wood.trees[0] = replace(tree, tag_confirmed=True)
    assert wood.judge(wood.trees[0]).cautions == ()
    wood.trees[0] = replace(tree, species="oak")
    assert wood.judge(wood.trees[0]).cautions == ()


def test_all_trees_are_judged_as_each_alone_and_merged_ones_left_out() -> None:
    wood = Wood()
    wood.area(AreaKind.PERMITTED, (24.9, 59.9), (25.001, 60.1))
    metre = 1 / 111_195
    for i in range(60):
        tree = wood.tree((25.0 + 6 * metre * (i % 8), 60 + 4 * metre * (i // 8)), girth=500.0 + 10 * i)
        wood.trees[i] = replace(tree, tag_confirmed=i % 5 == 0, rootstock=f"r{i % 17}" if i % 3 else None)
        wood.tap(tree, *range(2015 + i % 9, 2026, 7))
    wood.trees[7] = replace(wood.trees[7], standing=Standing.MERGED, merged_into="key9")
    stand, rules = wood.stand(), load("cautious")
    context = ground_context(stand, SEASON, rules)
    judged = judge_all(stand, SEASON, rules)
    assert [j.tree_key for j in judged] == [t.key for t in stand.present]
    assert judged == [judge_tree(stand, t, SEASON, rules, context) for t in stand.present]
    assert any("check the tag" in caution for j in judged for caution in j.cautions)


class _StopAfter:
    def __init__(self, looks: int) -> None:
        self.looks = looks
        self.seen: list[float] = []

    def at(self, done: float, total: float, what: str) -> None:
        assert what
        assert 0 <= done <= total
        self.seen.append(done)

    def stop_wanted(self) -> bool:
        return len(self.seen) > self.looks


def test_judging_tells_how_far_it_is_and_stops_when_asked() -> None:
    stand = Stand(trees=tuple(Tree(f"k{i}", f"T{i}", (25 + i / 100, 60.0)) for i in range(5000)))
    whole, cut = _StopAfter(99), _StopAfter(2)
    assert len(judge_all(stand, SEASON, load("cautious"), whole)) == 5000
    assert whole.seen[-1] == 5000
    assert 0 < len(judge_all(stand, SEASON, load("cautious"), cut)) < 5000


def test_an_empty_stand_has_no_judgements() -> None:
    assert judge_all(Stand(), SEASON, load("cautious")) == []


def test_what_cannot_be_asked_is_refused() -> None:
    wood = Wood()
    tree, rules = wood.tree(), load("cautious")
    with pytest.raises(UserError, match="season 0 is not a year"):
        wood.judge(tree, 0)
    with pytest.raises(UserError, match="season 10000"):
        judge_all(wood.stand(), 10_000, rules)
    with pytest.raises(BugError):
        judge_tree(wood.stand(), replace(tree, key="stranger"), SEASON, rules)
    with pytest.raises(BugError):
        judge_tree(wood.stand(), tree, SEASON, rules, ground_context(wood.stand(), 2025, rules))
