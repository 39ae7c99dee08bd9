"""Putting right what was written down wrongly. Nothing is erased in silence: each correction is itself history."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime

from standmap.errors import NothingToDo, UserError
from standmap.jobs.keys import new_key
from standmap.jobs.names import checked_name, free_tree_name, listed
from standmap.stand.records import Media, Plan
from standmap.stand.sights import Sight, TakenPosition
from standmap.stand.tapping import Act, Observation, TapHole
from standmap.stand.tree import Soundness, Standing, Tree
from standmap.stand.walks import Stop
from standmap.store.stand_file import StandFile


@dataclass(frozen=True, slots=True)
class Corrected:
    """What a correction did, in one sentence, and how many rows beside the tree's own it touched."""

    text: str
    rows: int = 0


def noted(tree: Tree, act: Act, on: date, note: str, hole: TapHole | None = None) -> Observation:
    """Return the line in a tree's history that says what was put right."""
    return Observation(new_key(), tree.key, hole.key if hole else None, act, on, note=note)


def confirm(file: StandFile, names: Sequence[str], now: datetime, *, everyone: bool = False) -> tuple[Tree, ...]:
    """Confirm trees that walks suggested: they are trees from now on.

    Raises
    ------
    NothingToDo
        If none of them is waiting.
    """
    stand = file.stand()
    trees = stand.present if everyone else tuple(stand.tree(name) for name in names)
    waiting = [t for t in trees if t.proposed]
    if not waiting:
        raise NothingToDo(f"{file.path.name}: no tree is waiting to be confirmed")
    with file.writing(f"confirm {listed(waiting)}", now) as writing:
        return tuple(writing.change(t, proposed=False) for t in waiting)


def fell(file: StandFile, name: str, on: date, now: datetime) -> Corrected:
    """Note that a tree was felled."""
    return _gone(file, name, Standing.FELLED, Act.FELLED, on, now)


def died(file: StandFile, name: str, on: date, now: datetime) -> Corrected:
    """Note that a tree has died."""
    return _gone(file, name, Standing.DEAD, Act.DIED, on, now)


def _gone(file: StandFile, name: str, standing: Standing, act: Act, on: date, now: datetime) -> Corrected:
    tree = file.stand().tree(name)
    if tree.standing is standing:
        raise NothingToDo(f"{tree.name} is {standing} already")
    with file.writing(f"{tree.name}: {act}", now) as writing:
        writing.change(tree, standing=standing, standing_since=on)
        writing.insert(noted(tree, act, on, f"was {tree.standing}"))
    return Corrected(f"{tree.name}: {act} on {on.isoformat()}")


def retag(file: StandFile, name: str, new_name: str, on: date, now: datetime) -> Corrected:
    """Give a tree another name; the old one stays in its history.

    Raises
    ------
    UserError
        If the new name is empty, too long, or another tree's.
    """
    stand = file.stand()
    tree = stand.tree(name)
    wanted = free_tree_name(stand, new_name, but=tree.key)
    if wanted == tree.name:
        raise NothingToDo(f"{tree.name} is called so already")
    with file.writing(f"re-tag {tree.name} as {wanted}", now) as writing:
        writing.change(tree, name=wanted)
        writing.insert(noted(tree, Act.RETAGGED, on, f"was {tree.name}"))
    return Corrected(f"{tree.name} is now {wanted}")


def merge(file: StandFile, name: str, into: str, on: date, now: datetime) -> Corrected:
    """Make two entries of one tree into one: all records go to `into`, the other row stays and points there."""
    stand = file.stand()
    gone, kept = stand.tree(name), stand.tree(into)
    if gone.key == kept.key:
        raise UserError(f"{gone.name} cannot be merged into itself", "name two trees")
    if gone.standing is not kept.standing:
        raise UserError(
            f"{gone.name} is {gone.standing} and {kept.name} is {kept.standing}: one tree cannot be both",
            "put the wrong one right first",
        )
    measurements = stand.measurements_of.get(gone.key, [])
    holes = stand.holes_of.get(gone.key, [])
    seen = stand.observations_of.get(gone.key, [])
    renumbered = _renumbered(holes, stand.holes_of.get(kept.key, []))
    kinds: tuple[type[Stop | TakenPosition | Media | Plan], ...] = (Stop, TakenPosition, Media, Plan)
    beside = [thing for kind in kinds for thing in file.rows(kind) if thing.tree_key == gone.key]
    tied = [s for s in file.rows(Sight) if gone.key in (s.from_key, s.to_key, s.toward_key)]
    with file.writing(f"merge {gone.name} into {kept.name}", now) as writing:
        for measured in measurements:
            writing.change(measured, tree_key=kept.key)
        for hole in renumbered:
            writing.change(hole, tree_key=kept.key)
        for act in seen:
            writing.change(act, tree_key=kept.key)
        for thing in beside:
            writing.change(thing, tree_key=kept.key)
        for sight in tied:
            writing.replace(_tied_to(sight, gone.key, kept.key))
        writing.change(gone, standing=Standing.MERGED, standing_since=on, merged_into=kept.key)
        # What only the other entry knew is not lost, and whoever shared a root with either shares it with both.
        known: dict[str, object] = {
            "species": kept.species or gone.species,
            "soundness": Soundness.UNSOUND
            if Soundness.UNSOUND in (kept.soundness, gone.soundness)
            else kept.soundness or gone.soundness,
            "rootstock": kept.rootstock or gone.rootstock,
            "proposed": kept.proposed and gone.proposed,
            "note": "\n".join(dict.fromkeys(n for n in (kept.note, gone.note) if n)),
        }
        writing.change(kept, **known)
        if kept.rootstock and gone.rootstock and kept.rootstock != gone.rootstock:
            for stem in stand.present:
                if stem.rootstock == gone.rootstock and stem.key != gone.key:
                    writing.change(stem, rootstock=kept.rootstock)
        writing.insert(noted(kept, Act.MERGED, on, f"took in {gone.name} ({gone.key})"))
    count = len(measurements) + len(holes) + len(seen)
    return Corrected(f"{gone.name} is merged into {kept.name}, with {count} record{'s' if count != 1 else ''}", count)


def _tied_to(sight: Sight, gone: str, kept: str) -> Sight:
    """Return a sight at the tree that is kept; one between the two of them says nothing any more."""
    moved = replace(
        sight,
        from_key=kept if sight.from_key == gone else sight.from_key,
        to_key=kept if sight.to_key == gone else sight.to_key,
        toward_key=kept if sight.toward_key == gone else sight.toward_key,
    )
    points = [key for key in (moved.from_key, moved.to_key, moved.toward_key) if key is not None]
    return replace(moved, used=sight.used and len(set(points)) == len(points))


def _renumbered(moving: Sequence[TapHole], there: Sequence[TapHole]) -> list[TapHole]:
    """Return holes with numbers that are free in each season where they go."""
    taken = {(h.season, h.number) for h in there}
    found = []
    for hole in moving:
        number = hole.number
        while (hole.season, number) in taken:
            number += 1
        taken.add((hole.season, number))
        found.append(replace(hole, number=number))
    return found


def move_record(
    file: StandFile, from_tree: str, to_tree: str, season: int, hole: int | None, on: date, now: datetime
) -> Corrected:
    """Give a hole, with all that was collected from it and done to it, to the tree that it belongs to.

    Parameters
    ----------
    hole
        Number of the hole in that season; needed only if there are several.

    Raises
    ------
    UserError
        If there is no such hole, or there are several.
    """
    stand = file.stand()
    wrong, right = stand.tree(from_tree), stand.tree(to_tree)
    if wrong.key == right.key:
        raise UserError(f"{wrong.name} has the record already", "name two trees")
    holes = [h for h in stand.holes_of.get(wrong.key, []) if h.season == season and hole in (None, h.number)]
    if len(holes) != 1:
        numbers = ", ".join(str(h.number) for h in holes)
        what = f"{wrong.name} has {len(holes) or 'no'} such hole{'s' if len(holes) > 1 else ''} in {season}"
        raise UserError(what, f"say which: {numbers}" if holes else "look at its history")
    moved = _renumbered(holes, stand.holes_of.get(right.key, []))[0]
    seen = [o for o in stand.observations_of.get(wrong.key, []) if o.hole_key == moved.key]
    collected = stand.collections_of.get(moved.key, [])
    with file.writing(f"move the hole of {season} from {wrong.name} to {right.name}", now) as writing:
        writing.replace(replace(moved, tree_key=right.key))
        for act in seen:
            writing.change(act, tree_key=right.key)
        writing.insert(noted(wrong, Act.CORRECTED, on, f"hole of {season} moved to {right.name}"))
        writing.insert(noted(right, Act.CORRECTED, on, f"hole of {season} moved here from {wrong.name}", moved))
    count = 1 + len(seen) + len(collected)
    return Corrected(f"the hole of {season} with {count - 1} records went from {wrong.name} to {right.name}", count)


def share_rootstock(file: StandFile, names: Sequence[str], now: datetime, *, apart: bool = False) -> Corrected:
    """Note that stems grow from one root, so that they rest together; or, with `apart`, that they do not."""
    stand = file.stand()
    trees = [stand.tree(name) for name in names]
    if len({t.key for t in trees}) < (1 if apart else 2):
        raise UserError("a rootstock is shared by at least two stems", "name two trees or more")
    if apart:
        with file.writing(f"{listed(trees)}: each on its own root", now) as writing:
            for tree in trees:
                writing.change(tree, rootstock=None)
        return Corrected(f"{listed(trees)}: each on its own root", len(trees))
    shared = next((t.rootstock for t in trees if t.rootstock), None) or new_key()
    roots = {t.rootstock for t in trees if t.rootstock}
    # Stems that were already known to share one of these roots come along.
    family = [t for t in stand.present if t.rootstock in roots or t in trees]
    with file.writing(f"{listed(family)}: one rootstock", now) as writing:
        for tree in family:
            writing.change(tree, rootstock=shared)
    return Corrected(f"{listed(family)} share one rootstock", len(family))


def set_soundness(file: StandFile, names: Sequence[str], soundness: Soundness, now: datetime) -> Corrected:
    """Note what was seen when trees were looked over."""
    stand = file.stand()
    trees = [stand.tree(name) for name in names]
    with file.writing(f"{listed(trees)}: {soundness}", now) as writing:
        for tree in trees:
            writing.change(tree, soundness=soundness)
    verb = "is" if len(trees) == 1 else "are"
    return Corrected(f"{listed(trees)} {verb} {soundness}", len(trees))


def set_species(file: StandFile, names: Sequence[str], species: str, now: datetime) -> Corrected:
    """Note the species of trees."""
    wanted = checked_name(species, "species")
    stand = file.stand()
    trees = [stand.tree(name) for name in names]
    with file.writing(f"{listed(trees)}: {wanted}", now) as writing:
        for tree in trees:
            writing.change(tree, species=wanted)
    return Corrected(f"{listed(trees)}: {wanted}", len(trees))


def confirm_tag(file: StandFile, names: Sequence[str], now: datetime) -> Corrected:
    """Note that the tag on the stem was read and is the right one."""
    stand = file.stand()
    trees = [stand.tree(name) for name in names]
    with file.writing(f"tag confirmed: {listed(trees)}", now) as writing:
        for tree in trees:
            writing.change(tree, tag_confirmed=True)
    return Corrected(f"tag confirmed: {listed(trees)}", len(trees))
