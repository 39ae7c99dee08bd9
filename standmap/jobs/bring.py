"""Bringing files into a stand: one command is one edit, all its sources or none."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from pathlib import Path
from typing import Any

from standmap.errors import NothingToDo, UserError
from standmap.formats import door
from standmap.formats.content import Findings, Skipped
from standmap.jobs.bring_batch import Batch, FoundGround, located, points_of, without_doubtful
from standmap.jobs.bring_ground import take_ground
from standmap.jobs.bring_trees import ask_about_close_trees, take_tree
from standmap.jobs.bring_walks import BroughtStop, take_walk
from standmap.jobs.keys import new_key, own_key
from standmap.jobs.matching import Gathered
from standmap.jobs.opening import FRAME_SETTING, working_frame
from standmap.messages import Messages, Silence
from standmap.progress import Progress, Unwatched
from standmap.stand.ground import Area, Line, Place
from standmap.stand.records import Source
from standmap.stand.walks import Walk
from standmap.store.stand_file import StandFile


@dataclass(frozen=True, slots=True)
class BringOptions:
    """How to bring files in.

    Attributes
    ----------
    crs
        Reference system of x and y columns, such as EPSG:3067.
    anyway
        Take positions that look wrong.
    dry_run
        Say what would happen and write nothing.
    """

    crs: str | None = None
    anyway: bool = False
    dry_run: bool = False


@dataclass(frozen=True, slots=True)
class SourceReport:
    """What became of one file.

    Attributes
    ----------
    read
        Features the file holds.
    added, updated
        Features that became something new, or changed something known. Trees suggested by stops are in `stops`.
    known
        Whether the very same file was brought in before.
    """

    file: str
    format: str
    read: int
    added: int
    updated: int
    skipped: tuple[Skipped, ...] = ()
    stops: tuple[BroughtStop, ...] = ()
    known: bool = False


@dataclass(frozen=True, slots=True)
class BringReport:
    """What became of all the files of one command."""

    sources: tuple[SourceReport, ...]


class NothingToBring(NothingToDo):
    """No file held anything usable; carries the report that says why."""

    def __init__(self, reason: str, report: BringReport) -> None:
        super().__init__(reason)
        self.report = report


@dataclass
class _Intake:
    """One file on its way in; `again` when it came before and could not be used whole then."""

    source: Source
    findings: Findings
    known: bool = False
    again: bool = False
    added: int = 0
    updated: int = 0
    skipped: list[Skipped] = field(default_factory=list)
    stops: list[BroughtStop] = field(default_factory=list)

    def count(self, fate: Skipped | str) -> None:
        if isinstance(fate, Skipped):
            self.skipped.append(fate)
        self.added += fate == "added"
        self.updated += fate == "updated"

    def report(self) -> SourceReport:
        return SourceReport(
            file=self.source.file_name,
            format=self.source.format,
            read=self.findings.read,
            added=self.added,
            updated=self.updated,
            skipped=tuple(self.skipped),
            stops=tuple(self.stops),
            known=self.known,
        )


def bring(
    file: StandFile,
    paths: Sequence[Path],
    options: BringOptions,
    now: datetime,
    messages: Messages | None = None,
    progress: Progress | None = None,
) -> BringReport:
    """Bring files into a stand.

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
    progress = progress or Unwatched()
    stand = file.stand()
    batch = Batch(Gathered(stand), working_frame(stand), file.rows(Walk))

    intakes: list[_Intake] = []
    for number, path in enumerate(paths):
        progress.at(number, len(paths), path.name)
        intakes.append(_read(file, path, options, now, intakes, messages, progress))
    # First what has a place, then walks (whose stops look for trees), then lists of measurements: so the order in
    # which files are named does not matter.
    for intake in sorted(intakes, key=_without_own_keys):
        _take_located(batch, intake, options, now.date(), messages)
    for intake in intakes:
        for walk in intake.findings.walks:
            intake.added += take_walk(batch, walk, intake.source, intake.stops, messages)
    for intake in intakes:
        for found in intake.findings.trees:
            if found.at is None:
                intake.count(take_tree(batch, found, intake.source, now.date(), messages))

    report = BringReport(tuple(i.report() for i in intakes))
    if not any(i.known or i.findings.read > len(i.skipped) for i in intakes):
        raise NothingToBring(_nothing_usable(intakes), report)
    if progress.stop_wanted():
        raise UserError("the command was stopped", "nothing was changed")
    ask_about_close_trees(batch, messages)
    if options.dry_run:
        messages.tell("dry run: nothing was written")
    else:
        _write(file, batch, intakes, now)
    return report


def _without_own_keys(intake: _Intake) -> bool:
    """Return whether a file holds no key of a stand: those that do come first, so that no key is lost."""
    return not any(own_key(t.key) for t in intake.findings.trees)


def _write(file: StandFile, batch: Batch, intakes: Sequence[_Intake], now: datetime) -> None:
    """Write all of it as one edit; a file that brought nothing leaves no trace."""
    fresh = [replace(i.source, skipped=len(i.skipped)) for i in intakes if i.added or i.updated or i.stops]
    again = {i.source.key for i in intakes if i.again}
    trees, records = batch.trees, batch.trees.records
    kinds: tuple[Sequence[Any], ...] = (
        [s for s in fresh if s.key not in again],
        batch.walks,
        list(trees.new_trees.values()),
        [g for g in batch.new_ground.values() if isinstance(g, Place)],
        [g for g in batch.new_ground.values() if isinstance(g, Line)],
        [g for g in batch.new_ground.values() if isinstance(g, Area)],
        batch.stops,
        records.measurements,
        records.holes,
        records.collections,
        records.observations,
    )
    changed: list[object] = [s for s in fresh if s.key in again]
    changed += [*trees.changed_trees.values(), *batch.changed_ground.values(), *records.changed_measurements.values()]
    if not changed and not any(kinds):
        return
    with file.writing(f"bring in {', '.join(i.source.file_name for i in intakes)}", now) as writing:
        if batch.frame is not None and FRAME_SETTING not in trees.stand.settings:
            writing.set_setting(FRAME_SETTING, {"lon0": batch.frame.lon0, "lat0": batch.frame.lat0})
        for things in kinds:
            writing.insert_many(things)
        for thing in changed:
            writing.replace(thing)


def hash_of(path: Path) -> tuple[str, int]:
    """Return the SHA-256 of a file's content and its size in bytes.

    Raises
    ------
    UserError
        If it cannot be read.
    """
    name = path.name or str(path)
    if path.exists() and not path.is_file():
        raise UserError(f"{name}: this is not a plain file", "name a GPX, GeoJSON or CSV file")
    content = hashlib.sha256()
    try:
        with path.open("rb") as opened:
            for block in iter(lambda: opened.read(1 << 20), b""):
                content.update(block)
        return content.hexdigest(), path.stat().st_size
    except OSError as error:
        raise UserError(f"{name}: cannot be read ({error.strerror})", "check the path and its rights") from None


def _read(
    file: StandFile,
    path: Path,
    options: BringOptions,
    now: datetime,
    earlier: Sequence[_Intake],
    messages: Messages,
    progress: Progress,
) -> _Intake:
    sha256, size = hash_of(path)
    known = file.source_with_hash(sha256, records=False)
    twin = next((i.source for i in earlier if i.source.sha256 == sha256), None)
    if twin is not None or (known is not None and not known.skipped):
        messages.tell(f"{path.name}: this very file was brought in before; nothing to add")
        before = twin or known
        assert before is not None  # noqa: S101 - one of the two, for the type checker
        return _Intake(replace(before, file_name=path.name), Findings(before.format, 0), known=True)
    findings = door.read(path, crs=options.crs, progress=progress)
    for told in findings.told:
        messages.tell(f"{path.name}: {told}")
    if any(t.name is not None and t.key is not None and own_key(t.key) is None for t in findings.trees):
        messages.tell(f"{path.name}: ids of another program are not kept where there is a name beside them")
    source = known or Source(new_key(), path.name, sha256, findings.format, size, now)
    return _Intake(source, findings, again=known is not None, skipped=list(findings.skipped))


def _take_located(batch: Batch, intake: _Intake, options: BringOptions, today: date, messages: Messages) -> None:
    """Take in what has a position."""
    if not options.anyway:
        intake.findings, refused = without_doubtful(batch, intake.findings)
        intake.skipped.extend(refused)
    findings, source = intake.findings, intake.source
    points = [p for thing in located(findings) for p in points_of(thing)]
    if batch.frame is None and points:
        from standmap.survey.frame import centre_of

        batch.frame = centre_of(points)
    for found in findings.trees:
        if found.at is not None:
            intake.count(take_tree(batch, found, source, today, messages))
    ground: tuple[FoundGround, ...] = (*findings.places, *findings.lines, *findings.areas)
    for thing in ground:
        intake.count(take_ground(batch, thing, source.key))


def _nothing_usable(intakes: Sequence[_Intake]) -> str:
    names = ", ".join(i.source.file_name for i in intakes)
    for intake in intakes:
        if intake.skipped:
            first = intake.skipped[0]
            return f"nothing usable in {names} ({intake.source.file_name}, {first.where}: {first.why})"
    return f"nothing usable in {names}"
