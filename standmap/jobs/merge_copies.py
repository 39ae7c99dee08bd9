"""Merging a copy of the stand that another person has worked in: proposed, decided, stored as one edit."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from standmap.errors import NothingToDo, UserError
from standmap.jobs.merge_words import FIELD_WORDS, TABLE_WORDS, TYPED, Namer, moment_words, notes_words, sides_of
from standmap.jobs.opening import FRAME_SETTING
from standmap.messages import Messages, Silence
from standmap.progress import Progress, Unwatched
from standmap.store.changes import COLUMNS
from standmap.store.merging import (
    MERGED_SETTING,
    Comparison,
    Conflict,
    CopyChangedError,
    Kind,
    Side,
    compare,
    write,
)
from standmap.store.stand_file import StandFile

POSITIONS = "positions"
"""Id of the conflict over all positions together."""

TOGETHER = 3
"""So many positions that differ are asked about together: both copies were adjusted."""

MOVED = ("tree", "place")
MOST_NAMES = 5

Decisions = Mapping[str, Side]
"""Whose word holds, by the ids of the conflicts."""


@dataclass(frozen=True, slots=True)
class MergeConflict:
    """What both copies changed, in words.

    Attributes
    ----------
    id
        The same as long as neither copy changes.
    table
        As the file calls it.
    name
        What the row is called: a tree by its name, a record by its tree and its day.
    field
        What was changed; "" where one copy took the row out.
    ours_at, theirs_at
        When either was changed last; None where it was not since the copies parted.
    typed
        Whether what the two have is a person's own text.
    tree_key
        Key of the tree that it is about, where there is one.
    members
        Ids of the conflicts that are decided together here; empty for one that stands alone.
    """

    id: str
    table: str
    name: str
    field: str
    ours: str
    theirs: str
    ours_at: datetime | None
    theirs_at: datetime | None
    typed: bool = False
    tree_key: str | None = None
    members: tuple[str, ...] = ()

    @property
    def kind(self) -> str:
        """What the row is, in words."""
        return "all positions" if self.members else TABLE_WORDS[self.table]

    @property
    def line(self) -> str:
        """All of it in one line."""
        what = f"{self.kind} {self.name}" + (f", {self.field}" if self.field else "")
        ours, theirs = self.ours + _since(self.ours_at), self.theirs + _since(self.theirs_at)
        return f"{what}: ours {ours}, theirs {theirs}"


def _since(moment: datetime | None) -> str:
    return f" (since {moment_words(moment)})" if moment is not None else ""


@dataclass(frozen=True, slots=True)
class TableCount:
    """What comes over of one table."""

    table: str
    new: int = 0
    changed: int = 0
    deleted: int = 0
    conflicts: int = 0

    @property
    def kind(self) -> str:
        """What its rows are, in words."""
        return TABLE_WORDS[self.table]


@dataclass(frozen=True, slots=True, eq=False)
class MergeProposal:
    """What another copy would bring; nothing of it is written.

    Attributes
    ----------
    since
        When the copies parted; None where their logs have nothing in common.
    counts
        Of the tables of which anything comes over or is asked; conflicts are counted apart from the rest.
    cautions
        What to look at when it is stored, with ours where nothing is decided.
    """

    other: Path
    since: datetime | None
    counts: tuple[TableCount, ...]
    conflicts: tuple[MergeConflict, ...]
    cautions: tuple[str, ...]
    comparison: Comparison

    @property
    def total(self) -> TableCount:
        """The counts of all tables together."""
        each = self.counts
        return TableCount(
            "",
            sum(c.new for c in each),
            sum(c.changed for c in each),
            sum(c.deleted for c in each),
            sum(c.conflicts for c in each),
        )

    @property
    def nothing(self) -> bool:
        """Whether all of the other copy is here already."""
        return not self.counts


@dataclass(frozen=True, slots=True)
class MergeReport:
    """What a merge has written."""

    counts: tuple[TableCount, ...]
    cautions: tuple[str, ...]


def propose_merge(file: StandFile, other: Path, progress: Progress | None = None) -> MergeProposal:
    """Compare the stand with another copy of it; nothing is written, and the other is only read.

    Raises
    ------
    UserError
        If the other cannot be read, or is no copy of this stand.
    """
    watched = progress or Unwatched()
    comparison = compare(file.path, other, frame_setting=FRAME_SETTING, progress=watched)
    ours, theirs = comparison.copies
    namer = Namer(ours, theirs)
    conflicts = _positions_together(tuple(_in_words(c, comparison, namer) for c in comparison.conflicts))
    counts, cautions = _outcome(comparison, {}, conflicts)
    return MergeProposal(other, comparison.since, counts, conflicts, cautions, comparison)


def store_merge(
    file: StandFile,
    proposal: MergeProposal,
    decisions: Decisions,
    now: datetime,
    messages: Messages | None = None,
) -> MergeReport:
    """Write what was proposed, as it was decided, as one edit.

    Raises
    ------
    NothingToDo
        If all of the other copy is here already.
    CopyChangedError
        If the stand has changed since the copies were compared.
    UserError
        If a conflict is not decided.
    """
    decisions = _each(proposal, decisions)
    open_ones = [c for c in proposal.conflicts if not all(one in decisions for one in c.members or (c.id,))]
    if open_ones:
        raise UserError(
            f"{proposal.other.name}: {open_ones[0].line}"
            + (f", and {len(open_ones) - 1} more" if len(open_ones) > 1 else ""),
            "decide each conflict, or all of them for one side",
        )
    if proposal.nothing:
        raise NothingToDo(f"{proposal.other.name}: all of it is here already")
    comparison = proposal.comparison
    with file.writing(f"merge {proposal.other.name}", now) as writing:
        if file.last_step() != comparison.step:
            raise CopyChangedError(
                f"{file.path.name}: the stand has changed since the copies were compared", "compare them again"
            )
        write(writing, comparison, decisions)
    counts, cautions = _outcome(comparison, decisions, proposal.conflicts)
    if any(conflict.members for conflict in proposal.conflicts):
        (messages or Silence()).tell("both copies were adjusted: adjusting again makes the best of what both measured")
    for caution in cautions:
        (messages or Silence()).caution(caution)
    return MergeReport(counts, cautions)


def _positions_together(conflicts: tuple[MergeConflict, ...]) -> tuple[MergeConflict, ...]:
    """Return conflicts with those over positions as one: both copies were adjusted, and so is what comes of them."""
    moved = [c for c in conflicts if c.table in MOVED and c.field == FIELD_WORDS["position"]]
    if len(moved) < TOGETHER:
        return conflicts
    names = ", ".join(c.name for c in moved[:MOST_NAMES])
    more = len(moved) - MOST_NAMES
    together = MergeConflict(
        id=POSITIONS,
        table=moved[0].table,
        name=f"{names} and {more} more" if more > 0 else names,
        field="",
        ours=f"{len(moved)} positions as they are here",
        theirs=f"{len(moved)} positions as the other copy has them",
        ours_at=max((c.ours_at for c in moved if c.ours_at), default=None),
        theirs_at=max((c.theirs_at for c in moved if c.theirs_at), default=None),
        members=tuple(c.id for c in moved),
    )
    ids = set(together.members)
    return (together, *(c for c in conflicts if c.id not in ids))


def _each(proposal: MergeProposal, decisions: Decisions) -> dict[str, Side]:
    """Return decisions with those over several conflicts spelled out."""
    found = dict(decisions)
    for conflict in proposal.conflicts:
        side = found.pop(conflict.id, None) if conflict.members else None
        if side is not None:
            found |= dict.fromkeys(conflict.members, side)
    return found


def for_all(proposal: MergeProposal, side: Side) -> dict[str, Side]:
    """Return decisions that take one side in every conflict."""
    return {conflict.id: side for conflict in proposal.conflicts}


def _outcome(
    comparison: Comparison, decisions: Decisions, conflicts: tuple[MergeConflict, ...]
) -> tuple[tuple[TableCount, ...], tuple[str, ...]]:
    view, notes = comparison.decided(decisions)
    counted: dict[str, list[int]] = {table: [0, 0, 0, 0] for table in COLUMNS}
    for (table, key), row in view.changes.items():
        counted[table][0 if key not in view.ours.rows[table] else 1 if row is not None else 2] += 1
    for conflict in conflicts:
        counted[conflict.table][3] += 1
    counts = tuple(TableCount(table, *numbers) for table, numbers in counted.items() if any(numbers))
    return counts, notes_words(notes)


def _in_words(conflict: Conflict, comparison: Comparison, namer: Namer) -> MergeConflict:
    ours, theirs = comparison.copies
    table, _ = conflict.ref
    row = conflict.ours or conflict.theirs
    assert row is not None  # noqa: S101 - one side has it, or there were no conflict
    mine, yours = sides_of(conflict, namer)
    tree = row[0] if table == "tree" else dict(zip(COLUMNS[table], row, strict=True)).get("tree_key")
    return MergeConflict(
        conflict.id,
        table,
        namer.called(table, row),
        FIELD_WORDS[conflict.field] if conflict.field else "",
        mine,
        yours,
        ours.changed_at(conflict.ref),
        theirs.changed_at(conflict.ref),
        conflict.field in TYPED,
        str(tree) if tree else None,
    )


__all__ = [
    "MERGED_SETTING",
    "CopyChangedError",
    "Decisions",
    "Kind",
    "MergeConflict",
    "MergeProposal",
    "MergeReport",
    "Side",
    "TableCount",
    "for_all",
    "propose_merge",
    "store_merge",
]
