"""Rule sets: what a published rule or common practice asks for, each figure with its source and its bounds.

A set is one TOML file under resources/rules/. What a set's own source does not say is taken from the cautious
set, and the figure tells so.
"""

from __future__ import annotations

import math
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache
from itertools import pairwise
from pathlib import Path

from standmap import assets
from standmap.errors import BugError, UserError
from standmap.rules.species import known_binomials

CAUTIOUS = "cautious"
"""Id of the set that speaks when no other is chosen, and that fills what another leaves open."""

UNITS: Mapping[str, str] = {
    "least_diameter_mm": "mm",
    "measuring_height_mm": "mm",
    "return_after_years": "years",
    "hole_width_mm": "mm",
    "hole_depth_least_mm": "mm",
    "hole_depth_most_mm": "mm",
    "hole_height_least_mm": "mm",
    "hole_height_most_mm": "mm",
    "spacing_mm": "mm",
    "plug": "yes or no",
    "tube_most_days": "days",
    "plug_within_days": "days",
    "trim_after_days": "days",
    "look_after_seasons": "growing seasons",
    "closes_after_seasons": "growing seasons",
    "unfit_open_after_years": "years",
    "old_measurement_years": "years",
    "mistake_sigma_m": "m",
}
"""Every figure that a set may give, and its unit."""

OPTIONAL = frozenset({"hole_height_least_mm", "hole_height_most_mm"})
"""Figures that the cautious set leaves out as well."""

WHOLE = frozenset(
    {
        "return_after_years",
        "old_measurement_years",
        "plug",
        "tube_most_days",
        "plug_within_days",
        "trim_after_days",
        "look_after_seasons",
        "closes_after_seasons",
        "unfit_open_after_years",
    }
)
"""Figures that are counted, not measured."""

PAIRS = (("hole_depth_least_mm", "hole_depth_most_mm"), ("hole_height_least_mm", "hole_height_most_mm"))


@dataclass(frozen=True, slots=True)
class Figure:
    """One number of a rule set.

    Attributes
    ----------
    name
        With its unit, such as `least_diameter_mm`.
    value
        In the unit of the name; `plug` is a bool.
    source
        Who says so, or "common practice, no source".
    least, most
        Bounds of what a person may set, both included.
    given
        The figure as its source writes it, such as "9 in".
    beyond
        True where the figure itself is not enough and must be exceeded ("more than 20 cm").
    lent
        True where the set says nothing of it, so that the cautious set's figure stands in.
    """

    name: str
    value: float
    unit: str
    source: str
    least: float
    most: float
    given: str
    beyond: bool = False
    lent: bool = False


@dataclass(frozen=True, slots=True)
class HoleStep:
    """So many holes in one season from this diameter on."""

    from_diameter_mm: float
    holes: int
    source: str


@dataclass(frozen=True, slots=True)
class RuleSet:
    """What one source asks for.

    Attributes
    ----------
    figures
        By name; every name of `UNITS` but perhaps those of `OPTIONAL`.
    hole_steps
        Thinnest first.
    species
        Binomials that may be tapped under this set.
    notes
        What a person should know who chooses this set.
    cautions
        What the set also asks for and no record here can show; told with every tree that is ready.
    """

    id: str
    title: str
    about: str
    figures: Mapping[str, Figure]
    hole_steps: tuple[HoleStep, ...]
    species: tuple[str, ...]
    species_source: str
    notes: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()

    def figure(self, name: str) -> Figure:
        """Return a figure that every set has."""
        return self.figures[name]

    def value(self, name: str) -> float:
        """Return the value of a figure that every set has, in the unit of its name."""
        return self.figures[name].value

    @property
    def least_diameter_mm(self) -> float:
        """The thinnest stem that may be tapped."""
        return self.value("least_diameter_mm")

    @property
    def return_after_years(self) -> int:
        """A tree tapped in season Y may be tapped again in season Y plus this."""
        return int(self.value("return_after_years"))

    @property
    def unfit_open_after_years(self) -> int:
        """A tree with a wound seen open more than so many years after its season is not tapped; 0 for never."""
        return int(self.value("unfit_open_after_years"))


def available() -> tuple[str, ...]:
    """Return the ids of all rule sets, the cautious one first."""
    found = sorted(p.stem for p in assets.resource("rules").glob("*.toml"))
    return tuple(sorted(found, key=lambda name: name != CAUTIOUS))


def load(rule_set_id: str, overrides: Mapping[str, float] | None = None) -> RuleSet:
    """Return a rule set, with the figures that a person has set for the stand in place of its own.

    Raises
    ------
    UserError
        If there is no such set or figure, or a value is outside the figure's bounds.
    BugError
        If one of our own files is broken.
    """
    if rule_set_id not in available():
        raise UserError(f"there is no rule set '{rule_set_id[:60]}'", f"choose one of {', '.join(available())}")
    rules = _shipped(rule_set_id)
    if not overrides:
        return rules
    figures = dict(rules.figures)
    for name, value in overrides.items():
        if name not in figures:
            raise UserError(
                f"the rule set '{rules.id}' has no figure '{name[:60]}'", f"its figures are {', '.join(figures)}"
            )
        figures[name] = _set_for_stand(figures[name], value, rules.title)
    for low, high in PAIRS:
        if low in figures and high in figures and figures[low].value > figures[high].value:
            raise UserError(
                f"{low} {figures[low].value:g} is above {high} {figures[high].value:g}",
                "set both so that the least does not pass the most",
            )
    return replace(rules, figures=figures)


def _set_for_stand(figure: Figure, value: float, title: str) -> Figure:
    bounds = f"set it between {figure.least:g} and {figure.most:g} ({figure.unit})"
    if not math.isfinite(value) or (figure.name in WHOLE and value != int(value)):
        wanted = "a whole number" if figure.name in WHOLE else "a number"
        raise UserError(f"{figure.name} {value:g} is not {wanted}", bounds)
    if value < figure.least:
        raise UserError(f"{figure.name} {value:g} is below {figure.least:g}, the least under {title}", bounds)
    if value > figure.most:
        raise UserError(f"{figure.name} {value:g} is above {figure.most:g}, the most under {title}", bounds)
    return replace(
        figure,
        value=bool(value) if figure.name == "plug" else int(value) if figure.name in WHOLE else float(value),
        given=f"{value:g} {figure.unit}",
        source=f"set for this stand, in place of {figure.given} ({figure.source})",
        lent=False,
    )


@cache
def _shipped(rule_set_id: str) -> RuleSet:
    path = assets.resource("rules", f"{rule_set_id}.toml")
    return read_rule_set(path, None if rule_set_id == CAUTIOUS else _shipped(CAUTIOUS))


def read_rule_set(path: Path, cautious: RuleSet | None) -> RuleSet:
    """Read and check one of our own files.

    Parameters
    ----------
    cautious
        The set that fills what this one leaves open; absent when it is the cautious set that is read.

    Raises
    ------
    BugError
        If the file is not a whole and sensible rule set.
    """
    try:
        raw = tomllib.loads(path.read_text(encoding="utf-8"))
        rules = RuleSet(
            id=raw["id"],
            title=raw["title"],
            about=raw["about"],
            figures={name: Figure(name=name, **rest) for name, rest in raw["figures"].items()},
            hole_steps=tuple(HoleStep(**step) for step in raw.get("hole_steps", ())),
            species=tuple(raw["species"]["names"]),
            species_source=raw["species"]["source"],
            notes=tuple(raw["notes"]),
            cautions=tuple(raw["cautions"]),
        )
        if cautious is not None:
            rules = _filled(rules, cautious)
        wrong = _faults(rules, path.stem)
    except (OSError, ValueError, KeyError, TypeError, AttributeError) as error:
        raise BugError(f"rule set {path.name}: {error!r}") from error
    if wrong:
        raise BugError(f"rule set {path.name}: {'; '.join(wrong)}")
    return rules


def _filled(rules: RuleSet, cautious: RuleSet) -> RuleSet:
    missing = "not in this source; "
    figures = {
        name: rules.figures[name]
        if name in rules.figures
        else replace(cautious.figures[name], source=missing + cautious.figures[name].source, lent=True)
        for name in [*UNITS, *(name for name in rules.figures if name not in UNITS)]
        if name in rules.figures or name in cautious.figures
    }
    steps = rules.hole_steps or tuple(replace(s, source=missing + s.source) for s in cautious.hole_steps)
    return replace(rules, figures=figures, hole_steps=steps)


def _faults(rules: RuleSet, stem: str) -> list[str]:
    wrong = [] if rules.id == stem else [f"its id is '{rules.id}'"]
    wrong += [f"no {name}" for name in UNITS if name not in OPTIONAL and name not in rules.figures]
    for figure in rules.figures.values():
        if figure.unit != UNITS.get(figure.name):
            wrong.append(f"{figure.name} in {figure.unit}")
        if not figure.least <= figure.value <= figure.most:
            wrong.append(f"{figure.name} outside its own bounds")
        if not (figure.source and figure.given):
            wrong.append(f"{figure.name} without a source or the figure as given")
        if figure.name in WHOLE and figure.value != int(figure.value):
            wrong.append(f"{figure.name} is not whole")
    for low, high in PAIRS:
        if low in rules.figures and high in rules.figures and rules.value(low) > rules.value(high):
            wrong.append(f"{low} above {high}")
    steps = rules.hole_steps
    if not steps or (not wrong and steps[0].from_diameter_mm > rules.figure("least_diameter_mm").least):
        wrong.append("the thinnest stem that may be tapped has no number of holes")
    if any(a.from_diameter_mm >= b.from_diameter_mm or a.holes > b.holes for a, b in pairwise(steps)):
        wrong.append("hole steps out of order")
    if any(step.holes < 1 or not step.source for step in steps):
        wrong.append("a hole step without holes or source")
    if not rules.species or not rules.species_source:
        wrong.append("no species or no source for them")
    wrong += [f"unknown species {name}" for name in rules.species if name not in known_binomials()]
    return wrong
