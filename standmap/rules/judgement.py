"""What a judgement is: a verdict, every reason behind it, and what asks for care."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Verdict(StrEnum):
    """May this tree be tapped this season; the first that holds, in this order, is shown."""

    GIVING = "giving"
    OFF_LIMITS = "off limits"
    UNFIT = "unfit"
    UNSURE = "unsure"
    GROWING_ON = "growing on"
    RESTING = "resting"
    READY = "ready"


@dataclass(frozen=True, slots=True)
class Reason:
    """One thing that speaks for or against tapping a tree.

    Attributes
    ----------
    rule
        Whose rule it is: the title of the rule set, an owner's permission, or this stand's own record.
    text
        What holds, short.
    source
        Where the rule's figure comes from.
    against
        Whether it speaks against tapping the tree (again) this season.
    """

    rule: str
    text: str
    source: str
    against: bool


@dataclass(frozen=True, slots=True)
class Judgement:
    """A tree judged for one season.

    Attributes
    ----------
    reasons
        That the tree gives comes first; then all that speaks against, in the order of the verdicts; then what
        speaks in favour.
    back_in
        The season in which a resting or giving tree may be tapped again, its other reasons aside; else None.
    holes_allowed
        Holes that the rule set allows a ready or giving tree this season; 0 for all others.
    """

    tree_key: str
    verdict: Verdict
    reasons: tuple[Reason, ...]
    cautions: tuple[str, ...]
    back_in: int | None
    holes_allowed: int
