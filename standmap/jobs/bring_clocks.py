"""The clocks of notes and pictures, set by the walk or by what a person states of them."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from standmap.formats.content import FoundNote, FoundPhoto, FoundTree, FoundWalk
from standmap.jobs.bring_reading import Reading, Thing
from standmap.jobs.bring_report import ClockStated
from standmap.jobs.positions import xy
from standmap.messages import Messages
from standmap.stand.snapshot import Stand
from standmap.stand.tree import LonLat
from standmap.stand.walks import Fixes, Stop

if TYPE_CHECKING:
    from standmap.survey.clock import ClockOffset, Moment, Timeline
    from standmap.survey.frame import WorkingFrame

Member = tuple[Reading, Thing, FoundNote | None]
"""What was noted: its file, what it is, and for a waypoint its moment."""


@dataclass(frozen=True, slots=True)
class Stay:
    """A stop that a moment can fall into.

    Attributes
    ----------
    id
        Of the item that it will be, or the key of the stop in the stand.
    walk_id
        Item of the walk that brings it, nothing where the stand has it already.
    row
        The stop as the stand has it already.
    """

    id: str
    from_s: float
    to_s: float
    x: float
    y: float
    at: LonLat
    var_e_m2: float
    var_n_m2: float
    walk_id: str = ""
    row: Stop | None = None

    @property
    def variance_m2(self) -> float:
        """Of one axis."""
        return (self.var_e_m2 + self.var_n_m2) / 2


@dataclass(frozen=True, slots=True, eq=False)
class Noted:
    """A note, a waypoint or a picture with its true moment.

    Attributes
    ----------
    true_s
        Seconds since 1970 UTC, the clock's offset taken off; absent where it tells no time.
    tree
        What it says of a tree; nothing of a picture.
    sure
        Whether its moment is that of the walk's clock beyond doubt.
    """

    reading: Reading
    thing: Thing
    true_s: float | None
    tree: FoundTree | None
    at: LonLat | None
    sigma_m: float | None
    zone_s: float = 0.0
    sure: bool = True

    @property
    def waypoint(self) -> bool:
        """Whether it is a tree of its own where it belongs to no stop."""
        return isinstance(self.thing.found, FoundTree)


@dataclass(frozen=True, slots=True, eq=False)
class Way:
    """A walk that moments can fall into."""

    fixes: Fixes
    found: FoundWalk | None = None
    id: str = ""


def set_clocks(
    things: Sequence[Member],
    ways: Sequence[Way],
    stays: Sequence[Stay],
    stand: Stand,
    frame: WorkingFrame,
    stated: ClockStated,
    messages: Messages,
) -> Iterator[Noted]:
    """Yield what was noted with its true moment, once the clock of each file or camera is set."""
    clocks: dict[str, list[Member]] = {}
    for one in things:
        clocks.setdefault(_clock_of(*one), []).append(one)
    order = {id(thing): number for number, (_, thing, _) in enumerate(things)}
    out: list[Noted] = []
    timeline = None
    for name, members in clocks.items():
        offset = None
        told = [m for m in members if _time_of(m) is not None]
        if name and told:
            from standmap.survey.clock import Timeline

            timeline = timeline or Timeline(*_timeline(ways, stays, frame), lon_deg=frame.lon0)
            moments = [_moment(m, stand, frame) for m in told]
            offset = _offset(moments, timeline, stated)
            if words := offset.words(name):
                messages.tell(words)
        out += [_noted(m, offset) for m in members]
    yield from sorted(out, key=lambda n: order[id(n.thing)])


def _clock_of(reading: Reading, thing: Thing, note: FoundNote | None) -> str:
    """Return by which clock a thing was noted, in words; nothing for that of the satellites."""
    if isinstance(thing.found, FoundPhoto):
        if thing.found.gps_time:
            return ""
        return f"the clock of {thing.found.camera}" if thing.found.camera else "the camera's clock"
    if note is None or note.at is not None:
        return ""
    return f"the notes' clock ({reading.source.file_name})"


def _time_of(member: Member) -> float | None:
    _, thing, note = member
    return thing.found.time_s if isinstance(thing.found, FoundPhoto) else None if note is None else note.time_s


def _timeline(
    ways: Sequence[Way], stays: Sequence[Stay], frame: WorkingFrame
) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    spans = [(float(w.fixes.time_s.min()), float(w.fixes.time_s.max())) for w in ways]
    empty = np.zeros(0)
    time_s = np.concatenate([w.fixes.time_s for w in ways]) if ways else empty
    lon = np.concatenate([w.fixes.lon for w in ways]) if ways else empty
    lat = np.concatenate([w.fixes.lat for w in ways]) if ways else empty
    within = frame.reaches(lon, lat) if len(lon) else np.zeros(0, dtype=bool)
    time_s, lon, lat = time_s[within], lon[within], lat[within]
    order = np.argsort(time_s, kind="stable")
    x, y = frame.to_xy(lon[order], lat[order]) if len(order) else (empty, empty)
    return (
        np.array([(s.from_s, s.to_s) for s in stays], dtype=np.float64).reshape(-1, 2),
        np.array(spans, dtype=np.float64).reshape(-1, 2),
        time_s[order],
        x,
        y,
    )


def _moment(member: Member, stand: Stand, frame: WorkingFrame) -> Moment:
    from standmap.survey.clock import Moment

    _, thing, note = member
    found = thing.found
    if isinstance(found, FoundPhoto):
        return Moment(
            found.time_s or 0.0, found.zone_told, xy_of(frame, found.at), found.sigma_m, ahead_s=found.ahead_s
        )
    assert note is not None  # noqa: S101 - it has a time
    named = stand.named(note.tree.name) if note.tree.name else []
    # A note that names a known tree was made there: that tells the clock as well as a position does.
    known = named[0] if len(named) == 1 else None
    at, sigma = (None, None) if known is None else (known.at, known.sigma_m)
    return Moment(note.time_s, note.zone_told, xy_of(frame, at), sigma)


def _offset(moments: Sequence[Moment], timeline: Timeline, stated: ClockStated) -> ClockOffset:
    """Return the offset of a clock: as stated, and what is left of it by the walk."""
    from standmap.survey.clock import ClockOffset, How, clock_offset

    zone_told = all(m.zone_told for m in moments)
    sure = stated.ahead_s or 0.0
    if not zone_told and stated.zone_s is not None:
        return ClockOffset(sure + stated.zone_s, 0.0, How.TOLD, of=len(moments))
    if stated.ahead_s is None:
        return clock_offset(moments, timeline)
    if zone_told:
        return ClockOffset(sure, 0.0, How.TOLD, of=len(moments))
    found = clock_offset([replace(m, time_s=m.time_s - sure, ahead_s=None) for m in moments], timeline)
    return replace(found, offset_s=found.offset_s + sure)


def _noted(member: Member, offset: ClockOffset | None) -> Noted:
    reading, thing, note = member
    time_s = _time_of(member)
    ahead_s = 0.0 if offset is None else offset.offset_s
    sure = offset is None or offset.sure
    true_s = None if time_s is None else time_s - ahead_s
    found = thing.found
    if isinstance(found, FoundPhoto):
        zone_s = found.zone_s if found.zone_told else round(ahead_s / 900) * 900.0
        return Noted(reading, thing, true_s, None, found.at, found.sigma_m, zone_s, sure)
    tree = found if isinstance(found, FoundTree) else note.tree if note is not None else None
    return Noted(reading, thing, true_s, tree, None if tree is None else tree.at, None, sure=sure)


def xy_of(frame: WorkingFrame, at: LonLat | None) -> tuple[float, float] | None:
    """Return a position in the working frame, metres; None where there is none, or it is out of reach."""
    if at is None:
        return None
    x, y = xy(frame, [at])[0].tolist()
    return None if math.isnan(x) else (x, y)
