"""What standing still has given, in the words that a terminal and the window share."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from standmap.survey.settling import Settled


def settling_words(found: Settled) -> str:
    """Return how sure the position is by now, and how long to stand on."""
    radius = f"within {found.radius_95_m:.1f} m by now"
    if found.walked_off:
        return f"{radius}; you have walked off, the position is that of before"
    if found.wait_s is None:
        return f"{radius}; standing longer gives {found.best_m:.1f} m at best"
    if found.wait_s == 0:
        return f"{radius}; sure enough"
    return f"{radius}; stand still for about {wait_words(found.wait_s)} more"


def wait_words(seconds: float) -> str:
    """Return a length of time as a person says it."""
    if seconds < 90:
        return f"{max(5, 5 * round(seconds / 5))} s"
    return f"{round(seconds / 60)} min"
