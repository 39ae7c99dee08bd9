"""A tree's record as the card tells it, and one tree judged as all are."""

from __future__ import annotations

from datetime import date

from standmap.jobs.judge import judge
from standmap.jobs.judge_one import judge_one
from standmap.jobs.tree_facts import tree_facts
from standmap.rules.ruleset import load
from standmap.rules.verdicts import Verdict
from standmap.stand.records import Plan
from standmap.stand.snapshot import Stand
from standmap.stand.tapping import Act, Collection, Observation, TapHole, Wound
from standmap.stand.tree import Measurement, Soundness, Tree

TREE = Tree("1", "B27", (27.0, 62.0), "Betula pendula", soundness=Soundness.SOUND, tag_confirmed=True, rootstock="r")
STEM = Tree("2", "B28", (27.000003, 62.0), "Betula pendula", rootstock="r")
CLOSE = Tree("3", "B29", (27.000004, 62.0))
STAND = Stand(
    trees=(TREE, STEM, CLOSE),
    measurements=(Measurement("m", "1", date(2024, 9, 14), 842.0, None, "842", "mm"),),
    holes=(
        TapHole("a", "1", 1, Wound.HOLE, date(2020, 3, 20), height_mm=900.0, side_deg=100.0, depth_mm=40.0),
        TapHole("b", "1", 1, Wound.HOLE, date(2024, 3, 20), side_deg=200.0),
        TapHole("c", "1", 2, Wound.SLIT, date(2024, 3, 21)),
    ),
    collections=(
        Collection("x", "b", date(2024, 3, 22), None, 9000.0, "9", "l"),
        Collection("y", "c", date(2024, 3, 25), None, 8400.0, "8.4", "l"),
    ),
    observations=(
        Observation("o", "1", "b", Act.TAKEN_OUT, date(2024, 4, 1)),
        Observation("p", "1", "b", Act.PLUGGED, date(2024, 4, 1)),
        Observation("q", "1", "b", Act.LOOKED_AT, date(2024, 10, 1)),
    ),
)


def test_the_record_of_one_tree() -> None:
    facts = tree_facts(STAND, TREE, 2026, load("cautious"), [Plan("p", "1", 2026, 2)])
    assert (facts.verdict, facts.sentence, facts.back_in) == (Verdict.RESTING, "resting, back in 2028", 2028)
    assert facts.rest_passed == 0.5
    assert facts.root_names == ("B28",)
    assert facts.marked == 2
    assert facts.measurement is not None
    assert facts.measurement.girth_mm == 842.0
    assert [(s.season, s.holes, s.slits, s.nights, s.volume_ml, s.state) for s in facts.seasons] == [
        (2024, 1, 1, 5, 17400.0, "plugged, open"),
        (2020, 1, 0, 0, 0, "open"),
    ]
    assert [(h.season, h.number, h.side_deg) for h in facts.holes] == [
        (2024, 1, 200.0),
        (2024, 2, None),
        (2020, 1, 100.0),
    ]
    assert [a.text for a in facts.answers] == ["wait until 2028"]
    assert [r.against for r in facts.reasons] == sorted((r.against for r in facts.reasons), reverse=True)


def test_one_tree_is_judged_as_all_are() -> None:
    rules = load("cautious")
    for season in (2020, 2024, 2026, 2028):
        for tree, judged in judge(STAND, season).trees:
            assert judge_one(STAND, tree, season, rules) == judged
    asked = judge_one(STAND, CLOSE, 2026, rules).cautions
    assert any("same rootstock?" in text for text in asked)
