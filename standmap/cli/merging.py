"""The part of `bring` that merges another copy of the stand."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from standmap.cli.terminal import TerminalMessages, emit_json, note, one_line, say, stoppable, table

if TYPE_CHECKING:
    from standmap.jobs.merge_copies import MergeProposal, MergeReport, Side


def copy_among(sources: Sequence[Path], *, theirs: bool, ours: bool, plain: bool) -> Path | None:
    """Return the copy of a stand that is named, None where files of other kinds are.

    Parameters
    ----------
    plain
        Whether no option is set that is for files alone.

    Raises
    ------
    UserError
        If what is named, or the options, do not go together.
    """
    from standmap.errors import UserError
    from standmap.jobs.opening import is_copy

    if theirs and ours:
        raise UserError("--theirs and --ours were both given", "give one of them")
    copies = [path for path in sources if is_copy(path)]
    if not copies:
        if theirs or ours:
            raise UserError("--theirs and --ours decide between two copies of a stand", "name the other copy")
        return None
    if len(sources) > 1:
        raise UserError(
            f"{copies[0].name}: a copy of a stand is merged by itself, and {len(sources)} files are named",
            "bring them in one after the other",
        )
    if not plain:
        raise UserError(
            f"{copies[0].name}: a copy of a stand is merged, and takes no --crs, --anyway or --review",
            "leave them out; --dry-run shows what would come over",
        )
    return copies[0]


def merge(file: Path, other: Path, *, theirs: bool, ours: bool, dry_run: bool, as_json: bool) -> None:
    """Merge another copy of a stand: all of it, or none."""
    from standmap.errors import NothingToDo, UserError
    from standmap.jobs.clock import now
    from standmap.jobs.merge_copies import Side, for_all, propose_merge, store_merge
    from standmap.jobs.opening import open_stand

    side = Side.THEIRS if theirs else Side.OURS if ours else None
    with open_stand(file, read_only=dry_run) as stand, stoppable() as progress:
        proposal = propose_merge(stand, other, progress)
        undecided = bool(proposal.conflicts) and side is None
        if dry_run or undecided or proposal.nothing:
            _answer(proposal, None, side, as_json=as_json)
            if proposal.nothing:
                raise NothingToDo(f"{other.name}: all of it is here already")
            if dry_run:
                note("dry run: nothing was written")
                return
            count = len(proposal.conflicts)
            what = "1 conflict" if count == 1 else f"{count} conflicts"
            raise UserError(
                f"{other.name}: {what}, nothing was written",
                "decide with --ours or --theirs, or one by one in the window ('standmap open')",
            )
        report = store_merge(stand, proposal, {} if side is None else for_all(proposal, side), now())
    _answer(proposal, report, side, as_json=as_json)


def _answer(proposal: MergeProposal, report: MergeReport | None, side: Side | None, *, as_json: bool) -> None:
    """Say what comes over, or came."""
    counts, cautions = (proposal.counts, proposal.cautions) if report is None else (report.counts, report.cautions)
    if as_json:
        emit_json(
            {
                "merge": {
                    "other": proposal.other.name,
                    "since": proposal.since.isoformat() if proposal.since else None,
                    "stored": report is not None,
                    "tables": [
                        {
                            "table": c.table,
                            "new": c.new,
                            "changed": c.changed,
                            "deleted": c.deleted,
                            "conflicts": c.conflicts,
                        }
                        for c in counts
                    ],
                    "conflicts": [
                        {
                            "id": c.id,
                            "table": c.table,
                            "name": c.name,
                            "field": c.field,
                            "ours": c.ours,
                            "theirs": c.theirs,
                            "ours_at": c.ours_at.isoformat() if c.ours_at else None,
                            "theirs_at": c.theirs_at.isoformat() if c.theirs_at else None,
                        }
                        for c in proposal.conflicts
                    ],
                    "decided": str(side) if side and proposal.conflicts else None,
                    "cautions": list(cautions),
                }
            }
        )
        return
    messages = TerminalMessages()
    for caution in cautions:
        messages.caution(one_line(caution))
    if counts:
        headings = [("", "left"), ("new", "right"), ("changed", "right"), ("deleted", "right"), ("conflicts", "right")]
        numbers = ((c.kind, str(c.new), str(c.changed), str(c.deleted), str(c.conflicts)) for c in counts)
        table(headings, numbers)
    if report is None or side is None:
        for conflict in proposal.conflicts:
            say(one_line(conflict.line))
    else:
        for conflict in proposal.conflicts:
            note(one_line(f"{side} kept: {conflict.line}"))
