"""The pictures that are kept with a tree: which there are, and taking one out."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from pathlib import Path

from standmap.errors import NothingToDo, UserError
from standmap.jobs.writing_files import write_files
from standmap.stand.records import Media
from standmap.stand.tree import Tree
from standmap.store.stand_file import StandFile


def photos_of(file: StandFile, tree_key: str) -> tuple[Media, ...]:
    """Return the pictures of a tree, by the time when they were taken; those that tell none come last."""
    pictures = [m for m in file.media_of(tree_key) if m.media_type.startswith("image/")]
    return tuple(sorted(pictures, key=lambda m: (m.taken_at is None, m.taken_at.timestamp() if m.taken_at else 0.0)))


def photo_words(one: Media) -> str:
    """Return a picture in a few words: "birch.jpg (2026-03-20)"."""
    return f"{one.file_name} ({one.taken_at.date().isoformat() if one.taken_at else 'day not known'})"


def photos_of_tree(file: StandFile, tree: str) -> tuple[Tree, tuple[Media, ...]]:
    """Return the tree of a name or key and its pictures.

    Raises
    ------
    UserError
        If there is no such tree.
    NothingToDo
        If it has no picture.
    """
    found = file.stand().tree(tree)
    pictures = photos_of(file, found.key)
    if not pictures:
        raise NothingToDo(f"{found.name} has no picture")
    return found, pictures


def remove_photo(file: StandFile, tree: str, which: int | str, now: datetime) -> str:
    """Take a picture out of the stand, as one edit.

    Parameters
    ----------
    which
        Its number among those of the tree, from 1, or its key.

    Returns
    -------
    str
        What was done, in words.

    Raises
    ------
    UserError
        If the tree has no such picture.
    """
    found, pictures = photos_of_tree(file, tree)
    one = _the_one(found, pictures, which)
    with file.writing(f"remove picture {one.file_name} of {found.name}", now) as writing:
        writing.delete(one)
    return f"picture {one.file_name} of {found.name} was removed"


def _the_one(tree: Tree, pictures: Sequence[Media], which: int | str) -> Media:
    if isinstance(which, int):
        if 1 <= which <= len(pictures):
            return pictures[which - 1]
        raise UserError(f"{tree.name} has no picture {which}", f"give 1 to {len(pictures)}")
    found = next((p for p in pictures if p.key == which), None)
    if found is None:
        raise UserError(f"{tree.name} has no such picture", "look at the tree again")
    return found


def write_photos(file: StandFile, tree: str, folder: Path, *, replace: bool = False) -> tuple[Path, ...]:
    """Write the pictures of a tree into a folder: B7-1.jpg, B7-2.jpg."""
    found, pictures = photos_of_tree(file, tree)
    stem = "".join(c if c.isalnum() or c in "-_" else "_" for c in found.name)[:60] or "tree"
    held = {f"{stem}-{number}.jpg": one.content for number, one in enumerate(pictures, start=1)}
    return write_files(folder, held, replace=replace)
