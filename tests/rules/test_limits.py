"""Both sides of every limit of every rule set."""

import math
from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from standmap.rules.decisions import hole_thresholds, least_thickness, threshold
from standmap.rules.ruleset import available, load
from standmap.rules.verdicts import Judgement, Verdict, judge_tree
from standmap.stand.snapshot import Stand
from standmap.stand.tree import Measurement, Soundness, Tree

STRICT = {"russia-own-use"}
"""Sets whose figure must be exceeded."""


def measured(*, girth: float | None = None, diameter: float | None = None) -> Measurement:
    return Measurement("m", "k", date(2026, 1, 5), girth, diameter, "", "mm")


def judged(rule_set: str, measurement: Measurement) -> Judgement:
    rules = load(rule_set)
    tree = Tree("k", "B1", (25.0, 60.0), species=rules.species[0], soundness=Soundness.SOUND, tag_confirmed=True)
    return judge_tree(Stand((tree,), (measurement,)), tree, 2026, rules)


def below(value: float) -> float:
    return math.nextafter(value, 0.0)


def above(value: float) -> float:
    return math.nextafter(value, math.inf)


@pytest.mark.parametrize("rule_set", available())
@pytest.mark.parametrize("quantity", ["girth", "diameter"])
def test_the_least_thickness_to_the_last_digit(rule_set: str, quantity: str) -> None:
    least = load(rule_set).least_diameter_mm
    exact = least if quantity == "diameter" else math.pi * least
    at, under, over = (judged(rule_set, measured(**{quantity: x})) for x in (exact, below(exact), above(exact)))
    assert under.verdict is Verdict.GROWING_ON
    assert at.verdict is (Verdict.GROWING_ON if rule_set in STRICT else Verdict.READY)
    assert over.verdict is Verdict.READY
    assert (under.holes_allowed, over.holes_allowed) == (0, 1)


@pytest.mark.parametrize("rule_set", available())
def test_the_thickness_reason_names_the_set_that_spoke_and_its_source(rule_set: str) -> None:
    rules = load(rule_set)
    reason = judged(rule_set, measured(girth=math.pi * rules.least_diameter_mm - 10)).reasons[0]
    assert (reason.rule, reason.source) == (rules.title, rules.figure("least_diameter_mm").source)
    assert reason.against


@pytest.mark.parametrize("rule_set", available())
@pytest.mark.parametrize("quantity", ["girth", "diameter"])
def test_each_step_of_the_number_of_holes_to_the_last_digit(rule_set: str, quantity: str) -> None:
    rules = load(rule_set)
    steps = [s for s in rules.hole_steps if s.from_diameter_mm > rules.least_diameter_mm]
    before = rules.hole_steps[0].holes
    for step in steps:
        exact = step.from_diameter_mm * (1 if quantity == "diameter" else math.pi)
        assert judged(rule_set, measured(**{quantity: below(exact)})).holes_allowed == before
        assert judged(rule_set, measured(**{quantity: exact})).holes_allowed == step.holes
        before = step.holes
    assert judged(rule_set, measured(diameter=2000.0)).holes_allowed == before


@pytest.mark.parametrize(
    ("rule_set", "girth_mm"),
    # 20 cm, 10 in and 12 in as girths are 628.3, 798.0 and 957.6 mm (pi times the diameter).
    [("lithuania-state-land", 628.3), ("belarus", 628.3), ("finland", 628.3), ("maple-conservative", 957.6)],
)
def test_limits_as_a_tape_reads_them(rule_set: str, girth_mm: float) -> None:
    assert judged(rule_set, measured(girth=girth_mm - 0.1)).verdict is Verdict.GROWING_ON
    assert judged(rule_set, measured(girth=girth_mm + 0.1)).verdict is Verdict.READY


def test_ten_inches_set_for_the_stand() -> None:
    limit = least_thickness(load("cautious", {"least_diameter_mm": 254.0}))
    assert limit.girth_mm == pytest.approx(798.0, abs=0.05)
    assert not limit.reached_by(measured(girth=797.9))
    assert limit.reached_by(measured(girth=798.0))


def test_sets_disagree_on_one_tree_and_say_who_spoke() -> None:
    thick = measured(diameter=410.0)
    assert judged("belarus", thick).holes_allowed == 4
    for other in ("cautious", "russia-own-use", "lithuania-state-land"):
        assert judged(other, thick).holes_allowed == 1

    between = measured(diameter=201.0)
    assert judged("lithuania-state-land", between).verdict is Verdict.READY
    alaska = judged("alaska", between)
    assert alaska.verdict is Verdict.GROWING_ON
    assert alaska.reasons[0].rule == "Alaska extension"
    assert alaska.reasons[0].text == "diameter 201 mm is below 203.2 mm"
    assert "Cascio & Barber" in alaska.reasons[0].source


@pytest.mark.parametrize(
    ("diameter_mm", "holes"),
    [(200, 1), (260, 1), (265, 1), (270, 2), (340, 2), (345, 2), (350, 3), (400, 3), (405, 3), (410, 4)],
)
def test_between_two_printed_classes_the_lower_one_counts(diameter_mm: float, holes: int) -> None:
    assert judged("belarus", measured(diameter=diameter_mm)).holes_allowed == holes


@pytest.mark.parametrize(
    ("measurement", "text"),
    [
        (measured(girth=842.0), "girth 842 mm is above 718 mm"),
        (measured(girth=718.0), "girth 718 mm is below 718.2 mm"),
        (measured(girth=718.1), "girth 718.1 mm is below 718.2 mm"),
        (measured(girth=718.17), "girth 718.17 mm is above 718.168 mm"),
        (measured(diameter=228.6), "diameter 228.6 mm reaches 228.6 mm"),
        (measured(diameter=268.0), "diameter 268 mm is above 228.6 mm"),
    ],
)
def test_two_lengths_are_written_so_that_they_can_be_told_apart(measurement: Measurement, text: str) -> None:
    found = [r.text for r in judged("cautious", measurement).reasons]
    assert text in found


def test_a_figure_to_be_exceeded_says_so() -> None:
    found = [r.text for r in judged("russia-own-use", measured(diameter=200.0)).reasons if r.against]
    assert found == ["diameter 200 mm is not above 200 mm"]


@settings(deadline=None)
@given(st.floats(1, 3000), st.floats(1, 3000), st.booleans())
def test_a_threshold_compares_as_the_measurement_does(limit: float, value: float, as_diameter: bool) -> None:
    measurement = measured(diameter=value) if as_diameter else measured(girth=value)
    assert threshold(limit).reached_by(measurement) == measurement.at_least(limit)
    assert not threshold(value, beyond=True).reached_by(measured(diameter=value))
    assert threshold(below(value), beyond=True).reached_by(measured(diameter=value))


def test_hole_thresholds_run_from_thick_to_thin() -> None:
    steps = [limit.diameter_mm for limit, _, _ in hole_thresholds(load("belarus"))]
    assert steps == [410.0, 350.0, 270.0, 200.0]
