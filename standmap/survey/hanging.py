"""What is not tied down in a network of measurements, and what would tie it down."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass
from enum import StrEnum

from standmap.stand.sights import Sight
from standmap.survey.one_sight import XY
from standmap.survey.readings import SeenAt


class Lack(StrEnum):
    """What points lack.

    Attributes
    ----------
    NOTHING
        They hang together, if at all, but on nothing that has a position.
    TURN
        They are tied to what has a position, but too loosely: they can turn or slide.
    SIDE
        Two tapes reach it from one side and the other alike: its mirror image fits as well.
    """

    NOTHING = "nothing"
    TURN = "turn"
    SIDE = "side"


@dataclass(frozen=True, slots=True)
class Hanging:
    """Points that are not tied down, together."""

    lack: Lack
    points: tuple[str, ...]


def hanging(
    points: Mapping[str, XY],
    held: frozenset[str],
    seen: Sequence[SeenAt],
    sights: Sequence[Sight],
    lost: AbstractSet[str],
) -> tuple[Hanging, ...]:
    """Return what is not tied down, group by group, in the order of the points.

    Parameters
    ----------
    lost
        The points of which the solution says that nothing ties them down.
    """
    anchored = {s.point for s in seen} | held
    found: list[Hanging] = []
    for group in _groups(points, sights):
        loose = tuple(key for key in group if key in lost)
        if loose:
            lack = Lack.TURN if any(key in anchored for key in group) else Lack.NOTHING
            found.append(Hanging(lack, loose))
    found += [Hanging(Lack.SIDE, (key,)) for key in _mirrored(points, anchored, sights) if key not in lost]
    return tuple(found)


def _groups(points: Mapping[str, XY], sights: Sequence[Sight]) -> list[list[str]]:
    above = {key: key for key in points}

    def top(key: str) -> str:
        while above[key] != key:
            above[key] = above[above[key]]
            key = above[key]
        return key

    for sight in sights:
        for other in (sight.to_key, sight.toward_key):
            if other is not None:
                above[top(other)] = top(sight.from_key)
    groups: dict[str, list[str]] = {}
    for key in points:
        groups.setdefault(top(key), []).append(key)
    return list(groups.values())


def _mirrored(points: Mapping[str, XY], anchored: AbstractSet[str], sights: Sequence[Sight]) -> list[str]:
    """Return points that nothing but two tapes place."""
    tapes: dict[str, set[str]] = {}
    told: set[str] = set(anchored)
    for sight in sights:
        ends = {sight.from_key, sight.to_key}
        if sight.toward_key is not None or sight.bearing_deg is not None or sight.back_bearing_deg is not None:
            told |= ends
        else:
            for key in ends:
                tapes.setdefault(key, set()).update(ends - {key})
    return [key for key in points if key not in told and len(tapes.get(key, ())) == 2]
