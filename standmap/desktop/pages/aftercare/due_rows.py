"""What the aftercare page lists: the day's needs, filtered and put into words. No Qt here."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date

from standmap.jobs.aftercare import STEPS, Due, StandCare
from standmap.stand.tapping import Act

DOING: dict[Act, str] = {
    Act.TAKEN_OUT: "take out the tube",
    Act.PLUGGED: "plug the hole",
    Act.LEFT_OPEN: "leave open, note it",
    Act.TRIMMED: "trim the plug",
    Act.LOOKED_AT: "look if it has closed",
}
"""What a person does, in the order of the work."""


@dataclass(frozen=True, slots=True)
class DueCount:
    """How much of one kind of work there is."""

    act: Act
    overdue: int
    due: int
    later: int


def counts(care: StandCare) -> tuple[DueCount, ...]:
    """Return for each kind of work that is asked for how much is overdue, due on the day, and due later."""
    found = []
    for act in STEPS:
        mine = [d for d in care.due if d.need.what is act]
        overdue = sum(d.need.overdue for d in mine)
        later = sum(d.need.due_on > care.day for d in mine)
        if mine:
            found.append(DueCount(act, overdue, len(mine) - overdue - later, later))
    return tuple(found)


def listed(care: StandCare, hidden: Collection[Act], *, later: bool) -> tuple[Due, ...]:
    """Return what is shown: all but the kinds put away and, unless wanted, what is due only later."""
    return tuple(d for d in care.due if d.need.what not in hidden and (later or d.need.due_on <= care.day))


def how_late(due: Due, day: date) -> tuple[str, int]:
    """Return "overdue", "today" or "later" and the number of days between."""
    days = (day - due.need.due_on).days
    if due.need.overdue:
        return "overdue", days
    return ("today", 0) if days == 0 else ("later", -days)
