"""A stand and what is wanted of it as the problem that a rotation is found for."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING

import numpy as np

from standmap.jobs.opening import working_frame
from standmap.jobs.positions import xy
from standmap.sap.expected import expected_runs
from standmap.stand.ground import Area, AreaKind
from standmap.stand.snapshot import Stand
from standmap.stand.tree import Measurement, Tree

if TYPE_CHECKING:
    from standmap.jobs.rotation import RotationOptions
    from standmap.rotation.problem import RotationProblem, Want
    from standmap.rules.ruleset import RuleSet


def pose_rotation(
    stand: Stand, first: int, options: RotationOptions, rules: RuleSet
) -> tuple[RotationProblem, tuple[Measurement, ...]]:
    """Return what is asked of the solver, and the girths that are reckoned with in coming seasons.

    Whether a tree may be tapped in a season is the verdict of the rules for it, its rest and the owners' limits aside:
    those are the solver's. Girths ahead grow as measured, or as stated, and stay as they are otherwise.
    """
    from standmap.rotation.blocks import blocks
    from standmap.rotation.problem import RotationProblem, Stem
    from standmap.rules.columns import CODES, columns, verdict_columns
    from standmap.rules.ground import gives, inside_areas
    from standmap.rules.judgement import Verdict

    trees = stand.present
    years = range(first, first + options.seasons)
    rates = _rates(stand, options.growth_mm)
    ahead = tuple(m for year in years for m in _ahead(stand, rates, year))
    grown = replace(stand, measurements=(*stand.measurements, *ahead))
    # Wounds that were seen open count against a tree; when it was tapped is left to the solver.
    never = np.zeros(0, np.int64)
    cols = replace(columns(grown), tapped_at=never, root_tapped_at=never)
    ready = np.array([verdict_columns(cols, year, rules)[0] == CODES.index(Verdict.READY) for year in years])
    limited = [a for a in stand.areas if a.kind is AreaKind.PERMITTED and a.most_trees is not None]
    inside = inside_areas(limited, trees)
    frame = working_frame(stand)
    block = blocks(xy(frame, [t.at for t in trees])) if frame is not None else np.zeros(len(trees), np.int64)
    runs = expected_runs(stand, [t.key for t in trees])
    last = _last_tapped(stand)
    giving = np.array([[gives(stand, tree, year) for tree in trees] for year in years], bool)
    stems = []
    for row, tree in enumerate(trees):
        holes = tuple(_holes(grown, tree, year, rules) if ready[n, row] else 0 for n, year in enumerate(years))
        root = tree.rootstock or tree.key
        stems.append(
            Stem(
                key=tree.key,
                root=root,
                block=int(block[row]),
                holes=holes,
                hole_l=round(runs[tree.key].volume_ml / 1000 * options.nights, 1),
                free_from=max(0, last[root] + rules.return_after_years - first) if root in last else 0,
                limits=tuple(int(n) for n in np.flatnonzero(inside[:, row])),
            )
        )
    return (
        RotationProblem(
            stems=tuple(stems),
            seasons=options.seasons,
            rest=rules.return_after_years,
            limits=tuple(
                tuple(_left(a, year, int((inside[k] & giving[n]).sum())) for n, year in enumerate(years))
                for k, a in enumerate(limited)
            ),
            wanted_l=options.wanted_l,
            want=_want(options),
            block_cost_l=options.block_cost_l,
        ),
        ahead,
    )


def _left(area: Area, season: int, giving: int) -> int | None:
    """Return how many more trees an owner lets be tapped in a season, None where no limit holds."""
    from standmap.rules.decisions import in_force

    if area.most_trees is None or not in_force(area, season):
        return None
    return max(area.most_trees - giving, 0)


def _want(options: RotationOptions) -> Want:
    from standmap.rotation.problem import Want

    return Want.MOST if options.most else Want.EVEN


def _rates(stand: Stand, stated: float | None) -> dict[str, float]:
    """Return the growth of each tree on which it is known, millimetres of girth a year."""
    from standmap.rotation.growth import growth_mm_per_year

    found = {}
    for tree in stand.present:
        own = growth_mm_per_year(stand.measurements_of.get(tree.key, ()))
        rate = stated if own is None else own
        if rate:
            found[tree.key] = rate
    return found


def _ahead(stand: Stand, rates: Mapping[str, float], year: int) -> list[Measurement]:
    """Return the girths of a coming year as if they were measured."""
    found = []
    for key, rate in rates.items():
        newest = stand.newest_measurement(key)
        if newest is None or newest.measured_on is None:
            continue
        girth = newest.girth() + rate * (date(year, 1, 1).toordinal() - newest.measured_on.toordinal()) / 365.25
        if girth > newest.girth():
            found.append(Measurement(f"{key}-{year}", key, date(year, 1, 1), girth, None, f"{girth:.0f}", "mm"))
    return found


def _holes(stand: Stand, tree: Tree, year: int, rules: RuleSet) -> int:
    from standmap.rules.decisions import hole_thresholds

    measured = stand.newest_measurement(tree.key, date(year, 12, 31))
    if measured is None:
        return 0
    return next((holes for least, holes, _ in hole_thresholds(rules) if least.reached_by(measured)), 0)


def _last_tapped(stand: Stand) -> dict[str, int]:
    """Return the season in which each root was tapped last."""
    last: dict[str, int] = {}
    for hole in stand.holes:
        tree = stand.by_key[hole.tree_key]
        root = tree.rootstock or tree.key
        last[root] = max(last.get(root, 0), hole.season)
    return last
