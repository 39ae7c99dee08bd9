"""Row keys: UUID version 7 (RFC 9562), so that copies of one stand made by two people can be merged."""

from __future__ import annotations

import os
import time
import uuid


def new_key() -> str:
    """Return a fresh key: the moment in milliseconds, then 74 random bits."""
    stamp = time.time_ns() // 1_000_000
    noise = int.from_bytes(os.urandom(10), "big")
    random_a, random_b = noise >> 62 & 0xFFF, noise & ((1 << 62) - 1)
    return str(uuid.UUID(int=(stamp & ((1 << 48) - 1)) << 80 | 0x7 << 76 | random_a << 64 | 0b10 << 62 | random_b))


def own_key(text: str | None) -> str | None:
    """Return a key that a stand gave, or None for another program's id, which is unique in its own file only."""
    try:
        return text if text is not None and str(uuid.UUID(text)) == text else None
    except ValueError:
        return None
