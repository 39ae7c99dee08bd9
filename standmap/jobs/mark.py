"""Marking trees for a season: a plan, and what it comes to. Marking is no tapping: nothing is drilled by it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from standmap.errors import NothingToDo, UserError
from standmap.jobs.keys import new_key
from standmap.jobs.names import listed
from standmap.jobs.rule_choice import rules_of
from standmap.messages import Messages, Silence
from standmap.rules.decisions import check_season, in_force
from standmap.rules.ground import gives, ground_context, inside_areas
from standmap.rules.ruleset import RuleSet
from standmap.rules.verdicts import Judgement, Verdict, judge_all, judge_tree
from standmap.sap.expected import night_runs
from standmap.sap.spread import spread_of
from standmap.stand.ground import AreaKind
from standmap.stand.records import Plan
from standmap.stand.snapshot import Stand
from standmap.stand.tree import Tree
from standmap.store.stand_file import StandFile

if TYPE_CHECKING:
    from standmap.sap.model import SapModel

MOST_HOLES = 9
"""More holes than this in one stem and season are a slip of the pen (common practice, no source)."""

ONE_BY_ONE = 50
"""Up to so many trees are judged singly; for more it is quicker to judge the whole stand once."""


@dataclass(frozen=True, slots=True)
class Totals:
    """What the marked trees of a season come to.

    Attributes
    ----------
    taps
        Holes to be made.
    expected_l, low_l, high_l
        Litres in one night when all of them run, and how low and high a night may be. All trees have the same weather,
        so their lows are added up, and their highs.
    expected_basis, spread_basis
        What the figures rest on.
    """

    season: int
    trees: int
    taps: int
    expected_l: float
    low_l: float
    high_l: float
    expected_basis: str
    spread_basis: str


def plans_of(plans: Iterable[Plan], season: int) -> dict[str, Plan]:
    """Return the plans of a season by tree key; of two for one tree the later one counts."""
    return {plan.tree_key: plan for plan in plans if plan.season == season}


def marked(file: StandFile, season: int) -> tuple[Plan, ...]:
    """Return which trees are marked for a season, in the order in which they were marked."""
    return tuple(plans_of(file.rows(Plan), season).values())


def mark_trees(
    file: StandFile,
    names: Sequence[str],
    season: int,
    now: datetime,
    holes: int | None = None,
    messages: Messages | None = None,
) -> tuple[Plan, ...]:
    """Mark trees for a season; a tree that is not ready is marked too, but never in silence.

    Parameters
    ----------
    names
        Names or keys.
    holes
        How many in each; when left out, as many as the rules allow each stem, and one where they allow none.
    messages
        Told what speaks against it.

    Returns
    -------
    tuple
        The plans written.

    Raises
    ------
    UserError
        If a tree is not there, or the season or the number of holes cannot be.
    NothingToDo
        If all of them are marked so already.
    """
    check_season(season)
    if holes is not None and not 1 <= holes <= MOST_HOLES:
        raise UserError(f"{holes} holes in one stem cannot be meant", f"give 1 to {MOST_HOLES}")
    stand, everything = file.stand(), file.rows(Plan)
    trees = _each_once(stand.tree(name) for name in names)
    rules = rules_of(stand)
    before = plans_of(everything, season)
    judged = _judgements(stand, trees, season, rules)
    fresh: list[Plan] = []
    changed: list[Plan] = []
    for tree in trees:
        count = holes if holes is not None else max(1, judged[tree.key].holes_allowed)
        known = before.get(tree.key)
        if known is None:
            fresh.append(Plan(new_key(), tree.key, season, count))
        elif known.holes != count:
            changed.append(Plan(known.key, tree.key, season, count, known.note))
    if not fresh and not changed:
        raise NothingToDo(f"{listed(trees)}: marked for {season} already")
    with file.writing(f"mark {listed(trees)} for {season}", now) as writing:
        writing.insert_many(fresh)
        for plan in changed:
            writing.replace(plan)
    after = {**before, **{plan.tree_key: plan for plan in (*fresh, *changed)}}
    touched = [t for t in trees if after[t.key] is not before.get(t.key)]
    watch = messages or Silence()
    for text in _warnings(stand, touched, after, season, judged):
        watch.caution(text)
    return (*fresh, *changed)


def unmark_trees(file: StandFile, names: Sequence[str], season: int, now: datetime) -> tuple[Plan, ...]:
    """Take the marks of a season off trees and return the plans that are gone.

    Raises
    ------
    NothingToDo
        If none of them is marked.
    """
    stand = file.stand()
    trees = _each_once(stand.tree(name) for name in names)
    keys = {t.key for t in trees}
    gone = tuple(p for p in file.rows(Plan) if p.season == season and p.tree_key in keys)
    if not gone:
        raise NothingToDo(f"{listed(trees)}: not marked for {season}")
    had = {p.tree_key for p in gone}
    with file.writing(f"unmark {listed([t for t in trees if t.key in had])} for {season}", now) as writing:
        for plan in gone:
            writing.delete(plan)
    return gone


def totals(stand: Stand, plans: Iterable[Plan], season: int, model: SapModel | None = None) -> Totals:
    """Return what the marks of a season come to; trees that are no longer there do not count.

    Parameters
    ----------
    model
        What the stand's records teach of the sap where it is at hand; learned anew otherwise.
    """
    present = {t.key for t in stand.present}
    mine = {key: plan for key, plan in plans_of(plans, season).items() if key in present}
    nights = night_runs(stand, mine, model)
    spreads = {key: spread_of(run) for key, run in nights.items()}

    def litres(of: Mapping[str, float]) -> float:
        return sum(plan.holes * of[key] for key, plan in mine.items()) / 1000

    return Totals(
        season=season,
        trees=len(mine),
        taps=sum(plan.holes for plan in mine.values()),
        expected_l=litres({key: run.median_ml for key, run in nights.items()}),
        low_l=litres({key: spread.low_ml for key, spread in spreads.items()}),
        high_l=litres({key: spread.high_ml for key, spread in spreads.items()}),
        expected_basis=_basis(run.basis for run in nights.values()),
        spread_basis=_basis(spread.basis for spread in spreads.values()),
    )


def limits_passed(stand: Stand, plans: Mapping[str, Plan], season: int) -> list[str]:
    """Return which owners' limits would be passed if every marked tree were tapped beside those that give.

    Parameters
    ----------
    plans
        Plans of the season by tree key.
    """
    return [
        f"{name or 'the permitted area'}: {count} trees marked or giving in {season}, the limit{whose} is {most}"
        for name, whose, count, most in _counted(stand, plans, season)
        if count > most
    ]


def limits_reached(stand: Stand, tree: Tree, plans: Mapping[str, Plan], season: int) -> list[int]:
    """Return the owners' limits that other marked or giving trees of the same ground fill already."""
    others = {key: plan for key, plan in plans.items() if key != tree.key}
    return [most for _, _, count, most in _counted(stand, others, season, around=tree) if count >= most]


def _counted(
    stand: Stand, plans: Mapping[str, Plan], season: int, around: Tree | None = None
) -> list[tuple[str, str, int, int]]:
    """Return name, whose, trees marked or giving, and the limit of each limited area, or of those about one tree."""
    limited = [
        a for a in stand.areas if a.kind is AreaKind.PERMITTED and a.most_trees is not None and in_force(a, season)
    ]
    if around is not None:
        limited = [a for a, row in zip(limited, inside_areas(limited, [around]), strict=True) if row[0]]
    if not limited:
        return []
    others = (t for t in stand.present if around is None or t.key != around.key)
    counting = [t for t in others if t.key in plans or gives(stand, t, season)]
    inside = inside_areas(limited, counting)
    return [
        (a.name, f" of {a.owner}" if a.owner else "", int(row.sum()), a.most_trees or 0)
        for a, row in zip(limited, inside, strict=True)
    ]


def _each_once(trees: Iterable[Tree]) -> list[Tree]:
    return list({t.key: t for t in trees}.values())


def _judgements(stand: Stand, trees: Sequence[Tree], season: int, rules: RuleSet) -> dict[str, Judgement]:
    if len(trees) > ONE_BY_ONE:
        return {judged.tree_key: judged for judged in judge_all(stand, season, rules)}
    ground = ground_context(stand, season, rules)
    return {t.key: judge_tree(stand, t, season, rules, ground) for t in trees}


def _warnings(
    stand: Stand, trees: Sequence[Tree], plans: Mapping[str, Plan], season: int, judged: Mapping[str, Judgement]
) -> list[str]:
    said = []
    for tree in trees:
        about, holes = judged[tree.key], plans[tree.key].holes
        if about.verdict is not Verdict.READY:
            because = next((r.text for r in about.reasons if r.against), about.reasons[0].text if about.reasons else "")
            said.append(f"{tree.name} is not ready in {season}: {about.verdict} ({because})")
        if 0 < about.holes_allowed < holes:
            said.append(f"{tree.name}: {holes} holes marked, {about.holes_allowed} allowed")
    return said + _shared_roots(stand, trees, plans, season) + limits_passed(stand, plans, season)


def _shared_roots(stand: Stand, trees: Sequence[Tree], plans: Mapping[str, Plan], season: int) -> list[str]:
    roots: dict[str, list[Tree]] = {}
    for tree in stand.present:
        if tree.rootstock and tree.key in plans:
            roots.setdefault(tree.rootstock, []).append(tree)
    asked = {t.rootstock for t in trees}
    return [
        f"{listed(stems)} share one rootstock: only one of them may be tapped in {season}"
        for root, stems in roots.items()
        if root in asked and len(stems) > 1
    ]


def _basis(told: Iterable[str]) -> str:
    """Return what figures rest on, each basis once; many trees' own nights are said in one word."""
    kinds = list(dict.fromkeys(told))
    return kinds[0] if len(kinds) == 1 else "each tree's own nights, or the stand's" if kinds else ""
