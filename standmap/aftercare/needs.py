"""The one thing that each wound needs next, by when and why.

A wound goes through at most four steps: what leads the sap comes out; a hole is plugged or left open, a slit is left
open; a plug is trimmed flush; in autumn a person looks whether the wound has closed, and again the next autumn where it
was seen open. Wounds close, they do not heal. Only what is written down counts: a step that nobody noted is asked for,
but a plug only where the rule set itself says whether holes are plugged.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from standmap.stand.looks import last_look
from standmap.stand.snapshot import Stand
from standmap.stand.tapping import CLOSING, LOOKS, Act, Observation, TapHole, Wound
from standmap.stand.tree import Standing, Tree

AUTUMN = (9, 1)
"""Month and day from which a look tells how a wound has closed in the growing season (northern; assumption)."""

SLIT_SOURCE = "common practice, no source"
"""Who says that a slit takes no plug."""

REMEMBERED = timedelta(days=366)
"""So long after its end somebody may still hold a reminder of a wound (assumption)."""

Closing = tuple[Act, str]
"""How a wound is to be left, and who says so."""


@dataclass(frozen=True, slots=True)
class CareFigure:
    """A number and who says so."""

    value: int
    source: str


@dataclass(frozen=True, slots=True)
class CarePlan:
    """What a rule set asks for after tapping.

    Attributes
    ----------
    rule
        Title of the rule set.
    plug
        1 where a hole is to be plugged, 0 where it may stay open; None where the rule set says nothing of it: then
        neither is asked for.
    tube_most_days
        Days that a tube stays in at most.
    plug_within_days
        Days from taking the tube out to closing the hole.
    trim_after_days
        Days from plugging to trimming the plug.
    look_after_seasons
        Growing seasons, the wound's own counted, after which a person looks whether it has closed.
    """

    rule: str
    plug: CareFigure | None
    tube_most_days: CareFigure
    plug_within_days: CareFigure
    trim_after_days: CareFigure
    look_after_seasons: CareFigure


@dataclass(frozen=True, slots=True)
class Need:
    """What one wound needs next.

    Attributes
    ----------
    what
        The act that, once recorded, answers the need.
    due_on
        The day on which it is due.
    overdue
        Whether that day was over on the day asked about.
    rule, source
        The rule set that asks, and where its figures come from.
    """

    hole_key: str
    tree_key: str
    what: Act
    due_on: date
    overdue: bool
    why: str
    rule: str
    source: str


def needs(stand: Stand, plan: CarePlan, on: date) -> tuple[Need, ...]:
    """Return the next need of every wound that has one, of the trees that stand.

    Parameters
    ----------
    on
        The day asked about: what was made, done or felled later does not count.

    Returns
    -------
    tuple of Need
        By due date, then in the order of the trees; needs due only after `on` included.
    """
    found = [
        need
        for tree in stand.present
        if _stands(tree, on)
        for hole in stand.holes_of.get(tree.key, ())
        if hole.made_on <= on
        and (need := _next(hole, _Done.of(hole, stand.observations_of.get(tree.key, ()), on), plan, on)) is not None
    ]
    return tuple(sorted(found, key=lambda need: need.due_on))


def ended(stand: Stand, plan: CarePlan, on: date) -> tuple[tuple[TapHole, date], ...]:
    """Return the wounds that need nothing more, and since when, of those that came to their end within a year.

    A wound ends with the last thing noted of it, or when its tree is gone.
    """
    needed = {need.hole_key for need in needs(stand, plan, on)}
    found = []
    for tree in stand.present:
        gone = [] if _stands(tree, on) or tree.standing_since is None else [tree.standing_since]
        for hole in stand.holes_of.get(tree.key, ()):
            if hole.made_on > on or hole.key in needed:
                continue
            seen = stand.observations_of.get(tree.key, ())
            days = [one.observed_on for one in seen if one.hole_key in (hole.key, None) and one.observed_on <= on]
            last = max((*days, *gone, hole.made_on))
            if on - last <= REMEMBERED:
                found.append((hole, last))
    return tuple(found)


def _stands(tree: Tree, on: date) -> bool:
    return tree.standing is Standing.STANDING or (tree.standing_since or date.min) > on


@dataclass(frozen=True, slots=True)
class _Done:
    """The day on which each step was first done, the last look, and whether that saw the wound open, if it told."""

    out: date | None
    plugged: date | None
    left_open: date | None
    trimmed: date | None
    looked: date | None
    seen_open: bool | None

    @staticmethod
    def of(hole: TapHole, seen: Sequence[Observation], on: date) -> _Done:
        first: dict[Act, date] = {}
        look = last_look(hole, seen, on)
        looked: date | None = None
        for one in seen:  # oldest first
            mine = one.hole_key == hole.key
            if one.observed_on > on:
                continue
            # Whoever looked at a tree, and named no hole, looked at all its wounds.
            if one.what in LOOKS and (mine or one.hole_key is None):
                looked = one.observed_on
            elif mine:
                first.setdefault(one.what, one.observed_on)
        return _Done(
            out=min((day for act, day in first.items() if act in CLOSING), default=None),
            plugged=first.get(Act.PLUGGED),
            left_open=first.get(Act.LEFT_OPEN),
            trimmed=first.get(Act.TRIMMED),
            looked=looked,
            # A later look that did not tell what was seen ends the care of an open wound, too.
            seen_open=None if look is None or (look.is_open and look.on != looked) else look.is_open,
        )


def _next(hole: TapHole, done: _Done, plan: CarePlan, on: date) -> Need | None:
    if done.seen_open is False:
        return None  # Whatever was not noted before: it has closed.
    closing = _closing_act(hole, plan)
    closed = done.plugged or done.left_open
    if done.out is None:
        what, due, why, source = _tube_in(hole, plan, closing, on)
    elif closed is None and closing is not None:
        what, due, why, source = _tube_out(hole, done.out, plan, closing, on)
    else:
        closed = closed or done.out  # Where nobody asks how it is left, it is left.
        first_look = _first_look(hole, closed, plan)
        if done.looked is not None and done.looked >= first_look:
            if not done.seen_open:
                return None  # Whoever looked also saw whether a plug stood out.
            first_look = _next_autumn(done.looked)
            done = replace(done, trimmed=done.trimmed or done.looked)
        if done.plugged is not None and done.trimmed is None:
            what, due, why, source = _plugged(done.plugged, first_look, plan, on)
        else:
            what, due = Act.LOOKED_AT, max(first_look, done.trimmed or first_look)
            why, source = _why_look(hole, done), plan.look_after_seasons.source
    return Need(hole.key, hole.tree_key, what, due, due < on, why, plan.rule, source)


def _tube_in(hole: TapHole, plan: CarePlan, closing: Closing | None, on: date) -> tuple[Act, date, str, str]:
    most = plan.tube_most_days
    # No tube stays in past its own season, however late it was set.
    due = min(hole.made_on + timedelta(days=most.value), date(hole.season, 12, 31))
    if hole.season < on.year:
        # Whatever led the sap is most likely out: how the wound was left is what is missing.
        what, source = closing or (Act.TAKEN_OUT, most.source)
        why = (
            "never noted as closed: look, then record 'plugged', 'left open' or 'taken out' "
            f"(this last with its day in {hole.season})"
        )
        return what, due, why, _joined(source, most.source)
    days = _days((on - hole.made_on).days)
    if hole.kind is Wound.SLIT:
        return (
            Act.TAKEN_OUT,
            due,
            f"what leads the sap off has been in the slit for {days}; at most {most.value}",
            most.source,
        )
    return Act.TAKEN_OUT, due, f"the tube has been in for {days}; at most {most.value}", most.source


def _tube_out(hole: TapHole, out: date, plan: CarePlan, closing: Closing, on: date) -> tuple[Act, date, str, str]:
    what, source = closing
    due = out + timedelta(days=plan.plug_within_days.value)
    if hole.kind is Wound.SLIT:
        why = "a slit takes no plug: leave it clean and open, and note it"
    elif what is Act.PLUGGED:
        why = "a plug is asked for"
    else:
        why = "no plug is asked for: leave the hole clean and open, and note it"
    if hole.season < on.year and what is Act.PLUGGED:
        why += "; if none went in and the hole is closing, record 'left open'"
    return what, due, f"out since {out.isoformat()}: {why}", _joined(source, plan.plug_within_days.source)


def _plugged(plugged: date, first_look: date, plan: CarePlan, on: date) -> tuple[Act, date, str, str]:
    due = plugged + timedelta(days=plan.trim_after_days.value)
    why = f"plugged on {plugged.isoformat()}: cut off flush what stands out, and spare the bark"
    if first_look <= on:
        why += "; if nothing stands out, record 'looked at'"
    return Act.TRIMMED, due, why, plan.trim_after_days.source


def _closing_act(hole: TapHole, plan: CarePlan) -> Closing | None:
    """Return how the wound is to be left and who says so; None where the rule set does not say."""
    if hole.kind is Wound.SLIT:
        return Act.LEFT_OPEN, SLIT_SOURCE
    if plan.plug is None:
        return None
    return (Act.PLUGGED if plan.plug.value else Act.LEFT_OPEN), plan.plug.source


def _first_look(hole: TapHole, closed: date, plan: CarePlan) -> date:
    """Return the first day on which a look tells something: in autumn, after enough growing seasons."""
    year = max(hole.season + plan.look_after_seasons.value - 1, closed.year)
    day = date(year, *AUTUMN)
    return day if closed <= day else date(year + 1, *AUTUMN)


def _next_autumn(looked: date) -> date:
    """Return when to look again at what was seen open."""
    day = date(looked.year, *AUTUMN)
    return day if looked < day else date(looked.year + 1, *AUTUMN)


def _why_look(hole: TapHole, done: _Done) -> str:
    if done.seen_open and done.looked is not None:
        return f"seen open on {done.looked.isoformat()}: look again in autumn whether the {hole.kind} has closed"
    closed = (Act.PLUGGED, done.plugged), (Act.LEFT_OPEN, done.left_open)
    steps = (
        *(closed if any(day for _, day in closed) else ((Act.TAKEN_OUT, done.out),)),
        (Act.TRIMMED, done.trimmed),
        (Act.LOOKED_AT, done.looked),
    )
    said = ", ".join(f"{act} on {day.isoformat()}" for act, day in steps if day is not None)
    return f"{said}: look in autumn whether the {hole.kind} has closed"


def _joined(who: str, by_when: str) -> str:
    return who if who == by_when else f"{who}; by when: {by_when}"


def _days(count: int) -> str:
    return f"{count} day{'' if count == 1 else 's'}"
