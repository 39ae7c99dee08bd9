"""Writing the trees of a stand as a table, one row a measurement, a tree without any having one row too."""

from __future__ import annotations

from standmap.formats.delimited import guarded, to_bytes
from standmap.stand.snapshot import Stand
from standmap.stand.tree import Measurement, Tree

HEADER = (
    "name",
    "id",
    "lon",
    "lat",
    "species",
    "measured_on",
    "girth_mm",
    "diameter_mm",
    "given",
    "given_unit",
    "at_height_mm",
    "measurement_note",
    "measurement_id",
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


def number(value: float | None) -> str:
    """Return a number with every digit it has, empty where absent."""
    return "" if value is None else repr(value)


def write_trees_csv(stand: Stand) -> bytes:
    """Return the trees with their measurements as RFC 4180 text in UTF-8, in the order of the stand."""
    rows: list[list[str]] = []
    for tree in stand.present:
        measurements = stand.measurements_of.get(tree.key, ())
        rows += [_row(tree, measurement) for measurement in measurements or (None,)]
    return to_bytes(HEADER, rows)


def _row(tree: Tree, measurement: Measurement | None) -> list[str]:
    cells = {
        "name": guarded(tree.name),
        "id": guarded(tree.key),
        "lon": number(tree.at[0]),
        "lat": number(tree.at[1]),
        "species": guarded(tree.species or ""),
        "standing": tree.standing.value,
        "standing_since": tree.standing_since.isoformat() if tree.standing_since else "",
        "soundness": tree.soundness.value if tree.soundness else "",
        "rootstock": guarded(tree.rootstock or ""),
        "proposed": _yes_no(tree.proposed),
        "tag_confirmed": _yes_no(tree.tag_confirmed),
        "pinned": _yes_no(tree.pinned),
        "var_e_m2": number(tree.var_e_m2),
        "var_n_m2": number(tree.var_n_m2),
        "cov_en_m2": number(tree.cov_en_m2),
        "note": guarded(tree.note),
    }
    if measurement is not None:
        cells |= {
            "measured_on": measurement.measured_on.isoformat() if measurement.measured_on else "",
            "girth_mm": number(measurement.girth_mm),
            "diameter_mm": number(measurement.diameter_mm),
            "given": guarded(measurement.given),
            "given_unit": guarded(measurement.given_unit),
            "at_height_mm": number(measurement.at_height_mm),
            "measurement_note": guarded(measurement.note),
            "measurement_id": guarded(measurement.key),
        }
    return [cells.get(name, "") for name in HEADER]


def _yes_no(value: bool) -> str:
    return "yes" if value else "no"
