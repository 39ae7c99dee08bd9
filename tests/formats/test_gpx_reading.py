from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from standmap.errors import UserError
from standmap.formats.accuracy import METRES_PER_HDOP, RADIUS_68_IN_SIGMAS
from standmap.formats.content import FoundTree, FoundWalk
from standmap.formats.gpx import read_gpx
from standmap.formats.gpx_writing import write_gpx
from standmap.stand.ground import PlaceKind
from standmap.stand.snapshot import Stand
from standmap.stand.tree import Tree

MakeFile = Callable[[str | bytes], Path]


@pytest.fixture
def file(tmp_path: Path) -> MakeFile:
    def made(content: str | bytes) -> Path:
        path = tmp_path / "some.file"
        path.write_bytes(content.encode("utf-8") if isinstance(content, str) else content)
        return path

    return made


def gpx(inside: str, head: str = 'version="1.1" xmlns="http://www.topografix.com/GPX/1/1"') -> str:
    return f'<?xml version="1.0"?>\n<gpx {head}>{inside}</gpx>'


def track(*points: str) -> str:
    return gpx(f"<trk><trkseg>{''.join(points)}</trkseg></trk>")


def only_walk(path: Path) -> FoundWalk:
    (walk,) = read_gpx(path).walks
    return walk


@pytest.mark.parametrize(
    "head",
    [
        'version="1.1" xmlns="http://www.topografix.com/GPX/1/1"',
        'version="1.0" xmlns="http://www.topografix.com/GPX/1/0"',
        'version="1.1"',
        'version="1.1" xmlns="urn:elsewhere"',
    ],
)
def test_both_versions_and_any_namespace_are_read(file: MakeFile, head: str) -> None:
    found = read_gpx(file(gpx('<wpt lat="62.5" lon="29.25"><name> A 1 </name><desc>by the rock</desc></wpt>', head)))
    assert found.trees == (FoundTree("waypoint 1", name="A 1", at=(29.25, 62.5), note="by the rock"),)
    assert found.told == ()


@pytest.mark.parametrize(("head", "word"), [("", "does not say"), ('version="2.0"', "'2.0' is not known")])
def test_an_unknown_version_is_read_and_told(file: MakeFile, head: str, word: str) -> None:
    found = read_gpx(file(gpx('<wpt lat="62.5" lon="29.25"/>', head)))
    assert len(found.trees) == 1
    assert word in found.told[0]


@pytest.mark.parametrize(
    ("inside", "kind"),
    [
        ("<type>gate</type>", PlaceKind.GATE),
        ("<type>Old GATE, north</type>", PlaceKind.GATE),
        ("<sym>Water Tank</sym>", PlaceKind.TANK),
        ("<sym>Bridge</sym><type>user</type>", PlaceKind.BRIDGE),
        ("<type>ford</type>", PlaceKind.FORD),
        ("<type>landmark</type><sym>gate</sym>", PlaceKind.LANDMARK),
        ("<type>hazard</type>", PlaceKind.HAZARD),
    ],
)
def test_type_and_symbol_make_a_place(file: MakeFile, inside: str, kind: PlaceKind) -> None:
    found = read_gpx(file(gpx(f'<wpt lat="1" lon="2"><name>N</name>{inside}</wpt>')))
    assert [(place.kind, place.name, place.at) for place in found.places] == [(kind, "N", (2.0, 1.0))]
    assert found.trees == ()


@pytest.mark.parametrize(
    "inside", ["<type>gateway</type>", "<sym>Flag, Blue</sym>", "<name>gate</name>", "<desc>tank</desc>"]
)
def test_only_whole_words_of_type_and_symbol_count(file: MakeFile, inside: str) -> None:
    found = read_gpx(file(gpx(f'<wpt lat="1" lon="2">{inside}</wpt>')))
    assert (len(found.trees), len(found.places)) == (1, 0)


def test_a_comment_is_a_note_where_there_is_no_description(file: MakeFile) -> None:
    found = read_gpx(file(gpx('<wpt lat="1" lon="2"><cmt>leaning</cmt></wpt>')))
    assert found.trees[0].note == "leaning"


def test_names_inside_extensions_are_not_the_waypoints(file: MakeFile) -> None:
    inside = "<extensions><x><name>other</name></x></extensions>"
    found = read_gpx(file(gpx(f'<wpt lat="1" lon="2"><name>mine</name>{inside}</wpt>')))
    assert found.trees[0].name == "mine"


@pytest.mark.parametrize(
    ("attributes", "word"),
    [
        ('lon="2"', "no latitude"),
        ('lat="1"', "no longitude"),
        ('lat="NaN" lon="2"', "latitude 'NaN'"),
        ('lat="1" lon="inf"', "longitude 'inf'"),
        ('lat="90.1" lon="2"', "latitude '90.1'"),
        ('lat="1" lon="-180.5"', "longitude '-180.5'"),
        ('lat="1_0" lon="2"', "latitude '1_0'"),
        ('lat="" lon="2"', "latitude ''"),
    ],
)
def test_a_waypoint_without_a_position_is_skipped_with_the_reason(file: MakeFile, attributes: str, word: str) -> None:
    found = read_gpx(file(gpx(f'<wpt {attributes}/><wpt lat="1" lon="2"/>')))
    assert found.read == 2
    assert [tree.where for tree in found.trees] == ["waypoint 2"]
    assert found.skipped[0].where == "waypoint 1"
    assert word in found.skipped[0].why


def test_the_columns_of_a_walk(file: MakeFile) -> None:
    walk = only_walk(
        file(
            gpx(
                "<trk><name>Morning</name><desc>wet</desc>"
                '<trkseg><trkpt lat="62.0" lon="29.0"><ele>101.5</ele><time>2025-04-01T07:00:00Z</time></trkpt>'
                '<trkpt lat="62.1" lon="29.1"><time>2025-04-01T10:00:00.250+03:00</time><hdop>1.2</hdop></trkpt>'
                "</trkseg><trkseg/>"
                '<trkseg><trkpt lat="62.2" lon="29.2"><ele/><time>2025-04-01T07:00:02</time></trkpt></trkseg></trk>'
            )
        )
    )
    start = 1743490800.0  # 2025-04-01T07:00:00Z
    assert (walk.where, walk.name, walk.note) == ("track 1", "Morning", "wet")
    assert walk.fixes.lon.tolist() == [29.0, 29.1, 29.2]
    assert walk.fixes.lat.tolist() == [62.0, 62.1, 62.2]
    assert walk.fixes.time_s.tolist() == [start, start + 0.25, start + 2]
    np.testing.assert_array_equal(walk.fixes.elevation_m, [101.5, math.nan, math.nan])
    np.testing.assert_array_equal(walk.fixes.sigma_m, [math.nan, 1.2 * METRES_PER_HDOP, math.nan])
    assert walk.fixes.segment.tolist() == [0, 0, 1]
    assert walk.fixes.timed


@pytest.mark.parametrize(
    ("text", "seconds"),
    [  # RFC 3339 section 5.8
        ("1985-04-12T23:20:50.52Z", 482196050.52),
        ("1996-12-19T16:39:57-08:00", 851042397.0),
        ("1937-01-01T12:00:27.87+00:20", -1041337172.13),
        ("1990-12-31T23:59:60Z", 662688000.0),
        ("2025-04-01T07:00:00.123456789Z", 1743490800.123456),
    ],
)
def test_times_become_seconds(file: MakeFile, text: str, seconds: float) -> None:
    point = f'<trkpt lat="1" lon="2"><time> {text} </time></trkpt>'
    assert only_walk(file(track(point, point))).fixes.time_s.tolist() == [seconds, seconds]


@pytest.mark.parametrize("text", ["yesterday", "2025-13-01T00:00:00Z", "2025-04-01", "20250401", "-"])
def test_a_bad_time_leaves_the_fix_and_is_told(file: MakeFile, text: str) -> None:
    found = read_gpx(file(track(f'<trkpt lat="1" lon="2"><time>{text}</time></trkpt>', '<trkpt lat="1" lon="2"/>')))
    (walk,) = found.walks
    assert len(walk.fixes) == 2
    assert np.isnan(walk.fixes.time_s).all()
    assert found.told == ("track 1: 1 points have a time that cannot be read",)


def test_an_accuracy_outranks_hdop_and_is_a_68_percent_radius(file: MakeFile) -> None:
    assert pytest.approx(0.68) == 1 - math.exp(-(RADIUS_68_IN_SIGMAS**2) / 2)
    inside = "<hdop>9</hdop><extensions><x:a xmlns:x='urn:x'><x:accuracy>4.5</x:accuracy></x:a></extensions>"
    walk = only_walk(file(track(f'<trkpt lat="1" lon="2">{inside}</trkpt>', '<trkpt lat="1" lon="2"/>')))
    assert walk.fixes.sigma_m[0] == 4.5 / RADIUS_68_IN_SIGMAS


@pytest.mark.parametrize(
    "inside", ["<hdop>0</hdop>", "<hdop>-1</hdop>", "<hdop>nan</hdop>", "<accuracy>inf</accuracy>"]
)
def test_an_accuracy_that_is_none_is_unknown(file: MakeFile, inside: str) -> None:
    point = f'<trkpt lat="1" lon="2"><ele>1e999</ele>{inside}</trkpt>'
    fixes = only_walk(file(track(point, point))).fixes
    assert np.isnan(fixes.sigma_m).all()
    assert np.isnan(fixes.elevation_m).all()


def test_bad_fixes_of_a_track_are_summed_up_in_one_row(file: MakeFile) -> None:
    good = '<trkpt lat="1" lon="2"/>'
    found = read_gpx(file(track('<trkpt lat="91" lon="2"/>', good, '<trkpt lon="2"/>', good)))
    assert len(found.walks[0].fixes) == 2
    (row,) = found.skipped
    assert row.where == "track 1"
    assert row.why.startswith("2 of 4 points left out; the first one: latitude '91'")


def test_a_track_needs_two_usable_points(file: MakeFile) -> None:
    found = read_gpx(file(gpx('<trk/><trk><trkseg><trkpt lat="1" lon="2"/></trkseg></trk>')))
    assert found.read == 2
    assert [(row.where, row.why) for row in found.skipped] == [
        ("track 1", "has 0 usable points; a walk needs two"),
        ("track 2", "has 1 usable points; a walk needs two"),
    ]


def test_a_route_is_no_walk(file: MakeFile) -> None:
    found = read_gpx(file(gpx('<rte><rtept lat="1" lon="2"/><rtept lat="1" lon="3"/></rte>')))
    assert (found.read, found.trees, found.walks) == (1, (), ())
    assert [(row.where, row.why) for row in found.skipped] == [("route 1", "a route is a plan, not a walk")]


def test_a_walk_with_a_long_name_is_kept(file: MakeFile) -> None:
    point = '<trkpt lat="1" lon="2"/>'
    walk = only_walk(file(gpx(f"<trk><name>{'n' * 500}</name><trkseg>{point}{point}</trkseg></trk>")))
    assert walk.name == "n" * 120


BOMB = (
    '<?xml version="1.0"?>\n<!DOCTYPE gpx [<!ENTITY a0 "aaaaaaaaaa">'
    + "".join(f'<!ENTITY a{n} "{f"&a{n - 1};" * 10}">' for n in range(1, 12))
    + "]>\n"
)


@pytest.mark.parametrize(
    "content",
    [
        BOMB + "<gpx><wpt lat='1' lon='2'><name>&a11;</name></wpt></gpx>",
        BOMB + "<gpx creator='&a11;'/>",
        '<!DOCTYPE gpx SYSTEM "http://localhost:9/gpx.dtd"><gpx/>',
        '<!DOCTYPE gpx [<!ENTITY f SYSTEM "file:///etc/hostname">]><gpx><wpt><name>&f;</name></wpt></gpx>',
        '<!DOCTYPE gpx [<!ENTITY % p SYSTEM "file:///etc/hostname"> %p;]><gpx/>',
        "<!DOCTYPE gpx><gpx/>",
    ],
)
def test_a_document_type_is_refused(file: MakeFile, content: str) -> None:
    with pytest.raises(UserError, match=r"^some\.file: has a document type"):
        read_gpx(file(content))


def test_an_entity_nobody_declared_is_refused(file: MakeFile) -> None:
    with pytest.raises(UserError, match=r"^some\.file, line 2: is not well-formed XML"):
        read_gpx(file(gpx('<wpt lat="1" lon="2"><name>&who;</name></wpt>')))


@pytest.mark.parametrize("depth", [101, 10_000])
def test_deep_nesting_is_refused(file: MakeFile, depth: int) -> None:
    with pytest.raises(UserError, match=r"^some\.file: elements are nested more than 100 deep"):
        read_gpx(file("<gpx>" + "<a>" * depth + "</a>" * depth + "</gpx>"))


def test_a_file_cut_off_names_its_line(file: MakeFile) -> None:
    with pytest.raises(UserError, match=r"^some\.file, line 3: is not well-formed XML .* cut off$"):
        read_gpx(file('<gpx>\n<wpt lat="1" lon="2"/>\n<wpt lat="1"'))


@pytest.mark.parametrize(
    ("content", "word"),
    [
        ("<kml/>", "is XML, but of 'kml' and not of gpx"),
        ('<?xml version="1.0" encoding="nowhere"?><gpx/>', "not well-formed"),
        ("<gpx/>more", "not well-formed"),
        ("<gpx><!--" + "x" * 11_000_000 + "--></gpx>", "not well-formed"),
    ],
)
def test_what_is_not_gpx_is_refused_in_one_line(file: MakeFile, content: str, word: str) -> None:
    with pytest.raises(UserError, match=word) as refusal:
        read_gpx(file(content))
    assert str(refusal.value).startswith("some.file")
    assert str(refusal.value).isprintable()


def test_characters_that_xml_cannot_hold_are_replaced_when_written(file: MakeFile) -> None:
    stand = Stand(trees=(Tree("k", "bell\x07 \ufffe \U0001f333", (29.0, 62.0), note="a\x00b"),))
    (tree,) = read_gpx(file(write_gpx(stand))).trees
    assert (tree.name, tree.note) == ("bell\ufffd \ufffd \U0001f333", "a\ufffdb")


def test_facts_written_for_people_do_not_come_back_as_a_note(file: MakeFile) -> None:
    stand = Stand(trees=(Tree("k", "A", (29.0, 62.0), species="Betula pendula"),))
    content = write_gpx(stand)
    assert b"<cmt>Betula pendula</cmt>" in content
    assert read_gpx(file(content)).trees[0].note is None
