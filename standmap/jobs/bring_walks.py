"""Walks of a file, and the trees that their stops belong to or suggest."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from standmap.formats.content import FoundWalk
from standmap.jobs.bring_batch import Batch
from standmap.jobs.bring_report import BroughtStop
from standmap.jobs.keys import new_key
from standmap.jobs.positions import xy
from standmap.stand.records import Source
from standmap.stand.tree import Tree
from standmap.stand.walks import Stop, StopState, Walk

if TYPE_CHECKING:
    from standmap.survey.frame import WorkingFrame
    from standmap.survey.stops import FoundStop

STOP_REACH_M = 3.0
"""A stop belongs to a known tree this near, or within two standard deviations if that is more: an assumption."""

ALIKE = 4.0
"""A stop may as well be at a second tree whose squared distance is greater by less than this many variances of one
axis: then that tree is at least exp(-2), a seventh, as likely as the nearest (normal errors, worked out here)."""

LEAST_SIGMA_M = 0.5
"""No position of a handheld receiver is known better than this: an assumption."""


@dataclass(frozen=True, slots=True)
class Meant:
    """The tree that a stop was made at.

    Attributes
    ----------
    own
        Whether it is a tree that an earlier stop of the same walk suggested.
    other, other_away_m
        A second tree that may be meant as well.
    """

    tree: Tree
    away_m: float
    own: bool = False
    other: Tree | None = None
    other_away_m: float = math.nan


@dataclass
class StopsFound:
    """Stops of walks, sought once: the search takes seconds on a long walk."""

    _found: dict[int, tuple[FoundWalk, WorkingFrame, tuple[FoundStop, ...]]] = field(default_factory=dict)

    def of(self, walk: FoundWalk, frame: WorkingFrame) -> tuple[FoundStop, ...]:
        """Return the stops of a walk, none where it has no times."""
        known = self._found.get(id(walk))
        if known is None or known[0] is not walk or known[1] != frame:
            from standmap.survey.stops import find_stops

            known = (walk, frame, tuple(find_stops(walk.fixes, frame)) if walk.fixes.timed else ())
            self._found[id(walk)] = known
        return known[2]


def take_walk(batch: Batch, found: FoundWalk, source: Source) -> Walk | None:
    """Take a walk in; returns None where it was there before."""
    if any(_same_walk(w, found) for w in (*batch.known_walks, *batch.walks)):
        return None
    name = found.name or f"walk {len(batch.known_walks) + len(batch.walks) + 1}"
    walk = Walk(new_key(), name, found.fixes, found.note or "", source.key)
    batch.walks.append(walk)
    return walk


def _same_walk(walk: Walk, found: FoundWalk) -> bool:
    a, b = walk.fixes, found.fixes
    pairs: tuple[Callable[[Any], Any], ...] = (lambda f: f.lon, lambda f: f.lat, lambda f: f.time_s)
    return len(a) == len(b) and all(np.array_equal(column(a), column(b), equal_nan=True) for column in pairs)


class StopsOfWalk:
    """The stops of one walk on their way in, each looking for its tree."""

    def __init__(self, batch: Batch, walk: Walk) -> None:
        assert batch.frame is not None  # noqa: S101 - a walk has positions, so a frame was chosen
        self._batch = batch
        self.walk = walk
        self._trees = [*batch.trees.new_trees.values(), *batch.trees.stand.present]
        self._xy = xy(batch.frame, [t.at for t in self._trees])
        self._own: list[tuple[FoundStop, Tree]] = []

    def meant(self, stop: FoundStop) -> Meant | None:
        """Return the tree that a stop was made at: a known one, or one that this walk suggested before."""
        return _tree_at(stop, self._trees, self._xy) or self._own_tree_at(stop)

    def _own_tree_at(self, stop: FoundStop) -> Meant | None:
        near = [(math.hypot(stop.x - o.x, stop.y - o.y), tree) for o, tree in self._own]
        apart, tree = min(near, key=lambda n: n[0], default=(math.inf, None))
        return Meant(tree, apart, own=True) if tree is not None and apart <= STOP_REACH_M else None

    def propose(self, stop: FoundStop, item_id: str) -> Tree:
        """Suggest a tree, to be confirmed by a person."""
        batch = self._batch
        tree = batch.trees.add(
            Tree(
                key=new_key(),
                name=batch.name_for(item_id, "P"),
                at=(stop.lon, stop.lat),
                proposed=True,
                var_e_m2=stop.var_e_m2,
                var_n_m2=stop.var_n_m2,
                cov_en_m2=stop.cov_en_m2,
                walk_key=self.walk.key,
                source_key=self.walk.source_key,
            )
        )
        batch.makers[tree.key] = item_id
        self._own.append((stop, tree))
        return tree


def _tree_at(stop: FoundStop, trees: Sequence[Tree], tree_xy: NDArray[np.float64]) -> Meant | None:
    """Return the known tree that a stop was made at, and a second one that may be meant as well."""
    apart = np.hypot(tree_xy[:, 0] - stop.x, tree_xy[:, 1] - stop.y)
    apart[np.isnan(apart)] = np.inf
    if not len(apart):
        return None
    first = int(np.argmin(apart))
    away = float(apart[first])
    if away > max(STOP_REACH_M, 2 * stop.sigma_m):
        return None
    apart[first] = np.inf
    second = int(np.argmin(apart))
    other = float(apart[second])
    if other**2 - away**2 < ALIKE * max(stop.sigma_m, LEAST_SIGMA_M) ** 2:
        return Meant(trees[first], away, other=trees[second], other_away_m=other)
    return Meant(trees[first], away)


def note_stop(batch: Batch, walk: Walk, stop: FoundStop, tree: Tree | None) -> BroughtStop | None:
    """Note a stop with its tree; without one it is a stop that a person left out."""
    at = (stop.lon, stop.lat)
    from_at, to_at = datetime.fromtimestamp(stop.from_s, UTC), datetime.fromtimestamp(stop.to_s, UTC)
    variances = (stop.var_e_m2, stop.var_n_m2, stop.cov_en_m2)
    key = None if tree is None else tree.key
    state = StopState.IGNORED if tree is None else StopState.PROPOSED
    batch.stops.append(
        Stop(new_key(), walk.key, at, from_at, to_at, stop.fix_count, *variances, tree_key=key, state=state)
    )
    if tree is None:
        return None
    return BroughtStop(tree.name, stop.lon, stop.lat, from_at, to_at, stop.fix_count, stop.sigma_m)
