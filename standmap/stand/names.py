"""When two names are the same name."""

from __future__ import annotations

import unicodedata


def folded(name: str) -> str:
    """Return a name as it is compared: without outer spaces, whatever its case and however its accents are coded."""
    return unicodedata.normalize("NFC", unicodedata.normalize("NFC", name.strip()).casefold())
