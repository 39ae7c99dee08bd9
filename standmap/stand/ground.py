"""The ground: places, lines to walk along or not across, and areas where tapping is permitted or not."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from standmap.stand.tree import LonLat

Ring = tuple[LonLat, ...]
"""A closed ring: first and last position are the same."""


class PlaceKind(StrEnum):
    """What a place is for."""

    GATE = "gate"
    TANK = "tank"
    LANDMARK = "landmark"
    HAZARD = "hazard"
    BRIDGE = "bridge"
    FORD = "ford"


class LineKind(StrEnum):
    """What a line is."""

    PATH = "path"
    STREAM = "stream"
    FENCE = "fence"


class AreaKind(StrEnum):
    """Whether an area gives or takes permission."""

    PERMITTED = "permitted"
    NO_GO = "no-go"


@dataclass(frozen=True, slots=True)
class Place:
    """A named point: where a round starts, where sap is poured out, what to keep away from, where to cross."""

    key: str
    name: str
    kind: PlaceKind
    at: LonLat
    note: str = ""
    source_key: str | None = None


@dataclass(frozen=True, slots=True)
class Line:
    """A path, a stream or a fence; bridges, fords and gates are places."""

    key: str
    name: str
    kind: LineKind
    course: tuple[LonLat, ...]
    note: str = ""
    source_key: str | None = None


@dataclass(frozen=True, slots=True)
class Area:
    """A permitted or a no-go area: outer ring first, then holes.

    Attributes
    ----------
    from_date, until_date
        The days on which the permission holds, both included; open where absent.
    most_trees
        How many trees the owner lets be tapped in one season.
    """

    key: str
    name: str
    kind: AreaKind
    outline: tuple[Ring, ...]
    owner: str = ""
    from_date: date | None = None
    until_date: date | None = None
    most_trees: int | None = None
    note: str = ""
    source_key: str | None = None
