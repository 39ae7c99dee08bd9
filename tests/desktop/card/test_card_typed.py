"""What is typed on the card, without a window: read as meant, or refused in one line."""

from __future__ import annotations

from datetime import date, time

import pytest

from standmap.desktop.card import typed
from standmap.errors import UserError
from standmap.formats.quantities import Thickness
from standmap.stand.snapshot import Stand
from standmap.stand.tree import Tree
from standmap.units_shown import System, UnitsShown

METRIC, IMPERIAL, US = (UnitsShown(system) for system in (System.METRIC, System.IMPERIAL, System.US))
TODAY = date(2026, 3, 28)
ONE, OTHER = Tree("1", "B1", (27.0, 62.0)), Tree("2", "B2", (27.0, 62.0))
STAND = Stand(trees=(ONE, OTHER))


@pytest.mark.parametrize(
    ("text", "units", "given"),
    [
        ("842", METRIC, ("842", "mm")),
        ("84,2 cm", METRIC, ("84,2", "cm")),
        ("0.842m", METRIC, ("0.842", "m")),
        ("33.1", US, ("33.1", "in")),
        ("33.1", IMPERIAL, ("33.1", "in")),
        ("842 mm", US, ("842", "mm")),
        ("2.5 ft", US, ("2.5", "ft")),
    ],
)
def test_a_girth_keeps_the_words_it_was_given_in(text: str, units: UnitsShown, given: tuple[str, str]) -> None:
    assert typed.thickness_as_given(text, units, Thickness.GIRTH) == given


@pytest.mark.parametrize("text", ["0", "9 m", "", "thick", "-3 cm", "84 leagues", "1e9 mm", "9" * 10_000, "🌳"])
def test_a_girth_that_cannot_be_is_refused_in_one_short_line(text: str) -> None:
    with pytest.raises(UserError) as refused:
        typed.thickness_as_given(text, METRIC, Thickness.GIRTH)
    assert refused.value.remedy
    assert len(str(refused.value)) < 250
    assert "\n" not in str(refused.value)


def test_a_diameter_is_bounded_as_the_girth_it_makes() -> None:
    assert typed.thickness_as_given("1.8 m", METRIC, Thickness.DIAMETER) == ("1.8", "m")
    with pytest.raises(UserError, match="a girth of 6283 mm"):
        typed.thickness_as_given("2 m", METRIC, Thickness.DIAMETER)


@pytest.mark.parametrize(
    ("text", "degrees"),
    [("", None), ("0", 0.0), ("360", 0.0), ("210°", 210.0), ("sw", 225.0), (" NW ", 315.0), ("22,5", 22.5)],
)
def test_sides_of_a_stem(text: str, degrees: float | None) -> None:
    assert typed.side_deg(text) == degrees


@pytest.mark.parametrize("text", ["up", "361", "-1", "nnw"])
def test_sides_that_are_none(text: str) -> None:
    with pytest.raises(UserError, match="is no side"):
        typed.side_deg(text)


def test_heights_depths_and_bits_have_bounds() -> None:
    assert typed.height_mm("", METRIC) is None
    assert typed.height_mm("90", METRIC) == 900.0
    assert typed.height_mm("0", METRIC) == 0.0
    assert typed.depth_mm("1.5", US) == pytest.approx(38.1)
    for read, text in (
        (typed.height_mm, "4 m"),
        (typed.depth_mm, "0"),
        (typed.depth_mm, "11 cm"),
        (typed.bit_mm, "60"),
    ):
        with pytest.raises(UserError, match="is not possible; give"):
            read(text, METRIC)


def test_volumes_say_whose_gallon() -> None:
    assert typed.volume("2.5", METRIC) == (2500.0, "2.5", "l")
    assert typed.volume("1 US gal", METRIC)[1:] == ("1", "us_gal")
    for text, why in (("3 gallons", "imperial or US"), ("-1", "cannot be what one hole gave"), ("61", "cannot be")):
        with pytest.raises(UserError, match=why):
            typed.volume(text, METRIC)


def test_days_and_times() -> None:
    assert typed.day("2026-03-28", TODAY) == TODAY
    assert typed.day("1.3.2026", TODAY) == date(2026, 3, 1)
    assert typed.clock("7:30") == time(7, 30)
    assert typed.clock("  ") is None
    for text, why in (("2026-03-29", "after today"), ("1789-07-14", "is the year right"), ("soon", "not a day")):
        with pytest.raises(UserError, match=why):
            typed.day(text, TODAY)


def test_grids_by_their_code() -> None:
    assert typed.epsg_code("EPSG:3067") == 3067
    assert typed.epsg_code("") is None
    assert typed.position("62 27", "") == (27.0, 62.0)
    for text in ("utm", "-1", "1" * 30):
        with pytest.raises(UserError, match="no EPSG code"):
            typed.epsg_code(text)


def test_other_trees_by_name() -> None:
    assert typed.other_tree(" b2 ", STAND, ONE) == OTHER
    assert typed.other_trees("B2, ", STAND, ONE) == [OTHER]
    for text, why in (("", "no tree is named"), ("B1", "that is B1 itself"), ("B9", "no tree is called 'B9'")):
        with pytest.raises(UserError, match=why):
            typed.other_trees(text, STAND, ONE)
