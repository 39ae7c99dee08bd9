"""What people saw who looked whether a wound has closed. A wound that nobody looked at is not an open one."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from standmap.stand.tapping import Act, Observation, TapHole

_TOLD = {Act.SEEN_CLOSED: False, Act.SEEN_OPEN: True}


@dataclass(frozen=True, slots=True)
class Look:
    """What was seen at one wound on one day."""

    on: date
    is_open: bool


def looks_at(hole: TapHole, seen: Iterable[Observation]) -> tuple[Look, ...]:
    """Return what was seen of a wound, oldest first.

    Parameters
    ----------
    seen
        Observations at its tree, oldest first. One that names no wound does not tell which was open, and is left out;
        so is one of before the wound was made.
    """
    return tuple(
        Look(one.observed_on, _TOLD[one.what])
        for one in seen
        if one.hole_key == hole.key and one.what in _TOLD and one.observed_on >= hole.made_on
    )


def last_look(hole: TapHole, seen: Iterable[Observation], by: date) -> Look | None:
    """Return the last look by a day that told whether a wound has closed; of one day the later entry counts."""
    found = [look for look in looks_at(hole, seen) if look.on <= by]
    return found[-1] if found else None
