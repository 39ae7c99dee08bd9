"""What would make a tree ready? One plain answer to each reason against it."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from standmap.jobs.mark import limits_reached, plans_of
from standmap.rules.decisions import Fit, check_season, fit_of, gone_from, in_force, season_back
from standmap.rules.ground import GroundContext, full, ground_context
from standmap.rules.judgement import Reason, Verdict
from standmap.rules.reasons import CHECKS, Case, bench_for, case_of, giving
from standmap.rules.ruleset import RuleSet
from standmap.stand.ground import Area, AreaKind
from standmap.stand.records import Plan
from standmap.stand.snapshot import Stand
from standmap.stand.tree import Soundness, Tree


class Step(StrEnum):
    """What kind of step an answer asks for."""

    WAIT = "wait"
    MEASURE = "measure"
    GROW = "grow"
    LOOK = "look"
    SPECIES = "species"
    CONFIRM = "confirm"
    ASK_OWNER = "ask the owner"
    UNMARK = "unmark"
    NOTHING = "nothing"


@dataclass(frozen=True, slots=True)
class Answer:
    """One thing to do, and what it answers.

    Attributes
    ----------
    text
        In plain words.
    rule, source
        Whose rule it answers, and where that rule's figure comes from.
    season
        The season that an answer "wait" names, else None.
    """

    step: Step
    text: str
    rule: str
    source: str
    season: int | None = None


def readiness(
    stand: Stand,
    tree: Tree,
    season: int,
    rules: RuleSet,
    plans: Iterable[Plan] = (),
    context: GroundContext | None = None,
) -> tuple[Answer, ...]:
    """Return what would make a tree ready for a season; nothing for one that is, or that no mark stands in the way of.

    Parameters
    ----------
    plans
        Marks of any seasons: trees marked for this one may fill an owner's limit.
    context
        The ground, prepared for this stand, season and rule set; made here when absent.

    Raises
    ------
    UserError
        If the season is no year.
    """
    check_season(season)
    case = case_of(bench_for(stand, season, rules, context or ground_context(stand, season, rules)), tree)
    fact = giving(case)
    if fact is not None:
        back = season_back(season, rules.return_after_years)
        text = f"nothing: it gives this season; back in {back}"
        return (Answer(Step.NOTHING, text, fact.rule, fact.source, back),)
    answers = []
    for verdict, check in CHECKS:
        against = [reason for reason in check(case) if reason.against]
        answers += [
            Answer(step, text, reason.rule, reason.source, wait)
            for reason, (step, text, wait) in zip(against, _ANSWERS[verdict](case, against), strict=True)
        ]
    if not answers:
        answers = [
            Answer(
                Step.UNMARK,
                f"nothing: the owner's limit of {_trees(most)} is reached; unmark one",
                "permission",
                "marks of this season",
            )
            for most in limits_reached(stand, tree, plans_of(plans, season), season)
        ]
    return tuple(answers)


Said = tuple[Step, str, int | None]


def _off_limits(case: Case, against: list[Reason]) -> Iterator[Said]:
    """Answer in the order in which `off_limits` speaks: no-go areas, then permissions."""
    del against
    bench = case.bench
    areas, inside = bench.stand.areas, bench.ground.inside.get(case.row, ())
    for i in inside:
        if areas[i].kind is AreaKind.NO_GO:
            name = f" '{areas[i].name}'" if areas[i].name else ""
            text = f"nothing, as long as the no-go area{name} is drawn over it; move it if it stands outside"
            yield Step.NOTHING, text, None
    mine = [i for i in inside if areas[i].kind is AreaKind.PERMITTED]
    now = [i for i in mine if in_force(areas[i], bench.season)]
    if not mine and bench.permitted:
        yield Step.ASK_OWNER, "ask whose ground it is, and draw the area that they permit", None
    elif not now:
        for i in mine:
            yield _until_permitted(areas[i], bench.season)
    for i in now:
        if full(areas[i], bench.season, bench.ground.giving_in[i]):
            yield _limit(areas[i], bench.season + 1)


def _limit(area: Area, later: int) -> Said:
    whose = f"{area.owner}'s limit" if area.owner else "the owner's limit"
    trees = _trees(area.most_trees or 0)
    if area.most_trees and in_force(area, later):
        return Step.WAIT, f"wait until {later}: {whose} of {trees} is reached", later
    return Step.ASK_OWNER, f"ask for more than {whose} of {trees}", None


def _trees(count: int) -> str:
    return "1 tree" if count == 1 else f"{count} trees"


def _until_permitted(area: Area, season: int) -> Said:
    begins = area.from_date
    turned = begins is not None and area.until_date is not None and begins > area.until_date
    if begins is not None and begins.year > season and not turned:
        return Step.WAIT, f"wait until {begins.year}: the permission begins on {begins.isoformat()}", begins.year
    who = area.owner or "the owner"
    ended = f": the last permission ended on {area.until_date.isoformat()}" if area.until_date and not turned else ""
    return Step.ASK_OWNER, f"ask {who} for {season}{ended}", None


def _unfit(case: Case, against: list[Reason]) -> Iterator[Said]:
    """Answer in the order in which `unfit` speaks: species, soundness, standing, wounds that do not close."""
    del against
    tree, bench = case.tree, case.bench
    if fit_of(tree.species, bench.rules.species)[0] is Fit.OTHER:
        yield Step.SPECIES, "nothing, if that is what it is; else say its species", None
    if tree.soundness is Soundness.UNSOUND:
        yield Step.LOOK, "look it over again, and note it sound if it is", None
    gone = gone_from(tree)
    if gone is not None and gone <= bench.season:
        yield Step.NOTHING, f"nothing: it is {tree.standing}", None
    for hole, _ in case.still_open:
        yield Step.LOOK, f"look again whether {hole.kind} {hole.number} of {hole.season} has closed, and note it", None


def _unsure(case: Case, against: list[Reason]) -> Iterator[Said]:
    """Answer in the order in which `unsure` speaks: species, girth, confirmation."""
    del against
    bench, tree = case.bench, case.tree
    if fit_of(tree.species, bench.rules.species)[0] is Fit.MISSING:
        yield Step.SPECIES, "say its species", None
    if case.measurement is None:
        height = f"{bench.rules.value('measuring_height_mm') / 1000:g} m"
        first = _first_measured(bench.stand, tree)
        text = f"measure its girth at {height}"
        yield Step.MEASURE, text if first is None else f"give a girth of {bench.season}, or look at {first}", None
    if tree.proposed:
        yield Step.CONFIRM, "confirm that it is a tree", None


def _first_measured(stand: Stand, tree: Tree) -> int | None:
    days = [m.measured_on for m in stand.measurements_of.get(tree.key, ()) if m.measured_on is not None]
    return min(days, default=date.max).year if days else None


def _growing_on(case: Case, against: list[Reason]) -> Iterator[Said]:
    if not against or case.measurement is None:
        return
    value, limit = case.bench.least.limit_for(case.measurement)
    lacking = max(1, math.ceil(limit - value))
    if not case.bench.least.passes(value + lacking, limit):
        lacking += 1
    what = "girth" if case.measurement.diameter_mm is None else "diameter"
    yield Step.GROW, f"grow {lacking} mm more in {what}, then measure it again", None


def _resting(case: Case, against: list[Reason]) -> Iterator[Said]:
    if against and case.last_tapped is not None:
        back = season_back(case.last_tapped[0], case.bench.rules.return_after_years)
        yield Step.WAIT, f"wait until {back}", back


_ANSWERS: dict[Verdict, Callable[[Case, list[Reason]], Iterator[Said]]] = {
    Verdict.OFF_LIMITS: _off_limits,
    Verdict.UNFIT: _unfit,
    Verdict.UNSURE: _unsure,
    Verdict.GROWING_ON: _growing_on,
    Verdict.RESTING: _resting,
}
"""By the same verdicts as `CHECKS`: one answer to each reason against, in its order."""
