"""Files that other programs made: each loads, or is refused in one line that names it."""

from __future__ import annotations

from pathlib import Path

import pytest

from standmap.errors import UserError
from standmap.formats.door import read

DATA = Path(__file__).parents[1] / "data"
GPX = sorted((DATA / "gpx").glob("*.gpx"))
VALID = sorted((DATA / "geojson" / "valid").glob("*.geojson"))
INVALID = sorted((DATA / "geojson" / "invalid").glob("*.geojson"))

TOLERATED = {
    # Their own checker only warns of these, or says nothing.
    "bad-polygon-interiorring-rhr",
    "excessive_precision_truncated",
    "point-toomany",
    "polygon_winding_order",
    # RFC 7946 section 3.1.8 advises against these two and does not forbid them.
    "geometrycollection_nested",
    "geometrycollection_single",
    # One of their features is in order and is taken.
    "multiple_problems",
    "stringcoord",
}


def test_all_files_are_there() -> None:
    assert (len(GPX), len(VALID), len(INVALID)) == (13, 18, 43)


@pytest.mark.parametrize("path", GPX, ids=lambda path: path.stem)
def test_gpx(path: Path) -> None:
    if path.stem == "derived-truncated":
        with pytest.raises(UserError, match=r"^derived-truncated\.gpx, line 317: is not well-formed XML") as refusal:
            read(path)
        assert str(refusal.value).isprintable()
    else:
        assert read(path).format == "gpx"


@pytest.mark.parametrize("path", VALID, ids=lambda path: path.stem)
def test_valid_geojson(path: Path) -> None:
    found = read(path)
    assert found.format == "geojson"
    assert found.read >= 1
    for row in found.skipped:
        # What the standard allows and we have no use for: no geometry, no kind, positions off the Earth.
        assert row.why in {
            "has no geometry",
            "a line needs the property kind: path, stream, fence",
            "an area needs the property kind: permitted, no-go",
        } or (path.stem == "issue82" and row.why.endswith(("-90 and 90", "-180 and 180")))


def test_points_of_valid_geojson_are_trees() -> None:
    trees = {path.stem: [tree.at for tree in read(path).trees] for path in VALID}
    assert trees["good-feature-with-string-id"] == [(102.0, 0.5)]
    assert trees["good-featurecollection-bbox3d"] == [(102.0, 0.5), (100.0, 2.5)]
    assert trees["good-geometrycollection"] == [(100.0, 0.0)]
    assert trees["good-multipoint"] == [(100.0, 0.0)]
    assert trees["nullproperties"] == [(0.0, 0.0)]


@pytest.mark.parametrize("path", INVALID, ids=lambda path: path.stem)
def test_invalid_geojson(path: Path) -> None:
    found, refusal = None, ""
    try:
        found = read(path)
    except UserError as error:
        refusal = str(error)
    if found is None:
        assert refusal.startswith(path.name)
        assert refusal.isprintable()
        assert path.stem not in TOLERATED
    elif path.stem not in TOLERATED:
        assert (found.trees, found.places, found.lines, found.areas) == ((), (), (), ())
        assert found.skipped
