"""Turns the dataclasses of the stand into rows and back: a field is the column of the same name."""

from __future__ import annotations

import types
import typing
from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields
from datetime import date, datetime
from enum import StrEnum
from typing import Any, TypeVar

import numpy as np

from standmap.stand.ground import Area, Line, Place
from standmap.stand.records import Media, Plan, PlannedWalk, SeasonSign, Source, Terrain, Weather
from standmap.stand.sights import Sight, TakenPosition
from standmap.stand.tapping import Batch, Collection, Observation, TapHole
from standmap.stand.tree import Measurement, Tree
from standmap.stand.walks import Fixes, Stop, Walk
from standmap.store import geometry

Value = str | int | float | bytes | None
Thing = TypeVar("Thing")

TABLE_OF: dict[type, str] = {
    Tree: "tree",
    Place: "place",
    Line: "line",
    Area: "area",
    Walk: "walk",
    Stop: "stop",
    TakenPosition: "taken_position",
    Sight: "sight",
    Measurement: "measurement",
    TapHole: "tap_hole",
    Collection: "collection",
    Batch: "batch",
    Observation: "observation",
    Source: "source",
    Media: "media",
    Weather: "weather",
    Plan: "plan",
    SeasonSign: "season_sign",
    PlannedWalk: "planned_walk",
    Terrain: "terrain",
}
"""The table that holds each kind of thing."""

_GEOMETRY: dict[str, tuple[Callable[[Any], bytes], Callable[[bytes], Any]]] = {
    "at": (geometry.point_blob, geometry.point_of),
    "course": (geometry.line_blob, geometry.line_of),
    "outline": (geometry.polygon_blob, geometry.polygon_of),
}


@dataclass(frozen=True, slots=True)
class Codec:
    """How one kind of thing is written as a row and read back."""

    table: str
    columns: tuple[str, ...]
    encode: Callable[[Any], tuple[Value, ...]]
    decode: Callable[[Sequence[Any]], Any]


def _same(value: Any) -> Any:
    return value


def _maybe(convert: Callable[[Any], Any]) -> Callable[[Any], Any]:
    return lambda value: None if value is None else convert(value)


def _iso(value: date | datetime) -> str:
    return value.isoformat()


def _converters(kind: Any) -> tuple[Callable[[Any], Any], Callable[[Any], Any]]:
    """Return how a field of this type is written and read."""
    if isinstance(kind, types.UnionType):  # X | None
        inner = next(k for k in typing.get_args(kind) if k is not type(None))
        write, read = _converters(inner)
        return (write if write is _same else _maybe(write), read if read is _same else _maybe(read))
    if kind is datetime:
        return _iso, datetime.fromisoformat
    if kind is date:
        return _iso, date.fromisoformat
    if kind is bool:
        return int, bool
    if isinstance(kind, type) and issubclass(kind, StrEnum):
        return str, kind
    return _same, _same


def _dataclass_codec(kind: type) -> Codec:
    hints = typing.get_type_hints(kind)
    names = [f.name for f in fields(kind)]
    pairs = [_GEOMETRY.get(name) or _converters(hints[name]) for name in names]
    writers = [(name, pair[0]) for name, pair in zip(names, pairs, strict=True)]
    readers = [(i, pair[1]) for i, pair in enumerate(pairs) if pair[1] is not _same]

    def encode(thing: Any) -> tuple[Value, ...]:
        return tuple([write(getattr(thing, name)) for name, write in writers])

    def decode(row: Sequence[Any]) -> Any:
        values = list(row)
        for i, read in readers:
            values[i] = read(values[i])
        return kind(*values)

    columns = tuple("geom" if name in _GEOMETRY else name for name in names)
    return Codec(TABLE_OF[kind], columns, encode, decode)


def _walk_codec() -> Codec:
    def encode(walk: Walk) -> tuple[Value, ...]:
        fixes = walk.fixes
        return (
            walk.key,
            walk.name,
            geometry.line_blob(np.column_stack([fixes.lon, fixes.lat])),
            fixes.time_s.astype("<f8").tobytes(),
            fixes.sigma_m.astype("<f8").tobytes(),
            fixes.elevation_m.astype("<f8").tobytes(),
            fixes.segment.astype("<i4").tobytes(),
            walk.note,
            walk.source_key,
        )

    def decode(row: Sequence[Any]) -> Walk:
        key, name, geom, times, sigmas, elevations, segments, note, source_key = row
        lonlat = geometry.line_array(geom)
        fixes = Fixes(
            lon=lonlat[:, 0].copy(),
            lat=lonlat[:, 1].copy(),
            time_s=np.frombuffer(times, dtype="<f8"),
            sigma_m=np.frombuffer(sigmas, dtype="<f8"),
            elevation_m=np.frombuffer(elevations, dtype="<f8"),
            segment=np.frombuffer(segments, dtype="<i4"),
        )
        return Walk(key, name, fixes, note, source_key)

    columns = ("key", "name", "geom", "fix_times", "fix_sigmas", "fix_elevations", "fix_segments", "note", "source_key")
    return Codec("walk", columns, encode, decode)


CODEC: dict[type, Codec] = {kind: _dataclass_codec(kind) for kind in TABLE_OF if kind is not Walk}
CODEC[Walk] = _walk_codec()
