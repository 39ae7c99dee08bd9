"""Writing GeoJSON (RFC 7946): everything of a stand, in the order of the stand, positions with every digit.

Left out are merged trees and the keys of rows that the file does not hold: sources, walks and batches.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from itertools import chain, pairwise
from typing import Any

from standmap.stand.ground import Area, Line, Place, Ring
from standmap.stand.snapshot import Stand
from standmap.stand.tapping import Collection, Observation, TapHole
from standmap.stand.tree import Measurement, Tree


def write_trees_geojson(stand: Stand) -> bytes:
    """Return the stand as one feature collection: trees with their history, then places, lines and areas."""
    return collection_of(
        chain(
            (_tree(stand, tree) for tree in stand.present),
            (_place(place) for place in stand.places),
            (_line(line) for line in stand.lines),
            (_area(area) for area in stand.areas),
        )
    )


def collection_of(features: Iterable[dict[str, Any]]) -> bytes:
    """Return a feature collection as UTF-8, one feature a line."""
    lines = ",\n".join(json.dumps(feature, ensure_ascii=False, allow_nan=False) for feature in features)
    text = f'{{"type": "FeatureCollection", "features": [\n{lines}\n]}}\n'
    # Half a surrogate pair is no character and has no UTF-8.
    return text.encode("utf-8", errors="replace")


def feature_of(shape: str, coordinates: object, properties: Mapping[str, object], key: str | None) -> dict[str, Any]:
    """Return one feature; properties that say nothing are left out."""
    feature: dict[str, Any] = {"type": "Feature"}
    if key is not None:
        feature["id"] = key
    feature["geometry"] = {"type": shape, "coordinates": coordinates}
    feature["properties"] = _said(**properties)
    return feature


def _said(**values: object) -> dict[str, object]:
    """Return the members that say something, days and moments as text."""
    said = {name: value for name, value in values.items() if value is not None and value not in ("", [])}
    return {name: _plain(value) for name, value in said.items()}


def _plain(value: object) -> object:
    moment = getattr(value, "isoformat", None)
    return moment() if moment is not None else value


def _tree(stand: Stand, tree: Tree) -> dict[str, Any]:
    newest = stand.newest_measurement(tree.key)
    properties = {
        "kind": "tree",
        "name": tree.name,
        "species": tree.species,
        "girth_mm": newest.girth_mm if newest else None,
        "diameter_mm": newest.diameter_mm if newest else None,
        "measured_on": newest.measured_on if newest else None,
        "standing": tree.standing,
        "standing_since": tree.standing_since,
        "soundness": tree.soundness,
        "rootstock": tree.rootstock,
        "proposed": tree.proposed,
        "tag_confirmed": tree.tag_confirmed,
        "pinned": tree.pinned,
        "var_e_m2": tree.var_e_m2,
        "var_n_m2": tree.var_n_m2,
        "cov_en_m2": tree.cov_en_m2,
        "note": tree.note,
        "measurements": [_measurement(row) for row in stand.measurements_of.get(tree.key, ())],
        "holes": [_hole(stand, row) for row in stand.holes_of.get(tree.key, ())],
        "observations": [_observation(row) for row in stand.observations_of.get(tree.key, ())],
    }
    return feature_of("Point", list(tree.at), properties, tree.key)


def _measurement(row: Measurement) -> dict[str, object]:
    return _said(
        id=row.key,
        measured_on=row.measured_on,
        girth_mm=row.girth_mm,
        diameter_mm=row.diameter_mm,
        given=row.given,
        given_unit=row.given_unit,
        at_height_mm=row.at_height_mm,
        note=row.note,
    )


def _hole(stand: Stand, row: TapHole) -> dict[str, object]:
    return _said(
        id=row.key,
        number=row.number,
        kind=row.kind,
        made_on=row.made_on,
        made_at=row.made_at,
        height_mm=row.height_mm,
        side_deg=row.side_deg,
        depth_mm=row.depth_mm,
        bit_mm=row.bit_mm,
        note=row.note,
        collections=[_collection(sap) for sap in stand.collections_of.get(row.key, ())],
    )


def _collection(row: Collection) -> dict[str, object]:
    return _said(
        id=row.key,
        collected_on=row.collected_on,
        collected_at=row.collected_at,
        volume_ml=row.volume_ml,
        given=row.given,
        given_unit=row.given_unit,
        overflowed=row.overflowed or None,
        total=row.total_key,
        note=row.note,
    )


def _observation(row: Observation) -> dict[str, object]:
    return _said(
        id=row.key,
        hole=row.hole_key,
        what=row.what,
        observed_on=row.observed_on,
        observed_at=row.observed_at,
        note=row.note,
    )


def _place(place: Place) -> dict[str, Any]:
    return feature_of("Point", list(place.at), {"kind": place.kind, "name": place.name, "note": place.note}, place.key)


def _line(line: Line) -> dict[str, Any]:
    course = [list(position) for position in line.course]
    return feature_of("LineString", course, {"kind": line.kind, "name": line.name, "note": line.note}, line.key)


def _area(area: Area) -> dict[str, Any]:
    rings = [_wound(ring, counterclockwise=number == 0) for number, ring in enumerate(area.outline)]
    properties = {
        "kind": area.kind,
        "name": area.name,
        "owner": area.owner,
        "from": area.from_date,
        "until": area.until_date,
        "most_trees": area.most_trees,
        "note": area.note,
    }
    return feature_of("Polygon", rings, properties, area.key)


def _wound(ring: Ring, *, counterclockwise: bool) -> list[list[float]]:
    """Return a ring wound as RFC 7946 section 3.1.6 has it: the outer one counterclockwise, holes clockwise."""
    # Measured from the first position, so that a small ring far from (0, 0) keeps its digits.
    lon, lat = ring[0]
    twice_area = sum((a[0] - lon) * (b[1] - lat) - (b[0] - lon) * (a[1] - lat) for a, b in pairwise(ring))
    positions = [list(position) for position in ring]
    return positions if (twice_area > 0) == counterclockwise else positions[::-1]
