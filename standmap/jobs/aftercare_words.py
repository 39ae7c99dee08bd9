"""Words of aftercare that lists, sheets and calendars share."""

from __future__ import annotations

from enum import StrEnum

from standmap.stand.tapping import Act

TO_DO = {
    Act.TAKEN_OUT: "take the tube out",
    Act.PLUGGED: "plug the hole",
    Act.LEFT_OPEN: "look, and note that it stays open",
    Act.TRIMMED: "trim the plug flush",
    Act.LOOKED_AT: "look whether it has closed",
}
"""What is asked for, as something to do."""


class Word(StrEnum):
    """Single words, to be said in the person's language."""

    AFTERCARE = "aftercare"
    OVERDUE = "overdue"
    DUE_TODAY = "due today"
    DUE_LATER = "due later"
    PEGS = "pegs"


class Head(StrEnum):
    """The headings of the list on paper."""

    ENTRY = "entry"
    TREE = "tree"
    WOUND = "wound"
    TO_DO = "to do"
    DUE = "due"
    DONE = "done"
    DAY = "day"
    NOTE = "note"
