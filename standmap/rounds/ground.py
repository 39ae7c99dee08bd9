"""The ground that is walked, in a flat frame: paths, what stands in the way and where it opens, and heights."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from standmap.rounds.heights import Heights

Xy = tuple[float, float]
"""East and north in metres, working frame."""

Ring = tuple[Xy, ...]
"""A closed ring; the last point may or may not repeat the first."""

HAZARD_RADIUS_M = 5.0
"""How far to keep from a hazard unless a person says otherwise: an assumption."""


def check_finite(points: Iterable[Xy], what: str) -> None:
    """Raise a ValueError that names what has a position that is not finite."""
    for x, y in points:
        if not (math.isfinite(x) and math.isfinite(y)):
            raise ValueError(f"{what} has a position that is not finite")


@dataclass(frozen=True, slots=True)
class Course:
    """A stream, a fence or a path: a line with a name, which may be empty.

    Raises
    ------
    ValueError
        If it has fewer than two different points, or a position that is not finite.
    """

    points: tuple[Xy, ...]
    name: str = ""

    def __post_init__(self) -> None:
        check_finite(self.points, f"the line '{self.name}'")
        if len(set(self.points)) < 2:
            raise ValueError(f"the line '{self.name}' needs at least two different points")


@dataclass(frozen=True, slots=True)
class Crossing:
    """A bridge or a ford; it opens the streams that pass close by.

    Attributes
    ----------
    ford
        Whether one wades there, which takes longer.
    """

    at: Xy
    name: str = ""
    ford: bool = False

    def __post_init__(self) -> None:
        check_finite((self.at,), f"the crossing '{self.name}'")


@dataclass(frozen=True, slots=True)
class Gate:
    """A gate or a stile; it opens the fences that pass close by."""

    at: Xy
    name: str = ""

    def __post_init__(self) -> None:
        check_finite((self.at,), f"the gate '{self.name}'")


@dataclass(frozen=True, slots=True)
class NoGo:
    """An area that nobody enters: its outline, then its holes, which can be walked.

    Raises
    ------
    ValueError
        If there is no outline, a ring has fewer than three different points, or a position is not finite.
    """

    rings: tuple[Ring, ...]
    name: str = ""

    def __post_init__(self) -> None:
        if not self.rings:
            raise ValueError(f"the no-go area '{self.name}' needs an outline")
        for ring in self.rings:
            check_finite(ring, f"the no-go area '{self.name}'")
            if len(set(ring)) < 3:
                raise ValueError(f"a ring of the no-go area '{self.name}' needs at least three different points")


@dataclass(frozen=True, slots=True)
class Hazard:
    """A point to keep away from.

    Raises
    ------
    ValueError
        If the position is not finite, or the radius not finite and above 0.
    """

    at: Xy
    name: str = ""
    radius_m: float = HAZARD_RADIUS_M

    def __post_init__(self) -> None:
        check_finite((self.at,), f"the hazard '{self.name}'")
        if not (math.isfinite(self.radius_m) and self.radius_m > 0):
            raise ValueError(f"the radius of the hazard '{self.name}' must be finite and above 0, not {self.radius_m}")


@dataclass(frozen=True, slots=True)
class Ground:
    """Everything mapped that walking has to do with; where nothing is mapped one walks straight, on level ground.

    Attributes
    ----------
    streams
        Crossed at bridges and fords only.
    fences
        Crossed at gates, and where a mapped path leads through.
    paths
        Walked faster than open wood.
    heights
        None where the ground is taken for level.
    """

    streams: tuple[Course, ...] = ()
    crossings: tuple[Crossing, ...] = ()
    no_go: tuple[NoGo, ...] = ()
    hazards: tuple[Hazard, ...] = ()
    fences: tuple[Course, ...] = ()
    gates: tuple[Gate, ...] = ()
    paths: tuple[Course, ...] = ()
    heights: Heights | None = None

    @property
    def barred(self) -> bool:
        """Whether anything stands in the way."""
        return bool(self.streams or self.no_go or self.hazards or self.fences)

    def __bool__(self) -> bool:
        """Whether any way may be other than straight and level."""
        return self.barred or bool(self.paths) or self.heights is not None
