"""Whether what a file speaks of is in the stand already, and what the file adds to it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace

from standmap.formats.content import FoundTree
from standmap.jobs.keys import new_key, own_key
from standmap.jobs.matching_records import Records
from standmap.stand.names import folded
from standmap.stand.snapshot import Stand
from standmap.stand.tree import LonLat, Soundness, Standing, Tree

SAME_NAME_WITHIN_M = 20.0
"""Two positions under one name further apart than this are two trees: an assumption, twice a handheld receiver's
usual error under trees."""

_MENDABLE = ("species", "standing", "standing_since", "soundness", "rootstock", "note")
_ONE_WAY = {"proposed": False, "tag_confirmed": True, "pinned": True}
"""What a person has confirmed, no file takes back: a file may set these to the value named and to no other."""

_POSITION_FIELDS = ("var_e_m2", "var_n_m2", "cov_en_m2")


@dataclass
class Gathered:
    """What one command is about to write, kept beside what the stand holds, so that sources see one another."""

    stand: Stand
    new_trees: dict[str, Tree] = field(default_factory=dict)
    changed_trees: dict[str, Tree] = field(default_factory=dict)
    _names: dict[str, list[str]] = field(default_factory=dict)
    _spots: dict[LonLat, str] = field(default_factory=dict)
    _numbers: dict[str, int] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.records = Records(self.stand)
        for tree in self.stand.present:
            self._note(tree)

    def _note(self, tree: Tree) -> None:
        self._names.setdefault(folded(tree.name), []).append(tree.key)
        self._spots.setdefault(_spot(tree.at), tree.key)

    def tree(self, key: str) -> Tree | None:
        """Return a tree as it will be after this command."""
        return self.new_trees.get(key) or self.changed_trees.get(key) or self.stand.by_key.get(key)

    def called(self, name: str) -> Iterator[Tree]:
        """Return the trees of this name, those of this command included."""
        for key in self._names.get(folded(name), ()):
            tree = self.tree(key)
            if tree is not None:
                yield tree

    def also_called(self, name: str, tree: Tree) -> None:
        """Let a name that no tree has mean this one, for the rest of this command."""
        self._names.setdefault(folded(name), [tree.key])

    def standing_at(self, at: LonLat) -> Tree | None:
        """Return the first tree at this very position (to about a centimetre)."""
        key = self._spots.get(_spot(at))
        return None if key is None else self.tree(key)

    def free_name(self, letter: str) -> str:
        """Return the next unused name of a letter and a number."""
        number = self._numbers.get(letter, 0) + 1
        while folded(f"{letter}{number}") in self._names:
            number += 1
        self._numbers[letter] = number
        return f"{letter}{number}"

    def add(self, tree: Tree) -> Tree:
        """Take in a tree that the stand does not have."""
        self.new_trees[tree.key] = tree
        self._note(tree)
        return tree

    def rename(self, tree: Tree, name: str) -> Tree:
        """Give a tree another name."""
        self._names[folded(tree.name)].remove(tree.key)
        fresh = replace(tree, name=name)
        (self.new_trees if tree.key in self.new_trees else self.changed_trees)[tree.key] = fresh
        self._names.setdefault(folded(name), []).append(tree.key)
        return fresh

    def update(self, tree: Tree, found: FoundTree) -> tuple[bool, list[str]]:
        """Put what a file says over a tree; what it does not say stays.

        Returns
        -------
        tuple
            Whether anything changed, and what a person should know: what was written over, and what was not.
        """
        fresh = tree
        told: list[str] = []
        if found.name is not None and own_key(found.key) == tree.key and folded(found.name) != folded(tree.name):
            told.append(f"the file calls it {found.name}; it keeps its name ('standmap correct re-tag' gives another)")
        for name in _MENDABLE:
            before, said = getattr(tree, name), getattr(found, name)
            if said is None or said == before:
                continue
            if name == "standing_since" and fresh.standing is Standing.STANDING:
                continue
            if _takes_back(before, said):
                told.append(f"the file says {said}; it stays {before}")
                continue
            if before not in (None, "", Standing.STANDING):
                told.append(f"{name} was '{before}', now '{said}'")
            fresh = replace(fresh, **{name: said})
        for name, value in _ONE_WAY.items():
            if getattr(found, name) is value:
                fresh = replace(fresh, **{name: value})
        if fresh != tree:
            (self.new_trees if tree.key in self.new_trees else self.changed_trees)[tree.key] = fresh
        return fresh != tree, told


def _takes_back(before: object, said: object) -> bool:
    """Return whether a file would undo what a person found out: that a tree is gone, or not sound."""
    gone = isinstance(before, Standing) and before is not Standing.STANDING
    return gone or (before is Soundness.UNSOUND and said is Soundness.SOUND)


def _spot(at: LonLat) -> LonLat:
    return (round(at[0], 7), round(at[1], 7))


def new_tree(found: FoundTree, at: LonLat, name: str, source_key: str) -> Tree:
    """Return a tree made of what a file says."""
    said = {f: getattr(found, f) for f in (*_MENDABLE, *_ONE_WAY, *_POSITION_FIELDS)}
    given = {f: value for f, value in said.items() if value is not None}
    return Tree(key=own_key(found.key) or new_key(), name=name, at=at, source_key=source_key, **given)
