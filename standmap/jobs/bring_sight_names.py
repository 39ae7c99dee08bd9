"""The names in a field sheet: which tree or place each means, and which are new."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from standmap.formats.content import FoundSight
from standmap.jobs.bring_batch import Batch
from standmap.jobs.keys import new_key
from standmap.stand.ground import Place
from standmap.stand.names import folded
from standmap.stand.tree import LonLat, Standing

MANY = (
    "several trees or places have this name; give one of them another, or merge this line into the tree that is meant"
)
NO_SUCH = "no tree or place has this name"


@dataclass(slots=True)
class _New:
    key: str
    name: str
    station: bool


class Points:
    """Trees and places by name, those of this command included, and new points under names that nothing has yet."""

    def __init__(self, batch: Batch) -> None:
        self._batch = batch
        self._places: dict[str, list[str]] = {}
        for thing in batch.ground_by_key.values():
            if isinstance(thing, Place):
                self._places.setdefault(folded(thing.name), []).append(thing.key)
        self._told: dict[str, str] = {}
        self._new: dict[str, _New] = {}
        self._new_by_key: dict[str, _New] = {}

    def let_mean(self, name: str, key: str) -> None:
        """Let a name mean one tree, as a person decided."""
        self._told[folded(name)] = key

    def unsettled(self, found: FoundSight) -> str:
        """Return the name in a line that a person would settle: the one that several have, else that of its far end."""
        names = (found.from_name, found.to_name, found.toward_name)
        several = [name for name in names if name is not None and len(self._known(name)) > 1]
        return several[0] if len({folded(n) for n in several}) == 1 else found.to_name

    def expect(self, lines: Iterable[FoundSight]) -> None:
        """Take note of the names that are new: trees are taped to, what is only measured from is a station."""
        for found in lines:
            names = [(found.to_name, found.station, True), (found.from_name, True, False)]
            names += [(found.toward_name, True, False)] if found.toward_name is not None else []
            for name, station, reached in names:
                if self._known(name):
                    continue
                new = self._new.get(folded(name))
                if new is None:
                    new = self._new[folded(name)] = _New(new_key(), name, True)
                    self._new_by_key[new.key] = new
                    # Until a line leads to it as to a tree.
                if reached and not station:
                    new.station = False
        for found in lines:
            if found.station and (new := self._new.get(folded(found.to_name))) is not None and found.tree is None:
                new.station = True

    def meant(self, name: str) -> tuple[str, list[str]]:
        """Return a name with the keys of all that it can mean."""
        known = self._known(name)
        if known:
            return name, known
        new = self._new.get(folded(name))
        return name, [] if new is None else [new.key]

    def _known(self, name: str) -> list[str]:
        told = self._told.get(folded(name))
        if told is not None:
            return [told]
        trees = [t.key for t in self._batch.trees.called(name) if t.standing is not Standing.MERGED]
        found = [*trees, *self._places.get(folded(name), ())]
        if not found and (self._batch.trees.tree(name) is not None or name in self._batch.ground_by_key):
            return [name]  # its id
        return found

    def at(self, key: str) -> LonLat | None:
        """Return where a tree or place stands; None for a new point that is not placed yet."""
        tree = self._batch.trees.tree(key)
        if tree is not None:
            return tree.at
        place = self._batch.ground_by_key.get(key)
        return place.at if isinstance(place, Place) else None

    def is_station(self, key: str) -> bool:
        """Return whether a new point is no tree."""
        return self._new_by_key[key].station

    def name(self, key: str) -> str:
        """Return what a point is called."""
        new = self._new_by_key.get(key)
        tree = self._batch.trees.tree(key)
        place = self._batch.ground_by_key.get(key)
        return new.name if new else tree.name if tree else place.name if place else key
