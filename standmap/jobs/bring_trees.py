"""Trees of a file: known ones brought up to date, new ones taken in, close ones asked about."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from standmap.formats.content import FoundTree, Skipped
from standmap.jobs.bring_batch import Batch, apart_m, xy
from standmap.jobs.keys import own_key
from standmap.jobs.matching import SAME_NAME_WITHIN_M, new_tree
from standmap.messages import Messages
from standmap.stand.records import Source
from standmap.stand.tree import Tree

CLOSE_PAIR_M = 0.5
"""Trees nearer to each other than this are brought in and asked about: one rootstock, or one tree twice?"""


def _known_tree(batch: Batch, found: FoundTree) -> Tree | None:
    """Return the tree that a file means: by key, else by name where the position agrees."""
    gathered = batch.trees
    key = own_key(found.key)
    tree = gathered.tree(key) if key else None
    while tree is not None and tree.merged_into is not None:
        tree = gathered.tree(tree.merged_into)
    if tree is not None or found.name is None:
        return tree
    at = found.at
    named = [
        t
        for t in gathered.called(found.name)
        if at is None or (batch.frame is not None and apart_m(batch.frame, t.at, at) <= SAME_NAME_WITHIN_M)
    ]
    return named[0] if len(named) == 1 else None


def take_tree(batch: Batch, found: FoundTree, source: Source, messages: Messages) -> Skipped | str:
    """Take one tree in, or up to date; returns "added", "updated", "same" or why it was skipped."""
    gathered = batch.trees
    if found.name is None and found.key is not None and own_key(found.key) is None:
        found = replace(found, name=found.key)  # another program's id is what people there call the tree
    tree = _known_tree(batch, found)
    if tree is None and found.at is None:
        several = found.name is not None and len(list(gathered.called(found.name))) > 1
        why = (
            "several trees have this name; give the id" if several else "no tree has this name, and it has no position"
        )
        return Skipped(found.where, f"{found.name or found.key or 'no name'}: {why}")
    if tree is not None:
        if found.at is not None and batch.frame is not None:
            moved = apart_m(batch.frame, tree.at, found.at)
            if moved > CLOSE_PAIR_M:
                messages.caution(f"{tree.name}: {source.file_name} has it {moved:.1f} m elsewhere; it was not moved")
        changed = gathered.update(tree, found)
        more = gathered.add_records(tree, found, source.key)
        return "updated" if changed or more else "same"
    assert found.at is not None  # noqa: S101 - said above, for the type checker
    name = found.name or gathered.free_name("T")
    twin = next(gathered.called(name), None)
    if twin is not None:
        messages.caution(f"two trees are called {name}: use their ids, or re-tag one")
    made = gathered.add(new_tree(found, found.at, name, source.key))
    gathered.add_records(made, found, source.key)
    return "added"


def ask_about_close_trees(batch: Batch, messages: Messages) -> None:
    """Say which of the new trees stand within half a metre of another."""
    new = list(batch.trees.new_trees.values())
    if not new or batch.frame is None:
        return
    from standmap.survey.checks import close_pairs

    fresh = {t.key for t in new}
    everyone = [*new, *batch.trees.stand.present]
    places = xy(batch.frame, [t.at for t in everyone])
    reached = np.flatnonzero(np.isfinite(places[:, 0]))
    for i, j in close_pairs(places[reached], CLOSE_PAIR_M):
        a, b = everyone[reached[i]], everyone[reached[j]]
        if (a.key in fresh or b.key in fresh) and not (a.rootstock and a.rootstock == b.rootstock):
            apart = apart_m(batch.frame, a.at, b.at)
            messages.caution(f"{a.name} and {b.name} stand {apart:.2f} m apart: same rootstock? or one tree twice?")
