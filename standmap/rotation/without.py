"""What comes of a stand without a plan, where whatever may be tapped is tapped, and what comes of taking turns."""

from __future__ import annotations

import math
from dataclasses import replace

from standmap.rotation.problem import RotationProblem, worth

TURNS = (1.0, 0.95, 0.9, 0.8, 0.6)
"""Parts of an even share that are tried as what each season is to give."""


def all_that_may(problem: RotationProblem) -> tuple[tuple[str, ...], ...]:
    """Return the stems tapped in each season when everything that has rested is tapped, up to the owners' limits.

    What gives most comes first; where something is wanted, no more is tapped than that takes.
    """
    free_at: dict[str, int] = {}
    seasons = []
    for season in range(problem.seasons):
        left = [limit[season] for limit in problem.limits]
        tapped, litres = [], 0.0
        able = (s for s in problem.stems if s.may(season) and free_at.get(s.root, 0) <= season)
        for stem in sorted(able, key=lambda s: (-s.litres(season), s.key)):
            if problem.wanted_l is not None and litres >= problem.wanted_l:
                break
            if free_at.get(stem.root, 0) > season or any(left[n] == 0 for n in stem.limits):
                continue
            for n in stem.limits:
                most = left[n]
                left[n] = None if most is None else most - 1
            free_at[stem.root] = season + problem.rest
            tapped.append(stem.key)
            litres += stem.litres(season)
        place = {stem.key: n for n, stem in enumerate(problem.stems)}
        seasons.append(tuple(sorted(tapped, key=place.__getitem__)))
    return tuple(seasons)


def in_turns(problem: RotationProblem) -> tuple[tuple[str, ...], ...]:
    """Return a plain rotation that is sound, made at once: each season taps no more than about its even share.

    It is what a search begins with, and what is left of one that is stopped before it has found anything.
    """
    roots: dict[str, float] = {}
    for stem in problem.stems:
        best = max((stem.litres(season) for season in range(problem.seasons) if stem.may(season)), default=0.0)
        roots[stem.root] = max(roots.get(stem.root, 0.0), best)
    share = math.fsum(roots.values()) / problem.rest
    enough = [min(part * share, problem.wanted_l or math.inf) for part in TURNS if part * share > 0]
    ways = [all_that_may(replace(problem, wanted_l=litres)) for litres in enough]
    nothing = tuple(() for _ in range(problem.seasons))
    return max((nothing, all_that_may(problem), *ways), key=lambda tapped: worth(problem, tapped))
