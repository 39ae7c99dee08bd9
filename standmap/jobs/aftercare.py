"""What the wounds of a stand need next, under the rule set in force."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime

from standmap.aftercare.closing import MAPLE_SOURCE, Closing, closing_of, rests_on
from standmap.aftercare.needs import CareFigure, CarePlan, Need, ended, needs
from standmap.aftercare.peg import Peg, peg_for
from standmap.errors import NothingToDo
from standmap.formats.records_csv import FoundRecord
from standmap.jobs.cautions import LOCAL_RULES
from standmap.jobs.record import RecordReport, record
from standmap.jobs.rule_choice import rules_of
from standmap.rules.ruleset import CAUTIOUS, RuleSet, available, load
from standmap.stand.looks import last_look
from standmap.stand.snapshot import Stand
from standmap.stand.tapping import Act, TapHole
from standmap.stand.tree import Tree
from standmap.store.stand_file import StandFile

STEPS = (Act.TAKEN_OUT, Act.PLUGGED, Act.LEFT_OPEN, Act.TRIMMED, Act.LOOKED_AT)
"""What may be asked for, in the order of the work."""

MOST_NAMED = 4
"""Up to so many trees are named in a label of the log; more are counted."""


@dataclass(frozen=True, slots=True)
class Due:
    """A need with the tree and the wound it is about.

    Attributes
    ----------
    peg
        What to plug with, where a plug is asked for.
    """

    tree: Tree
    hole: TapHole
    need: Need
    peg: Peg | None = None


@dataclass(frozen=True, slots=True)
class StandCare:
    """A day's answer.

    Attributes
    ----------
    due
        By due date, then in the order of the trees.
    counts
        How many times each act is asked for in `due`, in the order of the work; acts not asked for are left out.
    why_nothing
        The reason where `due` is empty; else "".
    ended
        Trees, wounds and the days since which nothing more is needed, of the last year; asked for with what is due
        later.
    """

    day: date
    rules: RuleSet
    due: tuple[Due, ...]
    counts: Mapping[str, int]
    why_nothing: str
    ended: tuple[tuple[Tree, TapHole, date], ...] = ()

    def of(self, some: Sequence[Due]) -> StandCare:
        """Return the same answer with only some of what is due."""
        counted = Counter(one.need.what for one in some)
        counts = {str(act): counted[act] for act in STEPS if counted[act]}
        return replace(self, due=tuple(some), counts=counts)


def aftercare(stand: Stand, day: date, *, later: bool = False) -> StandCare:
    """List what the wounds of standing trees need by a day.

    Parameters
    ----------
    later
        Whether to list what is due only after the day, too.

    Raises
    ------
    UserError
        If the stand's rules cannot be had.
    """
    rules = rules_of(stand)
    holes = {hole.key: hole for hole in stand.holes}
    plan = care_plan(rules)
    known = [
        Due(stand.by_key[need.tree_key], hole := holes[need.hole_key], need, _peg(need, hole, rules))
        for need in needs(stand, plan, day)
    ]
    due = tuple(one for one in known if later or one.need.due_on <= day)
    over = ended(stand, plan, day) if later else ()
    why_nothing = "" if due else _why_nothing(stand, day, known)
    since = tuple((stand.by_key[hole.tree_key], hole, on) for hole, on in over)
    return StandCare(day, rules, (), {}, why_nothing, since).of(due)


def _peg(need: Need, hole: TapHole, rules: RuleSet) -> Peg | None:
    if need.what is not Act.PLUGGED:
        return None
    noted = hole.bit_mm is not None and hole.depth_mm is not None
    bit_mm = hole.bit_mm or rules.value("hole_width_mm")
    return peg_for(bit_mm, hole.depth_mm or rules.value("hole_depth_most_mm"), noted=noted)


def mark_done(
    file: StandFile,
    done: Sequence[Due],
    on: date,
    now: datetime,
    *,
    today: date | None = None,
    seen: Act = Act.LOOKED_AT,
) -> RecordReport:
    """Write down that what was due has been done, as one edit.

    Parameters
    ----------
    on
        The day on which it was done.
    seen
        What a look that was asked for saw: closed, open, or not told.

    Raises
    ------
    NothingToDo
        If nothing is named.
    UserError
        If one cannot have been done that day; then none is written down.
    """
    if not done:
        raise NothingToDo("nothing is named that was done")
    acts = [seen if d.need.what is Act.LOOKED_AT else d.need.what for d in done]
    records = [FoundRecord(0, d.tree.key, d.hole.key, on, None, str(act)) for d, act in zip(done, acts, strict=True)]
    what = Counter(map(str, acts))
    names = ", ".join(dict.fromkeys(d.tree.name for d in done)) if len(done) <= MOST_NAMED else f"{len(done)} wounds"
    return record(file, records, today or on, now, label=f"{', '.join(what)}: {names}")


def care_plan(rules: RuleSet) -> CarePlan:
    """Return what a rule set asks for after tapping."""

    def figure(name: str) -> CareFigure:
        found = rules.figure(name)
        return CareFigure(int(found.value), found.source)

    return CarePlan(
        rule=rules.title,
        # What the cautious set lends, this set does not ask for.
        plug=None if rules.figure("plug").lent else figure("plug"),
        tube_most_days=figure("tube_most_days"),
        plug_within_days=figure("plug_within_days"),
        trim_after_days=figure("trim_after_days"),
        look_after_seasons=figure("look_after_seasons"),
    )


def plugging_told(rules: RuleSet) -> str:
    """Return what a rule set says of plugging, in one sentence."""
    figure = rules.figure("plug")
    if figure.lent:
        told = f"{rules.title} does not say whether a hole is plugged, so neither is asked for"
        return f"{told}; the cautious set would plug" if load(CAUTIOUS).value("plug") else told
    return f"{rules.title} asks for a plug" if figure.value else f"{rules.title} lets holes stay open"


def others_on_plugging(rules: RuleSet) -> tuple[tuple[str, str], ...]:
    """Return what others say of plugging, and each time who says so: published rules disagree."""
    found = []
    for name in available():
        other = load(name)
        figure = other.figure("plug")
        if name not in (CAUTIOUS, rules.id) and not figure.lent:
            found.append((f"{other.title}: {figure.given}", figure.source))
    return (
        *found,
        ("Alaska: some leave holes open", "Peninsula Clarion"),
        ("maple: closing was not helped by any treatment", MAPLE_SOURCE),
    )


def closing_told(rules: RuleSet) -> str:
    """Return within how many growing seasons wounds are expected to close, and what that rests on."""
    figure = rules.figure("closes_after_seasons")
    return rests_on(int(figure.value), figure.source)


def closings_of(stand: Stand, tree: Tree, by: date, rules: RuleSet) -> tuple[tuple[TapHole, Closing], ...]:
    """Return how far the wounds of a tree made by a day are closed, oldest first."""
    seasons = int(rules.value("closes_after_seasons"))
    seen = stand.observations_of.get(tree.key, ())
    return tuple(
        (hole, closing_of(hole, last_look(hole, seen, by), seasons))
        for hole in stand.holes_of.get(tree.key, ())
        if hole.made_on <= by
    )


def _why_nothing(stand: Stand, day: date, known: list[Due]) -> str:
    nothing = f"nothing is due on {day.isoformat()}"
    if known:
        first = known[0]
        return (
            f"{nothing}: the next is '{first.need.what}' at {first.tree.name} on {first.need.due_on.isoformat()} "
            "(--all lists what is due later)"
        )
    if not any(hole.made_on <= day for hole in stand.holes):
        return f"{nothing}: no hole or slit was made by then"
    return f"{nothing}: every wound of a standing tree is closed and was looked at"


def cautions_for(care: StandCare) -> tuple[str, ...]:
    """Return the cautions of the work that is asked for, in plain words; all are common practice, no source."""
    said = []
    if care.counts.keys() - {Act.LOOKED_AT}:
        said.append("work with both feet on the ground, never from a ladder")
    if Act.TAKEN_OUT in care.counts:
        said.append("twist a tube out by hand; levered out, it tears the bark")
    if care.counts.keys() & {Act.PLUGGED, Act.TRIMMED}:
        said.append(
            "mind the knife: cut away from yourself, cut the plug and not the bark, clean the blade for each tree"
        )
    if Act.LOOKED_AT in care.counts:
        said.append(
            "wounds close, they do not heal, and how soon in birch is not known here: one look is asked for, "
            "and another next autumn for a wound noted as open"
        )
    return (*said, LOCAL_RULES)
