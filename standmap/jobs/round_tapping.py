"""The tapping walk: which marked trees may be drilled on a day, where on the stem, and what to ask at each."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from standmap.jobs.judge_one import judge_one
from standmap.jobs.mark import plans_of
from standmap.jobs.planned_round import Todo
from standmap.jobs.round_stem import place_on_stem
from standmap.jobs.round_stops import PRACTICE, Asked, AskedStop, LeftOut, named_or_all
from standmap.rules.decisions import Fit, fit_of
from standmap.rules.ground import ground_context, inside_areas
from standmap.rules.judgement import Judgement, Verdict
from standmap.rules.ruleset import RuleSet
from standmap.sap.night import NightRun
from standmap.stand.ground import AreaKind
from standmap.stand.records import Plan
from standmap.stand.snapshot import Stand
from standmap.stand.tree import Tree

MAY_BE_ASKED = (Verdict.READY, Verdict.GIVING, Verdict.UNSURE)
"""With these one goes and looks; what speaks against the others does not change at the tree."""

MOST_REASONS = 2
"""Reasons told at a stop; the tree's card has them all."""


@dataclass(frozen=True, slots=True)
class Hung:
    """What is hung at each hole: the usual vessel in millilitres, and what one weighs empty."""

    vessel_ml: float
    vessel_kg: float


def tapping_stops(
    stand: Stand,
    plans: Iterable[Plan],
    day: date,
    names: Sequence[str],
    rules: RuleSet,
    hung: Hung,
    runs: Mapping[str, NightRun],
) -> Asked:
    """Return the holes that are still to be made in the trees marked for the day's season.

    Parameters
    ----------
    plans
        Marks of any season.
    names
        Names or ids of trees; all that are marked when empty.
    runs
        Of every marked tree, by its key.
    """
    season = day.year
    marked = plans_of(plans, season)
    trees = named_or_all(stand, names, (tree for tree in stand.present if tree.key in marked))
    ground = ground_context(stand, season, rules)
    left_out: list[LeftOut] = []
    stops: list[AskedStop] = []
    for tree in trees:
        plan = marked.get(tree.key)
        if plan is None:
            left_out.append((tree.name, f"not marked for {season}"))
            continue
        made = [hole for hole in stand.holes_of.get(tree.key, ()) if hole.season == season]
        if len(made) >= plan.holes:
            left_out.append((tree.name, f"tapped in {season} already"))
            continue
        judged = judge_one(stand, tree, season, rules, ground)
        why = _why_not(stand, tree, day, judged)
        if why:
            left_out.append((tree.name, why))
            continue
        first = max((hole.number for hole in made), default=0) + 1
        count = plan.holes - len(made)
        cautions = judged.cautions
        if judged.verdict is not Verdict.UNSURE and plan.holes > judged.holes_allowed:
            count = max(judged.holes_allowed - len(made), 0)
            cautions = (f"{plan.holes} holes marked, {judged.holes_allowed} allowed", *cautions)
        if not count:
            left_out.append((tree.name, "as many holes as are allowed are made already"))
        todo = _todo(stand, tree, day, judged, rules, hung)
        stops += [
            AskedStop(
                f"{tree.key}/{number}",
                tree,
                None,
                number,
                litres=runs[tree.key].median_ml / 1000,
                high_l=runs[tree.key].most_ml / 1000,
                night=runs[tree.key],
                left_kg=hung.vessel_kg,
                todo=todo,
                cautions=cautions,
            )
            for number in range(first, first + count)
        ]
    return Asked(tuple(stops), tuple(left_out))


def _why_not(stand: Stand, tree: Tree, day: date, judged: Judgement) -> str:
    """Return why a marked tree is not walked to, empty where one goes and looks."""
    if judged.verdict not in MAY_BE_ASKED:
        against = [reason.text for reason in judged.reasons if reason.against]
        back = f", back in {judged.back_in}" if judged.back_in is not None else ""
        return f"may not be drilled: {judged.verdict}{back} ({'; '.join(against[:MOST_REASONS])})"
    return _permission(stand, tree, day)[1]


def _permission(stand: Stand, tree: Tree, day: date) -> tuple[str, str]:
    """Return which permission holds on the day, in words, and why none does where there is one on other days."""
    permitted = [area for area in stand.areas if area.kind is AreaKind.PERMITTED]
    if not permitted:
        return "", ""
    around = [area for area, row in zip(permitted, inside_areas(permitted, [tree]), strict=True) if row[0]]
    holding = [area for area in around if (area.from_date or date.min) <= day <= (area.until_date or date.max)]
    if holding:
        area = holding[0]
        whose = area.owner or "the owner"
        until = f" until {area.until_date.isoformat()}" if area.until_date else ""
        return f"permitted by {whose}{until}", ""
    if not around:
        return "", "may not be drilled: it stands in no permitted area"
    first = min((a.from_date for a in around if a.from_date and a.from_date > day), default=None)
    when = f"the permission begins on {first.isoformat()}" if first else "the permission is over"
    return "", f"may not be drilled on {day.isoformat()}: {when}"


def _todo(stand: Stand, tree: Tree, day: date, judged: Judgement, rules: RuleSet, hung: Hung) -> tuple[Todo, ...]:
    steps = [Todo(f"read the tag: {tree.name}", PRACTICE)]
    against = [r for r in judged.reasons if r.against] if judged.verdict is Verdict.UNSURE else []
    # What speaks in favour ends with thickness and rest; owner and species have lines of their own below.
    told = against[:MOST_REASONS] if against else [r for r in judged.reasons if not r.against][-MOST_REASONS:]
    because = "; ".join(reason.text for reason in told)
    answer = {Verdict.UNSURE: "not before this is known"}.get(judged.verdict, "yes")
    steps.append(
        Todo(
            f"may I drill this one? {answer}: {because}" if because else f"may I drill this one? {answer}",
            _whose(told[0].rule, told[0].source) if told else rules.title,
        )
    )
    steps.append(_species(tree, rules))
    permission = _permission(stand, tree, day)[0]
    if permission:
        steps.append(Todo(permission, "this stand's record"))
    steps += place_on_stem(stand, tree, day, rules)
    steps.append(_drilling(rules))
    steps.append(Todo(f"set the tube and hang a vessel of {hung.vessel_ml / 1000:g} L", PRACTICE))
    steps.append(Todo("write down height, side, depth and bit"))
    return tuple(steps)


def _species(tree: Tree, rules: RuleSet) -> Todo:
    fit, found = fit_of(tree.species, rules.species)
    if fit is Fit.SPECIES and found is not None:
        return Todo(f"be sure of the tree: {found.text}, as noted", _whose(rules.title, rules.species_source))
    noted = f"noted as '{tree.species}'" if tree.species else "its species is not noted"
    return Todo(f"be sure of the tree before drilling: {noted}", _whose(rules.title, rules.species_source))


def _drilling(rules: RuleSet) -> Todo:
    """Return how a hole is drilled under the rule set."""
    width, deepest = rules.figure("hole_width_mm"), rules.figure("hole_depth_most_mm")
    least = rules.figure("hole_depth_least_mm")
    deep = f"{least.value:g} to {deepest.value:g} mm" if least.value < deepest.value else f"{deepest.value:g} mm"
    told = [f"drill {width.value:g} mm wide, {deep} deep in the wood"]
    low, high = (rules.figures.get(f"hole_height_{end}_mm") for end in ("least", "most"))
    if low is not None and high is not None:
        told.append(f"{low.value:g} to {high.value:g} mm above the ground")
    elif low is not None:
        told.append(f"at least {low.value:g} mm above the ground")
    elif high is not None:
        told.append(f"at most {high.value:g} mm above the ground")
    sources = dict.fromkeys(f.source for f in (width, least, deepest, low, high) if f is not None)
    return Todo(", ".join(told), _whose(rules.title, "; ".join(sources)))


def _whose(rule: str, source: str) -> str:
    return f"{rule}: {source}" if source else rule
