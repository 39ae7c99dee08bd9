"""Moments at which a walker noted something at a tree, brought to the steps of a track."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from standmap.stand.walks import FloatArray
from standmap.survey.noise import Steps


@dataclass(frozen=True, slots=True)
class Mark:
    """A moment at which the walker noted something while standing at a tree: a note, a waypoint, a picture.

    Attributes
    ----------
    time_s
        Seconds since 1970-01-01 UTC, by the clock of the track.
    tree
        What tells trees apart, a name or number: neighbouring marks with one `tree` lie in one stop, with two
        in two stops. None says only that there is a stop; it may share the stop of its neighbours.
    """

    time_s: float
    tree: str | None = None


@dataclass(frozen=True, slots=True, eq=False)
class MarkedSteps:
    """What marks say of the steps of a track; columns of one length m.

    Attributes
    ----------
    at
        Whether a mark lies in the step.
    tree
        Number of the tree that is named in the step, counted up along the walk; -1 where none is.
    """

    at: NDArray[np.bool_]
    tree: NDArray[np.int64]

    @property
    def any(self) -> bool:
        """Whether there is a mark at all."""
        return bool(self.at.any())

    def part(self, lo: int, hi: int) -> MarkedSteps:
        """Return steps `lo` up to but not including `hi`."""
        return MarkedSteps(self.at[lo:hi], self.tree[lo:hi])

    @property
    def next_tree(self) -> NDArray[np.int64]:
        """Number of the first tree named in or after each step; beyond all numbers where none is."""
        none = np.iinfo(np.int64).max
        return np.minimum.accumulate(np.where(self.tree < 0, none, self.tree)[::-1])[::-1]

    @property
    def last_tree(self) -> NDArray[np.int64]:
        """Number of the last tree named in or before each step, -1 where none is."""
        return np.maximum.accumulate(self.tree)

    def apart(self, first: int, last: int) -> bool:
        """Return whether steps `first` to `last` hold marks of two trees."""
        named = self.tree[first : last + 1]
        named = named[named >= 0]
        return len(named) > 0 and bool(named[0] != named[-1])

    def within(self, first: int, last: int) -> tuple[int, int] | None:
        """Return the first and the last marked step among steps `first` to `last`, None where there is none."""
        found = np.flatnonzero(self.at[first : last + 1])
        return (first + int(found[0]), first + int(found[-1])) if len(found) else None


def on_steps(marks: Sequence[Mark], steps: Steps, start_s: float, reach_s: float) -> MarkedSteps:
    """Bring marks to the nearest steps; those farther from any than `reach_s` are left alone.

    Parameters
    ----------
    start_s
        The moment from which the steps count, seconds since 1970.
    """
    at = np.zeros(len(steps), dtype=bool)
    tree = np.full(len(steps), -1, dtype=np.int64)
    number, name = -1, None
    for mark in sorted((m for m in marks if np.isfinite(m.time_s)), key=lambda m: (m.time_s, m.tree or "")):
        step = _nearest(steps, mark.time_s - start_s, reach_s)
        if step is None:
            continue
        at[step] = True
        if mark.tree is None:
            continue
        if mark.tree != name:
            name, number = mark.tree, number + 1
        # Two trees within one step cannot be told apart; the first one stays.
        if tree[step] < 0:
            tree[step] = number
    return MarkedSteps(at, tree)


def in_stops(marks: Sequence[Mark], spans: Iterable[tuple[float, float]], reach_s: float) -> list[tuple[int, ...]]:
    """Return for each stop (from, to) the places in `marks` of those that are nearest to it, within `reach_s`."""
    edges = np.array(list(spans)).reshape(-1, 2)
    held: list[list[int]] = [[] for _ in edges]
    for place, mark in enumerate(marks):
        if len(edges) and np.isfinite(mark.time_s):
            away: FloatArray = np.maximum(edges[:, 0] - mark.time_s, mark.time_s - edges[:, 1])
            nearest = int(away.argmin())
            if away[nearest] <= reach_s:
                held[nearest].append(place)
    return [tuple(places) for places in held]


def _nearest(steps: Steps, at_s: float, reach_s: float) -> int | None:
    after = int(np.searchsorted(steps.begin, at_s, side="right"))
    near = [
        (max(steps.begin[i] - at_s, at_s - steps.end[i], 0.0), i) for i in (after - 1, after) if 0 <= i < len(steps)
    ]
    away, step = min(near)
    return step if away <= reach_s else None
