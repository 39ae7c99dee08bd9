import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from standmap.rules.decisions import Fit, fit_of
from standmap.rules.ruleset import available, load
from standmap.rules.species import known_binomials, recognise


@pytest.mark.parametrize(
    "text",
    [
        "Betula pendula",
        "  betula   PENDULA ",
        "Betula_pendula",
        "Betula pendula Roth",
        "B. pendula",
        "silver birch",
        "Silver-Birch",
        "Betula verrucosa",
        "Betula pendula var. carelica",
    ],
)
def test_one_species_by_its_many_names(text: str) -> None:
    found = recognise(text)
    assert found is not None
    assert found.binomial == "Betula pendula"


@pytest.mark.parametrize(
    "text",
    [
        "Betula",
        "birch",
        "BIRCH",
        "Betula sp.",
        "Betula spp",
        "birch?",
        "Betula cf. pendula",
        "Betula pendula?",
        "silver birch?",
        "Betula pendula × pubescens",
        "Betula ×aurata",
        "white birch",
    ],
)
def test_a_name_in_doubt_is_a_genus_and_no_more(text: str) -> None:
    found = recognise(text)
    assert found is not None
    assert (found.genus, found.binomial) == ("Betula", None)


@pytest.mark.parametrize(
    "text", ["", " ", "?", "oak", "Picea abies", "Betula imaginaria", "Betula pendula dead", "x", "birch polypore"]
)
def test_other_names_are_not_guessed(text: str) -> None:
    assert recognise(text) is None


@settings(deadline=None)
@given(st.text(max_size=40))
def test_any_text_is_a_known_tree_or_none(text: str) -> None:
    found = recognise(text)
    assert found is None or found.binomial is None or found.binomial in known_binomials()


@pytest.mark.parametrize(
    ("rule_set", "text", "fit"),
    [
        ("cautious", "Betula pubescens", Fit.SPECIES),
        ("cautious", "Betula nana", Fit.OTHER),
        ("cautious", "Acer saccharum", Fit.OTHER),
        ("cautious", "maple", Fit.OTHER),
        ("cautious", "birch", Fit.GENUS_ONLY),
        ("alaska", "Betula pendula", Fit.OTHER),
        ("alaska", "paper birch", Fit.SPECIES),
        ("lithuania-state-land", "Norway maple", Fit.SPECIES),
        ("lithuania-state-land", "maple", Fit.GENUS_ONLY),
        ("maple-conservative", "sugar maple", Fit.SPECIES),
        ("maple-conservative", "Betula pendula", Fit.OTHER),
        ("maple-conservative", "birch", Fit.OTHER),
        ("cautious", None, Fit.MISSING),
        ("cautious", "  ", Fit.MISSING),
    ],
)
def test_a_set_speaks_for_its_own_species_only(rule_set: str, text: str | None, fit: Fit) -> None:
    assert fit_of(text, load(rule_set).species)[0] is fit


def test_every_species_of_every_set_is_recognised_by_its_own_name() -> None:
    for name in available():
        for binomial in load(name).species:
            found = recognise(binomial)
            assert found is not None
            assert found.binomial == binomial
