"""What files bring, item by item: what would become of each, and what a person decides about it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from standmap.stand.tree import LonLat
from standmap.stand.walks import FloatArray


class Kind(StrEnum):
    """What an item is."""

    TREE = "tree"
    STOP = "stop"
    RECORDS = "records"
    PLACE = "place"
    LINE = "line"
    AREA = "area"
    WALK = "walk"
    NOTE = "note"
    PHOTO = "photo"
    SIGHT = "sight"
    FEATURE = "feature"
    """Something in a file that could not be read as any of these."""


class Fate(StrEnum):
    """What would become of an item."""

    NEW = "new"
    MATCHED = "matched"
    DOUBTFUL = "doubtful"
    REFUSED = "refused"


class Verb(StrEnum):
    """What a person can decide.

    Attributes
    ----------
    ACCEPT
        Take it in, a doubtful one all the same.
    MERGE
        What it says belongs to another tree, a known one or one that these files bring.
    SPLIT
        It is no tree that is known: take it in as one of its own.
    IGNORE
        Leave it out.
    WAIT
        Keep the stop without a tree, and ask again when its walk is brought in again.
    """

    ACCEPT = "accept"
    MERGE = "merge"
    SPLIT = "split"
    IGNORE = "ignore"
    WAIT = "wait"


@dataclass(frozen=True, slots=True)
class Decision:
    """What is to be done with one item.

    Attributes
    ----------
    into
        For a merge: key or name of a tree of the stand, or the id of another item.
    """

    verb: Verb
    into: str | None = None


Decisions = Mapping[str, Decision]
"""Decisions by item id; an item that is not named gets its default."""

IGNORED = Decision(Verb.IGNORE)


@dataclass(frozen=True, slots=True)
class Possible:
    """A tree that a doubtful item may belong to.

    Attributes
    ----------
    ref
        Key of a known tree, or id of the item that makes it; None for a tree that is not known yet.
    away_m
        None where there is no tree to be away from.
    chance
        From 0 to 1.
    """

    ref: str | None
    name: str
    away_m: float | None
    chance: float


@dataclass(frozen=True, slots=True, eq=False)
class Item:
    """One thing that a file brings.

    Attributes
    ----------
    id
        Number of the file and where in it; the same whenever the same files are looked through in the same order.
    name
        Of the tree as it will be called, or of the ground or walk.
    why
        Why it is doubtful or refused, or what else there is to know.
    tree
        Key of the known tree that it belongs to.
    of
        Id of the item whose new tree it belongs to.
    tree_name
        Name of the tree that `tree` or `of` means.
    tree_at
        Where that tree stands.
    away_m
        How far from that tree it is.
    default
        What happens unless a person decides otherwise.
    choices
        What a person can decide; empty where nothing can be done here.
    walk
        For a stop and what was noted at it: id of its walk. An ignored walk takes its stops with it.
    shape
        For a line, a walk or an area (its outer ring): longitude and latitude, degrees, shape (n, 2).
    covariance
        For a stop: var_e, var_n, cov_en in square metres.
    candidates
        For a doubtful stop: the trees that it may have been made at, the likeliest first.
    """

    id: str
    kind: Kind
    fate: Fate
    name: str
    file: str
    where: str
    why: str = ""
    at: LonLat | None = None
    tree: str | None = None
    of: str | None = None
    tree_name: str = ""
    tree_at: LonLat | None = None
    away_m: float | None = None
    default: Verb = Verb.ACCEPT
    choices: tuple[Verb, ...] = ()
    walk: str | None = None
    shape: FloatArray | None = None
    covariance: tuple[float, float, float] | None = None
    candidates: tuple[Possible, ...] = ()

    @property
    def judged(self) -> tuple[object, ...]:
        """What was found about it, without the figures: whether this is still so is asked before it is stored."""
        return (self.id, self.kind, self.fate, self.tree, self.of, self.name, self.why, self.choices)

    @property
    def makes_tree(self) -> bool:
        """Whether it would become a tree of its own."""
        return self.kind in (Kind.TREE, Kind.STOP) and self.tree is None and self.of is None and bool(self.choices)


def counts(items: tuple[Item, ...]) -> dict[Fate, int]:
    """Return how many items have each fate; every fate is named."""
    found = Counter(item.fate for item in items)
    return {fate: found[fate] for fate in Fate}
