"""How the verdicts of a stand stand in every season, from its first record to some years ahead."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from typing import TYPE_CHECKING

from standmap.errors import UserError
from standmap.progress import Progress, Unwatched

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from standmap.rules.columns import StandColumns
    from standmap.rules.ruleset import RuleSet

SEASONS_AHEAD = 10
"""How many seasons are looked at after this one."""

MOST_SEASONS_BACK = 100
"""A record older than this is kept, but does not open a season of its own: more likely a slip of the pen."""

AHEAD = "seasons ahead: as if no more trees were tapped, each girth as last measured"
"""What a season that has not come yet means."""


class When(StrEnum):
    """Where a season lies, seen from today."""

    PAST = "past"
    NOW = "now"
    AHEAD = "ahead"


@dataclass(frozen=True, slots=True)
class SeasonCounts:
    """How many trees have each verdict in one season.

    Attributes
    ----------
    counts
        By verdict, in the order in which verdicts are decided, those with none included.
    """

    season: int
    when: When
    counts: Mapping[str, int]

    @property
    def trees(self) -> int:
        """How many trees were counted."""
        return sum(self.counts.values())


def first_season(cols: StandColumns, today: date) -> int:
    """Return the year of the oldest wound or dated measurement, this year where there is none."""
    from standmap.rules.columns import SPAN
    from standmap.rules.decisions import ALWAYS

    oldest = today.year
    for marks in (cols.tapped_at, cols.girth_at):
        years = marks % SPAN
        years = years[years > ALWAYS]
        if years.size:
            oldest = min(oldest, int(years.min()))
    return max(oldest, today.year - MOST_SEASONS_BACK)


def seasons(
    cols: StandColumns, rules: RuleSet, today: date, progress: Progress | None = None, *, last: int | None = None
) -> tuple[SeasonCounts, ...]:
    """Count the verdicts of every season from the first record to ten ahead of this one, or to `last`.

    A season that has been is judged by what was recorded up to it; one ahead as `AHEAD` says.

    Returns
    -------
    tuple of SeasonCounts
        Oldest first; none for a stand without trees.

    Raises
    ------
    UserError
        If a stop was wanted.
    """
    from standmap.rules.columns import verdict_columns

    watch = progress or Unwatched()
    if not cols.keys:
        return ()
    first, last = first_season(cols, today), today.year + SEASONS_AHEAD if last is None else last
    found = []
    for done, season in enumerate(range(first, last + 1)):
        if watch.stop_wanted():
            raise UserError("the counting of the seasons was stopped", "ask again")
        watch.at(done, last - first + 1, "counting the seasons")
        codes, _ = verdict_columns(cols, season, rules)
        found.append(SeasonCounts(season, _when(season, today), verdict_counts(codes)))
    return tuple(found)


def verdict_counts(codes: NDArray[np.uint8]) -> dict[str, int]:
    """Return how many trees have each verdict, in the order in which verdicts are decided, those with none included."""
    import numpy as np

    from standmap.rules.columns import CODES

    counted = np.bincount(codes, minlength=len(CODES)).tolist()
    return dict(zip(map(str, CODES), counted, strict=True))


def _when(season: int, today: date) -> When:
    if season == today.year:
        return When.NOW
    return When.PAST if season < today.year else When.AHEAD
