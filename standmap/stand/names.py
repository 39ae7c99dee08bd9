"""What can be a name, and when two names are the same name."""

from __future__ import annotations

import unicodedata

LONGEST_NAME = 120
"""Characters of a tag or a species."""


def folded(name: str) -> str:
    """Return a name as it is compared: without outer spaces, whatever its case and however its accents are coded."""
    return unicodedata.normalize("NFC", unicodedata.normalize("NFC", name.strip()).casefold())
