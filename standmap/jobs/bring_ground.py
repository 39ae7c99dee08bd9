"""Places, lines and areas of a file; the same shape of the same kind is never taken in twice."""

from __future__ import annotations

from standmap.formats.content import FoundLine, FoundPlace
from standmap.jobs.bring_batch import Batch, FoundGround, Ground, same_ground
from standmap.jobs.keys import new_key, own_key
from standmap.stand.ground import Area, Line, Place


def take_ground(batch: Batch, found: FoundGround, source_key: str) -> str:
    """Take a piece of ground in, or up to date where its key or its shape is known.

    Returns
    -------
    str
        "added", "updated" or "same".
    """
    known = batch.ground_by_key.get(own_key(found.key) or "") or batch.ground_by_shape.get(same_ground(found))
    if known is not None and type(known).__name__ != type(found).__name__.removeprefix("Found"):
        known = None  # another kind of thing under the same key
    key = known.key if known else _free_key(batch, found)
    made = _made(found, key, known, source_key)
    if made == known:
        return "same"
    if known is not None and key in batch.new_ground:
        batch.new_ground[key] = made
    else:
        (batch.new_ground if known is None else batch.changed_ground)[key] = made
    batch.note_ground(made)
    return "added" if known is None else "updated"


def _free_key(batch: Batch, found: FoundGround) -> str:
    key = own_key(found.key)
    return key if key is not None and key not in batch.ground_by_key else new_key()


def _made(found: FoundGround, key: str, known: Ground | None, source_key: str) -> Ground:
    """Return what the file says, with what it does not say taken from what was known."""
    name = found.name if found.name is not None else known.name if known else ""
    note = found.note if found.note is not None else known.note if known else ""
    source = known.source_key if known else source_key
    if isinstance(found, FoundPlace):
        return Place(key, name or str(found.kind), found.kind, found.at, note, source)
    if isinstance(found, FoundLine):
        return Line(key, name, found.kind, found.course, note, source)
    before = known if isinstance(known, Area) else Area(key, name, found.kind, found.outline)
    return Area(
        key=key,
        name=name,
        kind=found.kind,
        outline=found.outline,
        owner=found.owner if found.owner is not None else before.owner,
        from_date=found.from_date or before.from_date,
        until_date=found.until_date or before.until_date,
        most_trees=found.most_trees if found.most_trees is not None else before.most_trees,
        note=note,
        source_key=source,
    )
