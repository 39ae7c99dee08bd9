import tomllib
from pathlib import Path

import pytest

from standmap import assets
from standmap.errors import BugError, UserError
from standmap.rules.ruleset import CAUTIOUS, OPTIONAL, UNITS, available, load, read_rule_set


def test_the_cautious_set_comes_first_and_at_least_three_published_ones_follow() -> None:
    assert available()[0] == CAUTIOUS
    assert len(available()) >= 4
    assert len({load(name).title for name in available()}) == len(available())


@pytest.mark.parametrize("name", available())
def test_every_figure_has_a_source_its_unit_and_bounds(name: str) -> None:
    rules = load(name)
    assert set(UNITS) - OPTIONAL <= set(rules.figures)
    for figure in rules.figures.values():
        assert figure.source.strip()
        assert figure.given.strip()
        assert figure.unit == UNITS[figure.name]
        assert figure.least <= figure.value <= figure.most
    assert all(step.source.strip() for step in rules.hole_steps)
    assert rules.species_source.strip()


@pytest.mark.parametrize("name", [n for n in available() if n != CAUTIOUS])
def test_what_a_published_set_does_not_say_is_the_cautious_figure_and_told_so(name: str) -> None:
    text = assets.resource("rules", f"{name}.toml").read_text(encoding="utf-8")
    own = set(tomllib.loads(text)["figures"])
    rules, cautious = load(name), load(CAUTIOUS)
    for figure in rules.figures.values():
        if figure.name in own:
            assert "common practice" not in figure.source
        else:
            assert figure.value == cautious.value(figure.name)
            assert figure.source == f"not in this source; {cautious.figure(figure.name).source}"


def test_an_unknown_set_is_refused_and_the_known_ones_are_listed() -> None:
    with pytest.raises(UserError, match="no rule set 'nowhere'") as caught:
        load("nowhere")
    assert all(name in caught.value.remedy for name in available())
    with pytest.raises(UserError):
        load("../species")


def test_three_years_is_the_least_rest_under_the_cautious_set() -> None:
    assert load(CAUTIOUS).return_after_years == 4
    assert load(CAUTIOUS, {"return_after_years": 3}).return_after_years == 3
    with pytest.raises(UserError, match="return_after_years 2 is below 3, the least under cautious set") as caught:
        load(CAUTIOUS, {"return_after_years": 2})
    assert "between 3 and 20" in caught.value.remedy
    with pytest.raises(UserError, match="is above 20"):
        load(CAUTIOUS, {"return_after_years": 21})


@pytest.mark.parametrize("name", available())
def test_bounds_hold_for_every_figure_of_every_set(name: str) -> None:
    for figure in load(name).figures.values():
        pair_free = "depth" not in figure.name and "hole_height" not in figure.name
        if pair_free:
            assert load(name, {figure.name: figure.least}).value(figure.name) == figure.least
            assert load(name, {figure.name: figure.most}).value(figure.name) == figure.most
        for outside in (figure.least - 1, figure.most + 1):
            with pytest.raises(UserError, match=figure.name):
                load(name, {figure.name: outside})


def test_a_figure_set_for_the_stand_says_so_and_keeps_the_original_source() -> None:
    figure = load(CAUTIOUS, {"least_diameter_mm": 254}).figure("least_diameter_mm")
    assert figure.value == 254
    assert figure.source.startswith("set for this stand")
    assert "9 in" in figure.source
    assert "common practice, no source" in figure.source
    assert load(CAUTIOUS).figure("least_diameter_mm").value == 228.6


@pytest.mark.parametrize(
    "overrides",
    [
        {"least_girth": 700.0},
        {"return_after_years": 3.5},
        {"return_after_years": float("nan")},
        {"least_diameter_mm": float("inf")},
        {"plug": 0.5},
        {"hole_depth_least_mm": 20.0, "hole_depth_most_mm": 15.0},
    ],
)
def test_what_makes_no_sense_is_refused(overrides: dict[str, float]) -> None:
    with pytest.raises(UserError) as caught:
        load(CAUTIOUS, overrides)
    assert caught.value.remedy


@pytest.mark.parametrize("name", ["tube_most_days", "plug_within_days", "trim_after_days", "look_after_seasons"])
def test_what_comes_after_tapping_is_counted_in_whole_days_or_seasons(name: str) -> None:
    figure = load(CAUTIOUS).figure(name)
    assert isinstance(figure.value, int)
    assert load(CAUTIOUS, {name: figure.most}).value(name) == figure.most
    with pytest.raises(UserError, match="is not a whole number"):
        load(CAUTIOUS, {name: figure.least + 0.5})


def test_a_plug_that_the_rule_demands_cannot_be_set_aside() -> None:
    assert load(CAUTIOUS, {"plug": 0}).value("plug") is False
    with pytest.raises(UserError):
        load("belarus", {"plug": 0})


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('id = "cautious"', 'id = "bold"'),
        ("value = 228.6", "value = 100.0"),
        ('unit = "mm"', 'unit = "cm"'),
        ("[figures.plug]", "[figures.stopper]"),
        ('source = "assumption"', 'source = ""'),
        ('source = "assumption"', ""),
        ("holes = 1", "holes = 0"),
        ("from_diameter_mm = 0.0", "from_diameter_mm = 300.0"),
        ('"Betula pendula"', '"Betula imaginaria"'),
        ("value = 4\n", "value = 4.5\n"),
        ("[species]", "[kinds]"),
        ("title =", "title"),
    ],
)
def test_a_broken_file_of_ours_is_our_mistake(tmp_path: Path, old: str, new: str) -> None:
    text = assets.resource("rules", "cautious.toml").read_text(encoding="utf-8")
    assert old in text
    broken = tmp_path / "cautious.toml"
    broken.write_text(text.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(BugError, match=r"cautious\.toml"):
        read_rule_set(broken, None)


def test_hole_steps_must_rise(tmp_path: Path) -> None:
    text = assets.resource("rules", "belarus.toml").read_text(encoding="utf-8")
    broken = tmp_path / "belarus.toml"
    broken.write_text(text.replace("from_diameter_mm = 350.0", "from_diameter_mm = 250.0"), encoding="utf-8")
    with pytest.raises(BugError, match="out of order"):
        read_rule_set(broken, load(CAUTIOUS))
