"""A map of the stand to hand to somebody: without its owner, the exact gate and notes, unless asked for."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from standmap.errors import NothingToDo, UserError
from standmap.formats.share_map import SharedThing, share_map
from standmap.jobs.language import said_in, spoken
from standmap.jobs.opening import working_frame
from standmap.jobs.writing_files import write_files
from standmap.settings import Settings
from standmap.stand.ground import Area, AreaKind, Line, LineKind, PlaceKind
from standmap.stand.snapshot import Stand
from standmap.stand.tree import LonLat, Standing, Tree
from standmap.units_shown import System, UnitsShown

if TYPE_CHECKING:
    from standmap.survey.frame import WorkingFrame

GATE_HIDDEN_M = 30.0
"""Paths and fences end so far from a gate that is not shown: where they meet would tell it (our own choice)."""


@dataclass(frozen=True, slots=True)
class ShareOptions:
    """What a shared map tells.

    Attributes
    ----------
    owner
        Names of areas, their owners, dates and limits.
    gate
        Where the gates are, exactly.
    notes
        Notes of trees, places and lines.
    say
        Turns a finished English sentence into the person's language.
    """

    owner: bool = False
    gate: bool = False
    notes: bool = False
    units: UnitsShown = field(default_factory=UnitsShown)
    language: str = "en"
    say: Callable[[str], str] = str


def share_options(settings: Settings, *, owner: bool = False, gate: bool = False, notes: bool = False) -> ShareOptions:
    """Return what a shared map tells, in the language and units that a person has set."""
    language = spoken(settings.language)
    units = UnitsShown(System(settings.units), language.decimal_mark)
    return ShareOptions(owner, gate, notes, units, language.code, said_in(language))


def share(
    stand: Stand, title: str, path: Path, today: date, options: ShareOptions | None = None, *, replace: bool = False
) -> Path:
    """Write a map of the stand as one HTML file that opens without a network.

    Parameters
    ----------
    title
        Written on the map: what the stand is called.
    replace
        Whether a file that is there already may be written over.

    Raises
    ------
    UserError
        If the name does not end in .html, the file is there already, or the disk refuses.
    NothingToDo
        If the stand holds nothing yet.
    """
    if path.suffix.lower() not in (".html", ".htm"):
        raise UserError(f"{path}: a map to share is a page", "give it a name that ends in .html")
    page = shared_page(stand, title, today, options or ShareOptions())
    return write_files(path.parent, {path.name: page.encode("utf-8", errors="replace")}, replace=replace)[0]


def shared_page(stand: Stand, title: str, today: date, options: ShareOptions) -> str:
    """Return the map as HTML; see `share`."""
    things = [
        *_areas(stand, options),
        *_lines(stand, options),
        *_places(stand, options),
        *_trees(stand, today, options),
    ]
    if not things:
        raise NothingToDo("the stand holds nothing yet: bring something in first")
    say = options.say
    about = [say(today.isoformat()), say("filled: tapped this season, with the tube in")]
    if not options.gate and any(place.kind is PlaceKind.GATE for place in stand.places):
        about.append(say("the gate is not shown"))
    return share_map(title, about, things, options.language)


def _areas(stand: Stand, options: ShareOptions) -> Iterator[SharedThing]:
    for area in stand.areas:
        kind = "permitted" if area.kind is AreaKind.PERMITTED else "no-go"
        told = _told_of_area(area, options) if options.owner else ()
        if kind == "no-go":
            told = (options.say("no-go area"), *told)
        yield SharedThing(kind, "Polygon", [[list(at) for at in ring] for ring in area.outline], told)


def _told_of_area(area: Area, options: ShareOptions) -> tuple[str, ...]:
    say = options.say
    told = [area.name, f"{say('owner')}: {area.owner}" if area.owner else ""]
    if area.from_date is not None:
        told.append(say(f"from {area.from_date.isoformat()}"))
    if area.until_date is not None:
        told.append(say(f"until {area.until_date.isoformat()}"))
    if area.most_trees is not None:
        told.append(say(f"at most {area.most_trees} trees in a season"))
    return tuple(filter(None, (*told, area.note if options.notes else "")))


def _lines(stand: Stand, options: ShareOptions) -> Iterator[SharedThing]:
    gates = [place.at for place in stand.places if place.kind is PlaceKind.GATE]
    frame = working_frame(stand) if gates and not options.gate else None
    for line in stand.lines:
        pieces = [line.course]
        if frame is not None and line.kind is not LineKind.STREAM:
            pieces = _away_from(line, gates, frame)
        if pieces:
            told = tuple(filter(None, (line.name, line.note if options.notes else "")))
            shape = [[list(at) for at in piece] for piece in pieces]
            yield SharedThing(str(line.kind), "MultiLineString", shape, told)


def _away_from(line: Line, gates: list[LonLat], frame: WorkingFrame) -> list[tuple[LonLat, ...]]:
    """Return the pieces of a line that are not near a gate."""
    from shapely import LineString, MultiPoint, get_parts

    near = MultiPoint(_xy(frame, gates)).buffer(GATE_HIDDEN_M)
    left = get_parts(LineString(_xy(frame, line.course)).difference(near))
    return [_lonlat(frame, np.asarray(piece.coords)) for piece in left if piece.length > 0]


def _xy(
    frame: WorkingFrame, course: list[LonLat] | tuple[LonLat, ...]
) -> np.ndarray[tuple[int, int], np.dtype[np.float64]]:
    table = np.asarray(course, dtype=float)
    return np.column_stack(frame.to_xy(table[:, 0], table[:, 1]))


def _lonlat(frame: WorkingFrame, xy: np.ndarray[tuple[int, int], np.dtype[np.float64]]) -> tuple[LonLat, ...]:
    lon, lat = frame.to_lonlat(xy[:, 0], xy[:, 1])
    return tuple((float(x), float(y)) for x, y in zip(lon, lat, strict=True))


def _places(stand: Stand, options: ShareOptions) -> Iterator[SharedThing]:
    for place in stand.places:
        if place.kind is PlaceKind.GATE and not options.gate:
            continue
        kind = "hazard" if place.kind is PlaceKind.HAZARD else "place"
        told = tuple(filter(None, (place.name, options.say(str(place.kind)), place.note if options.notes else "")))
        yield SharedThing(kind, "Point", list(place.at), told, place.name)


def _trees(stand: Stand, today: date, options: ShareOptions) -> Iterator[SharedThing]:
    giving = {hole.tree_key for hole in stand.all_open_holes(today)}
    for tree in stand.present:
        if tree.standing is not Standing.STANDING:
            continue
        kind = "giving" if tree.key in giving else "tree"
        yield SharedThing(kind, "Point", list(tree.at), _told_of_tree(stand, tree, options), tree.name)


def _told_of_tree(stand: Stand, tree: Tree, options: ShareOptions) -> tuple[str, ...]:
    newest = stand.newest_measurement(tree.key)
    girth = f"{options.say('girth')} {options.units.girth(newest.girth())}" if newest is not None else ""
    return tuple(filter(None, (tree.name, tree.species or "", girth, tree.note if options.notes else "")))
