"""What an adjustment rests on: the trees and places that something was measured at, and all that was measured.

A point without any position of its own hangs on its sights alone: one that was given got it kept as a taken position
when it was first sighted.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from standmap.jobs.opening import working_frame
from standmap.jobs.positions import xy
from standmap.stand.ground import Place
from standmap.stand.sights import Sight, TakenPosition
from standmap.stand.snapshot import Stand
from standmap.stand.tree import LonLat, Tree
from standmap.stand.walks import Stop, StopState, Walk
from standmap.store.stand_file import StandFile

if TYPE_CHECKING:
    from standmap.survey.frame import WorkingFrame
    from standmap.survey.readings import SeenAt

Observation = Sight | TakenPosition | Stop
Spread = tuple[float, float, float]

LEAST_OWN_M2 = 0.01
"""Least variance of an axis of a position that is left once what its walk shares is taken out: an assumption."""


@dataclass(frozen=True, slots=True)
class Point:
    """A tree or a place that takes part.

    Attributes
    ----------
    held
        Whether it is pinned, and so does not move.
    """

    thing: Tree | Place
    held: bool

    @property
    def key(self) -> str:
        """Key of the tree or place."""
        return self.thing.key

    @property
    def name(self) -> str:
        """What it is called."""
        return self.thing.name or self.thing.key

    @property
    def tree(self) -> bool:
        """Whether it is a tree."""
        return isinstance(self.thing, Tree)


@dataclass(frozen=True, slots=True)
class Basis:
    """All that an adjustment is worked out from, as it was read.

    Attributes
    ----------
    points
        By key, in the order of the stand: trees, then places.
    sights, taken, stops
        What was measured between or at these points, used or left out. Points that were merged go by what they were
        merged into.
    walks
        Names of the walks, by key.
    """

    frame: WorkingFrame | None
    points: Mapping[str, Point]
    sights: tuple[Sight, ...]
    taken: tuple[TakenPosition, ...]
    stops: tuple[Stop, ...]
    walks: Mapping[str, str]

    @property
    def observations(self) -> tuple[Observation, ...]:
        """Everything that was measured."""
        return (*self.stops, *self.taken, *self.sights)

    @property
    def shared_m2(self) -> dict[str, float]:
        """For each walk the variance of an axis of the error that all its positions share."""
        found: dict[str, float] = {}
        for stop in self.stops:
            found[stop.walk_key] = max(found.get(stop.walk_key, 0.0), stop.shared_m2)
        return {key: value for key, value in found.items() if value > 0}


def is_used(observation: Observation) -> bool:
    """Return whether an observation counts."""
    return observation.state is not StopState.IGNORED if isinstance(observation, Stop) else observation.used


def point_of(observation: TakenPosition | Stop) -> str:
    """Return the key of the point that a position is one of."""
    if isinstance(observation, Stop):
        return observation.tree_key or ""
    return observation.tree_key or observation.place_key or ""


def read_basis(file: StandFile) -> Basis:
    """Read what an adjustment rests on: all that tape, compass and receivers tie or place."""
    stand = file.stand()
    main = _survivors(stand)
    things: dict[str, Tree | Place] = {t.key: t for t in stand.present}
    things |= {p.key: p for p in stand.places}
    sights = tuple(
        s
        for s in (_of_survivors(sight, main) for sight in file.rows(Sight))
        if all(key in things for key in _ends(s)) and s.from_key != s.to_key and s.from_key != s.toward_key
    )
    taken = tuple(t for t in (_taken_of(taken, main) for taken in file.rows(TakenPosition)) if point_of(t) in things)
    # A stop that was ignored and has no tree was ignored as such, and not left out of an adjustment.
    stops = tuple(s for s in (_stop_of(stop, main) for stop in file.rows(Stop)) if s.tree_key in things)
    frame = working_frame(stand)
    points = _points(frame, things, sights, [*taken, *stops])
    walks = {w.key: w.name for w in file.rows(Walk)} if stops or taken else {}
    return Basis(
        frame,
        points,
        tuple(s for s in sights if all(key in points for key in _ends(s))),
        tuple(t for t in taken if point_of(t) in points),
        tuple(s for s in stops if point_of(s) in points),
        walks,
    )


def _survivors(stand: Stand) -> dict[str, str]:
    """Return for each merged tree the one that it turned out to be."""
    found: dict[str, str] = {}
    for tree in stand.trees:
        key, passed = tree.key, {tree.key}
        while (row := stand.by_key.get(key)) is not None and row.merged_into is not None:
            if row.merged_into in passed:
                break
            key = row.merged_into
            passed.add(key)
        if key != tree.key:
            found[tree.key] = key
    return found


def _of_survivors(sight: Sight, main: Mapping[str, str]) -> Sight:
    ends = (sight.from_key, sight.to_key, sight.toward_key)
    if not any(key in main for key in ends if key):
        return sight
    start, end, toward = (main.get(key, key) if key else None for key in ends)
    return replace(sight, from_key=start or "", to_key=end or "", toward_key=toward)


def _taken_of(taken: TakenPosition, main: Mapping[str, str]) -> TakenPosition:
    key = main.get(taken.tree_key or "")
    return taken if key is None else replace(taken, tree_key=key)


def _stop_of(stop: Stop, main: Mapping[str, str]) -> Stop:
    key = main.get(stop.tree_key or "")
    return stop if key is None else replace(stop, tree_key=key)


def _ends(sight: Sight) -> tuple[str, ...]:
    ends = (sight.from_key, sight.to_key)
    return ends if sight.toward_key is None else (*ends, sight.toward_key)


def _points(
    frame: WorkingFrame | None,
    things: Mapping[str, Tree | Place],
    sights: Sequence[Sight],
    positions: Sequence[TakenPosition | Stop],
) -> dict[str, Point]:
    if frame is None:
        return {}
    tied = {point_of(position) for position in positions} | {key for sight in sights for key in _ends(sight)}
    asked = [key for key in things if key in tied]
    reached = np.isfinite(xy(frame, [things[key].at for key in asked])[:, 0])
    return {
        key: Point(things[key], _pinned(things[key])) for key, near in zip(asked, reached.tolist(), strict=True) if near
    }


def _pinned(thing: Tree | Place) -> bool:
    return isinstance(thing, Tree) and thing.pinned


def seen_by_receivers(basis: Basis, left_out: Collection[str] = ()) -> list[SeenAt]:
    """Return all positions that count, point by point, with what is their own of their errors."""
    from standmap.survey.readings import SeenAt

    frame = basis.frame
    if frame is None:
        return []
    shared = basis.shared_m2
    rows: list[tuple[str, str, LonLat, Spread, str | None]] = []
    for stop in basis.stops:
        if is_used(stop) and stop.key not in left_out:
            spread = (stop.var_e_m2, stop.var_n_m2, stop.cov_en_m2)
            rows.append((point_of(stop), stop.key, stop.at, _own(spread, stop.shared_m2), stop.walk_key))
    for taken in basis.taken:
        if taken.used and taken.key not in left_out:
            part = shared.get(taken.walk_key or "", 0.0)
            spread = (taken.var_e_m2, taken.var_n_m2, taken.cov_en_m2)
            rows.append((point_of(taken), taken.key, taken.at, _own(spread, part), taken.walk_key))
    # Point by point, so that the same readings come in the same order whatever wrote them.
    number = {key: i for i, key in enumerate(basis.points)}
    rows.sort(key=lambda row: (number[row[0]], row[1]))
    places = xy(frame, [row[2] for row in rows])
    return [
        SeenAt(key, point, (float(x), float(y)), own, walk if walk in shared else None)
        for (point, key, _, own, walk), (x, y) in zip(rows, places, strict=True)
        if np.isfinite(x)
    ]


def _own(spread: Spread, shared_m2: float) -> Spread:
    """Return what is left of a covariance once the shared part is taken out, never nothing."""
    var_e, var_n = (max(value - shared_m2, LEAST_OWN_M2) for value in spread[:2])
    most = 0.99 * (var_e * var_n) ** 0.5
    return var_e, var_n, min(max(spread[2], -most), most)
