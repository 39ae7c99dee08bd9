"""What answers to a few typed letters: trees, places and actions, the likeliest first. No Qt here."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from standmap.stand.names import folded

MOST_FOUND = 12


@dataclass(frozen=True, slots=True)
class Found:
    """One line of the list.

    Attributes
    ----------
    kind
        "tree", "place" or "action".
    key
        Key of the tree or place, or id of the action.
    beside
        Shown at the right: keys of an action, verdict of a tree.
    """

    kind: str
    key: str
    title: str
    beside: str = ""


@dataclass(frozen=True, slots=True)
class Findable:
    """Something that can be found, with its words folded once."""

    found: Found
    words: str

    @classmethod
    def of(cls, found: Found, more_words: str = "") -> Findable:
        """Fold what it can be found by."""
        return cls(found, folded(f"{found.title} {more_words}"))


def find(text: str, things: Iterable[Findable], most: int = MOST_FOUND) -> list[Found]:
    """Return what answers best: the very name, then names that begin so, then words that begin so, then any part.

    Every typed word must be met. Within one rank the order of `things` is kept.
    """
    wanted = folded(text)
    if not wanted:
        return []
    parts = wanted.split()
    ranked: list[tuple[int, int, Found]] = []
    for number, thing in enumerate(things):
        rank = _rank(wanted, parts, thing)
        if rank is not None:
            ranked.append((rank, number, thing.found))
    ranked.sort(key=lambda r: r[:2])
    return [found for _, _, found in ranked[:most]]


def _rank(wanted: str, parts: Sequence[str], thing: Findable) -> int | None:
    words = thing.words
    if wanted not in words and not all(part in words for part in parts):
        return None
    title = folded(thing.found.title)
    if title == wanted:
        return 0
    if title.startswith(wanted):
        return 1
    padded = f" {words}"
    return 2 if all(f" {part}" in padded for part in parts) else 3
