"""Every reason for and against tapping one tree, each in one plain line.

Each check looks at one question and says all that it finds. A tree's verdict is the first check that found
something against it, so that a verdict can never stand without its reason.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date
from functools import lru_cache

from standmap.rules.decisions import (
    Fit,
    Threshold,
    fit_of,
    gone_from,
    hole_thresholds,
    in_force,
    least_thickness,
    open_too_long,
    season_back,
)
from standmap.rules.ground import GroundContext, full
from standmap.rules.judgement import Reason, Verdict
from standmap.rules.ruleset import RuleSet
from standmap.stand.ground import Area, AreaKind
from standmap.stand.looks import last_look
from standmap.stand.snapshot import Stand
from standmap.stand.tapping import TapHole, Wound
from standmap.stand.tree import Measurement, Soundness, Tree

RECORD = "this stand's record"
"""Whose rule it is where a fact was written down."""


@dataclass(frozen=True, slots=True, eq=False)
class Bench:
    """What is the same for all trees that are judged together.

    Attributes
    ----------
    permitted
        Indexes of the permitted areas.
    least
        What a stem must reach to be tapped.
    steps
        Steps of the number of holes, thickest first: threshold, holes, source.
    """

    stand: Stand
    season: int
    rules: RuleSet
    ground: GroundContext
    permitted: tuple[int, ...]
    least: Threshold
    steps: tuple[tuple[Threshold, int, str], ...]

    def by_rule(self, text: str, source: str, *, against: bool = False) -> Reason:
        """Return a reason in the rule set's name."""
        return _reason(self.rules.title, text, source, against=against)


@lru_cache(maxsize=4096)
def _reason(rule: str, text: str, source: str, *, against: bool) -> Reason:
    # Most trees of a wood share most of their reasons: one value stands for all of them.
    return Reason(rule, text, source, against)


@dataclass(frozen=True, slots=True, eq=False)
class Case:
    """One tree on the bench.

    Attributes
    ----------
    row
        The tree's place in the ground context.
    wounds
        The wounds made in this tree in the judged season.
    measurement
        The newest girth or diameter known by the end of the season.
    holes_allowed, holes_source
        How many holes the rule set allows a stem of this girth, and who says so; 0 where it may not be tapped.
    last_tapped
        The newest earlier season in which its root was tapped, or this one by another stem; and the stem.
    still_open
        Wounds that were last seen open, too long after they were made by the rule set, and when.
    """

    bench: Bench
    tree: Tree
    row: int
    wounds: tuple[TapHole, ...]
    measurement: Measurement | None
    holes_allowed: int
    holes_source: str
    last_tapped: tuple[int, Tree] | None
    still_open: tuple[tuple[TapHole, date], ...] = ()


def bench_for(stand: Stand, season: int, rules: RuleSet, ground: GroundContext) -> Bench:
    """Lay out what all trees of a stand are judged by."""
    permitted = tuple(i for i, area in enumerate(stand.areas) if area.kind is AreaKind.PERMITTED)
    return Bench(stand, season, rules, ground, permitted, least_thickness(rules), hole_thresholds(rules))


def case_of(bench: Bench, tree: Tree) -> Case:
    """Gather what the record says of one tree."""
    season = bench.season
    made = bench.stand.holes_of.get(tree.key, ())
    measurement = bench.stand.newest_measurement(tree.key, date(season, 12, 31))
    holes, source = _holes_allowed(bench, measurement)
    return Case(
        bench=bench,
        tree=tree,
        row=bench.ground.row[tree.key],
        wounds=tuple(h for h in made if h.season == season),
        measurement=measurement,
        holes_allowed=holes,
        holes_source=source,
        last_tapped=_last_tapped(bench, tree),
        still_open=tuple(_still_open(bench, tree)),
    )


def _still_open(bench: Bench, tree: Tree) -> Iterator[tuple[TapHole, date]]:
    seen = bench.stand.observations_of.get(tree.key)
    if not seen:
        return
    years, by = bench.rules.unfit_open_after_years, date(bench.season, 12, 31)
    for hole in bench.stand.holes_of.get(tree.key, ()):
        look = last_look(hole, seen, by)
        if look is not None and look.is_open and open_too_long(look.on.year, hole.season, years):
            yield hole, look.on


def _holes_allowed(bench: Bench, measurement: Measurement | None) -> tuple[int, str]:
    if measurement is not None and bench.least.reached_by(measurement):
        for step, holes, source in bench.steps:
            if step.reached_by(measurement):
                return holes, source
    return 0, ""


def _last_tapped(bench: Bench, tree: Tree) -> tuple[int, Tree] | None:
    season = bench.season
    newest: tuple[int, Tree] | None = None
    for stem in bench.ground.stems.get(tree.rootstock or "", (tree,)):
        for hole in bench.stand.holes_of.get(stem.key, ()):
            year = hole.season
            counts = year < season or (year == season and stem.key != tree.key)
            if counts and (newest is None or year > newest[0]):
                newest = (year, stem)
    return newest


def off_limits(case: Case) -> list[Reason]:
    """Say what the owners and the no-go areas have to say."""
    bench = case.bench
    areas, inside = bench.stand.areas, bench.ground.inside.get(case.row, ())
    if not areas:
        return []
    reasons = [
        _reason(f"no-go area {_called(areas[i])}", "stands in a no-go area", areas[i].note or RECORD, against=True)
        for i in inside
        if areas[i].kind is AreaKind.NO_GO
    ]
    if not bench.permitted:
        return reasons
    mine = [i for i in inside if areas[i].kind is AreaKind.PERMITTED]
    now = [i for i in mine if in_force(areas[i], bench.season)]
    if not mine:
        names = ", ".join(_called(areas[i]) for i in bench.permitted[:3])
        reasons.append(_reason("permission", "outside every permitted area", f"permitted: {names}", against=True))
    elif not now:
        reasons += [
            _reason(_permission(areas[i]), f"not permitted in {bench.season}", _dates(areas[i]), against=True)
            for i in mine
        ]
    for i in now:
        most, giving = areas[i].most_trees, bench.ground.giving_in[i]
        # A tree that gives is one of those counted: for it the limit is passed only when there is one too many.
        over = full(areas[i], bench.season, giving - 1 if case.wounds else giving)
        text = f"{giving} {_trees(giving)} here, {most} allowed" if over else "inside a permitted area"
        reasons.append(_reason(_permission(areas[i]), text, _dates(areas[i]), against=over))
    return reasons


def unfit(case: Case) -> list[Reason]:
    """Say what species, soundness and wounds that do not close have to say."""
    bench, tree = case.bench, case.tree
    fit, found = fit_of(tree.species, bench.rules.species)
    source = bench.rules.species_source
    reasons = []
    if fit is Fit.OTHER:
        text = f"'{(tree.species or '').strip()[:60]}' is not a species of this set"
        reasons.append(bench.by_rule(text, source, against=True))
    elif found is not None:
        text = f"{found.text} is tapped under this set" if fit is Fit.SPECIES else f"a {found.common}"
        reasons.append(bench.by_rule(text, source))
    if tree.soundness is not None:
        unsound = tree.soundness is Soundness.UNSOUND
        reasons.append(_reason(RECORD, f"seen to be {tree.soundness}", RECORD, against=unsound))
    gone = gone_from(tree)
    if gone is not None and gone <= bench.season:
        since = f" since {tree.standing_since}" if tree.standing_since else ""
        reasons.append(_reason(RECORD, f"{tree.standing}{since}", RECORD, against=True))
    years = bench.rules.unfit_open_after_years
    for hole, on in case.still_open:
        wound = f"{hole.kind} {hole.number} of {hole.season}"
        text = f"{wound} was still open on {on}: unfit past {years} year{'' if years == 1 else 's'}"
        reasons.append(bench.by_rule(text, bench.rules.figure("unfit_open_after_years").source, against=True))
    return reasons


def unsure(case: Case) -> list[Reason]:
    """Say what is not known."""
    bench, reasons = case.bench, []
    if fit_of(case.tree.species, bench.rules.species)[0] is Fit.MISSING:
        reasons.append(bench.by_rule("species is not recorded", bench.rules.species_source, against=True))
    if case.measurement is None:
        later = bench.stand.newest_measurement(case.tree.key)
        text = "girth is not recorded" if later is None else f"girth is not recorded until after {bench.season}"
        reasons.append(bench.by_rule(text, bench.rules.figure("least_diameter_mm").source, against=True))
    if case.tree.proposed:
        text = "suggested by a walk, not yet confirmed by a person"
        reasons.append(_reason(RECORD, text, RECORD, against=True))
    return reasons


def growing_on(case: Case) -> list[Reason]:
    """Say whether the stem is thick enough."""
    if case.measurement is None:
        return []
    bench, measurement = case.bench, case.measurement
    against = not bench.least.reached_by(measurement)
    value, limit = bench.least.limit_for(measurement)
    relation = (
        "is above" if value > limit else "is below" if value < limit else "is not above" if against else "reaches"
    )
    quantity, decimals = ("girth", 0) if measurement.diameter_mm is None else ("diameter", 1)
    seen, wanted = _told_apart(value, limit, decimals)
    text = f"{quantity} {seen} mm {relation} {wanted} mm"
    # Nearly every girth is its own: not worth remembering.
    return [Reason(bench.rules.title, text, bench.rules.figure("least_diameter_mm").source, against)]


def resting(case: Case) -> list[Reason]:
    """Say whether the root still rests."""
    bench = case.bench
    figure = bench.rules.figure("return_after_years")
    if case.last_tapped is None:
        return [bench.by_rule("no earlier tap hole on record", figure.source)]
    year, stem = case.last_tapped
    years = bench.rules.return_after_years
    back = season_back(year, years)
    against = bench.season < back
    own = stem.key == case.tree.key
    who = "" if own else f"stem {stem.name} of the same root "
    text = f"{who}tapped in {year}, returns after {years} year{'' if years == 1 else 's'}"
    text = f"{text}: back in {back}" if against else f"{'last ' if own else ''}{text}"
    return [bench.by_rule(text, figure.source, against=against)]


CHECKS: tuple[tuple[Verdict, Callable[[Case], list[Reason]]], ...] = (
    (Verdict.OFF_LIMITS, off_limits),
    (Verdict.UNFIT, unfit),
    (Verdict.UNSURE, unsure),
    (Verdict.GROWING_ON, growing_on),
    (Verdict.RESTING, resting),
)
"""In the order of the verdicts."""


def giving(case: Case) -> Reason | None:
    """Say that the tree gives this season: a fact, not a rule."""
    if not case.wounds:
        return None
    first = case.wounds[0]
    kind = "slit" if all(h.kind is Wound.SLIT for h in case.wounds) else "hole"
    count = len(case.wounds)
    text = f"{kind} made on {first.made_on}" if count == 1 else f"{count} {kind}s made, the first on {first.made_on}"
    return _reason(RECORD, text, RECORD, against=False)


def too_many(case: Case) -> Reason | None:
    """Say whether a tree that gives has more wounds than the rule set allows its girth."""
    if not 0 < case.holes_allowed < len(case.wounds):
        return None
    text = f"{len(case.wounds)} holes this season, {case.holes_allowed} allowed"
    return case.bench.by_rule(text, case.holes_source, against=True)


def _called(area: Area) -> str:
    return f"'{area.name}'" if area.name else "without a name"


def _permission(area: Area) -> str:
    owner = f" of {area.owner}" if area.owner else ""
    return f"permission{owner} for {_called(area)}"


def _dates(area: Area) -> str:
    first = f"from {area.from_date} " if area.from_date else ""
    last = f"until {area.until_date}" if area.until_date else ""
    return f"{first}{last}".strip() or "no dates set"


def _trees(count: int) -> str:
    return "tree gives" if count == 1 else "trees give"


def _told_apart(value: float, limit: float, decimals: int) -> tuple[str, str]:
    """Write two numbers with no more decimals than tell them apart."""
    for places in range(decimals, 15):
        a, b = f"{value:.{places}f}", f"{limit:.{places}f}"
        if a != b or value == limit:
            return _trimmed(a), _trimmed(b)
    return repr(value), repr(limit)


def _trimmed(number: str) -> str:
    return number.rstrip("0").rstrip(".") if "." in number else number
