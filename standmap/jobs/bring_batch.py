"""What one `bring` will write, and where its things stand."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

from standmap.formats.content import Findings, FoundArea, FoundLine, FoundPlace, FoundTree, FoundWalk, Skipped
from standmap.jobs.matching import Gathered
from standmap.stand.ground import Area, Line, Place
from standmap.stand.tree import LonLat
from standmap.stand.walks import Stop, Walk

if TYPE_CHECKING:
    from standmap.survey.frame import WorkingFrame


Ground = Place | Line | Area
FoundGround = FoundPlace | FoundLine | FoundArea


def same_ground(thing: Ground | FoundGround) -> tuple[object, ...]:
    """Return what makes two pieces of ground one: kind and shape."""
    if isinstance(thing, Place | FoundPlace):
        return (thing.kind, thing.at)
    return (thing.kind, thing.course if isinstance(thing, Line | FoundLine) else thing.outline)


@dataclass
class Batch:
    """Everything that one command will write, beside what was known before."""

    trees: Gathered
    frame: WorkingFrame | None
    known_walks: Sequence[Walk]
    ground_by_key: dict[str, Ground] = field(default_factory=dict)
    ground_by_shape: dict[tuple[object, ...], Ground] = field(default_factory=dict)
    new_ground: dict[str, Ground] = field(default_factory=dict)
    changed_ground: dict[str, Ground] = field(default_factory=dict)
    walks: list[Walk] = field(default_factory=list)
    stops: list[Stop] = field(default_factory=list)

    def __post_init__(self) -> None:
        stand = self.trees.stand
        things: tuple[Ground, ...] = (*stand.places, *stand.lines, *stand.areas)
        for thing in things:
            self.note_ground(thing)

    def note_ground(self, thing: Ground) -> None:
        """Remember a piece of ground by its key and by its shape."""
        self.ground_by_key[thing.key] = thing
        self.ground_by_shape[same_ground(thing)] = thing


def located(findings: Findings) -> Iterable[FoundTree | FoundPlace | FoundLine | FoundArea | FoundWalk]:
    """Yield the findings that have a position."""
    yield from (t for t in findings.trees if t.at is not None)
    yield from findings.places
    yield from findings.lines
    yield from findings.areas
    yield from findings.walks


def points_of(thing: FoundTree | FoundPlace | FoundLine | FoundArea | FoundWalk) -> Sequence[LonLat]:
    """Return the positions by which a thing is judged to be near or far; for a walk, its middle."""
    if isinstance(thing, FoundWalk):
        return [(float(np.median(thing.fixes.lon)), float(np.median(thing.fixes.lat)))]
    if isinstance(thing, FoundLine):
        return thing.course
    if isinstance(thing, FoundArea):
        return thing.outline[0]
    return [] if thing.at is None else [thing.at]


def without_doubtful(batch: Batch, findings: Findings) -> tuple[Findings, list[Skipped]]:
    """Return the findings without those whose positions look wrong, and these with the reason."""
    from standmap.survey.checks import doubt

    things = list(located(findings))
    points = [points_of(t) for t in things]
    flat = np.asarray([p for group in points for p in group], dtype=np.float64).reshape(-1, 2)
    if not len(flat):
        return findings, []
    frame = batch.frame
    reasons = doubt(flat[:, 0], flat[:, 1], None if frame is None else (frame.lon0, frame.lat0))
    refused: list[Skipped] = []
    bad: set[int] = set()
    start = 0
    for thing, group in zip(things, points, strict=True):
        why = next((r for r in reasons[start : start + len(group)] if r), None)
        start += len(group)
        if why:
            bad.add(id(thing))
            refused.append(Skipped(thing.where, f"{why}; give --anyway to take it all the same"))
    if not bad:
        return findings, []
    kept = replace(
        findings,
        trees=tuple(t for t in findings.trees if id(t) not in bad),
        places=tuple(t for t in findings.places if id(t) not in bad),
        lines=tuple(t for t in findings.lines if id(t) not in bad),
        areas=tuple(t for t in findings.areas if id(t) not in bad),
        walks=tuple(t for t in findings.walks if id(t) not in bad),
    )
    return kept, refused
