"""GeoPackage geometry blobs: a short header, then well-known binary (OGC 12-128, clause 2.1.3).

We write little-endian blobs, points without and lines and polygons with an envelope. What other programs wrote in
another byte order or with other envelopes is read too.
"""

from __future__ import annotations

import math
import struct
from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from standmap.stand.ground import Ring
from standmap.stand.tree import LonLat

SRS_ID = 4326
_HEADER = struct.Struct("<2sBBi")
_POINT = struct.Struct("<2sBBiBIdd")
_ENVELOPE_BYTES = (0, 32, 48, 48, 64)
_LINE_TYPE, _POLYGON_TYPE = 2, 3


def point_blob(at: LonLat) -> bytes:
    """Encode one position."""
    return _POINT.pack(b"GP", 0, 1, SRS_ID, 1, 1, at[0], at[1])


def point_of(blob: bytes) -> LonLat:
    """Decode one position.

    Raises
    ------
    ValueError
        If the blob holds no point.
    """
    if len(blob) == _POINT.size and blob[3] == 1 and blob[8] == 1:
        return _POINT.unpack(blob)[6:8]
    shape = _foreign(blob)
    if shape.geom_type != "Point" or shape.is_empty:
        raise ValueError("not a point")
    return (float(shape.x), float(shape.y))


def _with_envelope(xy: NDArray[np.float64], wkb: bytes) -> bytes:
    low, high = xy.min(axis=0), xy.max(axis=0)
    envelope = struct.pack("<4d", low[0], high[0], low[1], high[1])
    return _HEADER.pack(b"GP", 0, 0b11, SRS_ID) + envelope + wkb


def line_blob(course: Sequence[LonLat] | NDArray[np.float64]) -> bytes:
    """Encode a line of at least two positions, shape (n, 2)."""
    xy = np.ascontiguousarray(course, dtype="<f8")
    return _with_envelope(xy, struct.pack("<BII", 1, _LINE_TYPE, len(xy)) + xy.tobytes())


def line_array(blob: bytes) -> NDArray[np.float64]:
    """Decode a line as an array of shape (n, 2)."""
    code = (blob[3] >> 1) & 7
    if code == 1 and blob[_HEADER.size + 32] == 1:  # as we write it
        kind, count = struct.unpack_from("<II", blob, _HEADER.size + 33)
        if kind == _LINE_TYPE:
            return np.frombuffer(blob, dtype="<f8", count=2 * count, offset=_HEADER.size + 41).reshape(-1, 2)
    shape = _foreign(blob)
    if shape.geom_type != "LineString":
        raise ValueError("not a line")
    return np.asarray(shape.coords)[:, :2].astype(np.float64)


def line_of(blob: bytes) -> tuple[LonLat, ...]:
    """Decode a line."""
    return tuple((float(x), float(y)) for x, y in line_array(blob))


def polygon_blob(outline: Sequence[Ring]) -> bytes:
    """Encode a polygon: closed rings, the outer one first."""
    rings = [np.ascontiguousarray(ring, dtype="<f8") for ring in outline]
    body = b"".join(struct.pack("<I", len(r)) + r.tobytes() for r in rings)
    return _with_envelope(rings[0], struct.pack("<BII", 1, _POLYGON_TYPE, len(rings)) + body)


def polygon_of(blob: bytes) -> tuple[Ring, ...]:
    """Decode a polygon."""
    shape = _foreign(blob)
    if shape.geom_type != "Polygon":
        raise ValueError("not a polygon")
    rings = [shape.exterior, *shape.interiors]
    return tuple(tuple((float(c[0]), float(c[1])) for c in ring.coords) for ring in rings)


def _foreign(blob: bytes) -> Any:
    import shapely  # loaded only for blobs that are not of our own plain kind

    if len(blob) <= _HEADER.size or not blob.startswith(b"GP"):
        raise ValueError("not a GeoPackage geometry")
    try:
        return shapely.from_wkb(blob[_HEADER.size + _ENVELOPE_BYTES[(blob[3] >> 1) & 7] :])
    except (shapely.errors.ShapelyError, IndexError) as error:
        raise ValueError(f"not a geometry ({error})") from None


def _bounds(blob: bytes) -> tuple[float, float, float, float]:
    """Return min x, max x, min y, max y."""
    if len(blob) == _POINT.size and blob[3] == 1:
        x, y = _POINT.unpack(blob)[6:8]
        return x, x, y, y
    if (blob[3] >> 1) & 7:
        found = struct.unpack_from("<4d" if blob[3] & 1 else ">4d", blob, _HEADER.size)
        return found[0], found[1], found[2], found[3]
    low_x, low_y, high_x, high_y = _foreign(blob).bounds
    return float(low_x), float(high_x), float(low_y), float(high_y)


def _is_empty(blob: bytes | None) -> int | None:
    if blob is None:
        return None
    return 1 if blob[3] & 0b10000 or (len(blob) == _POINT.size and math.isnan(_POINT.unpack(blob)[6])) else 0


def _bound(index: int) -> Callable[[bytes | None], float | None]:
    return lambda blob: None if blob is None else _bounds(blob)[index]


SQL_FUNCTIONS: dict[str, Callable[[bytes | None], float | None]] = {
    "ST_IsEmpty": _is_empty,
    "ST_MinX": _bound(0),
    "ST_MaxX": _bound(1),
    "ST_MinY": _bound(2),
    "ST_MaxY": _bound(3),
}
"""The functions that the standard's R-tree triggers call (annex F.3)."""
