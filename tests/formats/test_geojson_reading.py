from __future__ import annotations

import json
from collections.abc import Callable
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import pytest

from standmap.errors import UserError
from standmap.formats.content import Findings, FoundArea, FoundLine, FoundMeasurement, FoundPlace, FoundTree
from standmap.formats.geojson import read_geojson
from standmap.stand.ground import AreaKind, LineKind, PlaceKind
from standmap.stand.tapping import Act, Wound
from standmap.stand.tree import Soundness, Standing

MakeFile = Callable[[str | bytes], Path]


@pytest.fixture
def file(tmp_path: Path) -> MakeFile:
    def made(content: str | bytes) -> Path:
        path = tmp_path / "some.file"
        path.write_bytes(content.encode("utf-8") if isinstance(content, str) else content)
        return path

    return made


POINT = {"type": "Point", "coordinates": [29.5, 62.5]}
LINE: dict[str, Any] = {"type": "LineString", "coordinates": [[29, 62], [29.1, 62.1, 90]]}
RING = [[29, 62], [30, 62], [30, 63], [29, 62]]
POLYGON = {"type": "Polygon", "coordinates": [RING]}


@pytest.fixture
def reading(file: MakeFile) -> Callable[[Any], Findings]:
    def read(document: Any) -> Findings:
        return read_geojson(file(json.dumps(document)))

    return read


Reading = Callable[[Any], Findings]


def feature(geometry: Any, **members: Any) -> dict[str, Any]:
    properties = members.pop("properties", {})
    return {"type": "Feature", "geometry": geometry, "properties": properties, **members}


def test_the_three_kinds_of_document(reading: Reading) -> None:
    for document in (POINT, feature(POINT), {"type": "FeatureCollection", "features": [feature(POINT)]}):
        found = reading(document)
        assert (found.format, found.read) == ("geojson", 1)
        assert found.trees == (FoundTree("feature 1", at=(29.5, 62.5)),)


def test_an_empty_collection_is_read(reading: Reading) -> None:
    assert reading({"type": "FeatureCollection", "features": []}).read == 0


@pytest.mark.parametrize("kind", [*PlaceKind, "Gate", " TANK "])
def test_points_of_a_kind_are_places(reading: Reading, kind: str) -> None:
    found = reading(feature(POINT, id="p", properties={"kind": kind, "name": "N", "note": "n"}))
    expected = PlaceKind(kind.strip().lower())
    assert found.places == (FoundPlace("feature 1", expected, (29.5, 62.5), name="N", key="p", note="n"),)


@pytest.mark.parametrize("kind", LineKind)
def test_lines(reading: Reading, kind: str) -> None:
    found = reading(feature(LINE, properties={"kind": kind, "id": 7, "name": "N"}))
    assert found.lines == (FoundLine("feature 1", LineKind(kind), ((29, 62), (29.1, 62.1)), name="N", key="7"),)


@pytest.mark.parametrize("kind", ["no-go", "no_go", "no go", "NO-GO"])
def test_a_no_go_area_by_its_spellings(reading: Reading, kind: str) -> None:
    assert reading(feature(POLYGON, properties={"kind": kind})).areas[0].kind is AreaKind.NO_GO


@pytest.mark.parametrize("ring", [RING, RING[::-1]])
def test_a_permitted_area_wound_either_way(reading: Reading, ring: list[list[int]]) -> None:
    properties = {
        "kind": "permitted",
        "name": "North lot",
        "owner": "A. Owner",
        "from": "2025-03-01",
        "until": "2025-06-30",
        "most_trees": 40,
    }
    found = reading(feature({"type": "Polygon", "coordinates": [ring]}, properties=properties))
    assert found.areas == (
        FoundArea(
            "feature 1",
            AreaKind.PERMITTED,
            (tuple((float(x), float(y)) for x, y in ring),),
            name="North lot",
            owner="A. Owner",
            from_date=date(2025, 3, 1),
            until_date=date(2025, 6, 30),
            most_trees=40,
        ),
    )


def test_collections_and_multi_geometries_are_taken_apart(reading: Reading) -> None:
    nested = {
        "type": "GeometryCollection",
        "geometries": [POINT, {"type": "GeometryCollection", "geometries": [{**POINT, "type": "Point"}, LINE]}],
    }
    found = reading(feature(nested, id="shared", properties={"name": "A"}))
    assert found.read == 1
    assert [(tree.where, tree.name, tree.key) for tree in found.trees] == [
        ("feature 1, part 1", "A 1", None),
        ("feature 1, part 2", "A 2", None),
    ]
    assert found.skipped[0].where == "feature 1, part 3"
    several = {"type": "MultiPolygon", "coordinates": [[RING], [RING, RING]]}
    assert [len(a.outline) for a in reading(feature(several, properties={"kind": "no-go"})).areas] == [1, 2]
    several = {"type": "MultiLineString", "coordinates": [LINE["coordinates"]] * 3}
    assert len(reading(feature(several, properties={"kind": "path"})).lines) == 3


def test_a_multi_geometry_of_one_part_keeps_its_id(reading: Reading) -> None:
    found = reading(feature({"type": "MultiPoint", "coordinates": [[29, 62]]}, id="k", properties={"name": "A"}))
    assert found.trees == (FoundTree("feature 1", name="A", key="k", at=(29, 62)),)


def test_everything_a_tree_can_say(reading: Reading) -> None:
    found = reading(
        feature(
            POINT,
            id="tree-1",
            properties={
                "kind": "tree",
                "name": "A 1",
                "species": "Betula pendula",
                "dbh_cm": 22.9,
                "Girth (cm)": 71.9,
                "measured_on": "2025-03-01",
                "standing": "dead",
                "standing_since": "2025-03-02",
                "soundness": "unsound",
                "rootstock": "R1",
                "proposed": False,
                "tag_confirmed": True,
                "pinned": True,
                "var_e_m2": 1.5,
                "var_n_m2": 2,
                "cov_en_m2": -0.5,
                "note": "two\r\nlines",
                "colour": ["ignored"],
                "holes": [
                    {
                        "id": "h1",
                        "number": 1,
                        "kind": "slit",
                        "made_on": "2025-04-01",
                        "made_at": "2025-04-01T07:30:00+03:00",
                        "side_deg": 180,
                        "collections": [{"id": "c1", "collected_on": "2025-04-02", "volume_ml": 3100}],
                    }
                ],
                "observations": [
                    {"id": "o1", "what": "taken_out", "observed_on": "2025-05-01", "hole": "h1"},
                    {"id": "o2", "what": "died", "observed_on": "2025-06-01"},
                ],
            },
        )
    )
    (tree,) = found.trees
    assert (tree.key, tree.name, tree.species) == ("tree-1", "A 1", "Betula pendula")
    assert (tree.standing, tree.standing_since) == (Standing.DEAD, date(2025, 3, 2))
    assert (tree.soundness, tree.rootstock) == (Soundness.UNSOUND, "R1")
    assert (tree.proposed, tree.tag_confirmed, tree.pinned) == (False, True, True)
    assert (tree.var_e_m2, tree.var_n_m2, tree.cov_en_m2) == (1.5, 2.0, -0.5)
    assert tree.note == "two\nlines"
    assert tree.measurements == (
        FoundMeasurement(date(2025, 3, 1), None, 229.0, "22.9", "cm"),
        FoundMeasurement(date(2025, 3, 1), 719.0, None, "71.9", "cm"),
    )
    (wound,) = tree.holes
    assert (wound.hole.key, wound.hole.tree_key, wound.hole.kind) == ("h1", "tree-1", Wound.SLIT)
    assert wound.hole.made_at == datetime(2025, 4, 1, 4, 30, tzinfo=UTC)
    assert wound.hole.side_deg == 180.0
    (sap,) = wound.collections
    assert (sap.hole_key, sap.volume_ml, sap.given, sap.given_unit) == ("h1", 3100.0, "3100.0", "ml")
    assert [(o.what, o.hole_key, o.tree_key) for o in tree.observations] == [
        (Act.TAKEN_OUT, "h1", "tree-1"),
        (Act.DIED, None, "tree-1"),
    ]


def test_a_girth_changed_beside_the_list_is_a_new_measurement(reading: Reading) -> None:
    listed = {"id": "m1", "measured_on": "2024-03-01", "girth_mm": 700}
    unchanged = feature(POINT, properties={"girth_mm": 700.0, "measured_on": "2024-03-01", "measurements": [listed]})
    assert [m.key for m in reading(unchanged).trees[0].measurements] == ["m1"]
    changed = feature(POINT, properties={"girth_mm": 731, "measured_on": "2025-03-01", "measurements": [listed]})
    assert [(m.key, m.girth_mm) for m in reading(changed).trees[0].measurements] == [("m1", 700.0), (None, 731.0)]


def test_old_words_do_not_outlive_a_changed_number(reading: Reading) -> None:
    listed = [
        {"girth_mm": 718, "given": "71,8", "given_unit": "cm"},
        {"girth_mm": 730, "given": "71,8", "given_unit": "cm"},
        {"girth_mm": 730, "given": "two hands", "given_unit": "hands"},
    ]
    (tree,) = reading(feature(POINT, properties={"measurements": listed})).trees
    assert [(m.given, m.given_unit) for m in tree.measurements] == [
        ("71,8", "cm"),
        ("730", "mm"),
        ("two hands", "hands"),
    ]


@pytest.mark.parametrize(
    ("geometry", "why"),
    [
        (None, "no geometry"),
        ({"type": "GeometryCollection", "geometries": []}, "no geometry"),
        ({"type": "GeometryCollection", "geometries": [None]}, "no geometry"),
        ({"type": "Circle", "coordinates": [1, 2]}, "'Circle' is no type"),
        ({"type": ["Point"], "coordinates": [1, 2]}, "no geometry type"),
        ({"type": "Point"}, "no coordinates"),
        ({"type": "Point", "coordinates": [1]}, "not an array of longitude and latitude"),
        ({"type": "Point", "coordinates": ["1", 2]}, "not a number"),
        ({"type": "Point", "coordinates": [1, 2, "high"]}, "not a number"),
        ({"type": "Point", "coordinates": [True, 2]}, "not a number"),
        ({"type": "Point", "coordinates": [10**400, 2]}, "not a number"),
        ({"type": "Point", "coordinates": [62, 129.5]}, "longitude and latitude swapped"),
        ({"type": "Point", "coordinates": [181, 2]}, "longitude 181"),
        ({"type": "LineString", "coordinates": [[1, 2]]}, "two positions"),
        ({"type": "Polygon", "coordinates": []}, "one ring"),
        ({"type": "Polygon", "coordinates": [RING[:3]]}, "four positions"),
        ({"type": "Polygon", "coordinates": [[*RING[:3], [28, 62]]]}, "not closed"),
        ({"type": "Point", "coordinates": [1, 2], "bbox": "x"}, "bbox"),
        ({"type": "Point", "coordinates": [1, 2], "properties": {}}, "must not have the member 'properties'"),
    ],
)
def test_a_feature_without_a_usable_geometry_is_skipped(reading: Reading, geometry: Any, why: str) -> None:
    found = reading({"type": "FeatureCollection", "features": [feature(geometry), feature(POINT)]})
    assert found.read == 2
    assert [tree.where for tree in found.trees] == ["feature 2"]
    assert [row.where for row in found.skipped] == ["feature 1"]
    assert why in found.skipped[0].why


@pytest.mark.parametrize(
    ("geometry", "properties", "why"),
    [
        (LINE, None, "a line needs the property kind: path, stream, fence"),
        (LINE, {"kind": "road"}, "'road' is none of path, stream, fence"),
        (POLYGON, {}, "an area needs the property kind: permitted, no-go"),
        (POINT, {"kind": "bench"}, "none of tree, gate, tank, landmark, hazard, bridge, ford"),
        (POINT, {"kind": 4}, "'kind' is not a text"),
        (POINT, [], "properties are not an object"),
        (POINT, {"name": ["A"]}, "'name' is neither a text nor a number"),
        (POINT, {"name": True}, "'name' is neither a text nor a number"),
        (POINT, {"name": "n" * 121}, "name has 121 characters"),
        (POINT, {"species": {}}, "'species'"),
        (POINT, {"girth_mm": "700"}, "'girth_mm' is not a number"),
        (POINT, {"girth": 700}, "'girth' has no unit"),
        (POINT, {"girth_mm": 700, "girth_cm": 70}, "both give the girth"),
        (POINT, {"girth_mm": 0}, "within 10 mm and 10 m"),
        (POINT, {"dbh_cm": 10**400}, "'dbh_cm' is not a finite number"),
        (POINT, {"girth_mm": 700, "measured_on": "03/04/2025"}, "could be two days"),
        (POINT, {"standing": "merged"}, "none of standing, dead, felled"),
        (POINT, {"soundness": "fine"}, "none of sound, unsound"),
        (POINT, {"pinned": "yes"}, "'pinned' is not true or false"),
        (POINT, {"var_e_m2": 1}, "go together"),
        (POINT, {"var_e_m2": 1, "var_n_m2": 1, "cov_en_m2": 2}, "no covariance"),
        (POINT, {"var_e_m2": -1, "var_n_m2": 1}, "no covariance"),
        (POINT, {"measurements": {}}, "'measurements' is not an array"),
        (POINT, {"measurements": [1]}, "'measurements' is not an array of objects"),
        (POINT, {"measurements": [{}]}, "'measurements 1: girth_mm'"),
        (POINT, {"id": "k", "holes": [{"id": "h"}]}, "'holes 1: made_on' is missing"),
        (POINT, {"id": "k", "holes": [{"made_on": "2025-04-01"}]}, "'holes 1: id' is missing"),
        (POINT, {"holes": [{"id": "h", "made_on": "2025-04-01"}]}, "no id to which they could belong"),
        (POINT, {"id": "k", "holes": [{"id": "h", "made_on": "2025-04-01"}] * 2}, "one id twice"),
        (POINT, {"id": "k", "holes": [{"id": "h", "made_on": "2025-04-01", "number": 1.5}]}, "a whole number from 1"),
        (POINT, {"id": "k", "holes": [{"id": "h", "made_on": "2025-04-01", "made_at": "2025-04-01T07:30"}]}, "offset"),
        (
            POINT,
            {
                "id": "k",
                "holes": [
                    {
                        "id": "h",
                        "made_on": "2025-04-01",
                        "collections": [{"id": "c", "collected_on": "2025-04-02", "volume_ml": -1}],
                    }
                ],
            },
            "'holes 1: collections 1: volume_ml'",
        ),
        (
            POINT,
            {"id": "k", "observations": [{"id": "o", "what": "sung", "observed_on": "2025-04-01"}]},
            "'sung' is none",
        ),
        (
            POINT,
            {"id": "k", "observations": [{"id": "o", "what": "trimmed", "observed_on": "2025-04-01", "hole": "x"}]},
            "'x', which is none of its holes",
        ),
        (POLYGON, {"kind": "permitted", "most_trees": -1}, "'most_trees' is not a whole number from 0"),
        (POLYGON, {"kind": "permitted", "from": "soon"}, "from 'soon' is not a day"),
    ],
)
def test_wrong_properties_skip_the_feature_and_are_named(
    reading: Reading, geometry: Any, properties: Any, why: str
) -> None:
    found = reading(feature(geometry, properties=properties))
    assert (found.trees, found.places, found.lines, found.areas) == ((), (), (), ())
    assert why in found.skipped[0].why


@pytest.mark.parametrize(
    ("item", "why"),
    [
        (None, "is not an object"),
        ({"type": "Point", "coordinates": [1, 2]}, "its type is not Feature"),
        (feature(POINT, id={}), "'id' is neither"),
        (feature(POINT, coordinates=[]), "must not have the member 'coordinates'"),
    ],
)
def test_what_is_no_feature_is_skipped(reading: Reading, item: Any, why: str) -> None:
    found = reading({"type": "FeatureCollection", "features": [item]})
    assert why in found.skipped[0].why


@pytest.mark.parametrize(
    ("content", "what"),
    [
        ('{"type": "Point",', r", line 1: is not JSON"),
        ("[]", ": is JSON but not GeoJSON: it has no type"),
        ('{"type": "Topology"}', ": is JSON but not GeoJSON: its type is 'Topology'"),
        ('{"type": {}}', ": is JSON but not GeoJSON: it has no type"),
        ('{"type": "FeatureCollection"}', ": its features are not an array"),
        ('{"type": "FeatureCollection", "features": {}}', ": its features are not an array"),
        ('{"type": "FeatureCollection", "features": [], "properties": {}}', ": a FeatureCollection must not have"),
        ('{"type": "Feature", "type": "Point", "coordinates": [1, 2]}', ": the member 'type' stands twice"),
        (
            '{"type": "Feature", "geometry": null, "properties": {}, "properties": {}}',
            ": the member 'properties' stands",
        ),
        ('{"type": "Feature", "geometry": null, "geometry": null}', ": the member 'geometry' stands twice"),
        ('{"type": "Point", "coordinates": [NaN, 2]}', ": NaN is no JSON number"),
        ('{"type": "Point", "coordinates": [-Infinity, 2]}', ": -Infinity is no JSON number"),
        ('{"type": "Point", "coordinates": [' + "1" * 5000 + ", 2]}", ": a number has too many digits"),
        (
            '{"type": "Point", "coordinates": ' + "[" * 10_000 + "]" * 10_000 + "}",
            ": its objects are nested too deeply",
        ),
        ('{"type": "Point", "a": ' * 10_000 + "1" + "}" * 10_000, ": its objects are nested too deeply"),
        (b'{"type": "Point", "coordinates": [1, 2], "name": "\xe9"}', ": is not in UTF-8"),
        ('{"type": "FeatureCollection", "features": [], "bbox": [1]}', ": its bbox is not four or six numbers"),
    ],
)
def test_a_document_at_fault_is_refused_whole(file: MakeFile, content: str | bytes, what: str) -> None:
    with pytest.raises(UserError) as refusal:
        read_geojson(file(content))
    assert str(refusal.value).startswith(f"some.file{what}")
    assert str(refusal.value).isprintable()


def test_geometry_collections_nested_as_deep_as_json_allows_are_no_harm(file: MakeFile) -> None:
    depth = 300
    content = '{"type": "GeometryCollection", "geometries": [' * depth + json.dumps(POINT) + "]}" * depth
    assert len(read_geojson(file(content)).trees) == 1


@pytest.mark.parametrize(
    "name", ["urn:ogc:def:crs:OGC:1.3:CRS84", "EPSG:4326", "http://www.opengis.net/def/crs/OGC/1.3/CRS84"]
)
def test_the_names_of_wgs_84_are_accepted(reading: Reading, name: str) -> None:
    found = reading({**feature(POINT), "crs": {"type": "name", "properties": {"name": name}}})
    assert len(found.trees) == 1


@pytest.mark.parametrize("crs", [{"type": "name", "properties": {"name": "urn:ogc:def:crs:EPSG::3067"}}, {}, "4326x"])
def test_another_coordinate_system_is_refused(reading: Reading, crs: Any) -> None:
    with pytest.raises(UserError, match=r"^some\.file: its coordinate system is .* needs WGS 84"):
        reading({**feature(POINT), "crs": crs})
