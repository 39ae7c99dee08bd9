"""Tags for the trees of a stand, ready to be printed and cut."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from standmap.errors import NothingToDo, UserError
from standmap.formats.paper import paper_of
from standmap.formats.tag_sheet import FINE_MM, Tag, TagSize, module_mm, tag_sheet
from standmap.jobs.writing_files import write_files
from standmap.messages import Messages, Silence
from standmap.stand.names import natural
from standmap.stand.snapshot import Stand
from standmap.stand.tree import Standing

FASTENING = "hang a tag loosely on wire or cord; a nail or a screw wounds the tree (common practice, no source)"


@dataclass(frozen=True, slots=True)
class TagOptions:
    """Which tags are made, and how.

    Attributes
    ----------
    trees
        Names or ids, in the order of the tags; all standing trees by their names when empty.
    say
        Turns a finished English sentence into the person's language.
    """

    trees: tuple[str, ...] = ()
    size: TagSize = field(default_factory=TagSize)
    paper: str = "A4"
    say: Callable[[str], str] = str


def tag_size(text: str) -> TagSize:
    """Return a size from what was typed: "60x40", millimetres.

    Raises
    ------
    UserError
        If it is none, or out of bounds.
    """
    found = re.fullmatch(r"\s*(\d{1,3}(?:\.\d)?)\s*[x×]\s*(\d{1,3}(?:\.\d)?)\s*(?:mm)?\s*", text)
    if found is None:
        raise UserError(f"'{text[:40]}' is no size of a tag", "write width and height in millimetres, like 60x40")
    return TagSize(float(found[1]), float(found[2]))


def tags_of(stand: Stand, names: Sequence[str] = ()) -> tuple[Tag, ...]:
    """Return the tags of these trees, or of all that stand.

    Raises
    ------
    UserError
        If no tree or more than one has such a name.
    NothingToDo
        If there is no tree.
    """
    if names:
        chosen = list(dict.fromkeys(stand.tree(name) for name in names))
    else:
        standing = [tree for tree in stand.present if tree.standing is Standing.STANDING]
        chosen = sorted(standing, key=lambda tree: natural(tree.name))
    if not chosen:
        raise NothingToDo("the stand has no standing tree yet: bring some in first")
    return tuple(Tag(tree.name, tree.key) for tree in chosen)


def tag_paper(stand: Stand, name: str, options: TagOptions, messages: Messages | None = None) -> bytes:
    """Return the tags of a stand as PDF.

    Parameters
    ----------
    name
        What the stand is called.
    messages
        Told of codes that are too fine to be read with ease.

    Raises
    ------
    UserError
        If a tree is not known, or the size does not go on the paper.
    NothingToDo
        If there is no tree.
    """
    say, tags, paper = options.say, tags_of(stand, options.trees), paper_of(options.paper)
    fine = sum(module_mm(tag, options.size) < FINE_MM for tag in tags)
    if fine:
        text = f"{fine} codes are finer than {FINE_MM:g} mm a square and may be hard to read: choose larger tags"
        (messages or Silence()).caution(text)
    title, note = f"{name} · {say('tags of trees')}", f"{name} · {say(FASTENING)}"
    return tag_sheet(tags, options.size, paper, title, note, lambda n, count: say(f"page {n} of {count}"))


def write_tags(content: bytes, path: Path, *, replace: bool) -> Path:
    """Write tags to a file.

    Raises
    ------
    UserError
        If it does not end in .pdf, is there already and may not be replaced, or cannot be written.
    """
    if path.suffix.casefold() != ".pdf":
        raise UserError(f"{path}: tags are written as PDF", "name a file that ends in .pdf")
    return write_files(path.parent, {path.name: content}, replace=replace)[0]
