"""Which stop each note, waypoint and picture belongs to: clocks set by the walk, then moments looked up in the stops.

Nothing here depends on what a person decides, so that a decision about one thing never moves another.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from standmap.formats.content import FoundNote, FoundPhoto, FoundTree, FoundWalk
from standmap.jobs.bring_clocks import Member, Noted, Stay, Way, set_clocks, xy_of
from standmap.jobs.bring_reading import Reading
from standmap.jobs.bring_report import ClockStated
from standmap.jobs.positions import xy
from standmap.messages import Messages
from standmap.stand.names import folded
from standmap.stand.snapshot import Stand
from standmap.stand.walks import Fixes, Stop, Walk

if TYPE_CHECKING:
    from standmap.jobs.bring_walks import StopsFound
    from standmap.survey.frame import WorkingFrame
    from standmap.survey.stops import Mark

SLACK_S = 8.0
"""Who writes or photographs so shortly before or after a stop is taken to have done it there: an assumption."""

UNTOLD_SIGMA_M = 5.0
"""Standard deviation of one axis of a waypoint or a picture that does not tell it: an assumption."""

GATE = 9.21
"""Squared distance by both covariances that 99 % of true pairs stay below (chi-squared with two degrees of freedom)."""

ALIKE = 4.0
"""A second stop or tree whose squared distance is greater by less than this many variances may be meant as well."""


@dataclass(frozen=True, slots=True, eq=False)
class Placed:
    """Where a noted thing belongs.

    Attributes
    ----------
    stay
        The stop, where there is one.
    near
        Else the stop nearest in time, and how many seconds after its end, or before its beginning (negative).
    away_m
        How far from the stop its own position is.
    """

    noted: Noted
    stay: Stay | None
    near: tuple[Stay, float] | None = None
    away_m: float | None = None


@dataclass(frozen=True, slots=True, eq=False)
class NotePlan:
    """All noted things of one command, and the stop of each.

    Attributes
    ----------
    placed
        By the id of the thing, in the order of the files; a waypoint that belongs to no stop is missing.
    walks
        First and last moment of each walk that there is.
    marks
        Moments that lie in stops, by the clock of the walks.
    """

    placed: dict[str, Placed] = field(default_factory=dict)
    walks: tuple[tuple[float, float], ...] = ()
    marks: tuple[Mark, ...] = ()

    @property
    def stop_ids(self) -> frozenset[str]:
        """Items of the stops at which anything was noted."""
        return frozenset(p.stay.id for p in self.placed.values() if p.stay is not None and p.stay.row is None)

    def at_stop(self, stop_id: str) -> list[Placed]:
        """Return what was noted at a stop, by time."""
        here = [p for p in self.placed.values() if p.stay is not None and p.stay.id == stop_id]
        return sorted(here, key=lambda p: (p.noted.true_s or math.inf, p.noted.thing.id))


def plan_notes(
    readings: Sequence[Reading],
    stand: Stand,
    walks: Sequence[Walk],
    stops: Sequence[Stop],
    frame: WorkingFrame | None,
    sought: StopsFound,
    stated: ClockStated,
    messages: Messages,
) -> NotePlan:
    """Set the clocks and look up the stop of each noted thing.

    Parameters
    ----------
    walks, stops
        Those in the stand.
    """
    things = list(_noted_things(readings))
    if not things or frame is None:
        return NotePlan()
    ways = [Way(w.fixes) for w in walks]
    ways += [
        Way(t.found.fixes, t.found, t.id)
        for r in readings
        for t in r.things
        if isinstance(t.found, FoundWalk) and not any(_same(w.fixes, t.found.fixes) for w in walks)
    ]
    ways = [w for w in ways if w.fixes.timed]
    plain = _stays(ways, stops, frame, sought, ())
    noted = list(set_clocks(things, ways, plain, stand, frame, stated, messages))
    spans = tuple((float(w.fixes.time_s.min()), float(w.fixes.time_s.max())) for w in ways)
    marks = _marks(noted, spans)
    return NotePlan(_placed(noted, _stays(ways, stops, frame, sought, marks), stand, frame), spans, marks)


def _marks(noted: Sequence[Noted], spans: Sequence[tuple[float, float]]) -> tuple[Mark, ...]:
    """Return the moments at which somebody stood at a tree: it was named or measured, by a clock that is sure."""
    from standmap.survey.stops import Mark

    marks: list[Mark] = []
    for one in noted:
        moment = one.true_s
        if not one.sure or moment is None or not any(begin <= moment <= end for begin, end in spans):
            continue
        tree = one.tree
        which = None if tree is None else tree.name and folded(tree.name)
        if which is None and tree is not None and (tree.measurements or one.waypoint):
            which = one.thing.id  # nameless, but a tree
        if which is not None:  # whoever walks on takes pictures too, and writes remarks
            marks.append(Mark(moment, which))
    return tuple(sorted(marks, key=lambda m: (m.time_s, m.tree or "")))


def _noted_things(readings: Sequence[Reading]) -> Iterator[Member]:
    for reading in readings:
        waypoints = {n.where: n for n in reading.findings.notes if n.at is not None}
        for thing in reading.things:
            found = thing.found
            if isinstance(found, FoundNote | FoundPhoto):
                yield reading, thing, found if isinstance(found, FoundNote) else None
            elif isinstance(found, FoundTree) and found.where.startswith("waypoint ") and found.at is not None:
                yield reading, thing, waypoints.get(found.where)


def _same(one: Fixes, other: Fixes) -> bool:
    return (
        len(one) == len(other)
        and np.array_equal(one.time_s, other.time_s, equal_nan=True)
        and np.array_equal(one.lon, other.lon)
        and np.array_equal(one.lat, other.lat)
    )


def _stays(
    ways: Sequence[Way], stops: Sequence[Stop], frame: WorkingFrame, sought: StopsFound, marks: tuple[Mark, ...]
) -> list[Stay]:
    """Return all stops by time."""
    where = xy(frame, [s.at for s in stops])
    stays = [
        Stay(
            id=row.key,
            from_s=row.from_at.timestamp(),
            to_s=row.to_at.timestamp(),
            x=float(where[i, 0]),
            y=float(where[i, 1]),
            at=row.at,
            var_e_m2=row.var_e_m2,
            var_n_m2=row.var_n_m2,
            row=row,
        )
        for i, row in enumerate(stops)
        if not math.isnan(where[i, 0])
    ]
    for way in ways:
        if way.found is None:
            continue
        for number, s in enumerate(sought.of(way.found, frame, marks), start=1):
            stays.append(
                Stay(
                    f"{way.id}, stop {number}",
                    s.from_s,
                    s.to_s,
                    s.x,
                    s.y,
                    (s.lon, s.lat),
                    s.var_e_m2,
                    s.var_n_m2,
                    way.id,
                )
            )
    return sorted(stays, key=lambda s: (s.from_s, s.id))


def _placed(noted: Sequence[Noted], stays: Sequence[Stay], stand: Stand, frame: WorkingFrame) -> dict[str, Placed]:
    found: dict[str, Placed] = {}
    untimed = [n for n in noted if n.waypoint and n.true_s is None and not _is_known(n, stand)]
    by_place = _by_place(untimed, stays, frame)
    for one in noted:
        if one.waypoint and one.true_s is None:
            stay = by_place.get(one.thing.id)
            if stay is not None:
                found[one.thing.id] = Placed(one, stay, away_m=_away_m(one, stay, frame))
            continue
        placed = _by_time(one, stays, frame)
        if placed.stay is not None or not one.waypoint:
            found[one.thing.id] = placed
    return _one_waypoint_a_stop(found)


def _one_waypoint_a_stop(placed: dict[str, Placed]) -> dict[str, Placed]:
    """Return what was placed, but of two waypoints of different names at one stop only the nearer: two trees."""
    nearest: dict[str, Placed] = {}
    for one in placed.values():
        if one.noted.waypoint and one.stay is not None:
            held = nearest.setdefault(one.stay.id, one)
            if (one.away_m or 0.0) < (held.away_m or 0.0):
                nearest[one.stay.id] = one

    def stays(one: Placed) -> bool:
        if not one.noted.waypoint or one.stay is None:
            return True
        first = nearest[one.stay.id]
        return one is first or (_name_of(one) is not None and _name_of(one) == _name_of(first))

    return {item_id: one for item_id, one in placed.items() if stays(one)}


def _name_of(placed: Placed) -> str | None:
    tree = placed.noted.tree
    return None if tree is None or tree.name is None else folded(tree.name)


def _is_known(one: Noted, stand: Stand) -> bool:
    """Return whether a waypoint names a tree of the stand: then it is that one, as ever."""
    return one.tree is not None and one.tree.name is not None and bool(stand.named(one.tree.name))


def _by_time(one: Noted, stays: Sequence[Stay], frame: WorkingFrame) -> Placed:
    moment = one.true_s
    if moment is None or not stays:
        return Placed(one, None)
    beside: Callable[[Stay], float] = lambda s: max(s.from_s - moment, moment - s.to_s, 0.0)  # noqa: E731
    stay = min(stays, key=lambda s: (beside(s), s.from_s))
    away = _away_m(one, stay, frame)
    slack = 0.0 if one.waypoint else SLACK_S
    if beside(stay) <= slack and (away is None or _near(one, stay, away)):
        return Placed(one, stay, away_m=away)
    after = moment - stay.to_s if moment > stay.to_s else min(moment - stay.from_s, 0.0)
    return Placed(one, None, near=(stay, after), away_m=away)


def _by_place(noted: Sequence[Noted], stays: Sequence[Stay], frame: WorkingFrame) -> dict[str, Stay]:
    """Return the stop of each waypoint without time where both are each other's nearest and no other may be meant."""
    if not noted or not stays:
        return {}
    away = np.array([[_away_m(n, s, frame) for s in stays] for n in noted], dtype=np.float64)
    away[np.isnan(away)] = np.inf
    found: dict[str, Stay] = {}
    for row, one in enumerate(noted):
        column = int(np.argmin(away[row]))
        near, variance = away[row, column], stays[column].variance_m2 + UNTOLD_SIGMA_M**2
        if not math.isfinite(near) or near**2 > GATE * variance:
            continue
        others = np.concatenate([np.delete(away[row], column), np.delete(away[:, column], row)])
        if not len(others) or others.min() ** 2 - near**2 >= ALIKE * stays[column].variance_m2:
            found[one.thing.id] = stays[column]
    return found


def _away_m(one: Noted, stay: Stay, frame: WorkingFrame) -> float | None:
    here = xy_of(frame, one.at)
    return None if here is None else math.hypot(here[0] - stay.x, here[1] - stay.y)


def _near(one: Noted, stay: Stay, away_m: float) -> bool:
    sigma = one.sigma_m or UNTOLD_SIGMA_M
    return away_m**2 <= GATE * (stay.variance_m2 + sigma**2)
