"""Trees of a file: known ones brought up to date, new ones taken in, close ones found."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date

from standmap.formats.content import FoundMeasurement, FoundTree
from standmap.jobs.bring_batch import Batch
from standmap.jobs.keys import own_key
from standmap.jobs.matching import SAME_NAME_WITHIN_M, new_tree
from standmap.jobs.positions import apart_m, close_trees
from standmap.messages import Messages
from standmap.stand.records import Source
from standmap.stand.tree import LonLat, Tree
from standmap.survey.checks import SAME_PLACE_M
from standmap.units import girth_of

GIRTH_AND_DIAMETER_AGREE = 0.1
"""A girth and a diameter of one row that differ by more than this part of the girth are asked about: an assumption."""

MANY, NONE = "several trees have this name; give the id", "no tree has this name, and it has no position"


@dataclass(frozen=True, slots=True)
class Taken:
    """What became of one finding.

    Attributes
    ----------
    what
        "added", "updated", "same" or "refused".
    tree
        The tree that it became or belongs to.
    why
        Why it was refused.
    nameless
        Whether it was refused only because it is not known which tree is meant.
    away_m
        How far a known tree stands from where the file has it.
    namesake
        Another tree of the name of one that was added, not of the same file, and its distance in metres.
    """

    what: str
    tree: Tree | None = None
    why: str = ""
    nameless: bool = False
    away_m: float | None = None
    namesake: tuple[Tree, float] | None = None


@dataclass(frozen=True, slots=True)
class Intake:
    """How trees of one file are taken in."""

    batch: Batch
    source: Source
    today: date
    messages: Messages


def take_tree(intake: Intake, item_id: str, found: FoundTree, *, apart: bool = False) -> Taken:
    """Take one tree in, or up to date.

    Parameters
    ----------
    apart
        Take it for a tree of its own, even where it looks like a known one.
    """
    batch, gathered = intake.batch, intake.batch.trees
    found = _named(found)
    late = _late(found, intake.today)
    if late is not None:
        return late
    tree = _known_tree(batch, found, intake.source)
    if tree is None and found.at is None:
        several = found.name is not None and len(list(gathered.called(found.name))) > 1
        what = found.name or found.key or "no name"
        return Taken("refused", why=f"{what}: {MANY if several else NONE}", nameless=True)
    if tree is not None and not apart:
        return _update(intake, tree, found)
    at = found.at
    assert at is not None  # noqa: S101 - said above, for the type checker
    if tree is not None:
        known_key = own_key(found.key)
        found = replace(found, key=None if known_key and gathered.tree(known_key) else found.key)
        found = found if found.name is None else replace(found, name=batch.name_beside(found.name))
    name = found.name or batch.name_for(item_id, "T")
    alike = list(gathered.called(name))
    if alike:
        intake.messages.caution(f"two trees are called {name}: use their ids, or re-tag one")
    made = gathered.add(new_tree(found, at, name, intake.source.key))
    batch.makers[made.key] = item_id
    gathered.records.add(made, found, intake.source.key)
    _ask_about_girths(made, found.measurements, intake.messages)
    return Taken("added", made, namesake=_nearest_elsewhere(intake, alike, at))


def _nearest_elsewhere(intake: Intake, alike: list[Tree], at: LonLat) -> tuple[Tree, float] | None:
    """Return the nearest of the trees that this file did not bring; waypoints of one file often share a name."""
    frame = intake.batch.frame
    if frame is None:
        return None
    away = [(t, apart_m(frame, t.at, at)) for t in alike if not _from_this_file(intake.batch, t, intake.source)]
    return min(away, key=lambda one: one[1], default=None)


def give_to(intake: Intake, tree: Tree, found: FoundTree) -> Taken:
    """Take what a file says of one tree for another, as a person decided; its name then means that tree."""
    found = _named(found)
    late = _late(found, intake.today)
    if late is not None:
        return late
    if found.name is not None:
        intake.batch.trees.also_called(found.name, tree)
    return _update(intake, tree, found)


def _named(found: FoundTree) -> FoundTree:
    """Return it with a name where there is one: another program's id is what people there call the tree."""
    if found.name is None and found.key is not None and own_key(found.key) is None:
        return replace(found, name=found.key)
    return found


def _late(found: FoundTree, today: date) -> Taken | None:
    late = [m.measured_on for m in found.measurements if m.measured_on is not None and m.measured_on > today]
    if not late:
        return None
    why = f"measured on {late[0].isoformat()}, which is after today ({today.isoformat()})"
    return Taken("refused", why=why)


def _update(intake: Intake, tree: Tree, found: FoundTree) -> Taken:
    batch, messages = intake.batch, intake.messages
    moved = None
    if found.at is not None and batch.frame is not None:
        moved = apart_m(batch.frame, tree.at, found.at)
        if moved > SAME_PLACE_M:
            messages.caution(f"{tree.name}: {intake.source.file_name} has it {moved:.1f} m elsewhere; it was not moved")
    changed, told = batch.trees.update(tree, found)
    for text in told:
        messages.caution(f"{tree.name}: {text}")
    more = batch.trees.records.add(tree, found, intake.source.key)
    _ask_about_girths(tree, found.measurements, messages)
    return Taken("updated" if changed or more else "same", tree, away_m=moved)


def _known_tree(batch: Batch, found: FoundTree, source: Source) -> Tree | None:
    """Return the tree that a file means: by key, else by name where the position agrees, else by the very position."""
    gathered = batch.trees
    key = own_key(found.key)
    tree = gathered.tree(key) if key else None
    while tree is not None and tree.merged_into is not None:
        tree = gathered.tree(tree.merged_into)
    if tree is not None:
        return tree
    if found.name is not None:
        return _namesake(batch, found.name, found.at, source)
    # A nameless point of a file that was saved anew is the tree it was before; two points of one file are two trees.
    there = None if found.at is None else gathered.standing_at(found.at)
    return None if there is None or _from_this_file(batch, there, source) else there


def _namesake(batch: Batch, name: str, at: LonLat | None, source: Source) -> Tree | None:
    """Return the one tree of this name that can be meant.

    Waypoints of one file often share a default name, so within a file only the very place makes one tree of two.
    """
    named = list(batch.trees.called(name))
    if at is None:
        return named[0] if len(named) == 1 else None
    if batch.frame is None:
        return None
    away = {t.key: apart_m(batch.frame, t.at, at) for t in named}
    near = [t for t in named if away[t.key] <= SAME_PLACE_M]
    if near:
        return min(near, key=lambda t: away[t.key])
    within = [t for t in named if away[t.key] <= SAME_NAME_WITHIN_M and not _from_this_file(batch, t, source)]
    return within[0] if len(within) == 1 and len(named) == 1 else None


def _from_this_file(batch: Batch, tree: Tree, source: Source) -> bool:
    return tree.key in batch.trees.new_trees and tree.source_key == source.key


def _ask_about_girths(tree: Tree, rows: tuple[FoundMeasurement, ...], messages: Messages) -> None:
    """Say it where a girth and a diameter of one day cannot both be true."""
    for girth in (m for m in rows if m.girth_mm is not None):
        for through in (m for m in rows if m.diameter_mm is not None and m.measured_on == girth.measured_on):
            round_stem = girth_of(through.diameter_mm or 0.0)
            if abs(round_stem - (girth.girth_mm or 0.0)) > GIRTH_AND_DIAMETER_AGREE * (girth.girth_mm or 0.0):
                messages.caution(
                    f"{tree.name}: girth {girth.girth_mm:g} mm and diameter {through.diameter_mm:g} mm do not agree"
                )


def close_new_trees(batch: Batch) -> Iterator[tuple[Tree, Tree, float]]:
    """Yield which of the new trees stand within half a metre of another, with the distance in metres."""
    fresh = set(batch.trees.new_trees)
    if not fresh or batch.frame is None:
        return
    everyone = [*batch.trees.new_trees.values(), *batch.trees.stand.present]
    for i, j, apart in close_trees(batch.frame, everyone):
        if everyone[i].key in fresh or everyone[j].key in fresh:
            yield everyone[i], everyone[j], apart
