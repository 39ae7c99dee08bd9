"""What wounds need next, as a calendar to take into any calendar program."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime

from standmap.formats.calendar_file import Entry, calendar
from standmap.jobs.aftercare import Due, StandCare
from standmap.jobs.aftercare_words import TO_DO, Word
from standmap.stand.tapping import TapHole
from standmap.stand.tree import Tree


def aftercare_calendar(name: str, care: StandCare, now: datetime, say: Callable[[str], str] = str) -> bytes:
    """Return what is due as a calendar: one whole day an entry, on its due day, with a reminder that morning.

    Parameters
    ----------
    name
        What the stand is called.
    say
        Turns an English sentence into the person's language.

    Notes
    -----
    An entry is known by its wound, which needs one thing at a time: brought in again, a calendar changes it to what is
    needed next, and adds none. One is called off where its wound came to its end within a year, or its tree is gone.
    What is overdue stands on the day of the answer, for nobody looks at days gone by.
    """
    due = (_entry(due, care.day, say) for due in care.due)
    over = (_over(tree, hole, on, say) for tree, hole, on in care.ended)
    return calendar(f"{name}: {say(Word.AFTERCARE.value)}", (*due, *over), now)


def _over(tree: Tree, hole: TapHole, on: date, say: Callable[[str], str]) -> Entry:
    told = say("nothing more is needed")
    wound = say(f"{hole.kind} {hole.number} of {hole.season}")
    return Entry(
        uid=_uid(hole),
        day=on,
        summary=f"{tree.name}: {told}",
        description=f"{tree.name}, {wound}",
        position=tree.at,
        place=tree.name,
        off=True,
    )


def _uid(hole: TapHole) -> str:
    return f"{hole.key}@standmap"


def _entry(due: Due, day: date, say: Callable[[str], str]) -> Entry:
    need, hole = due.need, due.hole
    late = [say(f"was due on {need.due_on.isoformat()}")] if need.due_on < day else []
    peg = [] if due.peg is None else [say(due.peg.told)]
    wound = say(f"{hole.kind} {hole.number} of {hole.season}")
    return Entry(
        uid=_uid(hole),
        day=max(need.due_on, day),
        summary=f"{due.tree.name}: {say(TO_DO[need.what])}",
        description="\n".join(
            [f"{due.tree.name}, {wound}", *late, say(need.why), *peg, f"{say(need.rule)}: {say(need.source)}"]
        ),
        position=due.tree.at,
        place=due.tree.name,
    )
