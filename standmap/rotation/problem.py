"""What is asked of a rotation: which stems may be tapped when, how long a root rests, what is wanted of each season."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum


class Want(StrEnum):
    """What is made as large as it can be."""

    EVEN = "even"
    """The leanest season first, then all of them together."""
    MOST = "most"
    """All seasons together, however uneven."""


@dataclass(frozen=True, slots=True)
class Stem:
    """One stem over the seasons of the plan, which are numbered from 0.

    Attributes
    ----------
    root
        Stems of one rootstock share this, and its rest.
    block
        Part of the stand that it stands in; going to a block costs once a season.
    holes
        For each season how many holes it takes, 0 where it may not be tapped.
    hole_l
        Litres that one hole gives in a season.
    free_from
        First season in which its root has rested from what was done before the plan.
    limits
        Numbers of the owners' limits that it counts for.

    Raises
    ------
    ValueError
        If a number is negative or not finite.
    """

    key: str
    root: str
    block: int
    holes: tuple[int, ...]
    hole_l: float
    free_from: int = 0
    limits: tuple[int, ...] = ()

    def __post_init__(self) -> None:
        if not math.isfinite(self.hole_l) or self.hole_l < 0:
            raise ValueError(f"hole_l of stem '{self.key}' must be a finite number of at least 0, not {self.hole_l}")
        if any(count < 0 for count in self.holes) or self.free_from < 0:
            raise ValueError(f"stem '{self.key}' has a number below 0")

    def may(self, season: int) -> bool:
        """Return whether it may be tapped in a season, its rest within the plan aside."""
        return season >= self.free_from and self.holes[season] > 0

    def litres(self, season: int) -> float:
        """Return what it gives in a season in which it is tapped."""
        return self.holes[season] * self.hole_l


@dataclass(frozen=True, slots=True)
class RotationProblem:
    """A stand and what is wanted of it over `seasons` seasons.

    Attributes
    ----------
    rest
        A root tapped in season s may be tapped again in season s + rest; at least 1.
    limits
        For each owner's limit the most stems in each season; None where it does not hold.
    wanted_l
        Litres of each season that are enough; more is worth nothing then. None: as much as there is.
    block_cost_l
        What going to one more block is worth, litres a season.
    hole_cost_l
        What one hole less is worth, litres: of two plans that give the same, the one with fewer wounds is better.

    Raises
    ------
    ValueError
        If a number is out of range, a stem does not cover the seasons, or two stems share a key.
    """

    stems: tuple[Stem, ...]
    seasons: int
    rest: int
    limits: tuple[tuple[int | None, ...], ...] = ()
    wanted_l: float | None = None
    want: Want = Want.EVEN
    block_cost_l: float = 0.0
    hole_cost_l: float = 0.01

    def __post_init__(self) -> None:
        if self.seasons < 1 or self.rest < 1:
            raise ValueError("a rotation needs at least one season, and a rest of at least one")
        for name, value in (("block_cost_l", self.block_cost_l), ("hole_cost_l", self.hole_cost_l)):
            if not math.isfinite(value) or value < 0:
                raise ValueError(f"{name} must be a finite number of at least 0, not {value}")
        if self.wanted_l is not None and not (math.isfinite(self.wanted_l) and self.wanted_l > 0):
            raise ValueError(f"wanted_l must be a finite number above 0, not {self.wanted_l}")
        if any(len(stem.holes) != self.seasons for stem in self.stems):
            raise ValueError("every stem must say how many holes it takes in every season")
        if any(len(limit) != self.seasons for limit in self.limits):
            raise ValueError("every limit must say how many stems it lets be tapped in every season")
        if any(n >= len(self.limits) for stem in self.stems for n in stem.limits):
            raise ValueError("a stem counts for a limit that is not there")
        if len({stem.key for stem in self.stems}) != len(self.stems):
            raise ValueError("two stems share a key")

    @property
    def counting(self) -> tuple[int, ...]:
        """The seasons in which some stem may be tapped: one that can give nothing is not the leanest."""
        return tuple(s for s in range(self.seasons) if any(stem.may(s) for stem in self.stems))


@dataclass(frozen=True, slots=True)
class Rotation:
    """Which stems are tapped in which season.

    Attributes
    ----------
    tapped
        For each season the keys of its stems, in the order of the problem.
    worth_l
        What was made as large as it can be, see `worth`.
    bound_l
        No rotation is worth more than this.
    proved
        Whether none is worth more, to a ten-thousandth part.
    stopped
        Whether the search was ended before that.
    """

    tapped: tuple[tuple[str, ...], ...]
    worth_l: float
    bound_l: float
    proved: bool
    stopped: bool

    @property
    def gap_percent(self) -> float:
        """How far the best possible may be above this, in per cent of it."""
        return 0.0 if self.proved else max(0.0, 100 * (self.bound_l - self.worth_l) / max(abs(self.bound_l), 1e-9))


LEANEST_WEIGHT = 10.0
"""For an even rotation a litre more in the leanest season is worth this many litres more in one of the others,
spread over all seasons: an assumption."""


def litres_of(problem: RotationProblem, tapped: Sequence[Sequence[str]]) -> tuple[float, ...]:
    """Return what each season gives."""
    of = {stem.key: stem for stem in problem.stems}
    return tuple(math.fsum(of[key].litres(season) for key in keys) for season, keys in enumerate(tapped))


def worth(problem: RotationProblem, tapped: Sequence[Sequence[str]]) -> float:
    """Return what a rotation is worth, litres.

    The useful litres of all seasons together, or for an even rotation a weighted mean of those and of as many times the
    leanest season; less what walking to blocks and what wounds are held to cost.
    """
    of = {stem.key: stem for stem in problem.stems}
    useful = litres_of(problem, tapped)
    if problem.wanted_l is not None:
        useful = tuple(min(litres, problem.wanted_l) for litres in useful)
    total, counting = math.fsum(useful), problem.counting
    if problem.want is Want.EVEN and counting:
        leanest = min(useful[season] for season in counting)
        total = (total + LEANEST_WEIGHT * len(counting) * leanest) / (1 + LEANEST_WEIGHT)
    blocks = sum(len({of[key].block for key in keys}) for keys in tapped)
    holes = sum(of[key].holes[season] for season, keys in enumerate(tapped) for key in keys)
    return total - problem.block_cost_l * blocks - problem.hole_cost_l * holes


def faults(problem: RotationProblem, tapped: Sequence[Sequence[str]]) -> tuple[str, ...]:
    """Return what a rotation does that it may not; nothing for a sound one."""
    of = {stem.key: stem for stem in problem.stems}
    wrong = []
    last: dict[str, int] = {}
    for season, keys in enumerate(tapped):
        if len(set(keys)) < len(keys):
            wrong.append(f"season {season}: a stem is there twice")
        for key in keys:
            stem = of[key]
            if not stem.may(season):
                wrong.append(f"season {season}: {key} may not be tapped")
            if stem.root in last and season - last[stem.root] < problem.rest:
                wrong.append(f"season {season}: the root of {key} has not rested")
            last[stem.root] = season
        for number, limit in enumerate(problem.limits):
            most = limit[season]
            if most is not None and sum(number in of[key].limits for key in keys) > most:
                wrong.append(f"season {season}: limit {number} is passed")
    return tuple(wrong)
