"""All that is known of one tree, as a person reads it: its verdict, its measures, its seasons and its holes."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from itertools import groupby

from standmap.aftercare.closing import Closing
from standmap.jobs.aftercare import closing_told, closings_of
from standmap.jobs.judge_one import judge_one
from standmap.jobs.mark import plans_of
from standmap.jobs.next_place import NextPlace, next_place
from standmap.jobs.readiness import Answer, readiness
from standmap.jobs.stem_facts import StemFacts, stem_facts
from standmap.rules.ground import GroundContext, ground_context
from standmap.rules.judgement import Reason, Verdict
from standmap.rules.ruleset import RuleSet
from standmap.stand.looks import last_look
from standmap.stand.records import Plan
from standmap.stand.snapshot import Stand
from standmap.stand.tapping import CLOSING, Act, TapHole, Wound
from standmap.stand.tree import Measurement, Tree


@dataclass(frozen=True, slots=True)
class HoleFacts:
    """One wound on the stem.

    Attributes
    ----------
    state
        What was done to it last that says whether its tube is in: "open", or the act.
    closing
        When it is expected to close, and what was seen of it.
    """

    key: str
    number: int
    kind: Wound
    season: int
    made_on: date
    height_mm: float | None
    side_deg: float | None
    depth_mm: float | None
    bit_mm: float | None
    state: str
    closing: Closing | None = None


@dataclass(frozen=True, slots=True)
class SeasonFacts:
    """One season in which a tree was tapped.

    Attributes
    ----------
    nights
        From the first wound of the season to the last collection; 0 while nothing was collected.
    volume_ml
        All that was collected.
    state
        The states of its wounds, each once.
    closing
        How far they are closed, each answer once.
    """

    season: int
    holes: int
    slits: int
    nights: int
    volume_ml: float
    state: str
    closing: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class TreeFacts:
    """One tree, for one season.

    Attributes
    ----------
    sentence
        The verdict in words, such as "resting, back in 2028".
    rest_passed
        Part of the rest that is over, 0 to 1, for a resting tree, else None.
    reasons
        Against the tree first.
    answers
        What would make it ready.
    measurement
        The newest one, whatever the season.
    measured_at_mm
        Height at which the rules read a girth.
    root_names
        Other stems of the same rootstock.
    seasons, holes
        Newest first.
    marked
        Holes it is marked for in the season, 0 where it is not.
    place
        Where the next hole has most room.
    stem
        What its holes left in it.
    closing_rests_on
        What the season of closing is expected by.
    """

    tree: Tree
    season: int
    verdict: Verdict
    sentence: str
    back_in: int | None
    rest_passed: float | None
    holes_allowed: int
    reasons: tuple[Reason, ...]
    cautions: tuple[str, ...]
    answers: tuple[Answer, ...]
    measurement: Measurement | None
    measured_at_mm: float
    root_names: tuple[str, ...]
    seasons: tuple[SeasonFacts, ...]
    holes: tuple[HoleFacts, ...]
    marked: int
    place: NextPlace
    stem: StemFacts
    closing_rests_on: str


def tree_facts(
    stand: Stand,
    tree: Tree,
    season: int,
    rules: RuleSet,
    plans: Iterable[Plan] = (),
    context: GroundContext | None = None,
) -> TreeFacts:
    """Gather what is known of a tree and judge it for a season.

    Parameters
    ----------
    plans
        Marks of any seasons.
    context
        The ground, prepared for this stand, season and rule set; made here when absent.

    Raises
    ------
    UserError
        If the season is no year.
    """
    ground = context or ground_context(stand, season, rules)
    every_plan = tuple(plans)
    judged = judge_one(stand, tree, season, rules, ground)
    back = f", back in {judged.back_in}" if judged.back_in is not None else ""
    years = max(1, rules.return_after_years)
    resting = judged.verdict is Verdict.RESTING and judged.back_in is not None
    plan = plans_of(every_plan, season).get(tree.key)
    day = date(season, 12, 31)
    closings = {hole.key: closing for hole, closing in closings_of(stand, tree, day, rules)}
    holes = tuple(replace(hole, closing=closings.get(hole.key)) for hole in holes_of(stand, tree))
    return TreeFacts(
        tree=tree,
        season=season,
        verdict=judged.verdict,
        sentence=f"{judged.verdict}{back}",
        back_in=judged.back_in,
        rest_passed=min(1.0, max(0.0, 1 - ((judged.back_in or season) - season) / years)) if resting else None,
        holes_allowed=judged.holes_allowed,
        reasons=judged.reasons,
        cautions=judged.cautions,
        answers=readiness(stand, tree, season, rules, every_plan, ground),
        measurement=stand.newest_measurement(tree.key),
        measured_at_mm=rules.value("measuring_height_mm"),
        root_names=tuple(t.name for t in ground.stems.get(tree.rootstock or "", ()) if t.key != tree.key),
        seasons=seasons_of(stand, holes, day),
        holes=holes,
        marked=plan.holes if plan is not None else 0,
        place=next_place(stand, tree, day, rules),
        stem=stem_facts(stand, tree, day, rules),
        closing_rests_on=closing_told(rules),
    )


def holes_of(stand: Stand, tree: Tree) -> tuple[HoleFacts, ...]:
    """Return the wounds of a tree, newest first."""
    rows = sorted(stand.holes_of.get(tree.key, ()), key=lambda h: (-h.season, h.number))
    return tuple(
        HoleFacts(
            key=h.key,
            number=h.number,
            kind=h.kind,
            season=h.season,
            made_on=h.made_on,
            height_mm=h.height_mm,
            side_deg=h.side_deg,
            depth_mm=h.depth_mm,
            bit_mm=h.bit_mm,
            state=_state(stand, h),
        )
        for h in rows
    )


def seasons_of(stand: Stand, holes: Sequence[HoleFacts], on: date) -> tuple[SeasonFacts, ...]:
    """Return a line for each season of a tree's wounds, which are given newest first, as told on a day."""
    found = []
    for season, group in groupby(holes, key=lambda h: h.season):
        made = list(group)
        taken = [c for h in made for c in stand.collections_of.get(h.key, ())]
        first = min(h.made_on for h in made)
        nights = max(1, (max(c.collected_on for c in taken) - first).days) if taken else 0
        found.append(
            SeasonFacts(
                season=season,
                holes=sum(1 for h in made if h.kind is Wound.HOLE),
                slits=sum(1 for h in made if h.kind is Wound.SLIT),
                nights=nights,
                volume_ml=sum(c.volume_ml for c in taken),
                state=", ".join(dict.fromkeys(h.state for h in made)),
                closing=tuple(dict.fromkeys(h.closing.told(on) for h in made if h.closing is not None)),
            )
        )
    return tuple(found)


def _state(stand: Stand, hole: TapHole) -> str:
    """Return the last act on a wound, or "open" while its tube is in; a look tells of that only where it has closed."""
    acts = [o for o in stand.observations_of.get(hole.tree_key, ()) if o.hole_key == hole.key]
    acts = [o for o in acts if o.what in CLOSING or o.what is Act.TRIMMED]
    if not acts:
        look = last_look(hole, stand.observations_of.get(hole.tree_key, ()), date.max)
        return str(Act.SEEN_CLOSED) if look is not None and not look.is_open else "open"
    newest = max(o.observed_on for o in acts)
    # Of one day the step that comes later in the work counts.
    order = (Act.TAKEN_OUT, Act.LEFT_OPEN, Act.PLUGGED, Act.TRIMMED)
    return str(max((o.what for o in acts if o.observed_on == newest), key=order.index))
