"""What is written and drawn on a walk sheet, in plain values: texts as they are read, positions in metres."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum, StrEnum, auto

XY = tuple[float, float]
"""Metres east and north in the stand's working frame."""

Way = tuple[XY, ...]


class Fill(Enum):
    """What stands in a column."""

    TEXT = auto()
    WRITE = auto()
    TICK = auto()


@dataclass(frozen=True, slots=True)
class Column:
    """One column of the table.

    Attributes
    ----------
    width_mm
        On a sheet whose columns together are as wide as the paper; else all widths change in proportion.
    """

    title: str
    width_mm: float
    fill: Fill = Fill.TEXT


@dataclass(frozen=True, slots=True)
class Cell:
    """One cell.

    Attributes
    ----------
    ticks
        Lines that each have a box to tick before them.
    fine
        Lines in small print below.
    """

    text: str = ""
    strong: bool = False
    ticks: tuple[str, ...] = ()
    fine: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class SheetStop:
    """A stop: its number, where it is, and its row of the table, one cell a column."""

    number: int
    at: XY
    cells: tuple[Cell, ...]


@dataclass(frozen=True, slots=True)
class SheetTrip:
    """A way out and back.

    Attributes
    ----------
    head, end
        Written above and below its stops; empty for nothing.
    legs
        The ways walked, in order: to each stop, then back.
    """

    head: str
    end: str
    legs: tuple[Way, ...]
    stops: tuple[SheetStop, ...]


@dataclass(frozen=True, slots=True)
class SheetPart:
    """What one person carries along: a map, and the table of all their trips.

    Attributes
    ----------
    foot
        Written at the foot of its pages.
    facts
        What it is and what was said of it: title and text.
    """

    title: str
    foot: str
    facts: tuple[tuple[str, str], ...]
    trips: tuple[SheetTrip, ...]


class Sign(StrEnum):
    """What is drawn on the map."""

    STOP = "stop"
    WALK = "walk"
    GATE = "gate"
    TANK = "tank"
    LANDMARK = "landmark"
    HAZARD = "hazard"
    BRIDGE = "bridge"
    FORD = "ford"
    PATH = "path"
    STREAM = "stream"
    FENCE = "fence"
    PERMITTED = "permitted"
    NO_GO = "no-go"
    TREE = "tree"


@dataclass(frozen=True, slots=True)
class Spot:
    """A place on the map."""

    sign: Sign
    name: str
    at: XY


@dataclass(frozen=True, slots=True)
class Ground:
    """What is drawn under the walk.

    Attributes
    ----------
    lines
        Sign and course.
    areas
        Sign and rings, the outer one first.
    trees
        Trees that the walk does not stop at.
    """

    spots: tuple[Spot, ...] = ()
    lines: tuple[tuple[Sign, Way], ...] = ()
    areas: tuple[tuple[Sign, tuple[Way, ...]], ...] = ()
    trees: Way = ()


@dataclass(frozen=True, slots=True)
class North:
    """Where north is.

    Attributes
    ----------
    letter
        What stands at the needle.
    magnetic_deg
        Where a compass points, degrees east of true north; None where that is not known.
    text
        In words.
    """

    letter: str
    magnetic_deg: float | None
    text: str


@dataclass(frozen=True, slots=True)
class Block:
    """A box of its own on the sheet: a heading and lines, each with a box to tick where `ticked`."""

    title: str
    lines: tuple[str, ...]
    ticked: bool = False


@dataclass(frozen=True, slots=True)
class WalkSheet:
    """A whole walk on paper.

    Attributes
    ----------
    title
        Of the file.
    emergency
        In a heavy frame on the first page of each part.
    cautions
        Below it.
    at_each_stop
        Above the table of each part.
    last
        On the last pages, once for all parts.
    legend
        What the signs of the map mean.
    scale_note
        Beside the scale.
    """

    title: str
    parts: tuple[SheetPart, ...]
    columns: tuple[Column, ...]
    ground: Ground
    north: North
    emergency: Block
    cautions: Block
    at_each_stop: Block
    last: tuple[Block, ...]
    legend: dict[Sign, str]
    scale_note: str = ""
