"""The ground drawn or typed by hand: places, paths, streams, fences and areas; added, changed and taken out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import TYPE_CHECKING, TypeVar

from standmap.errors import NothingToDo, UserError
from standmap.jobs.anchors import given_position
from standmap.jobs.keys import new_key
from standmap.jobs.names import checked_name, checked_note
from standmap.jobs.trees_by_hand import keep_frame, sure_position
from standmap.messages import Messages, Silence
from standmap.stand.ground import Area, AreaKind, Line, LineKind, Place, PlaceKind, Ring
from standmap.stand.names import folded
from standmap.stand.sights import Sight, TakenPosition
from standmap.stand.snapshot import Stand
from standmap.stand.tree import LonLat
from standmap.store.stand_file import StandFile

if TYPE_CHECKING:
    from standmap.survey.frame import WorkingFrame

Ground = Place | Line | Area
Thing = TypeVar("Thing", Place, Line, Area)

CROSSING_REACH_M = 10.0
"""A bridge or ford is put onto a stream that passes within this distance, as rounds open a stream there: both positions
come from receivers."""

MOST_TREES = 100_000
"""Owners' limits above this are a slip of the pen."""

MOST_POINTS = 100_000
"""Nobody draws more points by hand."""


@dataclass(frozen=True, slots=True)
class Permission:
    """What is said of an area beside its outline; see `Area`."""

    owner: str = ""
    from_date: date | None = None
    until_date: date | None = None
    most_trees: int | None = None


def ground_called(stand: Stand, text: str) -> Ground:
    """Return the one place, line or area with this name or key.

    Raises
    ------
    UserError
        If none or more than one answers to it.
    """
    everything: tuple[Ground, ...] = (*stand.places, *stand.lines, *stand.areas)
    found = [thing for thing in everything if thing.key == text]
    found = found or [thing for thing in everything if thing.name and folded(thing.name) == folded(text)]
    if not found:
        raise UserError(f"no place, line or area is called '{text[:60]}'", "name one of this stand, or its id")
    if len(found) > 1:
        raise UserError(
            f"{len(found)} places, lines or areas are called '{text[:60]}'",
            f"use an id: {', '.join(thing.key for thing in found[:4])}",
        )
    return found[0]


def called(thing: Ground) -> str:
    """Return how a thing is named in a sentence: its kind and its name."""
    kind = f"{thing.kind} area" if isinstance(thing, Area) else str(thing.kind)
    return kind if not thing.name or thing.name == kind else f"{kind} {thing.name}"


def add_place(
    file: StandFile,
    kind: PlaceKind,
    at: LonLat,
    now: datetime,
    *,
    name: str = "",
    note: str = "",
    sure: bool = False,
    messages: Messages | None = None,
) -> Place:
    """Put a place on the map; a bridge or ford goes onto the stream beside it.

    Raises
    ------
    UserError
        If the name or the position cannot be.
    """
    stand = file.stand()
    title = checked_name(name, "name") if name.strip() else str(kind)
    frame = sure_position(stand, at, sure=sure)
    place = Place(new_key(), title, kind, _on_a_stream(stand, frame, kind, at, messages), checked_note(note))
    return _add(file, stand, frame, place, now)


def add_line(
    file: StandFile,
    kind: LineKind,
    course: Sequence[LonLat],
    now: datetime,
    *,
    name: str = "",
    note: str = "",
    sure: bool = False,
) -> Line:
    """Draw a path, a stream or a fence.

    Raises
    ------
    UserError
        If it has less than two different points, or one of them cannot be.
    """
    stand = file.stand()
    points = _course(course)
    frame = _all_sure(stand, points, sure=sure)
    line = Line(new_key(), _maybe_name(name), kind, points, checked_note(note))
    return _add(file, stand, frame, line, now)


def add_area(
    file: StandFile,
    kind: AreaKind,
    outline: Sequence[LonLat],
    now: datetime,
    *,
    name: str = "",
    permission: Permission | None = None,
    note: str = "",
    sure: bool = False,
) -> Area:
    """Draw where tapping is permitted, or where nobody goes.

    Parameters
    ----------
    outline
        At least three points; the ring is closed here.

    Raises
    ------
    UserError
        If the outline encloses nothing or crosses itself, a point cannot be, or the dates or the limit cannot.
    """
    stand = file.stand()
    ring = _ring(outline)
    frame = _all_sure(stand, ring, sure=sure)
    said = _checked(permission or Permission())
    area = Area(
        new_key(),
        _maybe_name(name),
        kind,
        (ring,),
        said.owner,
        said.from_date,
        said.until_date,
        said.most_trees,
        checked_note(note),
    )
    return _add(file, stand, frame, area, now)


def edit_place(
    file: StandFile,
    name: str,
    now: datetime,
    *,
    kind: PlaceKind | None = None,
    at: LonLat | None = None,
    new_name: str | None = None,
    note: str | None = None,
    sure: bool = False,
    messages: Messages | None = None,
) -> Place:
    """Change a place; what is not given stays. See `add_place`."""
    stand = file.stand()
    before = _one(stand, name, Place)
    fresh = replace(before, kind=kind or before.kind)
    if new_name is not None:
        fresh = replace(fresh, name=checked_name(new_name, "name") if new_name.strip() else str(fresh.kind))
    if note is not None:
        fresh = replace(fresh, note=checked_note(note))
    spot = before.at if at is None else at
    if at is not None or fresh.kind is not before.kind:
        frame = sure_position(stand, spot, sure=sure or at is None)
        fresh = replace(fresh, at=_on_a_stream(stand, frame, fresh.kind, spot, messages))
    return _change(file, before, fresh, now)


def edit_line(
    file: StandFile,
    name: str,
    now: datetime,
    *,
    kind: LineKind | None = None,
    course: Sequence[LonLat] | None = None,
    new_name: str | None = None,
    note: str | None = None,
    sure: bool = False,
) -> Line:
    """Change a line; what is not given stays. See `add_line`."""
    stand = file.stand()
    before = _one(stand, name, Line)
    fresh = replace(before, kind=kind or before.kind)
    if course is not None:
        points = _course(course)
        _all_sure(stand, points, sure=sure)
        fresh = replace(fresh, course=points)
    if new_name is not None:
        fresh = replace(fresh, name=_maybe_name(new_name))
    if note is not None:
        fresh = replace(fresh, note=checked_note(note))
    return _change(file, before, fresh, now)


def edit_area(
    file: StandFile,
    name: str,
    now: datetime,
    *,
    kind: AreaKind | None = None,
    outline: Sequence[LonLat] | None = None,
    new_name: str | None = None,
    permission: Permission | None = None,
    note: str | None = None,
    sure: bool = False,
) -> Area:
    """Change an area; what is not given stays, and holes in it stay with its outline. See `add_area`."""
    stand = file.stand()
    before = _one(stand, name, Area)
    fresh = replace(before, kind=kind or before.kind)
    if outline is not None:
        ring = _ring(outline)
        _all_sure(stand, ring, sure=sure)
        fresh = replace(fresh, outline=(ring, *before.outline[1:]))
    if new_name is not None:
        fresh = replace(fresh, name=_maybe_name(new_name))
    if permission is not None:
        said = _checked(permission)
        fresh = replace(
            fresh,
            owner=said.owner,
            from_date=said.from_date,
            until_date=said.until_date,
            most_trees=said.most_trees,
        )
    if note is not None:
        fresh = replace(fresh, note=checked_note(note))
    return _change(file, before, fresh, now)


def remove_ground(file: StandFile, name: str, now: datetime) -> Ground:
    """Take a place, a line or an area off the map; undo brings it back.

    Raises
    ------
    UserError
        If there is no such thing. A tree is never taken out like this: it is corrected.
    """
    stand = file.stand()
    everything: tuple[Ground, ...] = (*stand.places, *stand.lines, *stand.areas)
    if stand.named(name) and not any(g.key == name or folded(g.name) == folded(name) for g in everything):
        raise UserError(f"'{name[:60]}' is a tree", "note it felled, or merge it into the tree that it is")
    thing = ground_called(stand, name)
    tied = sum(thing.key in (s.from_key, s.to_key, s.toward_key) for s in file.rows(Sight))
    if tied:
        raise UserError(
            f"{called(thing)} is an end of {tied} sight{'' if tied == 1 else 's'}",
            "take these out first: 'standmap sight FILE --list' numbers them",
        )
    taken = [t for t in file.rows(TakenPosition) if t.place_key == thing.key]
    with file.writing(f"remove {called(thing)}", now) as writing:
        for position in taken:
            writing.delete(position)
        writing.delete(thing)
    return thing


def _add(file: StandFile, stand: Stand, frame: WorkingFrame, thing: Thing, now: datetime) -> Thing:
    with file.writing(f"add {called(thing)}", now) as writing:
        keep_frame(writing, stand, frame)
        writing.insert(thing)
    return thing


def _change(file: StandFile, before: Thing, fresh: Thing, now: datetime) -> Thing:
    if fresh == before:
        raise NothingToDo(f"{called(before)} is so already")
    moved = getattr(fresh, "at", None) != getattr(before, "at", None)
    rests_on = [t for t in file.rows(TakenPosition) if t.place_key == fresh.key and t.used] if moved else []
    with file.writing(f"change {called(before)}", now) as writing:
        writing.replace(fresh)
        if rests_on and isinstance(fresh, Place):
            # What a person says now counts in place of what was taken before.
            for position in rests_on:
                writing.change(position, used=False)
            writing.insert(given_position(fresh))
    return fresh


def _one(stand: Stand, name: str, kind: type[Thing]) -> Thing:
    thing = ground_called(stand, name)
    if not isinstance(thing, kind):
        raise UserError(f"{called(thing)} is no {kind.__name__.lower()}", "name another one, or its id")
    return thing


def _on_a_stream(stand: Stand, frame: WorkingFrame, kind: PlaceKind, at: LonLat, messages: Messages | None) -> LonLat:
    """Return where a place goes: a bridge or ford onto the nearest stream, anything else where it was put."""
    if kind not in (PlaceKind.BRIDGE, PlaceKind.FORD):
        return at
    import numpy as np
    import shapely

    from standmap.jobs.positions import xy

    here = shapely.Point(xy(frame, [at])[0])
    courses = [xy(frame, line.course) for line in stand.lines if line.kind is LineKind.STREAM]
    streams = [shapely.LineString(course) for course in courses if bool(np.isfinite(course).all())]
    nearest = min(streams, key=here.distance, default=None)
    if nearest is None or here.distance(nearest) > CROSSING_REACH_M:
        (messages or Silence()).caution(f"no stream passes within {CROSSING_REACH_M:g} m: this {kind} opens none")
        return at
    foot = nearest.interpolate(nearest.project(here))
    lon, lat = frame.to_lonlat(np.array(foot.x), np.array(foot.y))
    return (float(lon), float(lat))


def _all_sure(stand: Stand, points: Sequence[LonLat], *, sure: bool) -> WorkingFrame:
    frame = sure_position(stand, points[0], sure=sure)
    for point in points[1:]:
        sure_position(stand, point, sure=sure)
    return frame


def _course(points: Sequence[LonLat]) -> tuple[LonLat, ...]:
    """Return the points of a line without any that repeats the one before it."""
    course = tuple(p for i, p in enumerate(points) if i == 0 or p != points[i - 1])
    if len(course) < 2:
        raise UserError("one point leads nowhere" if course else "there is no point", "give two or more")
    if len(course) > MOST_POINTS:
        raise UserError(f"a line of {len(course)} points is too long", f"give at most {MOST_POINTS}")
    return course


def _ring(points: Sequence[LonLat]) -> Ring:
    import shapely

    ring = _course(points)
    if ring[0] != ring[-1]:
        ring = (*ring, ring[0])
    if len(set(ring)) < 3:
        raise UserError(f"an area of {len(set(ring))} points encloses nothing", "give three or more")
    shape = shapely.Polygon(ring)
    if not shape.is_valid:
        raise UserError("the outline crosses itself", "give its corners in the order in which one walks round it")
    if shape.area == 0:
        raise UserError("the outline encloses nothing", "give three corners that are not in one line")
    return ring


def _maybe_name(text: str) -> str:
    return checked_name(text, "name") if text.strip() else ""


def _checked(said: Permission) -> Permission:
    if said.from_date is not None and said.until_date is not None and said.from_date > said.until_date:
        raise UserError(
            f"the permission ends on {said.until_date.isoformat()}, before it begins on {said.from_date.isoformat()}",
            "give the earlier day first",
        )
    if said.most_trees is not None and not 0 <= said.most_trees <= MOST_TREES:
        raise UserError(f"{said.most_trees} trees is no limit", f"give 0 to {MOST_TREES}, or none")
    owner = checked_name(said.owner, "name of an owner") if said.owner.strip() else ""
    return replace(said, owner=owner)
