"""What would make a tree ready: each answer, once followed, takes its reason away."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date

import pytest

from standmap.jobs.readiness import Step, readiness
from standmap.rules.ruleset import load
from standmap.rules.verdicts import Verdict, judge_tree
from standmap.stand.ground import Area, AreaKind
from standmap.stand.records import Plan
from standmap.stand.snapshot import Stand
from standmap.stand.tapping import TapHole, Wound
from standmap.stand.tree import Measurement, Soundness, Standing, Tree

SEASON = 2026
SQUARE = (((26.99, 61.99), (27.01, 61.99), (27.01, 62.01), (26.99, 62.01), (26.99, 61.99)),)
TREE = Tree("1", "B1", (27.0, 62.0), "Betula pendula", soundness=Soundness.SOUND, tag_confirmed=True)
OTHER = replace(TREE, key="2", name="B2", at=(27.001, 62.0))
GIRTH = Measurement("m", "1", date(2025, 9, 1), 900.0, None, "900", "mm")
READY = Stand(trees=(TREE, OTHER), measurements=(GIRTH,))
WOOD = Area("a", "wood", AreaKind.PERMITTED, SQUARE, owner="Anna")


def with_tree(**said: object) -> Stand:
    return replace(READY, trees=(replace(TREE, **said), OTHER))  # type: ignore[arg-type]


def change_tree(**said: object) -> Callable[[Stand], Stand]:
    return lambda stand: replace(stand, trees=(replace(stand.trees[0], **said), *stand.trees[1:]))  # type: ignore[arg-type]


def measured(mm: float, year: int = 2026) -> Callable[[Stand], Stand]:
    row = Measurement("n", "1", date(year, 1, 2), mm, None, f"{mm:g}", "mm")
    return lambda stand: replace(stand, measurements=(*stand.measurements, row))


def hole(year: int, tree: str = "1") -> TapHole:
    return TapHole(f"h{year}{tree}", tree, 1, Wound.HOLE, date(year, 3, 20))


def areas(*rows: Area) -> Callable[[Stand], Stand]:
    return lambda stand: replace(stand, areas=rows)


def same(stand: Stand) -> Stand:
    return stand


Case = tuple[Stand, str, Step, Callable[[Stand], Stand], int]
CASES: list[Case] = [
    (replace(READY, measurements=()), "measure its girth at 1.3 m", Step.MEASURE, measured(900), SEASON),
    (
        replace(READY, measurements=(replace(GIRTH, measured_on=date(2027, 5, 1)),)),
        "give a girth of 2026, or look at 2027",
        Step.MEASURE,
        measured(900),
        SEASON,
    ),
    (
        replace(READY, measurements=(replace(GIRTH, girth_mm=684.2),)),
        "grow 34 mm more in girth, then measure it again",
        Step.GROW,
        measured(684.2 + 34),
        SEASON,
    ),
    (
        replace(READY, holes=(hole(2024),)),
        "wait until 2028",
        Step.WAIT,
        same,
        2028,
    ),
    (with_tree(species=None), "say its species", Step.SPECIES, change_tree(species="Betula pubescens"), SEASON),
    (
        with_tree(species="Picea abies"),
        "nothing, if that is what it is; else say its species",
        Step.SPECIES,
        change_tree(species="Betula pendula"),
        SEASON,
    ),
    (
        with_tree(soundness=Soundness.UNSOUND),
        "look it over again, and note it sound if it is",
        Step.LOOK,
        change_tree(soundness=Soundness.SOUND),
        SEASON,
    ),
    (with_tree(proposed=True), "confirm that it is a tree", Step.CONFIRM, change_tree(proposed=False), SEASON),
    (
        with_tree(standing=Standing.FELLED),
        "nothing: it is felled",
        Step.NOTHING,
        change_tree(standing=Standing.STANDING),
        SEASON,
    ),
    (
        replace(READY, areas=(replace(WOOD, from_date=date(2028, 1, 1)),)),
        "wait until 2028: the permission begins on 2028-01-01",
        Step.WAIT,
        same,
        2028,
    ),
    (
        replace(READY, areas=(replace(WOOD, until_date=date(2025, 12, 31)),)),
        "ask Anna for 2026: the last permission ended on 2025-12-31",
        Step.ASK_OWNER,
        areas(WOOD),
        SEASON,
    ),
    (
        replace(READY, areas=(replace(WOOD, outline=(((0, 0), (1, 0), (1, 1), (0, 0)),)),)),
        "ask whose ground it is, and draw the area that they permit",
        Step.ASK_OWNER,
        areas(WOOD),
        SEASON,
    ),
    (
        replace(READY, areas=(replace(WOOD, most_trees=1),), holes=(hole(2026, "2"),)),
        "wait until 2027: Anna's limit of 1 tree is reached",
        Step.WAIT,
        same,
        2027,
    ),
    (
        replace(READY, areas=(replace(WOOD, most_trees=0),)),
        "ask for more than Anna's limit of 0 trees",
        Step.ASK_OWNER,
        areas(replace(WOOD, most_trees=3)),
        SEASON,
    ),
    (
        replace(READY, areas=(replace(WOOD, kind=AreaKind.NO_GO, name="bog"),)),
        "nothing, as long as the no-go area 'bog' is drawn over it; move it if it stands outside",
        Step.NOTHING,
        change_tree(at=(27.5, 62.0)),
        SEASON,
    ),
]


@pytest.mark.parametrize(("stand", "text", "step", "follow", "season"), CASES, ids=[case[1] for case in CASES])
def test_following_an_answer_takes_its_reason_away(
    stand: Stand, text: str, step: Step, follow: Callable[[Stand], Stand], season: int
) -> None:
    rules = load("cautious")
    before = judge_tree(stand, stand.trees[0], SEASON, rules)
    assert before.verdict is not Verdict.READY
    (answer,) = readiness(stand, stand.trees[0], SEASON, rules)
    assert (answer.text, answer.step) == (text, step)
    (reason,) = [r for r in before.reasons if r.against]
    assert (answer.rule, answer.source) == (reason.rule, reason.source)
    followed = follow(stand)
    after = judge_tree(followed, followed.trees[0], season, rules)
    assert after.verdict is Verdict.READY
    assert readiness(followed, followed.trees[0], season, rules) == ()


def test_one_millimetre_less_would_not_do() -> None:
    thin = replace(READY, measurements=(replace(GIRTH, girth_mm=684.2),))
    short = measured(684.2 + 33)(thin)
    assert judge_tree(short, TREE, SEASON, load("cautious")).verdict is Verdict.GROWING_ON


def test_a_figure_to_be_passed_and_not_only_reached_asks_for_one_more() -> None:
    beyond = next(rules for rules in map(load, ("cautious", *_sets())) if rules.figure("least_diameter_mm").beyond)
    limit = beyond.least_diameter_mm
    row = Measurement("m", "1", date(2025, 9, 1), None, limit, f"{limit:g}", "mm")
    stand = replace(READY, measurements=(row,))
    (answer,) = readiness(stand, TREE, SEASON, beyond)
    assert answer.text == "grow 1 mm more in diameter, then measure it again"


def _sets() -> tuple[str, ...]:
    from standmap.rules.ruleset import available

    return available()


def test_every_reason_has_its_answer() -> None:
    bad = replace(
        TREE,
        species=None,
        soundness=Soundness.UNSOUND,
        proposed=True,
        standing=Standing.DEAD,
        standing_since=date(2020, 1, 1),
    )
    stand = Stand(
        trees=(bad, OTHER),
        holes=(hole(2025),),
        areas=(replace(WOOD, until_date=date(2020, 1, 1)), replace(WOOD, key="n", kind=AreaKind.NO_GO, name="")),
    )
    rules = load("cautious")
    against = [r for r in judge_tree(stand, bad, SEASON, rules).reasons if r.against]
    answers = readiness(stand, bad, SEASON, rules)
    assert [a.rule for a in answers] == [r.rule for r in against]
    assert len(answers) == 8


def test_a_giving_tree_asks_for_nothing() -> None:
    stand = replace(READY, holes=(hole(2026),))
    (answer,) = readiness(stand, TREE, SEASON, load("cautious"))
    assert (answer.step, answer.text) == (Step.NOTHING, "nothing: it gives this season; back in 2030")


def test_marks_that_fill_the_owners_limit_are_told() -> None:
    rules = load("cautious")
    stand = replace(READY, areas=(replace(WOOD, most_trees=1),))
    plans = [Plan("p", "2", SEASON)]
    (answer,) = readiness(stand, TREE, SEASON, rules, plans)
    assert answer.text == "nothing: the owner's limit of 1 tree is reached; unmark one"
    assert readiness(stand, TREE, SEASON, rules, [Plan("p", "1", SEASON)]) == ()
    assert readiness(stand, TREE, SEASON, rules, [Plan("p", "2", SEASON + 1)]) == ()
