"""What can be a name, when two names are the same name, and in which order they stand."""

from __future__ import annotations

import re
import unicodedata

LONGEST_NAME = 120
"""Characters of a tag or a species."""

_PIECES = re.compile(r"(\d+)")


def folded(name: str) -> str:
    """Return a name as it is compared: without outer spaces, whatever its case and however its accents are coded."""
    return unicodedata.normalize("NFC", unicodedata.normalize("NFC", name.strip()).casefold())


def natural(name: str) -> tuple[object, ...]:
    """Return what a name is ordered by: numbers in it count as numbers, so that B2 comes before B10."""
    pieces = _PIECES.split(folded(name)[:LONGEST_NAME])
    # Odd places are numbers. A text and a number never meet: places alternate, and the first is always a text.
    return tuple(int(p) if i % 2 else p for i, p in enumerate(pieces))
