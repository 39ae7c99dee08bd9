"""Whether what a file speaks of is in the stand already, and what the file adds to it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace

from standmap.formats.content import FoundMeasurement, FoundTree
from standmap.jobs.keys import new_key, own_key
from standmap.stand.snapshot import Stand
from standmap.stand.tapping import Collection, Observation, TapHole
from standmap.stand.tree import LonLat, Measurement, Tree

SAME_NAME_WITHIN_M = 20.0
"""Two positions under one name further apart than this are two trees: an assumption, twice a handheld receiver's
usual error under trees."""

_PLAIN_FIELDS = (
    "species",
    "standing",
    "standing_since",
    "soundness",
    "rootstock",
    "proposed",
    "tag_confirmed",
    "pinned",
    "note",
)
"""Fields that a file may change on a tree that is there already; its position it may not."""

_POSITION_FIELDS = ("var_e_m2", "var_n_m2", "cov_en_m2")


@dataclass
class Gathered:
    """What one command is about to write, kept beside what the stand holds, so that sources see one another."""

    stand: Stand
    new_trees: dict[str, Tree] = field(default_factory=dict)
    changed_trees: dict[str, Tree] = field(default_factory=dict)
    measurements: list[Measurement] = field(default_factory=list)
    holes: list[TapHole] = field(default_factory=list)
    collections: list[Collection] = field(default_factory=list)
    observations: list[Observation] = field(default_factory=list)
    _names: dict[str, list[str]] = field(default_factory=dict)
    _keys: set[str] = field(default_factory=set)
    _measured: set[tuple[object, ...]] = field(default_factory=set)

    def __post_init__(self) -> None:
        for tree in self.stand.present:
            self._names.setdefault(tree.name.casefold(), []).append(tree.key)
        for rows in (self.stand.holes, self.stand.collections, self.stand.observations):
            self._keys.update(row.key for row in rows)
        self._measured.update(_fingerprint(m.tree_key, m) for m in self.stand.measurements)

    def tree(self, key: str) -> Tree | None:
        """Return a tree as it will be after this command."""
        return self.new_trees.get(key) or self.changed_trees.get(key) or self.stand.by_key.get(key)

    def called(self, name: str) -> Iterator[Tree]:
        """Return the trees of this name, those of this command included."""
        for key in self._names.get(name.casefold(), ()):
            tree = self.tree(key)
            if tree is not None:
                yield tree

    def free_name(self, letter: str) -> str:
        """Return the next unused name of a letter and a number."""
        number = sum(1 for name in self._names if name.startswith(letter.casefold())) + 1
        while f"{letter}{number}".casefold() in self._names:
            number += 1
        return f"{letter}{number}"

    def add(self, tree: Tree) -> Tree:
        """Take in a tree that the stand does not have."""
        self.new_trees[tree.key] = tree
        self._names.setdefault(tree.name.casefold(), []).append(tree.key)
        return tree

    def update(self, tree: Tree, found: FoundTree) -> bool:
        """Put what a file says over a tree; what it does not say stays. Returns whether anything changed."""
        said = {name: getattr(found, name) for name in _PLAIN_FIELDS}
        if found.key == tree.key and found.name is not None:
            said["name"] = found.name
        fresh = replace(tree, **{name: value for name, value in said.items() if value is not None})
        changed = fresh != tree
        if changed:
            (self.new_trees if tree.key in self.new_trees else self.changed_trees)[tree.key] = fresh
            if fresh.name != tree.name:
                self._names.setdefault(fresh.name.casefold(), []).append(tree.key)
        return changed

    def add_records(self, tree: Tree, found: FoundTree, source_key: str) -> bool:
        """Take in measurements and history that are not there yet. Returns whether there were any."""
        before = len(self.measurements) + len(self.holes) + len(self.collections) + len(self.observations)
        for measured in found.measurements:
            self._add_measurement(tree, measured, source_key)
        for history in found.holes:
            if self._fresh(history.hole.key):
                self.holes.append(replace(history.hole, tree_key=tree.key, source_key=source_key))
            for taken in history.collections:
                if self._fresh(taken.key):
                    self.collections.append(
                        replace(taken, hole_key=history.hole.key, batch_key=None, source_key=source_key)
                    )
        for seen in found.observations:
            if self._fresh(seen.key):
                self.observations.append(replace(seen, tree_key=tree.key, source_key=source_key))
        after = len(self.measurements) + len(self.holes) + len(self.collections) + len(self.observations)
        return after > before

    def _add_measurement(self, tree: Tree, found: FoundMeasurement, source_key: str) -> None:
        row = Measurement(
            key=found.key or new_key(),
            tree_key=tree.key,
            measured_on=found.measured_on,
            girth_mm=found.girth_mm,
            diameter_mm=found.diameter_mm,
            given=found.given,
            given_unit=found.given_unit,
            at_height_mm=found.at_height_mm,
            note=found.note,
            source_key=source_key,
        )
        # The same girth of the same day is the same measurement, whichever file tells it.
        if _fingerprint(tree.key, row) not in self._measured:
            self._measured.add(_fingerprint(tree.key, row))
            self.measurements.append(row)

    def _fresh(self, key: str) -> bool:
        if key in self._keys:
            return False
        self._keys.add(key)
        return True


def _fingerprint(tree_key: str, row: Measurement) -> tuple[object, ...]:
    return (tree_key, row.measured_on, row.girth_mm, row.diameter_mm, row.at_height_mm)


def new_tree(found: FoundTree, at: LonLat, name: str, source_key: str) -> Tree:
    """Return a tree made of what a file says."""
    said = {f: getattr(found, f) for f in (*_PLAIN_FIELDS, *_POSITION_FIELDS)}
    given = {f: value for f, value in said.items() if value is not None}
    return Tree(key=own_key(found.key) or new_key(), name=name, at=at, source_key=source_key, **given)
