"""Which trees in which of the coming seasons: what is asked of the stand, and what the plan comes to."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING

from standmap.errors import NothingToDo, UserError
from standmap.jobs.rotation_posed import pose_rotation
from standmap.jobs.rule_choice import rules_of
from standmap.progress import Progress, Unwatched
from standmap.stand.snapshot import Stand
from standmap.stand.tree import Measurement, Tree

if TYPE_CHECKING:
    from standmap.rotation.problem import Rotation, RotationProblem
    from standmap.rules.ruleset import RuleSet

MOST_SEASONS = 40
NIGHTS_A_SEASON = 14
"""Nights on which a hole runs well: an assumption within a season of two to five weeks (Finnish Forest Research
Institute figures, via Seinäjoki UAS); three litres a night are then 42 L a season, within the published 14-47 L a tree
(same) and 37.9-75.7 L a tap (M. Farrell, Cornell, in The Maple News, January 2016)."""

BLOCK_COST_L = 2.0
"""Litres a season for which one more part of the stand is worth walking to: an assumption."""

WHY_SECONDS = 5.0
"""So long is looked for what would be possible without one of the rules."""


@dataclass(frozen=True, slots=True)
class RotationOptions:
    """What is wanted.

    Attributes
    ----------
    seasons
        How many, the first of them the next that can still be planned.
    first
        The first season; the year of today when absent.
    wanted_l
        Litres of a season that are enough; as many as there are when absent.
    most
        Whether all seasons together count, and not the leanest first.
    growth_mm
        Growth of the girth a year of stems on which it was not measured; none when absent.
    nights
        Nights on which a hole runs well.
    block_cost_l
        Litres for which one more part of the stand is worth walking to.
    """

    seasons: int
    first: int | None = None
    wanted_l: float | None = None
    most: bool = False
    growth_mm: float | None = None
    nights: int = NIGHTS_A_SEASON
    block_cost_l: float = BLOCK_COST_L
    seconds: float = 20.0
    seed: int = 1


@dataclass(frozen=True, slots=True)
class PlannedSeason:
    """One season of a plan.

    Attributes
    ----------
    trees
        Each with its number of holes.
    blocks
        Parts of the stand that are walked to.
    possible
        Whether any tree may be tapped at all.
    unplanned_l, unplanned_trees
        What the season would come to if each year all were tapped that may be.
    """

    season: int
    trees: tuple[tuple[Tree, int], ...]
    litres: float
    blocks: int
    possible: bool
    unplanned_l: float
    unplanned_trees: int

    @property
    def holes(self) -> int:
        """Holes to be made."""
        return sum(count for _, count in self.trees)


@dataclass(frozen=True, slots=True)
class Without:
    """What the leanest season could give if one rule did not hold."""

    rule: str
    leanest_l: float


@dataclass(frozen=True, slots=True)
class PlannedRotation:
    """A plan for the coming seasons.

    Attributes
    ----------
    gap_percent, proved
        How far the best possible may be above it.
    leanest_l
        Of its leanest season; with what is wanted, `short` says whether that is not reached.
    binding
        Where it is not: what one rule less would give, the most telling first.
    assumptions
        What the figures rest on, in words.
    girths
        Those that are reckoned with in coming seasons.
    """

    rules: str
    seasons: tuple[PlannedSeason, ...]
    wanted_l: float | None
    gap_percent: float
    proved: bool
    stopped: bool
    binding: tuple[Without, ...]
    assumptions: tuple[str, ...]
    girths: tuple[Measurement, ...] = ()

    @property
    def leanest_l(self) -> float:
        """Litres of the leanest season among those in which any tree may be tapped."""
        return min(season.litres for season in self.seasons if season.possible)

    @property
    def short(self) -> bool:
        """Whether some season gives less than is wanted."""
        return self.wanted_l is not None and self.leanest_l < self.wanted_l - 1e-6


def plan_rotation(
    stand: Stand, today: date, options: RotationOptions, *, progress: Progress | None = None
) -> PlannedRotation:
    """Plan the trees of the coming seasons.

    Raises
    ------
    UserError
        If an option is out of bounds.
    NothingToDo
        If no tree may be tapped in any of the seasons.
    """
    from standmap.rotation.problem import litres_of
    from standmap.rotation.solve import rotate
    from standmap.rotation.without import all_that_may

    _check(options)
    rules = rules_of(stand)
    first = options.first or today.year
    problem, ahead = pose_rotation(stand, first, options, rules)
    if not any(stem.may(s) for stem in problem.stems for s in range(problem.seasons)):
        raise NothingToDo(
            f"no tree may be tapped in {first} to {first + options.seasons - 1}: 'judge' lists the reasons of each"
        )
    found = rotate(problem, gap=0.0005, seconds=options.seconds, seed=options.seed, progress=progress)
    unplanned = all_that_may(problem)
    litres, loose = litres_of(problem, found.tapped), litres_of(problem, unplanned)
    stems = {stem.key: stem for stem in problem.stems}
    seasons = tuple(
        PlannedSeason(
            season=first + n,
            trees=tuple((stand.by_key[key], stems[key].holes[n]) for key in keys),
            litres=litres[n],
            blocks=len({stems[key].block for key in keys}),
            possible=n in problem.counting,
            unplanned_l=loose[n],
            unplanned_trees=len(unplanned[n]),
        )
        for n, keys in enumerate(found.tapped)
    )
    planned = PlannedRotation(
        rules=rules.title,
        seasons=seasons,
        wanted_l=options.wanted_l,
        gap_percent=found.gap_percent,
        proved=found.proved,
        stopped=found.stopped,
        binding=(),
        assumptions=_assumptions(stand, problem, options, first, ahead),
        girths=ahead,
    )
    if not planned.short or (progress or Unwatched()).stop_wanted():
        return planned
    return replace(planned, binding=_binding(problem, found, rules, progress))


def _check(options: RotationOptions) -> None:
    if not 1 <= options.seasons <= MOST_SEASONS:
        raise UserError(f"{options.seasons} seasons are out of bounds", f"choose 1 to {MOST_SEASONS}")
    if options.wanted_l is not None and not 0 < options.wanted_l <= 1_000_000:
        raise UserError(f"{options.wanted_l:g} L a season is out of bounds", "choose above 0 and up to 1000000 L")
    if options.growth_mm is not None and not 0 <= options.growth_mm <= 40:
        raise UserError(f"a growth of {options.growth_mm:g} mm of girth a year is out of bounds", "choose 0 to 40 mm")
    if not 1 <= options.nights <= 60:
        raise UserError(f"{options.nights} nights a season are out of bounds", "choose 1 to 60")
    if not 0 <= options.block_cost_l <= 10_000:
        raise UserError(f"{options.block_cost_l:g} L for a part of the stand is out of bounds", "choose 0 to 10000 L")


def _assumptions(
    stand: Stand, problem: RotationProblem, options: RotationOptions, first: int, ahead: tuple[Measurement, ...]
) -> tuple[str, ...]:
    from standmap.rules.ground import gives

    said = [f"{options.nights} good nights a season (an assumption), each as one night is expected now"]
    grown = {m.tree_key for m in ahead}
    if grown:
        said.append(f"girths ahead grow on {len(grown)} of {len(stand.present)} trees, as measured or as stated")
    else:
        said.append("no girth grows: none was measured twice, two years apart, and no growth was stated")
    giving = sum(gives(stand, tree, first) for tree in stand.present)
    if giving:
        said.append(f"trees that give in {first} already, and are not counted: {giving}")
    parts = len({stem.block for stem in problem.stems})
    if options.block_cost_l and parts > 1:
        said.append(
            f"the stand is cut into {parts} parts; one more is walked to for {options.block_cost_l:g} L or more"
        )
    return tuple(said)


def _binding(
    problem: RotationProblem, found: Rotation, rules: RuleSet, progress: Progress | None
) -> tuple[Without, ...]:
    """Return what the leanest season could give without one of the rules, those that would help, most first."""
    from standmap.rotation.problem import litres_of
    from standmap.rotation.solve import rotate

    def leanest(of: RotationProblem, tapped: tuple[tuple[str, ...], ...]) -> float:
        litres = litres_of(of, tapped)
        return min(litres[season] for season in problem.counting)

    def at_best(of: RotationProblem) -> float:
        return leanest(of, rotate(of, gap=0.01, seconds=WHY_SECONDS, progress=progress).tapped)

    now = leanest(problem, found.tapped)
    rested = tuple(replace(stem, free_from=0) for stem in problem.stems)
    cases = [(f"rest of {rules.return_after_years} years", replace(problem, rest=1, stems=rested))]
    if problem.limits:
        free = tuple(replace(stem, limits=()) for stem in problem.stems)
        cases.append(("owners' limits", replace(problem, limits=(), stems=free)))
    told = [Without(rule, at_best(case)) for rule, case in cases]
    useful = sorted((w for w in told if w.leanest_l > now + 1e-6), key=lambda w: -w.leanest_l)
    if useful:
        return tuple(useful)
    return (Without("number of trees that are ready, or will be", now),)
