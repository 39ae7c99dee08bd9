"""Published figures of the rule sets, written out again beside their sources."""

import math

import pytest

from standmap.rules.ruleset import load

LITHUANIA = "Lithuanian rules on the use of wild plants"
BELARUS = "Belarusian Ministry of Forestry"
RUSSIA = "docs.cntd.ru 819007490, art. 8"
ALASKA = "Cascio & Barber, Backyard Birch Tapping & Syrup Basics, UAF Cooperative Extension"
FINLAND = "Finnish Forest Centre, Metsään-lehti 2019-05-09"
SEINAJOKI = "Seinäjoki UAS, Kevät on koivunmahlan aikaa"
MAPLE = "Univ. of Maryland teaching slides"
MAINE = "Univ. of Maine Extension bulletin 7036"
NE_155 = "Gibbs & Smith 1973, USDA FS Research Note NE-155"
NOBODY = "common practice, no source"


@pytest.mark.parametrize(
    ("rule_set", "figure", "value", "source"),
    [
        # Lithuania, state land: dbh >= 20 cm at about 1.3 m; hole at most 1 m up, 2 cm wide, 3 cm deep; plug.
        ("lithuania-state-land", "least_diameter_mm", 200, LITHUANIA),
        ("lithuania-state-land", "measuring_height_mm", 1300, LITHUANIA),
        ("lithuania-state-land", "hole_height_most_mm", 1000, LITHUANIA),
        ("lithuania-state-land", "hole_width_mm", 20, LITHUANIA),
        ("lithuania-state-land", "hole_depth_most_mm", 30, LITHUANIA),
        ("lithuania-state-land", "spacing_mm", 100, LITHUANIA),
        ("lithuania-state-land", "plug", True, LITHUANIA),
        # Belarus: 35-50 cm above the root collar, 1 cm wide, 2-3 cm deep, 20 cm from an old hole, plug and wax.
        ("belarus", "least_diameter_mm", 200, BELARUS),
        ("belarus", "hole_height_least_mm", 350, BELARUS),
        ("belarus", "hole_height_most_mm", 500, BELARUS),
        ("belarus", "hole_width_mm", 10, BELARUS),
        ("belarus", "hole_depth_least_mm", 20, BELARUS),
        ("belarus", "hole_depth_most_mm", 30, BELARUS),
        ("belarus", "spacing_mm", 200, BELARUS),
        ("belarus", "plug", True, BELARUS),
        # Russia, one region, own use: dbh > 20 cm, one hole, at most 1 cm wide and 2 cm deep, 20-35 cm up, plug.
        ("russia-own-use", "least_diameter_mm", 200, RUSSIA),
        ("russia-own-use", "hole_width_mm", 10, RUSSIA),
        ("russia-own-use", "hole_depth_most_mm", 20, RUSSIA),
        ("russia-own-use", "hole_height_least_mm", 200, RUSSIA),
        ("russia-own-use", "hole_height_most_mm", 350, RUSSIA),
        ("russia-own-use", "plug", True, RUSSIA),
        # Alaska: dbh >= 8 in; bit 7/16 or 5/16 in; about 1.5 in deep, about 4 ft up.
        ("alaska", "least_diameter_mm", 203.2, ALASKA),
        ("alaska", "hole_width_mm", 7.9375, ALASKA),
        ("alaska", "hole_depth_most_mm", 38.1, ALASKA),
        ("alaska", "hole_height_most_mm", 1219.2, ALASKA),
        ("alaska", "measuring_height_mm", 1371.6, MAINE),
        # Finland: 20 cm wanted; the same tree about ten years running, a new hole each year.
        ("finland", "least_diameter_mm", 200, FINLAND),
        ("finland", "measuring_height_mm", 1300, SEINAJOKI),
        ("finland", "return_after_years", 1, FINLAND),
        # Maple, conservative: from 12 in; UVM 2-4 in sideways from last year's hole.
        ("maple-conservative", "least_diameter_mm", 304.8, MAPLE),
        ("maple-conservative", "measuring_height_mm", 1371.6, MAINE),
        ("maple-conservative", "spacing_mm", 101.6, "UVM, via The Maple News"),
        # Maple: nearly all holes closed after 3 growing seasons.
        ("maple-conservative", "look_after_seasons", 3, NE_155),
        # The cautious set: common practice, 9 in at 1.3 m, a hole 10 mm wide, 10-15 mm deep, four years, plug.
        ("cautious", "least_diameter_mm", 228.6, NOBODY),
        ("cautious", "measuring_height_mm", 1300, NOBODY),
        ("cautious", "return_after_years", 4, NOBODY),
        ("cautious", "hole_width_mm", 10, NOBODY),
        ("cautious", "hole_depth_least_mm", 10, NOBODY),
        ("cautious", "hole_depth_most_mm", 15, NOBODY),
        ("cautious", "plug", True, NOBODY),
        ("cautious", "plug_within_days", 0, NOBODY),
    ],
)
def test_each_figure_is_the_published_one(rule_set: str, figure: str, value: float, source: str) -> None:
    found = load(rule_set).figure(figure)
    assert found.value == value
    assert source in found.source
    assert "not in this source" not in found.source


@pytest.mark.parametrize(
    ("rule_set", "steps", "source"),
    [
        # Classes of whole centimetres: 20-26 1, 27-34 2, 35-40 3, over 40 4.
        ("belarus", [(200, 1), (270, 2), (350, 3), (410, 4)], BELARUS),
        # 12-18 in 1, from 18 in 2.
        ("maple-conservative", [(304.8, 1), (457.2, 2)], MAPLE),
        ("russia-own-use", [(0, 1)], RUSSIA),
        ("cautious", [(0, 1)], NOBODY),
    ],
)
def test_holes_by_diameter(rule_set: str, steps: list[tuple[float, int]], source: str) -> None:
    found = load(rule_set).hole_steps
    assert [(s.from_diameter_mm, s.holes) for s in found] == steps
    assert all(source in s.source for s in found)


@pytest.mark.parametrize("rule_set", ["lithuania-state-land", "alaska", "finland"])
def test_where_no_number_of_holes_is_published_one_is_taken_and_told(rule_set: str) -> None:
    (step,) = load(rule_set).hole_steps
    assert step.holes == 1
    assert step.source == f"not in this source; {NOBODY}"


@pytest.mark.parametrize(
    "rule_set", ["lithuania-state-land", "belarus", "russia-own-use", "alaska", "maple-conservative"]
)
def test_where_no_rest_is_published_the_cautious_one_is_taken_and_told(rule_set: str) -> None:
    figure = load(rule_set).figure("return_after_years")
    assert figure.value == 4
    assert figure.least == 3
    assert figure.source == f"not in this source; {NOBODY}"


@pytest.mark.parametrize("figure", ["tube_most_days", "trim_after_days", "look_after_seasons"])
def test_what_nobody_has_published_for_birch_is_told_as_an_assumption(figure: str) -> None:
    assert load("cautious").figure(figure).source.startswith("assumption")
    for other in ("lithuania-state-land", "belarus", "russia-own-use", "alaska", "finland"):
        assert load(other).figure(figure).source.startswith("not in this source; assumption")


def test_the_look_at_birch_names_the_maple_figure_as_context() -> None:
    source = load("cautious").figure("look_after_seasons").source
    assert "no figure for birch was found" in source
    assert NE_155 in source


@pytest.mark.parametrize(
    ("rule_set", "words"),
    [
        ("lithuania-state-land", "felled within 5 years"),
        ("belarus", "last 5 years before felling"),
        ("russia-own-use", "taller than 20 m"),
        ("finland", "50 m from a road"),
    ],
)
def test_what_a_rule_also_asks_is_among_its_cautions(rule_set: str, words: str) -> None:
    assert words in " ".join(load(rule_set).cautions)


def test_more_than_twenty_is_not_twenty() -> None:
    assert load("russia-own-use").figure("least_diameter_mm").beyond
    for other in ("lithuania-state-land", "belarus", "alaska", "finland", "maple-conservative", "cautious"):
        assert not load(other).figure("least_diameter_mm").beyond


def test_the_coloured_string_of_the_maple_slides() -> None:
    # A 57 in string whose last 19 in are coloured: 18 pi = 56.5 in and 12 pi = 37.7 in (North American guidelines).
    one, two = (s.from_diameter_mm / 25.4 * math.pi for s in load("maple-conservative").hole_steps)
    assert one == pytest.approx(37.7, abs=0.05)
    assert two == pytest.approx(56.5, abs=0.05)
