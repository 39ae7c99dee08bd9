"""When a wound may have closed, and what somebody saw of it.

No closing rate of birch was found: the season that a rule set gives is shown as the assumption it is, beside the
published one of maple. A wound that nobody looked at is neither open nor closed here.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from standmap.stand.looks import Look
from standmap.stand.tapping import TapHole

MAPLE_SEASONS = 3
"""Growing seasons after which nearly all holes in maple were closed."""

MAPLE_SOURCE = "Gibbs & Smith 1973, USDA FS Research Note NE-155"


@dataclass(frozen=True, slots=True)
class Closing:
    """How far one wound is.

    Attributes
    ----------
    look
        What was seen last; None where nobody who looked told it.
    expected_by, maple_by
        By the autumn of this year it is expected to have closed by the rule set; as nearly all holes in maple did.
    """

    look: Look | None
    expected_by: int
    maple_by: int

    def told(self, on: date) -> str:
        """Return it in a few words."""
        if self.look is not None and not self.look.is_open:
            return f"seen closed on {self.look.on.isoformat()}"
        expected = f"expected to close by autumn {self.expected_by}"
        if self.look is not None:
            return f"seen open on {self.look.on.isoformat()}; {expected}"
        if on.year > self.expected_by:
            return f"{expected}; nobody has noted whether it did"
        return expected


def closing_of(hole: TapHole, look: Look | None, seasons: int) -> Closing:
    """Return how far a wound is.

    Parameters
    ----------
    seasons
        Growing seasons, the wound's own counted, within which the rule set expects it to close.
    """
    return Closing(look, hole.season + seasons - 1, hole.season + MAPLE_SEASONS - 1)


def rests_on(seasons: int, source: str) -> str:
    """Return what an expected season rests on, in one line."""
    within = "1 growing season" if seasons == 1 else f"{seasons} growing seasons"
    published = f"in maple nearly all holes were closed after {MAPLE_SEASONS} growing seasons ({MAPLE_SOURCE})"
    if MAPLE_SOURCE in source and source != MAPLE_SOURCE:
        return f"closing expected within {within}: {source}"  # that source tells of maple itself
    if source == MAPLE_SOURCE:
        return f"closing expected within {within}: {published}"
    return f"closing expected within {within}: {source}; {published}"
