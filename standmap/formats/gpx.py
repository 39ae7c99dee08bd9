"""Reading GPX 1.0 and 1.1: waypoints are trees or places, tracks are walks, routes are only plans.

The file is fed to the parser piece by piece and no tree of elements is built, so that memory stays bounded whatever
the file holds. A document type, which is where entities come from, is refused as soon as it is seen.
"""

from __future__ import annotations

import math
import re
from array import array
from collections.abc import Mapping
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, cast

import numpy as np
from lxml import etree

from standmap.formats.accuracy import sigma_of_hdop, sigma_of_radius
from standmap.formats.content import Findings, FoundNote, FoundPlace, FoundTree, FoundWalk, Skipped
from standmap.formats.faults import Unusable, go_on, refused, shown, unreadable, within
from standmap.formats.texts import line_of, moment_of, name_of, note_of
from standmap.progress import Progress, Unwatched
from standmap.stand.ground import PlaceKind
from standmap.stand.names import LONGEST_NAME
from standmap.stand.tree import LonLat
from standmap.stand.walks import Fixes

MOST_BYTES = 512_000_000
"""Largest GPX file that is read."""

MOST_DEPTH = 100
"""Elements within elements; GPX with extensions needs about ten."""

CREATOR = "standmap"
"""What our own files say of their maker."""

_CHUNK = 1 << 18
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_KINDS = re.compile(rf"\b({'|'.join(PlaceKind)})\b", re.IGNORECASE)
_IN_POINT = frozenset({"ele", "time", "hdop", "name", "cmt", "desc", "sym", "type"})
_IN_TRACK = frozenset({"name", "desc"})


def read_gpx(path: Path, *, progress: Progress | None = None) -> Findings:
    """Read a GPX file of either version.

    Returns
    -------
    Findings
        Waypoints as trees, or as places where their type or symbol names a kind; tracks as walks. A tree that has a
        time as well is told again as a note of that moment: the walk will tell which of the two it is. Routes,
        waypoints without a usable position and tracks with fewer than two usable points are skipped with the reason.

    Raises
    ------
    UserError
        If the file cannot be read, is too large, is not well-formed, has a document type, or is not GPX.
    """
    watched = progress or Unwatched()
    size = within(path, MOST_BYTES, "split it, or keep only the days that matter")
    events = _Events(path)
    parser = etree.XMLParser(
        target=cast(Any, events),  # the stubs ask for methods that the parser itself can do without
        resolve_entities=False,
        no_network=True,
        load_dtd=False,
        huge_tree=False,
        recover=False,
    )
    done = 0
    try:
        with path.open("rb") as file:
            while chunk := file.read(_CHUNK):
                parser.feed(chunk)
                done += len(chunk)
                go_on(path, watched, done, size)
        parser.close()
    except OSError as error:
        raise unreadable(path, error) from None
    except etree.XMLSyntaxError as error:
        where = f"line {error.lineno}" if error.lineno else ""
        reason = shown((error.msg or "cut off").partition(", line ")[0].strip(), 90)
        raise refused(
            path, f"is not well-formed XML ({reason})", "export or copy it again, it may be cut off", where=where
        ) from None
    except LookupError:
        raise refused(path, "is in an encoding that is not known", "save it as UTF-8") from None
    return events.findings()


def _degrees(text: str | None, most: float, word: str) -> float:
    if text is None:
        raise Unusable(f"has no {word}")
    try:
        # float() would also take underscores, which are no part of a number in XML.
        value = float(text) if "_" not in text else math.nan
    except ValueError:
        value = math.nan
    if not -most <= value <= most:
        raise Unusable(f"{word} '{shown(text)}' is not within -{most:g} and {most:g}")
    return value


def _position(attributes: Mapping[str, str]) -> LonLat:
    lat = _degrees(attributes.get("lat"), 90.0, "latitude")
    return _degrees(attributes.get("lon"), 180.0, "longitude"), lat


def _number(text: str | None) -> float:
    if not text:
        return math.nan
    try:
        value = float(text)
    except ValueError:
        return math.nan
    return value if math.isfinite(value) else math.nan


def _seconds(text: str) -> float:
    """Return seconds since 1970 UTC, NaN where the text is no moment; GPX times without an offset are UTC."""
    try:
        moment = datetime.fromisoformat(text)
        if len(text) < len("2025-04-01T07:30"):
            return math.nan
        if moment.tzinfo is None:
            moment = moment.replace(tzinfo=UTC)
    except ValueError:
        try:
            moment = moment_of(text, "time")  # knows leap seconds
        except Unusable:
            return math.nan
    return (moment - _EPOCH).total_seconds()


def _sigma(fields: Mapping[str, str]) -> float:
    """Return the standard deviation of one axis in metres that a point tells, NaN where it tells none."""
    radius = _number(fields.get("accuracy"))
    if radius > 0:
        return sigma_of_radius(radius)
    return sigma_of_hdop(_number(fields.get("hdop")))


class _Track:
    """The columns of one track while it is read."""

    def __init__(self, where: str) -> None:
        self.where = where
        self.lon, self.lat, self.time, self.sigma, self.elevation = (array("d") for _ in range(5))
        self.segment = array("i")
        self.piece = 0
        self.unplaced = 0
        self.unplaced_why = ""
        self.untimed = 0

    def add(self, attributes: Mapping[str, str], fields: Mapping[str, str]) -> None:
        try:
            lon, lat = _position(attributes)
        except Unusable as reason:
            self.unplaced += 1
            self.unplaced_why = self.unplaced_why or str(reason)
            return
        text = fields.get("time")
        seconds = _seconds(text) if text else math.nan
        if text and math.isnan(seconds):
            self.untimed += 1
        self.lon.append(lon)
        self.lat.append(lat)
        self.time.append(seconds)
        self.sigma.append(_sigma(fields))
        self.elevation.append(_number(fields.get("ele")))
        self.segment.append(self.piece)

    def break_off(self) -> None:
        """Start a new piece, unless the one before is still empty."""
        if self.segment and self.segment[-1] == self.piece:
            self.piece += 1

    def walk(self, about: Mapping[str, str]) -> FoundWalk:
        lon, lat, time, sigma, elevation = (
            np.array(column, dtype=np.float64) for column in (self.lon, self.lat, self.time, self.sigma, self.elevation)
        )
        fixes = Fixes(lon, lat, time, sigma, elevation, np.array(self.segment, dtype=np.int32))
        name = line_of(about.get("name", ""))[:LONGEST_NAME]  # a walk is not worth losing for its long name
        return FoundWalk(self.where, fixes, name or None, note_of(about.get("desc", "")).strip() or None)


class _Events:
    """What the parser tells, one element at a time; elements go by their local name, whatever their namespace."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self._stack: list[str] = []
        self._text: list[str] | None = None
        self._about: dict[str, str] = {}
        self._attributes: Mapping[str, str] | None = None  # of the point or waypoint being read
        self._fields: dict[str, str] = {}
        self._point_depth = 0
        self._track: _Track | None = None
        self._ours = False
        self._counts = {"wpt": 0, "rte": 0, "trk": 0}
        self._trees: list[FoundTree] = []
        self._notes: list[FoundNote] = []
        self._places: list[FoundPlace] = []
        self._walks: list[FoundWalk] = []
        self._skipped: list[Skipped] = []
        self._told: list[str] = []

    def doctype(self, *_: str | None) -> None:
        raise refused(self._path, "has a document type (DOCTYPE), which a GPX file never needs", "remove that line")

    def start(self, tag: str, attributes: Mapping[str, str]) -> None:
        name = tag[tag.rfind("}") + 1 :]
        self._stack.append(name)
        self._text = None
        depth = len(self._stack)
        if self._attributes is not None:
            if name == "accuracy" or (depth == self._point_depth + 1 and name in _IN_POINT):
                self._text = []
        elif name == "trkpt" and self._track is not None:
            self._open(attributes, depth)
        elif depth == 2 and name in self._counts:
            self._counts[name] += 1
            if name == "wpt":
                self._open(attributes, depth)
            elif name == "trk":
                self._track, self._about = _Track(f"track {self._counts['trk']}"), {}
        elif depth == 3 and self._track is not None and name in _IN_TRACK:
            self._text = []
        elif depth == 1:
            self._root(name, attributes)
        if depth > MOST_DEPTH:
            raise refused(
                self._path, f"elements are nested more than {MOST_DEPTH} deep", "this is no GPX file to trust"
            )

    def _open(self, attributes: Mapping[str, str], depth: int) -> None:
        self._attributes, self._fields, self._point_depth = attributes, {}, depth

    def _root(self, name: str, attributes: Mapping[str, str]) -> None:
        if name != "gpx":
            raise refused(
                self._path, f"is XML, but of '{shown(name)}' and not of gpx", "export it as GPX, GeoJSON or CSV"
            )
        self._ours = attributes.get("creator") == CREATOR
        version = attributes.get("version")
        if version is None:
            self._told.append("the file does not say its GPX version")
        elif version not in {"1.0", "1.1"}:
            self._told.append(f"GPX version '{shown(version)}' is not known; read like 1.1")

    def data(self, text: str) -> None:
        if self._text is not None:
            self._text.append(text)

    def end(self, _tag: str) -> None:
        name = self._stack.pop()
        if self._text is not None:
            fields = self._about if self._attributes is None else self._fields
            fields[name] = "".join(self._text).strip()
            self._text = None
        if self._attributes is not None:
            if len(self._stack) == self._point_depth - 1:
                if self._track is not None:
                    self._track.add(self._attributes, self._fields)
                else:
                    self._end_waypoint(self._attributes, self._fields)
                self._attributes = None
        elif self._track is not None:
            if name == "trkseg":
                self._track.break_off()
            elif len(self._stack) == 1:
                self._end_track(self._track)
                self._track = None
        elif name == "rte" and len(self._stack) == 1:
            self._skipped.append(Skipped(f"route {self._counts['rte']}", "a route is a plan, not a walk"))

    def close(self) -> None:
        """Nothing is left to do at the end."""

    def _end_waypoint(self, attributes: Mapping[str, str], fields: Mapping[str, str]) -> None:
        where = f"waypoint {self._counts['wpt']}"
        try:
            at = _position(attributes)
            name = name_of(fields.get("name", ""))
        except Unusable as reason:
            self._skipped.append(Skipped(where, str(reason)))
            return
        # Our own comments are made up from the tree's other facts and are no note.
        text = fields.get("desc") or ("" if self._ours else fields.get("cmt", ""))
        note = note_of(text).strip() or None
        kind = _KINDS.search(fields.get("type", "")) or _KINDS.search(fields.get("sym", ""))
        if kind is None:
            tree = FoundTree(where, name=name, at=at, note=note)
            self._trees.append(tree)
            seconds = _seconds(fields.get("time", ""))
            if not self._ours and math.isfinite(seconds):
                self._notes.append(FoundNote(where, seconds, tree, at=at))
        else:
            self._places.append(FoundPlace(where, PlaceKind(kind[1].lower()), at, name=name, note=note))

    def _end_track(self, track: _Track) -> None:
        usable = len(track.lon)
        if track.unplaced:
            of = f"{track.unplaced} of {usable + track.unplaced} points left out"
            self._skipped.append(Skipped(track.where, f"{of}; the first one: {track.unplaced_why}"))
        if track.untimed:
            self._told.append(f"{track.where}: {track.untimed} points have a time that cannot be read")
        if usable < 2:
            self._skipped.append(Skipped(track.where, f"has {usable} usable points; a walk needs two"))
            return
        self._walks.append(track.walk(self._about))

    def findings(self) -> Findings:
        return Findings(
            "gpx",
            sum(self._counts.values()),
            trees=tuple(self._trees),
            places=tuple(self._places),
            walks=tuple(self._walks),
            notes=tuple(self._notes),
            skipped=tuple(self._skipped),
            told=tuple(self._told),
        )
