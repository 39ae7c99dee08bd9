"""Verdicts with all their reasons, for one tree or for a whole stand.

`standmap.rules.columns` holds the same verdicts as bare columns, for recolouring a map.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from standmap.errors import BugError
from standmap.progress import Progress, Unwatched
from standmap.rules.decisions import Fit, check_season, fit_of, measured_year, season_back
from standmap.rules.ground import GroundContext, edge_reach_m, ground_context
from standmap.rules.judgement import Judgement, Reason, Verdict
from standmap.rules.mistakes import alike, alike_among, stopped_at
from standmap.rules.reasons import CHECKS, Case, bench_for, case_of, giving, too_many
from standmap.rules.ruleset import RuleSet
from standmap.stand.snapshot import Stand
from standmap.stand.tree import Tree
from standmap.stand.walks import Stop

__all__ = ["GroundContext", "Judgement", "Reason", "Verdict", "ground_context", "judge_all", "judge_tree"]

NAMED_NEIGHBOURS = 3
"""Trees that a caution names; more are counted."""

STEP = 2000
"""Trees between two looks at the progress."""


def judge_tree(
    stand: Stand, tree: Tree, season: int, rules: RuleSet, context: GroundContext | None = None
) -> Judgement:
    """Judge one tree for one season.

    Parameters
    ----------
    context
        The ground, prepared by `ground_context` for this stand, season and rule set; made here when absent, which
        looks at every tree of the stand once.

    Raises
    ------
    UserError
        If the season is no year.
    BugError
        If the tree is not of this stand, or the context was made for another season or rule set.
    """
    check_season(season)
    ground = ground_context(stand, season, rules) if context is None else context
    if (ground.season, ground.mistake_sigma_m) != (season, rules.value("mistake_sigma_m")):
        raise BugError("ground context of another season or rule set")
    if tree.key not in ground.row:
        raise BugError(f"tree {tree.key} is not of this stand")
    bench = bench_for(stand, season, rules, ground)
    judged = _judged(case_of(bench, tree))
    if not _may_be_mistaken(tree, judged):
        return judged
    for _, stops in stopped_at(ground, np.array([ground.row[tree.key]])):
        judged = _with_stop_caution(judged, [stand.undecided[i] for i in stops])
    around = [stand.present[i] for i in alike(ground.spots, ground.row[tree.key])]
    others = [(t, _judged(case_of(bench, t)).verdict) for t in around]
    return _with_tag_caution(judged, [(t, v) for t, v in others if v is not Verdict.READY])


def judge_all(stand: Stand, season: int, rules: RuleSet, progress: Progress | None = None) -> list[Judgement]:
    """Judge every present tree for one season, in the trees' order.

    When `progress` says that a stop is wanted, the judgements made so far are returned.

    Raises
    ------
    UserError
        If the season is no year.
    """
    check_season(season)
    watch = progress or Unwatched()
    bench = bench_for(stand, season, rules, ground_context(stand, season, rules))
    judgements: list[Judgement] = []
    for tree in stand.present:
        if len(judgements) % STEP == 0:
            watch.at(len(judgements), len(stand.present), "judging trees")
            if watch.stop_wanted():
                break
        judgements.append(_judged(case_of(bench, tree)))
    untold = [i for i, one in enumerate(judgements) if _may_be_mistaken(stand.present[i], one)]
    for row, stops in stopped_at(bench.ground, np.array(untold, np.int64)):
        judgements[row] = _with_stop_caution(judgements[row], [stand.undecided[i] for i in stops])
    for row, beside in _mistakable(stand.present, judgements, bench.ground):
        judgements[row] = _with_tag_caution(judgements[row], beside)
    watch.at(len(judgements), len(stand.present), "judging trees")
    return judgements


def _judged(case: Case) -> Judgement:
    """Judge a tree by itself: all but the caution that asks for its neighbours' verdicts."""
    found = [(verdict, reason) for verdict, check in CHECKS for reason in check(case)]
    fact, excess = giving(case), too_many(case)
    against = [reason for _, reason in found if reason.against]
    verdict = next((v for v, reason in found if reason.against), Verdict.READY) if fact is None else Verdict.GIVING
    reasons = [
        *([fact] if fact else ()),
        *against,
        *([excess] if excess else ()),
        *(reason for _, reason in found if not reason.against),
    ]
    return Judgement(
        tree_key=case.tree.key,
        verdict=verdict,
        reasons=tuple(reasons),
        cautions=tuple(_cautions(case, verdict)),
        back_in=_back_in(case, verdict),
        holes_allowed=case.holes_allowed if verdict in (Verdict.READY, Verdict.GIVING) else 0,
    )


def _back_in(case: Case, verdict: Verdict) -> int | None:
    years = case.bench.rules.return_after_years
    if verdict is Verdict.GIVING:
        return season_back(case.bench.season, years)
    if verdict is Verdict.RESTING and case.last_tapped is not None:
        return season_back(case.last_tapped[0], years)
    return None


def _cautions(case: Case, verdict: Verdict) -> Iterator[str]:
    bench, tree, measurement = case.bench, case.tree, case.measurement
    if measurement is not None:
        wanted_mm = bench.rules.value("measuring_height_mm")
        if measurement.measured_on is None:
            yield "girth has no date: measure again"
        elif bench.season - measured_year(measurement) > bench.rules.value("old_measurement_years"):
            yield f"girth last measured in {measured_year(measurement)}: measure again"
        if measurement.at_height_mm != wanted_mm:
            yield (
                f"girth measured at {measurement.at_height_mm / 1000:g} m, "
                f"{bench.rules.title} reads it at {wanted_mm / 1000:g} m"
            )
    fit, found = fit_of(tree.species, bench.rules.species)
    if fit is Fit.GENUS_ONLY and found is not None:
        yield f"identified to genus only ({found.genus}): be sure what it is"
    for i in bench.ground.near.get(case.row, ()):
        area = bench.stand.areas[i]
        reach_m = edge_reach_m(tree, bench.ground.mistake_sigma_m)
        name = f" '{area.name}'" if area.name else ""
        yield f"within {reach_m:.1f} m (twice its error) of the edge of {area.kind} area{name}: see which side it is on"
    if verdict is Verdict.READY:
        if tree.soundness is None:
            yield "soundness is not recorded: look it over before drilling"
        yield from bench.rules.cautions


def _may_be_mistaken(tree: Tree, judged: Judgement) -> bool:
    return judged.verdict is Verdict.READY and not tree.tag_confirmed


def _mistakable(
    trees: Sequence[Tree], judgements: Sequence[Judgement], ground: GroundContext
) -> Iterator[tuple[int, list[tuple[Tree, Verdict]]]]:
    """Yield the rows of ready trees that could be taken for one that is not, with those trees."""
    rows = [i for i, judged in enumerate(judgements) if _may_be_mistaken(trees[i], judged)]
    others = [i for i, judged in enumerate(judgements) if judged.verdict is not Verdict.READY]
    for row, beside in alike_among(ground.spots, np.array(rows, np.int64), np.array(others, np.int64)):
        yield row, [(trees[i], judgements[i].verdict) for i in beside]


def _with_stop_caution(judged: Judgement, stops: Sequence[Stop]) -> Judgement:
    day = max(stop.from_at for stop in stops).date()
    caution = f"check the tag: a stop of {day} that may have been made here waits to be decided"
    return replace(judged, cautions=(caution, *judged.cautions))


def _with_tag_caution(judged: Judgement, beside: Sequence[tuple[Tree, Verdict]]) -> Judgement:
    if not beside:
        return judged
    named = ", ".join(f"{tree.name} ({verdict})" for tree, verdict in beside[:NAMED_NEIGHBOURS])
    more = f" and {len(beside) - NAMED_NEIGHBOURS} more" if len(beside) > NAMED_NEIGHBOURS else ""
    return replace(judged, cautions=(f"check the tag: could be mistaken for {named}{more}", *judged.cautions))
