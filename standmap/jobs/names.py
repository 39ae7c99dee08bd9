"""Names that a person types: what can be one, which are taken, and how several trees are named in a line."""

from __future__ import annotations

from collections.abc import Sequence

from standmap.errors import UserError
from standmap.stand.names import LONGEST_NAME
from standmap.stand.snapshot import Stand
from standmap.stand.tree import Tree

LONGEST_NOTE = 4000
"""Characters of a remark."""


def checked_name(text: str, what: str) -> str:
    """Return a typed name or species without spaces to spare.

    Parameters
    ----------
    what
        What the text is to be, such as "name".

    Raises
    ------
    UserError
        If it is empty, too long, or holds what cannot be printed.
    """
    wanted = " ".join(text.split())
    if len(wanted) > LONGEST_NAME:
        raise UserError(f"a {what} of {len(wanted)} characters is too long", f"use 1 to {LONGEST_NAME}")
    if not wanted or not wanted.isprintable():
        raise UserError(f"'{text[:40]}' cannot be a {what}", f"use 1 to {LONGEST_NAME} printable characters")
    return wanted


def free_tree_name(stand: Stand, text: str, *, but: str | None = None) -> str:
    """Return a typed name that no other tree has.

    Parameters
    ----------
    but
        Key of the tree that may have it already.

    Raises
    ------
    UserError
        If it cannot be a name, or another tree has it.
    """
    wanted = checked_name(text, "name")
    if any(t.key != but for t in stand.named(wanted)):
        raise UserError(f"another tree is called '{wanted}'", "choose another name or merge the two")
    return wanted


def checked_note(text: str) -> str:
    """Return a typed remark, its lines trimmed.

    Raises
    ------
    UserError
        If it is too long or holds control characters.
    """
    lines = [" ".join(line.split()) for line in text.strip().splitlines()]
    wanted = "\n".join(lines)
    if len(wanted) > LONGEST_NOTE:
        raise UserError(f"a note of {len(wanted)} characters is too long", f"use at most {LONGEST_NOTE}")
    if not all(line.isprintable() for line in lines):
        raise UserError("the note holds characters that cannot be printed", "write it anew")
    return wanted


def listed(trees: Sequence[Tree]) -> str:
    """Return the names of trees in one short phrase."""
    names = [t.name for t in trees]
    return ", ".join(names) if len(names) <= 4 else f"{', '.join(names[:3])} and {len(names) - 3} more"
