"""A walk as it was planned beside the walk as it was walked: order, time, way and litres."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime
from itertools import pairwise
from pathlib import Path

import numpy as np

from standmap.errors import UserError
from standmap.formats.door import read
from standmap.jobs.given_walk import GivenStop, GivenWalk
from standmap.jobs.opening import working_frame
from standmap.jobs.positions import xy
from standmap.messages import Messages, Silence
from standmap.rounds.followed import Reached, reached, walked_m
from standmap.stand.snapshot import Stand
from standmap.stand.tree import LonLat
from standmap.stand.walks import Fixes
from standmap.survey.frame import WorkingFrame
from standmap.survey.stops import find_stops


@dataclass(frozen=True, slots=True)
class WalkedStop:
    """One planned stop, and how it went.

    Attributes
    ----------
    planned_order, planned_min
        As given out.
    walked_order
        Its place among the stops that were reached, from 1; None where it was not.
    reached_at
        When the walker came to it; `stayed` tells a stay from a passing by.
    walked_min
        Minutes since the walk began.
    expected_l, brought_l
        Litres as expected, and as written down for that day; None where nothing is.
    """

    name: str
    stop: GivenStop
    planned_order: int
    planned_min: float
    walked_order: int | None
    reached_at: datetime | None
    walked_min: float | None
    stayed: bool
    expected_l: float
    brought_l: float | None


@dataclass(frozen=True, slots=True)
class WalkedRound:
    """A whole walk beside its plan.

    Attributes
    ----------
    collector
        Whose trips were held against it; None for all.
    planned_m, walked_m, planned_min, walked_min
        Length and time; the walked length is about, for a receiver scatters.
    swapped
        How many neighbours in the walked order stand the other way round in the plan.
    track
        The walked line, as it was recorded.
    """

    walk: GivenWalk
    collector: int | None
    stops: tuple[WalkedStop, ...]
    planned_m: float
    walked_m: float
    planned_min: float
    walked_min: float
    swapped: int
    track: tuple[LonLat, ...] = ()

    @property
    def missed(self) -> tuple[WalkedStop, ...]:
        """The stops that the walk did not come to."""
        return tuple(stop for stop in self.stops if stop.reached_at is None)

    @property
    def expected_l(self) -> float:
        """Litres expected of all stops."""
        return sum(stop.expected_l for stop in self.stops)

    @property
    def brought_l(self) -> float | None:
        """Litres written down of all stops, None where nothing is."""
        told = [stop.brought_l for stop in self.stops if stop.brought_l is not None]
        return sum(told) if told else None


def walked_beside_plan(
    stand: Stand, walk: GivenWalk, path: Path, *, collector: int | None = None, messages: Messages | None = None
) -> WalkedRound:
    """Hold a recorded walk against the walk that was given out; nothing is stored.

    Parameters
    ----------
    path
        A GPX file, or another of the kinds that hold a timed track.
    collector
        Whose trips; all when absent.

    Raises
    ------
    UserError
        If the file cannot be read or has no timed track, the track is elsewhere, or the plan has no such collector.
    """
    messages = messages or Silence()
    frame = working_frame(stand)
    trips = [trip for trip in walk.trips if collector is None or trip.collector == collector]
    if not trips or frame is None:
        count = len({trip.collector for trip in walk.trips})
        raise UserError(f"the walk of {walk.day.isoformat()} has no collector {collector}", f"it has {count}")
    fixes = _timed(path, frame, messages)
    days = {datetime.fromtimestamp(float(t), UTC).astimezone().date() for t in (fixes.time_s.min(), fixes.time_s.max())}
    if walk.day not in days:
        told = min(days).isoformat()
        messages.caution(f"{path.name} was walked on {told}, the plan is of {walk.day.isoformat()}: the right one?")
    planned = [stop for trip in trips for stop in trip.stops]
    line = xy(frame, list(zip(fixes.lon.tolist(), fixes.lat.tolist(), strict=True)))
    places = xy(frame, [stop.at for stop in planned])
    stays = find_stops(fixes, frame)
    found = reached(
        places,
        np.array([(stay.x, stay.y) for stay in stays]).reshape(-1, 2),
        np.array([(stay.from_s, stay.to_s) for stay in stays]).reshape(-1, 2),
        line,
        fixes.time_s,
    )
    if all(reach is None for reach in found):
        raise UserError(
            f"{path.name}: the walk comes to none of the {len(planned)} stops of {walk.day.isoformat()}",
            "name the walk of that day, or another day with --date",
        )
    began_s = float(fixes.time_s[0])
    stops = _stops(stand, walk.day, planned, found, began_s)
    return WalkedRound(
        walk=walk,
        collector=collector,
        stops=stops,
        planned_m=sum(trip.length_m for trip in trips),
        walked_m=walked_m(line),
        planned_min=_longest(walk, trips=[trip.collector for trip in trips]),
        walked_min=float(fixes.time_s[-1] - began_s) / 60,
        swapped=_swapped(stops),
        track=tuple(zip(fixes.lon.tolist(), fixes.lat.tolist(), strict=True)),
    )


def _longest(walk: GivenWalk, *, trips: Sequence[int]) -> float:
    """Return the minutes of the collector, among these, who is under way the longest."""
    under_way: dict[int, float] = dict.fromkeys(trips, 0.0)
    for trip in walk.trips:
        if trip.collector in under_way:
            under_way[trip.collector] += trip.minutes
    return max(under_way.values())


def _timed(path: Path, frame: WorkingFrame, messages: Messages) -> Fixes:
    """Return the fixes of all timed tracks of a file near the stand, in ascending time."""
    found = read(path)
    timed = [walk.fixes for walk in found.walks if walk.fixes.timed]
    if not timed:
        what = "its track has no times" if found.walks else "it holds no track"
        raise UserError(f"{path.name}: {what}", "export the recorded track with its times, as GPX")
    if len(timed) < len(found.walks):
        messages.tell(f"{path.name}: {len(found.walks) - len(timed)} of {len(found.walks)} tracks have no times")
    columns = [np.concatenate([getattr(f, name) for f in timed]) for name in ("lon", "lat", "time_s")]
    sigma, elevation = (np.concatenate([getattr(f, name) for f in timed]) for name in ("sigma_m", "elevation_m"))
    order = np.argsort(columns[2], kind="stable")
    lon, lat, time_s = (column[order] for column in columns)
    near = np.isfinite(xy(frame, list(zip(lon.tolist(), lat.tolist(), strict=True)))).all(axis=1)
    if not near.any():
        raise UserError(f"{path.name}: the walk is nowhere near this stand", "name the walk of this wood")
    keep = order[near]
    return Fixes(lon[near], lat[near], time_s[near], sigma[keep], elevation[keep], np.zeros(len(keep), np.int32))


def _stops(
    stand: Stand, day: date, planned: Sequence[GivenStop], found: Sequence[Reached | None], began_s: float
) -> tuple[WalkedStop, ...]:
    came = [k for k, reach in enumerate(found) if reach is not None]
    came.sort(key=lambda k: (found[k].from_s, planned[k].order))  # type: ignore[union-attr]
    place = {k: n for n, k in enumerate(came, start=1)}
    rows = []
    for k, (stop, reach) in enumerate(zip(planned, found, strict=True)):
        tree = stand.by_key.get(stop.tree_key)
        name = "a tree that is gone" if tree is None else tree.name
        taken = [c for c in stand.collections_of.get(stop.hole_key or "", ()) if c.collected_on == day]
        rows.append(
            WalkedStop(
                name=name if stop.hole_number == 1 else f"{name} hole {stop.hole_number}",
                stop=stop,
                planned_order=stop.order,
                planned_min=stop.minutes,
                walked_order=place.get(k),
                reached_at=None if reach is None else datetime.fromtimestamp(reach.from_s, UTC).astimezone(),
                walked_min=None if reach is None else (reach.from_s - began_s) / 60,
                stayed=reach is not None and reach.stayed,
                expected_l=stop.litres,
                brought_l=sum(c.volume_ml for c in taken) / 1000 if taken else None,
            )
        )
    return tuple(rows)


def _swapped(stops: Sequence[WalkedStop]) -> int:
    walked = sorted((s for s in stops if s.walked_order is not None), key=lambda s: s.walked_order or 0)
    return sum(a.planned_order > b.planned_order for a, b in pairwise(walked))
