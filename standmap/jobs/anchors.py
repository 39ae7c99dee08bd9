"""What positions of trees and places rest on: where a point was merely given, that is written down once it is tied.

A point with neither a stop nor a taken position hangs on its sights alone; so one that had a position before it was
first sighted, or first stopped at, gets that position as a taken one.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable

from standmap.jobs.keys import new_key
from standmap.stand.ground import Place
from standmap.stand.sights import Origin, Sight, TakenPosition
from standmap.stand.tree import Tree
from standmap.stand.walks import Stop, StopState

UNKNOWN_SIGMA_M = 5.0
"""Standard deviation of an axis of a position that does not say how sure it is: that of a handheld receiver under
trees (common practice, no source)."""

LEAST_SIGMA_M = 0.05
"""No position is taken to be better known than this: where a tree begins and ends is no clearer."""


def resting_on_something(stops: Iterable[Stop], taken: Iterable[TakenPosition]) -> frozenset[str]:
    """Return keys of the trees and places that have a stop or a taken position, a left-out one too."""
    found = {s.tree_key for s in stops} | {t.tree_key or t.place_key for t in taken}
    return frozenset(key for key in found if key is not None)


def anchors(
    points: Iterable[Tree | Place], stops: Iterable[Stop], taken: Iterable[TakenPosition], sights: Iterable[Sight]
) -> list[TakenPosition]:
    """Return as taken positions where the points of new sights were merely given before.

    Parameters
    ----------
    points
        All that have a position which does not come of these sights.
    stops, taken
        Those of the stand, and those that are written with the sights.
    """
    resting = resting_on_something(stops, taken)
    known = {p.key: p for p in points}
    tied = dict.fromkeys(
        key for s in sights for key in (s.from_key, s.to_key, s.toward_key) if key is not None and key not in resting
    )
    found: list[TakenPosition] = []
    for key in tied:
        point = known.get(key)
        if point is not None and not (isinstance(point, Tree) and point.pinned):
            found.append(given_position(point))
    return found


def given_before_stops(
    trees: Iterable[Tree],
    fresh: Collection[Stop],
    stops: Iterable[Stop],
    taken: Iterable[TakenPosition],
    sights: Iterable[Sight],
) -> list[TakenPosition]:
    """Return as taken positions where the trees of new stops were merely given before.

    Parameters
    ----------
    trees
        All, with what is written along with the stops.
    fresh
        The new stops; a tree that one of them suggested stands nowhere else.
    stops, taken, sights
        Those of the stand: a tree that has sights and nothing else hangs on them, and was not given.
    """
    known = {t.key: t for t in trees}
    resting = set(resting_on_something(stops, taken))
    resting |= {key for s in sights for key in (s.from_key, s.to_key, s.toward_key) if key is not None}
    resting |= {s.tree_key for s in fresh if s.tree_key in known and known[s.tree_key].walk_key == s.walk_key}
    found: list[TakenPosition] = []
    for key in dict.fromkeys(s.tree_key for s in fresh if believed(s)):
        tree = known.get(key or "")
        if tree is not None and key not in resting and not tree.pinned:
            found.append(given_position(tree))
    return found


def given_position(point: Tree | Place) -> TakenPosition:
    """Return the position of a tree or place as one that was given."""
    if isinstance(point, Place):
        return TakenPosition(
            new_key(), None, point.key, point.at, UNKNOWN_SIGMA_M**2, UNKNOWN_SIGMA_M**2, 0.0, Origin.GIVEN
        )
    var_e, var_n, cov_en = spread_of(point)
    return TakenPosition(
        new_key(), point.key, None, point.at, var_e, var_n, cov_en, Origin.GIVEN, source_key=point.source_key
    )


def spread_of(tree: Tree) -> tuple[float, float, float]:
    """Return the covariance of a tree's position in square metres, an assumed one where it is unknown."""
    if tree.var_e_m2 is None or tree.var_n_m2 is None:
        return UNKNOWN_SIGMA_M**2, UNKNOWN_SIGMA_M**2, 0.0
    return tree.var_e_m2, tree.var_n_m2, tree.cov_en_m2 or 0.0


def believed(stop: Stop) -> bool:
    """Return whether a stop counts for the place of its tree."""
    return stop.tree_key is not None and stop.state is not StopState.IGNORED
