"""Files as they are read, before they are compared with the stand: what each holds, which positions are doubted."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from standmap.errors import UserError
from standmap.formats import door
from standmap.formats.content import (
    Findings,
    FoundArea,
    FoundLine,
    FoundNote,
    FoundPhoto,
    FoundPlace,
    FoundSight,
    FoundTree,
    FoundWalk,
)
from standmap.jobs.bring_report import BringOptions
from standmap.jobs.keys import new_key, own_key
from standmap.messages import Messages
from standmap.progress import Progress
from standmap.stand.records import Source
from standmap.stand.tree import LonLat
from standmap.store.stand_file import StandFile

if TYPE_CHECKING:
    from standmap.survey.frame import WorkingFrame

Found = FoundTree | FoundPlace | FoundLine | FoundArea | FoundWalk | FoundSight | FoundNote | FoundPhoto


@dataclass(frozen=True, slots=True, eq=False)
class Thing:
    """One finding with its id, and why its position is doubted."""

    id: str
    found: Found
    doubt: str | None = None

    @property
    def located(self) -> bool:
        """Whether it is to be put on the map where the file has it."""
        if isinstance(self.found, FoundSight | FoundNote | FoundPhoto):
            return False
        return not isinstance(self.found, FoundTree) or self.found.at is not None


@dataclass(frozen=True, slots=True, eq=False)
class Reading:
    """One file, read.

    Attributes
    ----------
    number
        Of the file among those named, from 1.
    known
        Whether the very same file was brought in before, and used whole.
    again
        Whether it came before and could not be used whole then.
    things
        What it holds: trees first, then places, lines, areas, walks, sights, notes and pictures.
    """

    number: int
    path: Path
    source: Source
    findings: Findings
    things: tuple[Thing, ...] = ()
    known: bool = False
    again: bool = False

    @property
    def without_own_keys(self) -> bool:
        """Whether it holds no key of a stand: those that do come first, so that no key is lost."""
        return not any(own_key(t.key) for t in self.findings.trees)


def hash_of(path: Path) -> tuple[str, int]:
    """Return the SHA-256 of a file's content and its size in bytes.

    Raises
    ------
    UserError
        If it cannot be read.
    """
    name = path.name or str(path)
    if path.exists() and not path.is_file():
        raise UserError(f"{name}: this is not a plain file", "name a walk, a table, a log, a picture or a GeoJSON file")
    content = hashlib.sha256()
    try:
        with path.open("rb") as opened:
            for block in iter(lambda: opened.read(1 << 20), b""):
                content.update(block)
        return content.hexdigest(), path.stat().st_size
    except OSError as error:
        raise UserError(f"{name}: cannot be read ({error.strerror})", "check the path and its rights") from None


def read_sources(
    file: StandFile,
    paths: Sequence[Path],
    options: BringOptions,
    now: datetime,
    messages: Messages,
    progress: Progress,
) -> tuple[Reading, ...]:
    """Read files; one that came before, or twice, holds nothing."""
    readings: list[Reading] = []
    for number, path in enumerate(paths):
        progress.at(number, len(paths), path.name)
        stop_if_wanted(progress)
        readings.append(_read(file, path, options, now, readings, messages, progress))
    return tuple(readings)


def stop_if_wanted(progress: Progress) -> None:
    """Break off where the person asked for it.

    Raises
    ------
    UserError
        If so.
    """
    if progress.stop_wanted():
        raise UserError("the command was stopped", "nothing was changed")


def _read(
    file: StandFile,
    path: Path,
    options: BringOptions,
    now: datetime,
    earlier: Sequence[Reading],
    messages: Messages,
    progress: Progress,
) -> Reading:
    number = len(earlier) + 1
    sha256, size = hash_of(path)
    known = file.source_with_hash(sha256, records=False)
    twin = next((r.source for r in earlier if r.source.sha256 == sha256), None)
    # Another station of a file that came before may be wanted now.
    if twin is not None or (known is not None and not known.skipped and options.station is None):
        messages.tell(f"{path.name}: this very file was brought in before; nothing to add")
        before = twin or known
        assert before is not None  # noqa: S101 - one of the two, for the type checker
        return Reading(number, path, replace(before, file_name=path.name), Findings(before.format, 0), known=True)
    findings = door.read(
        path, crs=options.crs, day=options.day, pace_m=options.pace_m, station=options.station, progress=progress
    )
    for told in findings.told:
        messages.tell(f"{path.name}: {told}")
    if any(t.name is not None and t.key is not None and own_key(t.key) is None for t in findings.trees):
        messages.tell(f"{path.name}: ids of another program are not kept where there is a name beside them")
    source = known or Source(new_key(), path.name, sha256, findings.format, size, now)
    things = tuple(_numbered(number, findings))
    return Reading(number, path, source, findings, things, again=known is not None)


def _numbered(number: int, findings: Findings) -> Iterator[Thing]:
    """Yield the findings with their ids; several may come from one place of the file."""
    seen: dict[str, int] = {}
    kinds: tuple[Sequence[Found], ...] = (
        findings.trees,
        findings.places,
        findings.lines,
        findings.areas,
        findings.walks,
        findings.sights,
        # A note with a position is a waypoint and stands among the trees.
        [n for n in findings.notes if n.at is None],
        findings.photos,
    )
    for found in (f for kind in kinds for f in kind):
        times = seen[found.where] = seen.get(found.where, 0) + 1
        yield Thing(f"{number}:{found.where}" + (f" ({times})" if times > 1 else ""), found)


def points_of(found: Found) -> Sequence[LonLat]:
    """Return the positions by which a thing is judged to be near or far; for a walk, its middle."""
    if isinstance(found, FoundWalk):
        return [(float(np.median(found.fixes.lon)), float(np.median(found.fixes.lat)))]
    if isinstance(found, FoundLine):
        return found.course
    if isinstance(found, FoundArea):
        return found.outline[0]
    if isinstance(found, FoundSight | FoundNote):
        return []
    return [] if found.at is None else [found.at]


def with_doubts(
    readings: Sequence[Reading], frame: WorkingFrame | None, *, anyway: bool
) -> tuple[tuple[Reading, ...], WorkingFrame | None]:
    """Return the files with a word on each position that looks wrong, and the stand's frame, chosen now if it had none.

    Parameters
    ----------
    anyway
        Whether positions that look wrong are to be taken: then they have a say in where the frame lies.
    """
    doubted: dict[int, Reading] = {}
    for reading in sorted(readings, key=lambda r: r.without_own_keys):
        fresh = _doubted(reading, frame)
        doubted[reading.number] = fresh
        if frame is None:
            frame = frame_about([t for t in fresh.things if anyway or t.doubt is None])
    return tuple(doubted[r.number] for r in readings), frame


def frame_about(things: Sequence[Thing]) -> WorkingFrame | None:
    """Return a frame about what has a position, if anything has."""
    from standmap.survey.frame import centre_of

    points = [p for t in things for p in points_of(t.found)]
    return centre_of(points) if points else None


def _doubted(reading: Reading, frame: WorkingFrame | None) -> Reading:
    from standmap.survey.checks import doubt

    points = [points_of(t.found) for t in reading.things]
    flat = np.asarray([p for group in points for p in group], dtype=np.float64).reshape(-1, 2)
    if not len(flat):
        return reading
    reasons = doubt(flat[:, 0], flat[:, 1], None if frame is None else (frame.lon0, frame.lat0))
    things: list[Thing] = []
    start = 0
    for thing, group in zip(reading.things, points, strict=True):
        why = next((r for r in reasons[start : start + len(group)] if r), None)
        start += len(group)
        things.append(replace(thing, doubt=why) if why else thing)
    return replace(reading, things=tuple(things))
