"""Stems that no rotation needs to tell apart, counted together."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from standmap.rotation.problem import RotationProblem, Stem


@dataclass(frozen=True, slots=True)
class Group:
    """Stems of the same block, holes, litres, limits and rest behind them.

    Attributes
    ----------
    stems
        Each on a root of its own, or one only.
    root
        The root that this group shares with other groups; None where it shares none.
    """

    stems: tuple[Stem, ...]
    root: str | None

    @property
    def one(self) -> Stem:
        """Any of them: they are all alike."""
        return self.stems[0]


def groups_of(problem: RotationProblem) -> tuple[Group, ...]:
    """Return the stems in groups, in the order of their first stems.

    A stem that may never be tapped is in none.

    Notes
    -----
    How many of a group are tapped in each season is all that a program has to decide: as long as no more than the group
    holds are tapped in any `rest` seasons in a row, there is always one that has rested (`shared_out` finds it).
    """
    stems_on = Counter(stem.root for stem in problem.stems)
    found: dict[object, list[Stem]] = {}
    for stem in problem.stems:
        if not any(stem.may(season) for season in range(problem.seasons)):
            continue
        shares = stems_on[stem.root] > 1
        like = (stem.block, stem.holes, stem.hole_l, stem.free_from, stem.limits)
        found.setdefault((stem.key,) if shares else like, []).append(stem)
    return tuple(
        Group(tuple(stems), stems[0].root if stems_on[stems[0].root] > 1 else None) for stems in found.values()
    )


def shared_out(group: Group, counts: tuple[int, ...], rest: int) -> tuple[tuple[str, ...], ...]:
    """Return which stems of a group are tapped in each season, so that each rests; who has rested longest comes first.

    Raises
    ------
    ValueError
        If more are asked for than have rested.
    """
    free_at = dict.fromkeys((stem.key for stem in group.stems), 0)
    tapped = []
    for season, count in enumerate(counts):
        rested = sorted((free, n, key) for n, (key, free) in enumerate(free_at.items()) if free <= season)
        if len(rested) < count:
            raise ValueError(f"{count} stems are asked for in season {season}, {len(rested)} have rested")
        keys = tuple(key for _, _, key in rested[:count])
        free_at |= dict.fromkeys(keys, season + rest)
        tapped.append(keys)
    return tuple(tapped)
