"""What came of files, told item by item for a person to look through."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from standmap.formats.content import FoundArea, FoundLine, FoundNote, FoundPhoto, FoundSight, FoundTree, FoundWalk
from standmap.jobs.bring_items import Fate, Item, Kind, Possible, Verb
from standmap.jobs.bring_notes import TakenNote
from standmap.jobs.bring_reading import Found, Reading, Thing, points_of
from standmap.jobs.bring_sights import TakenSight
from standmap.jobs.bring_taking import TakenStop, Taking
from standmap.jobs.bring_trees import Taken
from standmap.jobs.bring_walks import Likely, Meant, which_tree
from standmap.stand.tree import LonLat, Tree
from standmap.stand.walks import FloatArray

if TYPE_CHECKING:
    from standmap.survey.stops import FoundStop

CHI2_95 = -2 * math.log(0.05)
"""95 % quantile of chi-square with two degrees of freedom."""

TAKE_OR_LEAVE = (Verb.ACCEPT, Verb.IGNORE)
NEW_TREE = (Verb.ACCEPT, Verb.MERGE, Verb.IGNORE)
KNOWN_TREE = (Verb.ACCEPT, Verb.SPLIT, Verb.MERGE, Verb.IGNORE)
UNSURE_TREE = (*KNOWN_TREE, Verb.WAIT)
NOTHING_NEW = "it tells nothing new"


def described(taking: Taking, readings: Sequence[Reading], *, anyway: bool) -> tuple[Item, ...]:
    """Return all items, in the order of the files; each stop follows its walk."""
    return tuple(_Describer(taking, anyway=anyway).items(readings))


class _Describer:
    def __init__(self, taking: Taking, *, anyway: bool) -> None:
        self._taking = taking
        self._anyway = anyway
        self._known = taking.batch.trees.stand.by_key
        self._close: dict[str, str] = {}
        for a, b, apart in taking.close:
            for one, other in ((a, b), (b, a)):
                why = f"{apart:.2f} m from {other.name}: same rootstock? or one tree twice?"
                self._close.setdefault(one.key, why)
        self._stops: dict[str, list[TakenStop]] = {}
        for stop in taking.stops:
            self._stops.setdefault(stop.walk_id, []).append(stop)

        self._sights = {sight.thing.id: sight for sight in taking.sights}
        self._stops_by_id = {stop.id: stop for stop in taking.stops}
        self._notes = {note.thing.id: note for note in taking.notes}

    def items(self, readings: Sequence[Reading]) -> Iterator[Item]:
        for reading in readings:
            for thing in reading.things:
                sight, note = self._sights.get(thing.id), self._notes.get(thing.id)
                if note is not None:
                    yield self._note(note)
                else:
                    yield self._item(reading, thing) if sight is None else self._sight(sight)
                for stop in self._stops.get(thing.id, ()):
                    yield self._stop(reading, stop)
            for number, skipped in enumerate(reading.findings.skipped, start=1):
                yield Item(
                    id=f"{reading.number}:unread {number}",
                    kind=Kind.FEATURE,
                    fate=Fate.REFUSED,
                    name=skipped.where,
                    file=reading.source.file_name,
                    where=skipped.where,
                    why=skipped.why,
                    default=Verb.IGNORE,
                )

    def _item(self, reading: Reading, thing: Thing) -> Item:
        found = thing.found
        taken = self._taking.taken.get(thing.id)
        fate, why, choices = self._fate(thing, taken)
        tree = taken.tree if taken is not None and taken.what in ("updated", "same") else None
        made = taken.tree if taken is not None and taken.what == "added" else None
        ignored = fate is Fate.REFUSED or (thing.doubt is not None and not self._anyway)
        item = Item(
            id=thing.id,
            kind=_kind(found),
            fate=fate,
            name=made.name if made else tree.name if tree else _name(found),
            file=reading.source.file_name,
            where=found.where,
            why=why,
            at=_at(found),
            away_m=taken.away_m if taken is not None else None,
            default=Verb.IGNORE if ignored else Verb.ACCEPT,
            choices=choices,
            shape=_shape(found),
        )
        return self._meaning(item, tree)

    def _fate(self, thing: Thing, taken: Taken | None) -> tuple[Fate, str, tuple[Verb, ...]]:
        tree = isinstance(thing.found, FoundTree)
        if taken is None:
            return Fate.DOUBTFUL, thing.doubt or "", NEW_TREE if tree else TAKE_OR_LEAVE
        if taken.what == "refused":
            # It is only not known which tree is meant: a person may know.
            return Fate.REFUSED, taken.why, (Verb.MERGE, Verb.IGNORE) if taken.nameless else ()
        known = taken.what != "added"
        if isinstance(thing.found, FoundWalk) and known:
            return Fate.MATCHED, "this walk is in the stand already", ()
        if isinstance(thing.found, FoundWalk) and not thing.doubt:
            return Fate.NEW, self._taking.shifts.get(thing.id, ""), TAKE_OR_LEAVE
        choices: tuple[Verb, ...] = TAKE_OR_LEAVE
        if tree:
            choices = KNOWN_TREE if known and thing.located else NEW_TREE
        if thing.doubt:
            return Fate.DOUBTFUL, thing.doubt, choices
        close = None if taken.tree is None or known else self._close.get(taken.tree.key)
        if close:
            return Fate.DOUBTFUL, close, choices
        if taken.namesake is not None:
            other, away_m = taken.namesake
            return Fate.DOUBTFUL, f"another tree is called {other.name}, {away_m:.0f} m away", choices
        if known:
            return Fate.MATCHED, NOTHING_NEW if taken.what == "same" else "", choices
        return Fate.NEW, "", choices

    def _stop(self, reading: Reading, taken: TakenStop) -> Item:
        stop, meant = taken.stop, taken.meant
        tree = taken.tree or (None if meant is None else meant.tree)
        assert tree is not None  # noqa: S101 - nothing is left out of a proposal but what is asked about
        fate, why = (Fate.NEW, "") if meant is None else (Fate.MATCHED, "")
        if meant is None and tree.key in self._close:
            fate, why = Fate.DOUBTFUL, self._close[tree.key]
        elif meant is not None and not meant.sure:
            fate, why = Fate.DOUBTFUL, which_tree(meant)
        elif meant is not None and _speaks_against(stop, meant):
            why = f"{tree.name} is pinned {meant.away_m:.1f} m away and stays there; unpin it to let adjusting move it"
            fate = Fate.DOUBTFUL
        item = Item(
            id=taken.id,
            kind=Kind.STOP,
            fate=fate,
            name=tree.name,
            file=reading.source.file_name,
            where=f"stop {taken.number}",
            why=why,
            at=(stop.lon, stop.lat),
            away_m=None if meant is None else meant.away_m,
            default=Verb.ACCEPT if taken.tree is not None else Verb.WAIT,
            choices=NEW_TREE if meant is None else KNOWN_TREE if meant.sure or meant.own else UNSURE_TREE,
            walk=taken.walk_id,
            covariance=(stop.var_e_m2, stop.var_n_m2, stop.cov_en_m2),
            candidates=() if meant is None or meant.sure or meant.own else self._candidates(meant),
        )
        return self._meaning(item, None if meant is None else meant.tree)

    def _candidates(self, meant: Meant) -> tuple[Possible, ...]:
        trees = [Likely(meant.tree, meant.away_m, meant.chance), *meant.others]
        found = [Possible(self._ref(t.tree), t.tree.name, t.away_m, t.chance) for t in trees]
        # However unlikely, it is for a person to say.
        found.append(Possible(None, "", None, meant.new_chance))
        return tuple(sorted(found, key=lambda p: -p.chance))

    def _ref(self, tree: Tree) -> str:
        return tree.key if tree.key in self._known else self._taking.batch.makers.get(tree.key, tree.key)

    def _sight(self, taken: TakenSight) -> Item:
        course, tree = taken.course, taken.tree
        known = tree is not None and tree.key in self._known
        return Item(
            id=taken.thing.id,
            kind=Kind.SIGHT,
            fate=taken.fate,
            name=taken.name,
            file=taken.reading.source.file_name,
            where=taken.thing.found.where,
            why=taken.why,
            at=None if course is None else course[1],
            tree=tree.key if tree is not None and known else None,
            tree_name="" if tree is None else tree.name,
            tree_at=tree.at if tree is not None and known else None,
            default=taken.default,
            choices=taken.choices,
            shape=None if course is None else np.asarray(course, dtype=np.float64),
            covariance=taken.covariance,
        )

    def _note(self, taken: TakenNote) -> Item:
        found = taken.thing.found
        photo = isinstance(found, FoundPhoto)
        item = Item(
            id=taken.thing.id,
            kind=Kind.PHOTO if photo else Kind.NOTE,
            fate=taken.fate,
            name=taken.tree.name if taken.tree is not None and not photo else _name(found),
            file=taken.reading.source.file_name,
            where=found.where,
            why=taken.why,
            at=taken.at,
            away_m=taken.away_m,
            default=taken.default,
            choices=taken.choices,
            walk=taken.walk,
        )
        stop = None if taken.stop is None else self._stops_by_id.get(taken.stop)
        if taken.tree is None and stop is not None:  # it goes where its stop will go
            return replace(item, of=stop.id, tree_at=(stop.stop.lon, stop.stop.lat))
        return self._meaning(item, taken.tree)

    def _meaning(self, item: Item, tree: Tree | None) -> Item:
        """Return an item with the tree that it belongs to: a known one, or the new one of another item."""
        if tree is None:
            return item
        known = tree.key in self._known
        return replace(
            item,
            tree=tree.key if known else None,
            of=None if known else self._taking.batch.makers.get(tree.key),
            tree_name=tree.name,
            tree_at=tree.at,
        )


def _speaks_against(stop: FoundStop, meant: Meant) -> bool:
    """Return whether a stop at a pinned tree lies further off than its error lets it, once in twenty stops."""
    tree = meant.tree
    if not tree.pinned:
        return False
    own_m2 = (stop.var_e_m2 + stop.var_n_m2) / 2 - stop.shared_m2
    return meant.away_m**2 > CHI2_95 * (max(own_m2, 0.01) + (tree.sigma_m or 0.0) ** 2)


def _kind(found: Found) -> Kind:
    if isinstance(found, FoundTree):
        return Kind.RECORDS if found.at is None else Kind.TREE
    if isinstance(found, FoundWalk):
        return Kind.WALK
    if isinstance(found, FoundLine):
        return Kind.LINE
    if isinstance(found, FoundSight):
        return Kind.SIGHT
    if isinstance(found, FoundNote | FoundPhoto):
        return Kind.NOTE if isinstance(found, FoundNote) else Kind.PHOTO
    return Kind.AREA if isinstance(found, FoundArea) else Kind.PLACE


def _name(found: Found) -> str:
    if isinstance(found, FoundTree):
        return found.name or found.key or found.where
    if isinstance(found, FoundWalk):
        return found.name or found.where
    if isinstance(found, FoundSight):
        return f"{found.from_name} → {found.to_name}"
    if isinstance(found, FoundNote):
        return found.tree.name or found.where
    if isinstance(found, FoundPhoto):
        return found.file_name
    return found.name or str(found.kind)


def _at(found: Found) -> LonLat | None:
    """Return where a thing is to be looked for on the map."""
    points = points_of(found)
    return points[len(points) // 2] if points else None


def _shape(found: Found) -> FloatArray | None:
    if isinstance(found, FoundWalk):
        return np.column_stack([found.fixes.lon, found.fixes.lat])
    return np.asarray(points_of(found), dtype=np.float64) if isinstance(found, FoundLine | FoundArea) else None
