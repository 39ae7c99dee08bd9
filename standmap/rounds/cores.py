"""How many searches run side by side."""

from __future__ import annotations

import os

MOST = 2
"""More, and nothing would be left for the window and whatever else the computer is for."""


def side_by_side() -> int:
    """Return how many searches to run at once, at least one."""
    return max(1, min(MOST, os.cpu_count() or 1))
