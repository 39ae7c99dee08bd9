"""A review as it is being decided: what a person has said of each item so far. No Qt here."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass, replace
from enum import Enum, auto

import numpy as np
from numpy.typing import NDArray

from standmap.formats.content import Findings
from standmap.jobs.bring_report import SourceReport
from standmap.jobs.positions import xy
from standmap.jobs.review import Decision, Decisions, Fate, Item, Kind, Proposal, Verb, with_belongings
from standmap.stand.names import folded
from standmap.stand.tree import LonLat
from standmap.survey.frame import WorkingFrame

TREES = (Kind.TREE, Kind.STOP)
NOTED = (Kind.NOTE, Kind.PHOTO)
SHAPES = (Kind.WALK, Kind.LINE, Kind.AREA)
NEIGHBOURS = 3
"""So many trees beside an item are offered for a merge; others are named."""


class Will(Enum):
    """What happens to an item as things are decided now."""

    NEW_TREE = auto()
    JOINS = auto()
    """It goes to a tree: known, or another item's."""
    TAKEN = auto()
    """Ground or a walk, taken in."""
    LEFT = auto()
    WAITS = auto()
    """A stop kept without a tree, to be asked again."""


@dataclass(frozen=True, slots=True)
class Target:
    """A tree that an item can be merged with.

    Attributes
    ----------
    ref
        Key of a known tree or id of an item.
    """

    ref: str
    name: str
    at: LonLat
    away_m: float = float("nan")


class Review:
    """The items of a proposal with the decisions made so far.

    Parameters
    ----------
    frame
        In which the map is drawn.
    before
        Decisions made on an earlier look at the same files: kept where they still fit.

    Attributes
    ----------
    xy
        Where each item is, metres in the frame, NaN without a position, shape (n, 2).
    points
        Which items are drawn as a sign, shape (n,).
    fates
        Place of each item's fate among all fates, shape (n,).
    fate_counts
        How many items have each fate.
    """

    def __init__(self, proposal: Proposal, frame: WorkingFrame | None, before: Decisions | None = None) -> None:
        self.proposal = proposal
        self.frame = frame
        self.items = proposal.items
        self.fate_counts = proposal.counts
        self.row_of = {item.id: row for row, item in enumerate(self.items)}
        self.decisions: dict[str, Decision] = {}
        for item_id, decision in (before or {}).items():
            row = self.row_of.get(item_id)
            if row is not None and decision.verb in self.items[row].choices:
                self.decisions[item_id] = decision
        self.xy = self._positions()
        self.points = np.array([i.kind not in SHAPES for i in self.items], bool) & np.isfinite(self.xy[:, 0])
        codes = {fate: code for code, fate in enumerate(Fate)}
        self.fates = np.array([codes[item.fate] for item in self.items], np.uint8)
        known = self.proposal.basis.known.stand.present
        self._known_xy = np.full((len(known), 2), np.nan) if frame is None else xy(frame, [t.at for t in known])
        self._resting_on: dict[str, list[int]] = {}
        for row, item in enumerate(self.items):
            for other in (item.walk, item.of):
                if other is not None:
                    self._resting_on.setdefault(other, []).append(row)
        self._wills = [self._will(item) for item in self.items]
        self._counts = Counter(self._wills)

    def _positions(self) -> NDArray[np.float64]:
        """Return where each item is, metres in the frame, NaN without a position, shape (n, 2)."""
        found = np.full((len(self.items), 2), np.nan)
        rows = [row for row, item in enumerate(self.items) if item.at is not None]
        if self.frame is not None and rows:
            found[rows] = xy(self.frame, [at for item in self.items if (at := item.at) is not None])
        return found

    # Decisions

    def decision(self, item: Item) -> Decision:
        """Return what a person decided, or else what happens by default."""
        return self.decisions.get(item.id, Decision(item.default))

    def effective(self, item: Item) -> Decision:
        """Return the decision with what follows from another's: what belongs to an item goes where that goes."""
        if item.id in self.decisions or item.of is None:
            return self.decision(item)
        above = self.items[self.row_of[item.of]]
        upward = {above.id: self.effective(above), **self.decisions}
        return with_belongings([item], upward).get(item.id, self.decision(item))

    def decide(self, ids: Iterable[str], decision: Decision) -> list[str]:
        """Decide about several items; return those where it is not possible."""
        refused = []
        for item_id in ids:
            item = self.items[self.row_of[item_id]]
            if decision.verb is item.default:
                self.decisions.pop(item_id, None)
            elif decision.verb in item.choices and decision.into != item_id:
                self.decisions[item_id] = decision
            else:
                refused.append(item_id)
                continue
            self._work_out(item_id)
        return refused

    def _work_out(self, item_id: str) -> None:
        """Work out anew what happens to an item and to all that rest on it."""
        touched, waiting = {self.row_of[item_id]}, [item_id]
        while waiting:
            resting = self._resting_on.get(waiting.pop(), [])
            waiting += [self.items[row].id for row in resting if row not in touched]
            touched.update(resting)
        for row in touched:
            self._counts[self._wills[row]] -= 1
        for row in sorted(touched):
            self._wills[row] = self._will(self.items[row])
            self._counts[self._wills[row]] += 1

    def will(self, item: Item) -> Will:
        """Return what happens to an item as things are decided now."""
        return self._wills[self.row_of[item.id]]

    def _will(self, item: Item) -> Will:
        verb = self.effective(item).verb
        if verb is Verb.IGNORE or not item.choices:
            return Will.LEFT
        if verb is Verb.WAIT:
            return Will.WAITS
        alone = item.walk is not None and self.decision(self.items[self.row_of[item.walk]]).verb is Verb.IGNORE
        if alone and item.kind not in NOTED:
            return Will.LEFT
        if verb is Verb.MERGE:
            return Will.JOINS
        if alone:  # without its walk a waypoint is a tree, and what has no place belongs nowhere
            return Will.NEW_TREE if Verb.SPLIT in item.choices else Will.LEFT
        if item.kind is Kind.SIGHT and item.covariance is not None:  # its far end is a tree that nobody knew
            return Will.NEW_TREE
        if item.kind not in (*TREES, *NOTED, Kind.RECORDS):
            return Will.TAKEN
        return Will.NEW_TREE if verb is Verb.SPLIT or item.makes_tree else Will.JOINS

    @property
    def new_trees(self) -> int:
        """How many trees would be stored."""
        return self._counts[Will.NEW_TREE]

    @property
    def taken(self) -> int:
        """How many items would be stored in one way or another."""
        return len(self.items) - self._counts[Will.LEFT] - self._counts[Will.WAITS] + self.set_aside

    @property
    def weather(self) -> list[tuple[Findings, SourceReport]]:
        """The files that bring weather or signs of the season, with what would come of each: nothing to decide."""
        pairs = zip(self.proposal.readings, self.proposal.report.sources, strict=True)
        return [(r.findings, told) for r, told in pairs if r.findings.weather or r.findings.signs]

    @property
    def weather_days(self) -> int:
        """How many days of weather are new, or told otherwise than before."""
        return sum(told.added + told.updated for found, told in self.weather if found.weather)

    @property
    def signs(self) -> int:
        """How many signs of the season are new."""
        return sum(told.added for found, told in self.weather if not found.weather)

    @property
    def anything(self) -> bool:
        """Whether there is anything to store."""
        return self.taken > 0 or self.weather_days > 0 or self.signs > 0

    @property
    def set_aside(self) -> int:
        """How many stops that wait in the stand would be left out for good: to say so is stored too."""
        return sum(
            self.items[self.row_of[item_id]].default is Verb.WAIT and not self._walk_is_new(item_id)
            for item_id, decision in self.decisions.items()
            if decision.verb is Verb.IGNORE
        )

    def _walk_is_new(self, item_id: str) -> bool:
        walk = self.items[self.row_of[item_id]].walk
        return walk is not None and bool(self.items[self.row_of[walk]].choices)

    # Where an item goes

    def target(self, item: Item) -> Target | None:
        """Return the tree that an item goes to, None if it makes one of its own or goes nowhere."""
        decision = self.effective(item)
        if self.will(item) is not Will.JOINS:
            return None
        if decision.verb is Verb.MERGE and decision.into:
            return self.named(decision.into)
        ref = item.tree or item.of
        if ref is None or item.tree_at is None:
            return None
        return Target(ref, item.tree_name, item.tree_at, item.away_m or 0.0)

    def named(self, ref: str) -> Target | None:
        """Return the tree of a key, or the item of an id."""
        known = self.proposal.basis.known.stand.by_key.get(ref)
        if known is not None:
            return Target(ref, known.name, known.at)
        row = self.row_of.get(ref)
        if row is None:
            return None
        item = self.items[row]
        return None if item.at is None else Target(ref, item.name, item.at)

    def neighbours(self, item: Item) -> list[Target]:
        """Return the trees nearest to an item, known ones and those of other items; none where it has no position."""
        row = self.row_of[item.id]
        new = np.array([will is Will.NEW_TREE for will in self._wills], bool) & self.points
        new[row] = False
        rows = np.flatnonzero(new)
        places = np.concatenate([self._known_xy, self.xy[rows]])
        away = np.hypot(*(places - self.xy[row]).T)
        away[np.isnan(away)] = np.inf
        known = self.proposal.basis.known.stand.present
        found = []
        for place in np.argsort(away, kind="stable")[:NEIGHBOURS].tolist():
            if np.isfinite(away[place]):
                ref = known[place].key if place < len(known) else self.items[rows[place - len(known)]].id
                target = self.named(ref)
                found += [] if target is None else [replace(target, away_m=float(away[place]))]
        return found

    def called(self, item: Item, name: str) -> list[Target]:
        """Return the trees of a name that an item can be merged with."""
        known = self.proposal.basis.known.stand.named(name)
        found = [t.key for t in known]
        for other, will in zip(self.items, self._wills, strict=True):
            if will is Will.NEW_TREE and other.id != item.id and folded(other.name) == folded(name):
                found.append(other.id)
        return [t for ref in found if (t := self.named(ref)) is not None]

    # What is looked at

    def shown(self, fates: Collection[Fate]) -> list[int]:
        """Return the rows of the items of these fates, of all if none is named; what asks for a look comes first."""
        order = {Fate.DOUBTFUL: 0, Fate.REFUSED: 1, Fate.NEW: 2, Fate.MATCHED: 2}
        rows = [row for row, item in enumerate(self.items) if not fates or item.fate in fates]
        return sorted(rows, key=lambda row: order[self.items[row].fate])

    def to_look_at(self, after: int | None) -> Iterator[int]:
        """Yield the rows of doubtful items in the order shown, those after a row first."""
        rows = self.shown([Fate.DOUBTFUL])
        start = rows.index(after) + 1 if after in rows else 0
        yield from (*rows[start:], *rows[:start])

    def item_at(self, at: tuple[float, float], within_m: float) -> int | None:
        """Return the row of the item nearest to a position in the frame, None if none is so near."""
        away = np.hypot(self.xy[:, 0] - at[0], self.xy[:, 1] - at[1])
        away[~self.points] = np.inf
        if not len(away) or float(away.min()) > within_m:
            return None
        return int(np.argmin(away))

    def item_of_tree(self, key: str) -> int | None:
        """Return the row of the first item that belongs to a known tree."""
        return next((row for row, item in enumerate(self.items) if item.tree == key), None)
