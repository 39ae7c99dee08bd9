"""Reading GeoJSON (RFC 7946): points are trees or places, lines are lines, polygons are areas."""

from __future__ import annotations

import codecs
import json
import math
from collections.abc import Iterator, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any, TypeVar

from standmap.formats.content import Findings, FoundArea, FoundLine, FoundPlace, FoundTree, Skipped
from standmap.formats.faults import Unusable, go_on, refused, shown, unreadable, within
from standmap.formats.geojson_properties import Properties, identity, read_tree
from standmap.formats.places_on_earth import degrees
from standmap.formats.texts import kind_of, same_word
from standmap.progress import Progress, Unwatched
from standmap.stand.ground import AreaKind, LineKind, PlaceKind, Ring
from standmap.stand.names import LONGEST_NAME
from standmap.stand.tree import LonLat

MOST_BYTES = 64_000_000
"""Largest GeoJSON file that is read: it is read whole, which takes some seven times its size in memory (measured)."""

_STRUCTURAL = frozenset({"type", "features", "geometry", "geometries", "coordinates", "properties", "id", "crs"})
_GEOMETRIES = frozenset(
    {"Point", "MultiPoint", "LineString", "MultiLineString", "Polygon", "MultiPolygon", "GeometryCollection"}
)
# RFC 7946 section 7.1: what belongs to one type of object must not stand in another.
_FOREIGN = {
    "FeatureCollection": ("coordinates", "geometries", "geometry", "properties"),
    "Feature": ("coordinates", "geometries", "features"),
    "geometry": ("geometry", "properties", "features"),
}
_FEATURES_PER_REPORT = 2000

Found = FoundTree | FoundPlace | FoundLine | FoundArea


_Kind = TypeVar("_Kind", LineKind, AreaKind)


class _BrokenError(ValueError):
    """The document itself is at fault: what is wrong, and the remedy."""

    def __init__(self, what: str, remedy: str) -> None:
        super().__init__(what)
        self.what = what
        self.remedy = remedy


def read_geojson(path: Path, *, progress: Progress | None = None) -> Findings:
    """Read a GeoJSON file: a feature collection, one feature or a bare geometry.

    Returns
    -------
    Findings
        Collections of geometries are taken apart; a feature that cannot be used is skipped with its reason.

    Raises
    ------
    UserError
        If the file cannot be read, is too large, is not JSON, is not GeoJSON, or is not in WGS 84.
    """
    watched = progress or Unwatched()
    within(path, MOST_BYTES, "split it or convert to CSV")
    go_on(path, watched, 0, 0)
    features = _features(path, _document(path))
    found: list[Found] = []
    skipped: list[Skipped] = []
    for number, feature in enumerate(features, start=1):
        if number % _FEATURES_PER_REPORT == 0:
            go_on(path, watched, number, len(features))
        for part in _read_feature(f"feature {number}", feature):
            if isinstance(part, Skipped):
                skipped.append(part)
            else:
                found.append(part)
    return Findings(
        "geojson",
        len(features),
        trees=tuple(f for f in found if isinstance(f, FoundTree)),
        places=tuple(f for f in found if isinstance(f, FoundPlace)),
        lines=tuple(f for f in found if isinstance(f, FoundLine)),
        areas=tuple(f for f in found if isinstance(f, FoundArea)),
        skipped=tuple(skipped),
    )


def _object(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    """Build one JSON object; a member that decides what the object is may not stand in it twice."""
    members = dict(pairs)
    if len(members) < len(pairs):
        names = [name for name, _ in pairs]
        for name in names:
            if name in _STRUCTURAL and names.count(name) > 1:
                raise _BrokenError(f"the member '{name}' stands twice in one object", "keep the right one")
    return members


def _constant(text: str) -> Any:
    raise _BrokenError(f"{text} is no JSON number", "leave it out")


def _document(path: Path) -> Any:
    try:
        raw = path.read_bytes()
    except OSError as error:
        raise unreadable(path, error) from None
    bom_16 = raw.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE))
    try:
        text = raw.decode("utf-16" if bom_16 else "utf-8-sig")
        return json.loads(text, object_pairs_hook=_object, parse_constant=_constant)
    except UnicodeDecodeError:
        raise refused(path, "is not in UTF-8, as GeoJSON must be", "save it as UTF-8") from None
    except json.JSONDecodeError as error:
        raise refused(
            path, f"is not JSON ({error.msg})", "export it again, it may be cut off", where=f"line {error.lineno}"
        ) from None
    except _BrokenError as error:
        raise refused(path, error.what, error.remedy) from None
    except RecursionError:
        raise refused(path, "its objects are nested too deeply", "this is no GeoJSON file to trust") from None
    except ValueError:
        # Python refuses whole numbers of thousands of digits.
        raise refused(path, "a number has too many digits", "export it again") from None


def _features(path: Path, document: Any) -> list[Any]:
    """Return the features of a document, a bare geometry being the only one.

    Raises
    ------
    UserError
        If the document is not GeoJSON in WGS 84.
    """
    kind = document.get("type") if isinstance(document, dict) else None
    if not isinstance(kind, str) or kind not in _GEOMETRIES | {"Feature", "FeatureCollection"}:
        what = f"its type is '{shown(kind)}'" if isinstance(kind, str) else "it has no type"
        raise refused(
            path,
            f"is JSON but not GeoJSON: {what}",
            "the outermost type must be FeatureCollection, Feature or a geometry",
        )
    _check_crs(path, document.get("crs"))
    if kind == "Feature":
        return [document]
    if kind != "FeatureCollection":
        return [{"type": "Feature", "geometry": document, "properties": None}]
    try:
        _check_members(document, "FeatureCollection")
    except Unusable as reason:
        raise refused(path, str(reason), "export it again") from None
    features = document.get("features")
    if not isinstance(features, list):
        raise refused(path, "its features are not an array", "export it again")
    return features


def _check_crs(path: Path, crs: Any) -> None:
    """Let only the two names of WGS 84 pass that older GeoJSON files carry."""
    if crs is None:
        return
    properties = crs.get("properties") if isinstance(crs, dict) else None
    name = properties.get("name") if isinstance(properties, dict) else None
    text = name if isinstance(name, str) else ""
    if text.upper().replace("/", ":").rpartition(":")[2] not in {"CRS84", "4326"}:
        raise refused(
            path,
            f"its coordinate system is '{shown(text)}'" if text else "its coordinate system is not named",
            "GeoJSON needs WGS 84 (longitude and latitude): export it so",
        )


def _check_members(item: Mapping[str, Any], kind: str) -> None:
    for name in _FOREIGN[kind]:
        if name in item:
            raise Unusable(f"a {kind} must not have the member '{name}'")
    box = item.get("bbox")
    if box is not None and not (
        isinstance(box, list) and len(box) in {4, 6} and all(_finite(number) is not None for number in box)
    ):
        raise Unusable("its bbox is not four or six numbers")


def _finite(number: Any) -> float | None:
    if isinstance(number, bool) or not isinstance(number, int | float):
        return None
    try:
        value = float(number)
    except OverflowError:
        return None
    return value if math.isfinite(value) else None


def _read_feature(where: str, feature: Any) -> list[Found | Skipped]:
    """Read one feature: what it holds, and why the rest of it cannot be used."""
    try:
        properties, key, parts = _taken_apart(feature)
    except Unusable as reason:
        return [Skipped(where, str(reason))]
    if len(parts) == 1:
        return [_read_part(where, *parts[0], properties, key)]
    # The parts would share one id and one name, which would make them one tree.
    return [
        _numbered(_read_part(f"{where}, part {number}", *part, properties, None), number)
        for number, part in enumerate(parts, start=1)
    ]


def _taken_apart(feature: Any) -> tuple[Properties, str | None, list[tuple[str, Any]]]:
    """Return the properties, the id and the points, lines and polygons of a feature."""
    if not isinstance(feature, dict):
        raise Unusable("is not an object")
    if feature.get("type") != "Feature":
        raise Unusable("its type is not Feature")
    _check_members(feature, "Feature")
    values = feature.get("properties")
    if values is not None and not isinstance(values, dict):
        raise Unusable("its properties are not an object")
    properties = Properties(values or {})
    key = identity(feature.get("id"), "id") or properties.name("id")
    parts = list(_parts(feature.get("geometry")))
    if not parts:
        raise Unusable("has no geometry")
    return properties, key, parts


def _numbered(found: Found | Skipped, number: int) -> Found | Skipped:
    if isinstance(found, Skipped) or not found.name:
        return found
    return replace(found, name=f"{found.name} {number}"[-LONGEST_NAME:])


def _parts(geometry: Any) -> Iterator[tuple[str, Any]]:
    """Yield the points, lines and polygons of a geometry as (type, coordinates), in order."""
    waiting = [geometry]
    while waiting:
        item = waiting.pop()
        if item is None:
            raise Unusable("has no geometry")
        kind = item.get("type") if isinstance(item, dict) else None
        if not isinstance(kind, str) or kind not in _GEOMETRIES:
            raise Unusable(
                f"'{shown(kind)}' is no type of geometry" if isinstance(kind, str) else "has no geometry type"
            )
        _check_members(item, "geometry")
        members = item.get("geometries" if kind == "GeometryCollection" else "coordinates")
        if not isinstance(members, list):
            raise Unusable(f"the {kind} has no coordinates")
        if kind == "GeometryCollection":
            waiting += reversed(members)
        elif kind.startswith("Multi"):
            yield from ((kind.removeprefix("Multi"), member) for member in members)
        else:
            yield kind, members


def _read_part(where: str, shape: str, coordinates: Any, properties: Properties, key: str | None) -> Found | Skipped:
    try:
        match shape:
            case "Point":
                return _point(where, _position(coordinates), properties, key)
            case "LineString":
                return _line(where, _course(coordinates), properties, key)
            case _:
                return _area(where, _outline(coordinates), properties, key)
    except Unusable as reason:
        return Skipped(where, str(reason))


def _point(where: str, at: LonLat, properties: Properties, key: str | None) -> FoundTree | FoundPlace:
    kind = properties.line("kind") or "tree"
    if same_word(kind) == "tree":
        return read_tree(where, at, properties, key)
    try:
        place = kind_of(PlaceKind, kind, "kind")
    except Unusable:
        kinds = ", ".join(("tree", *PlaceKind))
        raise Unusable(f"a point of kind '{shown(kind)}' is none of {kinds}") from None
    return FoundPlace(where, place, at, name=properties.name("name"), key=key, note=properties.note("note"))


def _line(where: str, course: tuple[LonLat, ...], properties: Properties, key: str | None) -> FoundLine:
    kind = _needed(LineKind, properties.line("kind"), "a line")
    return FoundLine(where, kind, course, name=properties.name("name"), key=key, note=properties.note("note"))


def _area(where: str, outline: tuple[Ring, ...], properties: Properties, key: str | None) -> FoundArea:
    return FoundArea(
        where,
        _needed(AreaKind, properties.line("kind"), "an area"),
        outline,
        name=properties.name("name"),
        key=key,
        owner=properties.line("owner"),
        from_date=properties.day("from"),
        until_date=properties.day("until"),
        most_trees=properties.whole("most_trees", least=0),
        note=properties.note("note"),
    )


def _needed(kinds: type[_Kind], kind: str | None, what: str) -> _Kind:
    if not kind:
        raise Unusable(f"{what} needs the property kind: {', '.join(kinds)}")
    return kind_of(kinds, kind, f"{what} of kind")


def _position(coordinates: Any) -> LonLat:
    if not isinstance(coordinates, list) or len(coordinates) < 2:
        raise Unusable("a position is not an array of longitude and latitude")
    numbers = [_finite(number) for number in coordinates]
    lon, lat = numbers[0], numbers[1]
    if lon is None or lat is None or None in numbers:
        raise Unusable("a position holds something that is not a number")
    return degrees(lon, lat)


def _course(coordinates: Any) -> tuple[LonLat, ...]:
    if not isinstance(coordinates, list) or len(coordinates) < 2:
        raise Unusable("a line needs at least two positions")
    return tuple(_position(position) for position in coordinates)


def _outline(coordinates: Any) -> tuple[Ring, ...]:
    if not isinstance(coordinates, list) or not coordinates:
        raise Unusable("a polygon needs at least one ring")
    rings = []
    for ring in coordinates:
        if not isinstance(ring, list) or len(ring) < 4:
            raise Unusable("a ring needs at least four positions")
        positions = tuple(_position(position) for position in ring)
        if ring[0] != ring[-1]:
            raise Unusable("a ring is not closed: its first and last position differ")
        rings.append(positions)
    return tuple(rings)
