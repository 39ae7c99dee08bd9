"""The state from which two copies parted: where their logs part, or what one has merged of the other since.

The log of a copy is a chain; merging another copy joins a position of that one's log to it. The common state is the
latest position that both contain, and its rows are worked out by walking back the later changes of the copy whose
position it is.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from standmap.store.merging_copy import Copy, Log, Ref, Row


def parted_after(ours: Log, theirs: Log) -> int:
    """Return how many lines two logs have in common."""
    most = min(len(ours.heads), len(theirs.heads))
    return next((i - 1 for i in range(most) if ours.heads[i] != theirs.heads[i]), most - 1)


@dataclass(frozen=True, slots=True)
class Base:
    """The common state of two copies.

    Attributes
    ----------
    ours_at, theirs_at
        The position in the one log or the other; both where the logs part there, else only one.
    since
        When it was; None where the copies have no line of their logs in common.
    """

    ours: Copy
    theirs: Copy
    ours_at: int | None
    theirs_at: int | None
    since: datetime | None

    def row(self, ref: Ref) -> Row | None:
        """Return a row as it was in the common state; None where it was not there, or cannot be known.

        It cannot be known where another program has written past the log: then the two logs disagree.
        """
        if self.since is None:
            return self._last_shared(ref)
        here = None if self.ours_at is None else self.ours.row_at(self.ours_at, ref)
        there = None if self.theirs_at is None else self.theirs.row_at(self.theirs_at, ref)
        if self.ours_at is None:
            found = there
        elif self.theirs_at is None or here == there:
            found = here
        else:
            found = None
        return self._last_shared(ref) if found is None else found

    def _last_shared(self, ref: Ref) -> Row | None:
        """Return what a row that came into both copies by itself, as from a third, was in both of them last."""
        ours, theirs = self.ours.rows[ref[0]].get(ref[1]), self.theirs.rows[ref[0]].get(ref[1])
        if ours is None or theirs is None or ours == theirs:
            return None
        seen = self.theirs.versions(ref)
        return next((row for row in self.ours.versions(ref) if row in seen), None)


def common_state(ours: Copy, theirs: Copy, parted: int) -> Base:
    """Return the latest state that both copies contain.

    Parameters
    ----------
    parted
        How many lines their logs have in common.
    """
    ours_at = _latest_within(ours, theirs.merged, parted)
    theirs_at = _latest_within(theirs, ours.merged, parted)
    if ours_at > parted and theirs_at > parted:
        # Each has merged the other: the later of the two merges holds the earlier one; if neither does, the choice
        # must come out alike from both sides.
        in_theirs = ours.log.heads[ours_at] in theirs.merged_at(theirs_at)
        in_ours = theirs.log.heads[theirs_at] in ours.merged_at(ours_at)
        alike = theirs.log.heads[theirs_at] > ours.log.heads[ours_at]
        if in_theirs or (alike and not in_ours):
            ours_at = parted
        else:
            theirs_at = parted
    if theirs_at > parted:
        return Base(ours, theirs, None, theirs_at, theirs.log.moments[theirs_at - 1])
    if ours_at > parted:
        return Base(ours, theirs, ours_at, None, ours.log.moments[ours_at - 1])
    since = ours.log.moments[parted - 1] if parted else None
    return Base(ours, theirs, parted, parted, since)


def _latest_within(copy: Copy, merged: frozenset[str], parted: int) -> int:
    """Return the latest position of a copy's log that the other has merged.

    A position is passed over if the copy has since taken back a merge that it held: taking back is no wish that the
    other copy lose its own rows.
    """
    for position in range(len(copy.log.heads) - 1, parted, -1):
        if copy.log.heads[position] in merged and copy.merged_at(position) <= copy.merged:
            return position
    return parted
