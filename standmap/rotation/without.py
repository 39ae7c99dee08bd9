"""What comes of a stand without a plan: whatever may be tapped is tapped."""

from __future__ import annotations

from standmap.rotation.problem import RotationProblem


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
