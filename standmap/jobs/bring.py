"""Bringing files into a stand: one command is one edit, all its sources or none."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from pathlib import Path

from standmap.jobs.bring_reading import Reading, hash_of
from standmap.jobs.bring_report import BringOptions, BringReport, BroughtStop, NothingToBring, SourceReport
from standmap.jobs.review import propose, store
from standmap.messages import Messages, Silence
from standmap.progress import Progress
from standmap.store.stand_file import StandFile


def bring(
    file: StandFile,
    paths: Sequence[Path],
    options: BringOptions,
    now: datetime,
    messages: Messages | None = None,
    progress: Progress | None = None,
) -> BringReport:
    """Bring files into a stand as they are proposed; see `review` for deciding item by item.

    Parameters
    ----------
    paths
        GPX, GeoJSON or delimited text; told by content.

    Raises
    ------
    UserError
        If one file cannot be used; then none is.
    NothingToBring
        If none of them holds anything usable.
    """
    messages = messages or Silence()
    proposal = propose(file, paths, options, now, messages, progress)
    report = proposal.report
    read = zip(proposal.readings, report.sources, strict=True)
    # A walk is taken in, though more of its stops wait for an answer than the file holds features.
    if not any(r.known or s.added or s.updated or s.read > len(s.skipped) for r, s in read):
        raise NothingToBring(_nothing_usable(proposal.readings, report), report)
    if options.dry_run:
        messages.tell("dry run: nothing was written")
        return report
    return store(file, proposal, {}, now)


def _nothing_usable(readings: Sequence[Reading], report: BringReport) -> str:
    names = ", ".join(r.source.file_name for r in readings)
    for source in report.sources:
        if source.skipped:
            first = source.skipped[0]
            return f"nothing usable in {names} ({source.file}, {first.where}: {first.why})"
    return f"nothing usable in {names}"


__all__ = [
    "BringOptions",
    "BringReport",
    "BroughtStop",
    "NothingToBring",
    "SourceReport",
    "bring",
    "hash_of",
]
