"""Giving single records that were written down for the wrong tree to the tree they belong to."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, datetime

from standmap.errors import UserError
from standmap.jobs.correct import Corrected, noted
from standmap.stand.snapshot import Stand
from standmap.stand.tapping import Act, Observation
from standmap.stand.tree import Measurement, Tree
from standmap.store.stand_file import StandFile

Single = Measurement | Observation
"""A record that stands for itself: a measurement, or what was seen at a tree and at none of its wounds."""

OF_THE_TREE = frozenset({Act.FELLED, Act.DIED, Act.RETAGGED, Act.MERGED, Act.CORRECTED})
"""What was noted of the tree itself as its history; that stays with it."""


def single_records(stand: Stand, tree: Tree) -> tuple[Single, ...]:
    """Return the records of a tree that can be moved one by one, the newest first; undated ones come last."""
    seen = (o for o in stand.observations_of.get(tree.key, ()) if o.hole_key is None and o.what not in OF_THE_TREE)
    found: list[Single] = [*stand.measurements_of.get(tree.key, ()), *seen]
    return tuple(sorted(found, key=lambda one: day_of_record(one) or date.min, reverse=True))


def day_of_record(one: Single) -> date | None:
    """Return the day of a record, None where it is not known."""
    return one.measured_on if isinstance(one, Measurement) else one.observed_on


def told(one: Single) -> str:
    """Return a record in a few words: "girth 842 mm (2024-09-14)", "looked at (2025-10-01)"."""
    day = day_of_record(one)
    when = day.isoformat() if day else "day not known"
    if isinstance(one, Observation):
        return f"{one.what} ({when})"
    what = "girth" if one.girth_mm is not None else "diameter"
    return f"{what} {one.given} {one.given_unit} ({when})"


def move_measurement(
    file: StandFile, from_tree: str, to_tree: str, of: date | None, nth: int | None, on: date, now: datetime
) -> Corrected:
    """Give a measurement to the tree that it belongs to.

    Parameters
    ----------
    of
        The day of measuring; None for one without a day.
    nth
        Which of that day, from 1; needed only if there are several.

    Raises
    ------
    UserError
        If there is no such measurement, or there are several.
    """
    stand = file.stand()
    wrong = stand.tree(from_tree)
    among = [m for m in stand.measurements_of.get(wrong.key, ()) if m.measured_on == of]
    return move_single(file, from_tree, to_tree, _the_one(wrong, among, of, nth, "measurement").key, on, now)


def move_look(
    file: StandFile, from_tree: str, to_tree: str, of: date, nth: int | None, on: date, now: datetime
) -> Corrected:
    """Give what was seen at a tree to the tree at which it was seen; see `move_measurement`."""
    stand = file.stand()
    wrong = stand.tree(from_tree)
    among = [o for o in single_records(stand, wrong) if isinstance(o, Observation) and o.observed_on == of]
    return move_single(file, from_tree, to_tree, _the_one(wrong, among, of, nth, "look at the tree").key, on, now)


def move_single(file: StandFile, from_tree: str, to_tree: str, key: str, on: date, now: datetime) -> Corrected:
    """Give a record of `single_records`, named by its key, to another tree: one edit, noted at both trees.

    Raises
    ------
    UserError
        If the tree has no such record, or is named twice.
    """
    stand = file.stand()
    wrong, right = stand.tree(from_tree), stand.tree(to_tree)
    if wrong.key == right.key:
        raise UserError(f"{wrong.name} has the record already", "name two trees")
    one = next((r for r in single_records(stand, wrong) if r.key == key), None)
    if one is None:
        raise UserError(f"{wrong.name} has no such record", "look at its history")
    what = told(one)
    with file.writing(f"move {what} from {wrong.name} to {right.name}", now) as writing:
        writing.replace(replace(one, tree_key=right.key))
        writing.insert(noted(wrong, Act.CORRECTED, on, f"{what} moved to {right.name}"))
        writing.insert(noted(right, Act.CORRECTED, on, f"{what} moved here from {wrong.name}"))
    return Corrected(f"{what} went from {wrong.name} to {right.name}", 1)


def _the_one(tree: Tree, among: Sequence[Single], of: date | None, nth: int | None, what: str) -> Single:
    """Return the record that is meant among those of one day."""
    day = of.isoformat() if of else "an unknown day"
    if not among:
        raise UserError(f"{tree.name} has no {what} of {day}", "look at its history")
    if nth is None and len(among) > 1:
        listed = ", ".join(f"{i} is {told(one)}" for i, one in enumerate(among, 1))
        raise UserError(f"{tree.name} has {len(among)} such records of {day}", f"say which: {listed}")
    if nth is not None and not 1 <= nth <= len(among):
        raise UserError(f"{tree.name} has no {what} {nth} of {day}", f"give 1 to {len(among)}")
    return among[(nth or 1) - 1]
