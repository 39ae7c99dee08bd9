"""Walks of a file, and the trees that their stops belong to or suggest."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

import numpy as np

from standmap.formats.content import FoundWalk
from standmap.jobs.bring_batch import Batch
from standmap.jobs.bring_report import BroughtStop, LikelyTree
from standmap.jobs.bring_returns import SURE_RETURN, Returns
from standmap.jobs.keys import new_key
from standmap.jobs.positions import xy
from standmap.stand.records import Source
from standmap.stand.tree import Tree
from standmap.stand.walks import Stop, StopState, Walk

if TYPE_CHECKING:
    from standmap.survey.frame import WorkingFrame
    from standmap.survey.stops import FoundStop, Mark

_TOLD, _MOST_OTHERS = 0.02, 3
"""Trees less likely than the first are not named, and no more than the second."""

_SHIFT_TOLD_M, _SHIFT_SIGMAS = 0.5, 2.0
"""A shift of a walk is told where it is as large as the first, and so many times its own standard deviation."""

UNTOLD_SIGMA_M = 1.5
"""Standard deviation of an axis of a tree whose position does not say how sure it is, when a stop looks for its tree:
it was measured or placed on purpose (an assumption)."""


@dataclass(frozen=True, slots=True)
class Likely:
    """A tree at which a stop may have been made.

    Attributes
    ----------
    away_m
        How far from the stop it is, the shift of the walk taken off.
    chance
        From 0 to 1.
    """

    tree: Tree
    away_m: float
    chance: float


@dataclass(frozen=True, slots=True)
class Meant:
    """The tree that a stop was made at.

    Attributes
    ----------
    own
        Whether it is a tree that an earlier stop of the same walk suggested.
    sure
        Whether nobody need be asked.
    chance
        How likely it is this tree, from 0 to 1.
    others
        Other trees that may be meant as well, the likeliest first.
    new_chance
        How likely it is a tree that is not known yet, from 0 to 1.
    """

    tree: Tree
    away_m: float
    own: bool = False
    sure: bool = True
    chance: float = 1.0
    others: tuple[Likely, ...] = ()
    new_chance: float = 0.0

    @property
    def maybe_new(self) -> bool:
        """Whether it may as well be a tree that is not known yet."""
        return not self.sure and (not self.others or self.new_chance >= _TOLD)


def which_tree(meant: Meant) -> str:
    """Return in words at which trees a stop may have been made."""
    tree, away = meant.tree.name, meant.away_m
    if not meant.others:
        return f"it may be at {tree} ({away:.1f} m) or at a tree that is not known yet"
    other, other_away = meant.others[0].tree.name, meant.others[0].away_m
    if meant.maybe_new:
        return f"it may be at {tree} ({away:.1f} m), at {other} ({other_away:.1f} m) or at a tree that is not known yet"
    if len(meant.others) > 1:
        return f"it may be at {tree} ({away:.1f} m), at {other} ({other_away:.1f} m) or at another one near by"
    return f"it may be at {tree} ({away:.1f} m) or at {other} ({other_away:.1f} m)"


def likely_trees(meant: Meant) -> tuple[LikelyTree, ...]:
    """Return the known trees at which a stop may have been made, the likeliest first."""
    trees = [Likely(meant.tree, meant.away_m, meant.chance), *meant.others]
    told = [LikelyTree(t.tree.name, t.tree.key, t.away_m, t.chance) for t in trees]
    return tuple(sorted(told, key=lambda t: -t.chance))


@dataclass
class StopsFound:
    """Stops of walks, sought once: the search takes seconds on a long walk."""

    _found: dict[tuple[int, tuple[Mark, ...]], tuple[FoundWalk, WorkingFrame, tuple[FoundStop, ...]]] = field(
        default_factory=dict
    )

    def of(self, walk: FoundWalk, frame: WorkingFrame, marks: tuple[Mark, ...] = ()) -> tuple[FoundStop, ...]:
        """Return the stops of a walk, none where it has no times.

        Parameters
        ----------
        marks
            Moments at which something was noted on it.
        """
        known = self._found.get((id(walk), marks))
        if known is None or known[0] is not walk or known[1] != frame:
            from standmap.survey.stops import find_stops

            known = (walk, frame, tuple(find_stops(walk.fixes, frame, marks=marks)) if walk.fixes.timed else ())
            self._found[id(walk), marks] = known
        return known[2]


def take_walk(batch: Batch, found: FoundWalk, source: Source) -> Walk | None:
    """Take a walk in; returns None where it was there before."""
    if known_walk(batch, found) is not None:
        return None
    name = found.name or f"walk {len(batch.known_walks) + len(batch.walks) + 1}"
    walk = Walk(new_key(), name, found.fixes, found.note or "", source.key)
    batch.walks.append(walk)
    return walk


def known_walk(batch: Batch, found: FoundWalk) -> Walk | None:
    """Return the walk of the stand, or of this command, that a found one is."""
    return next((w for w in (*batch.known_walks, *batch.walks) if _same_walk(w, found)), None)


def found_again(stop: Stop, frame: WorkingFrame) -> FoundStop:
    """Return a stop of the stand as it was found."""
    from standmap.survey.stops import FoundStop

    ((x, y),) = xy(frame, [stop.at]).tolist()
    return FoundStop(
        *stop.at,
        x,
        y,
        stop.from_at.timestamp(),
        stop.to_at.timestamp(),
        stop.fix_count,
        stop.var_e_m2,
        stop.var_n_m2,
        stop.cov_en_m2,
        stop.shared_m2,
    )


def _same_walk(walk: Walk, found: FoundWalk) -> bool:
    a, b = walk.fixes, found.fixes
    pairs: tuple[Callable[[Any], Any], ...] = (lambda f: f.lon, lambda f: f.lat, lambda f: f.time_s)
    return len(a) == len(b) and all(np.array_equal(column(a), column(b), equal_nan=True) for column in pairs)


class StopsOfWalk:
    """The stops of one walk on their way in, each looking for its tree.

    Parameters
    ----------
    noted
        Name and girth in millimetres that were noted at each of the stops, where any were.

    Attributes
    ----------
    off_m
        How far east and north the walk lies off the known trees, where that is clear.
    """

    def __init__(
        self,
        batch: Batch,
        walk: Walk,
        stops: Sequence[FoundStop],
        noted: Sequence[tuple[str | None, float | None]] = (),
    ) -> None:
        self._batch = batch
        self.walk = walk
        self._own: list[tuple[FoundStop, Tree]] = []
        self._returns = Returns(stops)
        self.off_m: tuple[float, float] | None = None
        self._meant = self._matched(stops, noted or [(None, None)] * len(stops))

    def meant(self, stop: FoundStop) -> Meant | None:
        """Return the tree that a stop was made at: a known one, or one that this walk suggested before."""
        return self._meant.get(stop) or self._own_tree_at(stop)

    def _matched(
        self, stops: Sequence[FoundStop], noted: Sequence[tuple[str | None, float | None]]
    ) -> dict[FoundStop, Meant]:
        """Return what each stop belongs to, all stops of the walk looked at together."""
        trees = [*self._batch.trees.new_trees.values(), *self._batch.trees.stand.present]
        assert self._batch.frame is not None  # noqa: S101 - a walk has positions, so a frame was chosen
        places = xy(self._batch.frame, [t.at for t in trees])
        near = np.flatnonzero(np.isfinite(places[:, 0]))
        if not len(near) or not stops:
            return {}
        from standmap.survey.matching import Positions, match

        trees = [trees[i] for i in near]
        girths = np.array([self._girth_mm(t) for t in trees])
        known = Positions(places[near], np.array([_spread(t) for t in trees]), girths, [t.name for t in trees])
        # The map was made by such walks too, so both shifts lie between it and this walk.
        shared = 2 * max(stop.shared_m2 for stop in stops)
        own = np.array([(s.var_e_m2 - s.shared_m2, s.var_n_m2 - s.shared_m2, s.cov_en_m2) for s in stops])
        own[:, :2] = np.maximum(own[:, :2], 0.01)
        # A name that no tree has yet tells nothing of which tree it was.
        names = [name if name and any(self._batch.trees.called(name)) else None for name, _ in noted]
        noted_mm = np.array([np.nan if girth is None else girth for _, girth in noted])
        new = Positions(np.array([(s.x, s.y) for s in stops]), own, noted_mm, names)
        matches = match(new, known, shared)
        if math.hypot(*matches.shift) >= max(_SHIFT_TOLD_M, _SHIFT_SIGMAS * math.sqrt(matches.shift_m2)):
            self.off_m = matches.shift
        found: dict[FoundStop, Meant] = {}
        for stop, one in zip(stops, matches.matches, strict=True):
            likely = [c for c in one.candidates if c.chance >= _TOLD]
            first = one.known if one.known is not None else likely[0].known if likely else None
            if first is None or (one.known is None and one.sure):
                continue
            this = next((c for c in one.candidates if c.known == first), None)
            others = tuple(Likely(trees[c.known], c.away_m, c.chance) for c in likely if c.known != first)
            found[stop] = Meant(
                trees[first],
                math.dist((stop.x, stop.y), known.xy[first]) if this is None else this.away_m,
                sure=one.known is not None and one.sure,
                chance=0.0 if this is None else this.chance,
                others=() if one.sure else others[:_MOST_OTHERS],
                new_chance=max(1 - sum(c.chance for c in one.candidates), 0.0),
            )
        return found

    def _girth_mm(self, tree: Tree) -> float:
        newest = self._batch.trees.stand.newest_measurement(tree.key)
        return math.nan if newest is None else newest.girth()

    def _own_tree_at(self, stop: FoundStop) -> Meant | None:
        likely = [(self._returns.chance(stop, earlier), n) for n, (earlier, _) in enumerate(self._own)]
        chance, number = max(likely, default=(0.0, -1))
        if chance < 0.5:
            return None
        earlier, tree = self._own[number]
        apart = math.hypot(stop.x - earlier.x, stop.y - earlier.y)
        return Meant(tree, apart, own=True, sure=chance >= SURE_RETURN, chance=chance, new_chance=1 - chance)

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


def _spread(tree: Tree) -> tuple[float, float, float]:
    if tree.var_e_m2 is None or tree.var_n_m2 is None:
        return UNTOLD_SIGMA_M**2, UNTOLD_SIGMA_M**2, 0.0
    return tree.var_e_m2, tree.var_n_m2, tree.cov_en_m2 or 0.0


def note_stop(
    batch: Batch, walk: Walk, stop: FoundStop, tree: Tree | None, *, undecided: bool = False, row: Stop | None = None
) -> BroughtStop:
    """Note a stop with its tree; without one a person left it out, or has yet to say which tree it is.

    Parameters
    ----------
    row
        The stop as the stand has it, where it waited there.
    """
    at = (stop.lon, stop.lat)
    from_at, to_at = datetime.fromtimestamp(stop.from_s, UTC), datetime.fromtimestamp(stop.to_s, UTC)
    variances = (stop.var_e_m2, stop.var_n_m2, stop.cov_en_m2)
    key = None if tree is None else tree.key
    state = StopState.IGNORED if tree is None and not undecided else StopState.PROPOSED
    if row is not None:
        fresh = replace(row, tree_key=key, state=state)
        batch.changed_stops += [fresh] if fresh != row else []
    else:
        batch.stops.append(
            Stop(
                new_key(),
                walk.key,
                at,
                from_at,
                to_at,
                stop.fix_count,
                *variances,
                tree_key=key,
                state=state,
                shared_m2=stop.shared_m2,
            )
        )
    name, key = (None, None) if tree is None else (tree.name, tree.key)
    return BroughtStop(name, stop.lon, stop.lat, from_at, to_at, stop.fix_count, stop.sigma_m, key)
