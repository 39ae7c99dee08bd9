"""The columns of a stand say the same as the reasons of each of its trees."""

import math
from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from standmap.errors import UserError
from standmap.rules.columns import CODES, also_tapped, columns, same_columns, verdict_columns
from standmap.rules.ruleset import RuleSet, available, load
from standmap.rules.verdicts import Verdict, ground_context, judge_tree
from standmap.stand.ground import Area, AreaKind
from standmap.stand.snapshot import Stand
from standmap.stand.tapping import Act, Observation, TapHole, Wound
from standmap.stand.tree import Measurement, Soundness, Standing, Tree

LIMITS_MM = [200.0, 203.2, 228.6, 254.0, 304.8]
NAMES = [None, " ", "Betula pendula", "silver birch", "birch", "paper birch", "Betula nana", "sugar maple", "oak"]

years = st.integers(2014, 2030)
days = st.builds(date, years, st.integers(1, 12), st.integers(1, 28))
spots = st.integers(0, 6).map(lambda i: 25.0 + i / 1024)


@st.composite
def lengths(draw: st.DrawFn) -> float:
    """A diameter at, just beside or near a limit."""
    limit = draw(st.sampled_from(LIMITS_MM))
    return draw(st.sampled_from([limit, math.nextafter(limit, 0), math.nextafter(limit, 999), limit - 30, limit + 150]))


@st.composite
def measurements(draw: st.DrawFn, tree_key: str, number: int) -> Measurement:
    diameter_mm = draw(lengths())
    on = draw(st.none() | days)
    if draw(st.booleans()):
        return Measurement(f"{tree_key}m{number}", tree_key, on, None, diameter_mm, "", "mm")
    girth_mm = math.pi * diameter_mm
    girth_mm = draw(st.sampled_from([girth_mm, math.nextafter(girth_mm, 0), math.nextafter(girth_mm, 9999)]))
    return Measurement(f"{tree_key}m{number}", tree_key, on, girth_mm, None, "", "mm")


@st.composite
def trees(draw: st.DrawFn, number: int) -> Tree:
    standing = draw(st.sampled_from([Standing.STANDING] * 6 + list(Standing)))
    return Tree(
        key=f"k{number}",
        name=f"B{number}",
        at=(draw(spots), draw(spots) + 35),
        species=draw(st.sampled_from(["Betula pendula"] * 6 + NAMES)),
        standing=standing,
        standing_since=draw(st.none() | days),
        soundness=draw(st.sampled_from([None, Soundness.SOUND, Soundness.SOUND, Soundness.UNSOUND])),
        rootstock=draw(st.sampled_from([None, None, "", "r1", "r2"])),
        proposed=draw(st.sampled_from([False] * 5 + [True])),
        tag_confirmed=draw(st.booleans()),
    )


@st.composite
def areas(draw: st.DrawFn, number: int) -> Area:
    """A rectangle on the grid of the trees, so that trees often stand on its edge."""
    west, east = sorted(draw(st.lists(st.integers(-1, 7), min_size=2, max_size=2, unique=True)))
    south, north = sorted(draw(st.lists(st.integers(-1, 7), min_size=2, max_size=2, unique=True)))
    a, b, c, d = 25 + west / 1024, 60 + south / 1024, 25 + east / 1024, 60 + north / 1024
    return Area(
        key=f"a{number}",
        name=f"A{number}",
        kind=draw(st.sampled_from(AreaKind)),
        outline=(((a, b), (c, b), (c, d), (a, d), (a, b)),),
        from_date=draw(st.none() | days),
        until_date=draw(st.none() | days),
        most_trees=draw(st.none() | st.integers(0, 3)),
    )


@st.composite
def stands(draw: st.DrawFn) -> Stand:
    grown = tuple(draw(trees(i)) for i in range(draw(st.integers(0, 8))))
    measured = [draw(measurements(t.key, i)) for t in grown for i in range(draw(st.sampled_from([0, 1, 1, 1, 2, 3])))]
    holes = [
        TapHole(f"{t.key}h{i}", t.key, i, draw(st.sampled_from(Wound)), draw(days))
        for t in grown
        for i in range(draw(st.sampled_from([0, 0, 1, 2, 3])))
    ]
    drawn = tuple(draw(areas(i)) for i in range(draw(st.sampled_from([0, 0, 0, 1, 2, 3]))))
    return Stand(grown, tuple(measured), tuple(holes), observations=draw(looks(holes)), areas=drawn)


@st.composite
def looks(draw: st.DrawFn, holes: list[TapHole]) -> tuple[Observation, ...]:
    """What was seen at some wounds; some looks name none, or tell nothing."""
    acts = st.sampled_from([Act.SEEN_OPEN, Act.SEEN_OPEN, Act.SEEN_CLOSED, Act.LOOKED_AT])
    seen = draw(st.lists(st.sampled_from(holes), max_size=6)) if holes else []
    return tuple(
        Observation(f"o{i}", hole.tree_key, hole.key if draw(st.integers(0, 9)) else None, draw(acts), draw(days))
        for i, hole in enumerate(seen)
    )


@st.composite
def rule_sets(draw: st.DrawFn) -> RuleSet:
    name = draw(st.sampled_from(available()))
    bounds = load(name).figures
    overrides: dict[str, float] = {}
    if draw(st.booleans()):
        least = bounds["return_after_years"].least
        overrides["return_after_years"] = draw(st.integers(int(least), 7))
    if draw(st.booleans()):
        overrides["unfit_open_after_years"] = draw(st.integers(0, 6))
    if draw(st.booleans()):
        options = [d for d in LIMITS_MM if d >= bounds["least_diameter_mm"].least]
        overrides["least_diameter_mm"] = draw(st.sampled_from(options))
    return load(name, overrides)


@st.composite
def plain_stands(draw: st.DrawFn) -> Stand:
    """Thick sound birches on a few roots, so that nothing but their holes speaks."""
    grown = tuple(
        Tree(f"k{i}", f"B{i}", (25 + i / 1024, 60.0), "birch", rootstock=draw(st.sampled_from([None, "r1", "r2"])))
        for i in range(draw(st.integers(1, 6)))
    )
    measured = tuple(Measurement(f"m{t.key}", t.key, None, 2000.0, None, "", "mm") for t in grown)
    tapped = st.integers(2020, 2026).map(lambda year: date(year, 4, 1))
    holes = [
        TapHole(f"{t.key}h{i}", t.key, i, Wound.HOLE, draw(tapped))
        for t in grown
        for i in range(draw(st.integers(0, 2)))
    ]
    return Stand(grown, measured, tuple(holes), observations=draw(looks(holes)))


def assert_equal(stand: Stand, season: int, rules: RuleSet) -> None:
    codes, back_in = verdict_columns(columns(stand), season, rules)
    context = ground_context(stand, season, rules)
    judged = [judge_tree(stand, tree, season, rules, context) for tree in stand.present]
    assert [CODES[code] for code in codes] == [j.verdict for j in judged]
    assert back_in.tolist() == [j.back_in or 0 for j in judged]


@settings(deadline=None)
@given(plain_stands(), st.integers(2022, 2028), st.integers(3, 5))
def test_columns_and_judgements_agree_on_rest(stand: Stand, season: int, rest: int) -> None:
    assert_equal(stand, season, load("cautious", {"return_after_years": rest, "unfit_open_after_years": rest - 2}))


def test_an_untapped_tree_never_rests_not_even_in_the_first_years() -> None:
    girth = Measurement("m", "k", None, 2000.0, None, "", "mm")
    stand = Stand((Tree("k", "B", (25.0, 60.0), "birch"),), (girth,))
    assert verdict_columns(columns(stand), 1, load("cautious"))[0].tolist() == [CODES.index(Verdict.READY)]
    assert_equal(stand, 1, load("cautious"))


@settings(max_examples=150, deadline=None)
@given(stands(), years, rule_sets())
def test_columns_equal_the_judgement_of_every_tree(stand: Stand, season: int, rules: RuleSet) -> None:
    assert_equal(stand, season, rules)


@settings(max_examples=150, deadline=None)
@given(stands(), years, rule_sets())
def test_a_verdict_never_stands_without_its_reason(stand: Stand, season: int, rules: RuleSet) -> None:
    context = ground_context(stand, season, rules)
    for tree in stand.present:
        judged = judge_tree(stand, tree, season, rules, context)
        against = [r for r in judged.reasons if r.against]
        speaks = judged.verdict not in (Verdict.READY, Verdict.GIVING)
        assert bool(against) == speaks or judged.verdict is Verdict.GIVING
        assert (judged.back_in is not None) == (judged.verdict in (Verdict.GIVING, Verdict.RESTING))
        assert (judged.holes_allowed > 0) == (judged.verdict is Verdict.READY) or judged.verdict is Verdict.GIVING
        own = [h for h in stand.holes_of.get(tree.key, ()) if h.season <= season]
        if judged.verdict is Verdict.READY and own:
            assert season >= own[-1].season + rules.return_after_years
        assert all(r.rule and r.text and r.source for r in judged.reasons)


@given(plain_stands(), st.integers(2024, 2032), st.data())
@settings(max_examples=60)
def test_trees_tapped_in_thought_are_judged_like_trees_that_were(
    stand: Stand, season: int, data: st.DataObject
) -> None:
    count = len(stand.present)
    taps = data.draw(st.lists(st.tuples(st.integers(0, count - 1), st.integers(2026, 2031)), max_size=6, unique=True))
    rules = load("cautious")
    made = tuple(
        TapHole(f"plan{n}", stand.present[row].key, 90 + n, Wound.HOLE, date(year, 3, 20))
        for n, (row, year) in enumerate(taps)
    )
    in_thought = also_tapped(columns(stand), [row for row, _ in taps], [year for _, year in taps])
    codes, back_in = verdict_columns(in_thought, season, rules)
    its_codes, its_back_in = verdict_columns(columns(replace(stand, holes=(*stand.holes, *made))), season, rules)
    assert np.array_equal(codes, its_codes)
    assert np.array_equal(back_in, its_back_in)
    assert same_columns(in_thought, columns(stand)) == (not taps)


def test_columns_have_one_row_a_present_tree() -> None:
    stand = Stand(trees=(Tree("a", "A", (25.0, 60.0)), Tree("b", "B", (25.0, 60.0), standing=Standing.MERGED)))
    cols = columns(stand)
    codes, back_in = verdict_columns(cols, 2026, load("cautious"))
    assert cols.keys == ("a",)
    assert (codes.dtype.name, back_in.dtype.name) == ("uint8", "int32")
    assert codes.tolist() == [CODES.index(Verdict.UNSURE)]


def test_an_empty_stand_and_an_impossible_season() -> None:
    codes, back_in = verdict_columns(columns(Stand()), 2026, load("cautious"))
    assert len(codes) == len(back_in) == 0
    with pytest.raises(UserError, match="not a year"):
        verdict_columns(columns(Stand()), -5, load("cautious"))


@pytest.mark.parametrize(
    ("years", "season", "unfit"), [(5, 2026, True), (5, 2025, False), (6, 2026, False), (0, 2026, False)]
)
def test_a_wound_seen_open_for_too_long_makes_its_tree_unfit_in_both(years: int, season: int, unfit: bool) -> None:
    hole = TapHole("h", "k", 2, Wound.HOLE, date(2020, 4, 1))
    seen = Observation("o", "k", "h", Act.SEEN_OPEN, date(2026, 9, 5))
    girth = Measurement("m", "k", None, 2000.0, None, "", "mm")
    stand = Stand((Tree("k", "B", (25.0, 60.0), "birch"),), (girth,), (hole,), observations=(seen,))
    rules = load("cautious", {"unfit_open_after_years": years})
    assert_equal(stand, season, rules)
    judged = judge_tree(stand, stand.trees[0], season, rules)
    assert (judged.verdict is Verdict.UNFIT) is unfit
    reasons = [r.text for r in judged.reasons if r.against]
    wanted = "hole 2 of 2020 was still open on 2026-09-05: unfit past 5 years"
    assert reasons == ([wanted] if unfit else [])


def test_a_wound_that_nobody_looked_at_or_that_was_seen_closed_later_speaks_against_nothing() -> None:
    hole = TapHole("h", "k", 1, Wound.HOLE, date(2010, 4, 1))
    girth = Measurement("m", "k", None, 2000.0, None, "", "mm")
    tree = Tree("k", "B", (25.0, 60.0), "birch")
    closed = Observation("c", "k", "h", Act.SEEN_CLOSED, date(2025, 9, 5))
    opened = Observation("o", "k", "h", Act.SEEN_OPEN, date(2024, 9, 5))
    for seen, season, verdict in (
        ((), 2026, Verdict.READY),
        ((Observation("l", "k", "h", Act.LOOKED_AT, date(2024, 9, 5)),), 2026, Verdict.READY),
        ((Observation("t", "k", None, Act.SEEN_OPEN, date(2024, 9, 5)),), 2026, Verdict.READY),
        ((opened,), 2026, Verdict.UNFIT),
        ((closed, opened), 2026, Verdict.READY),
        ((closed, opened), 2024, Verdict.UNFIT),
    ):
        stand = Stand((tree,), (girth,), (hole,), observations=seen)
        assert judge_tree(stand, tree, season, load("cautious")).verdict is verdict
        assert_equal(stand, season, load("cautious"))
