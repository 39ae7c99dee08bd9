"""Walks of a file, and the trees that their stops belong to or suggest."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from standmap.formats.content import FoundWalk
from standmap.jobs.bring_batch import Batch
from standmap.jobs.keys import new_key
from standmap.jobs.positions import xy
from standmap.messages import Messages
from standmap.stand.records import Source
from standmap.stand.tree import Tree
from standmap.stand.walks import Stop, Walk

if TYPE_CHECKING:
    from standmap.survey.stops import FoundStop

STOP_REACH_M = 3.0
"""A stop belongs to a known tree this near, or within two standard deviations if that is more: an assumption."""


@dataclass(frozen=True, slots=True)
class BroughtStop:
    """A stop of a walk and the tree it belongs to or suggests."""

    tree: str
    lon: float
    lat: float
    from_at: datetime
    to_at: datetime
    fixes: int
    sigma_m: float


def _same_walk(walk: Walk, found: FoundWalk) -> bool:
    a, b = walk.fixes, found.fixes
    pairs: tuple[Callable[[Any], Any], ...] = (lambda f: f.lon, lambda f: f.lat, lambda f: f.time_s)
    return len(a) == len(b) and all(np.array_equal(column(a), column(b), equal_nan=True) for column in pairs)


def take_walk(batch: Batch, found: FoundWalk, source: Source, brought: list[BroughtStop], messages: Messages) -> bool:
    """Take a walk in and find its stops; returns whether it was new."""
    if any(_same_walk(w, found) for w in (*batch.known_walks, *batch.walks)):
        return False
    name = found.name or f"walk {len(batch.known_walks) + len(batch.walks) + 1}"
    walk = Walk(new_key(), name, found.fixes, found.note or "", source.key)
    batch.walks.append(walk)
    if not found.fixes.timed:
        messages.tell(f"{source.file_name}, {found.where}: no times, so no stops: kept as a line only")
        return True
    from standmap.survey.stops import find_stops

    assert batch.frame is not None  # noqa: S101 - a walk has positions, so a frame was chosen
    stops = find_stops(found.fixes, batch.frame)
    trees = [*batch.trees.new_trees.values(), *batch.trees.stand.present]
    tree_xy = xy(batch.frame, [t.at for t in trees])
    own: list[tuple[FoundStop, Tree]] = []
    for stop in stops:
        tree = _tree_at(stop, trees, tree_xy) or _own_tree_at(stop, own)
        if tree is None:
            tree = _proposed(batch, walk, stop)
            own.append((stop, tree))
        brought.append(_noted(batch, walk, stop, tree))
    return True


def _tree_at(stop: FoundStop, trees: Sequence[Tree], tree_xy: NDArray[np.float64]) -> Tree | None:
    """Return the known tree that a stop was made at."""
    apart = np.hypot(tree_xy[:, 0] - stop.x, tree_xy[:, 1] - stop.y)
    apart[np.isnan(apart)] = np.inf
    if not len(apart):
        return None
    nearest = int(np.argmin(apart))
    return trees[nearest] if apart[nearest] <= max(STOP_REACH_M, 2 * stop.sigma_m) else None


def _own_tree_at(stop: FoundStop, own: Sequence[tuple[FoundStop, Tree]]) -> Tree | None:
    """Return the tree that this walk has proposed before, when the walker came back to it."""
    near = [(math.hypot(stop.x - o.x, stop.y - o.y), tree) for o, tree in own]
    apart, tree = min(near, key=lambda n: n[0], default=(math.inf, None))
    return tree if apart <= STOP_REACH_M else None


def _proposed(batch: Batch, walk: Walk, stop: FoundStop) -> Tree:
    """Suggest a tree, to be confirmed by a person."""
    return batch.trees.add(
        Tree(
            key=new_key(),
            name=batch.trees.free_name("P"),
            at=(stop.lon, stop.lat),
            proposed=True,
            var_e_m2=stop.var_e_m2,
            var_n_m2=stop.var_n_m2,
            cov_en_m2=stop.cov_en_m2,
            walk_key=walk.key,
            source_key=walk.source_key,
        )
    )


def _noted(batch: Batch, walk: Walk, stop: FoundStop, tree: Tree) -> BroughtStop:
    at = (stop.lon, stop.lat)
    from_at, to_at = datetime.fromtimestamp(stop.from_s, UTC), datetime.fromtimestamp(stop.to_s, UTC)
    variances = (stop.var_e_m2, stop.var_n_m2, stop.cov_en_m2)
    batch.stops.append(Stop(new_key(), walk.key, at, from_at, to_at, stop.fix_count, *variances, tree_key=tree.key))
    return BroughtStop(tree.name, stop.lon, stop.lat, from_at, to_at, stop.fix_count, stop.sigma_m)
