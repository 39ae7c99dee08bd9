"""Which format carries which field of a stand when it is handed on and read back."""

from __future__ import annotations

from collections.abc import Mapping

_TREE = frozenset(
    f"tree.{name}"
    for name in (
        "key",
        "name",
        "at",
        "species",
        "standing",
        "standing_since",
        "soundness",
        "rootstock",
        "proposed",
        "tag_confirmed",
        "pinned",
        "var_e_m2",
        "var_n_m2",
        "cov_en_m2",
        "note",
    )
)
_MEASUREMENT = frozenset(
    f"measurement.{name}"
    for name in ("key", "measured_on", "girth_mm", "diameter_mm", "given", "given_unit", "at_height_mm", "note")
)
_HOLE_IN_RETURNS = frozenset(
    f"hole.{name}"
    for name in ("number", "kind", "made_on", "made_at", "height_mm", "side_deg", "depth_mm", "bit_mm", "note")
)
_COLLECTION_IN_RETURNS = frozenset(
    f"collection.{name}" for name in ("collected_on", "collected_at", "volume_ml", "overflowed", "note")
)
_OBSERVATION_IN_RETURNS = frozenset(f"observation.{name}" for name in ("what", "observed_on", "observed_at", "note"))
_PLACE = frozenset(f"place.{name}" for name in ("name", "kind", "at", "note"))
_LINE = frozenset(f"line.{name}" for name in ("key", "name", "kind", "course", "note"))
_AREA = frozenset(
    f"area.{name}"
    for name in ("key", "name", "kind", "outline", "owner", "from_date", "until_date", "most_trees", "note")
)

CARRIED: Mapping[str, frozenset[str]] = {
    "geojson": _TREE
    | _MEASUREMENT
    | _HOLE_IN_RETURNS
    | _COLLECTION_IN_RETURNS
    | _OBSERVATION_IN_RETURNS
    | _PLACE
    | _LINE
    | _AREA
    | {"hole.key", "collection.key", "collection.given", "collection.given_unit", "place.key"}
    | {"collection.total_key"}
    | {"observation.key", "observation.hole_key"},
    "csv": _TREE | _MEASUREMENT,
    "gpx": _PLACE | {"tree.name", "tree.at", "tree.note"},
    "returns": _HOLE_IN_RETURNS | _COLLECTION_IN_RETURNS | _OBSERVATION_IN_RETURNS,
}
"""Format -> the fields that come back as they were, named "row.field" after the dataclasses of `standmap.stand`.

"returns" is the table that `standmap.formats.records_csv` writes. Names, ids and other one-line texts come back trimmed
and without control characters, notes with "\\n" as their only line break (in GPX trimmed as well); a ring may come
back wound the other way round. A time in the returns is kept when it falls on the day of its row.
Nothing carries the keys of rows that no file holds (sources, walks, batches), nor trees merged into another, nor the
heights of the ground. Weather and signs of the season have tables of their own (weather_writing.py, signs_csv.py),
which carry all of them but the keys of their rows.
"""
