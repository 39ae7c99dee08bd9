"""Bringing files in: one command is one edit, the same file adds nothing, and nothing doubtful comes in silence."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest

from standmap.errors import NothingToDo, UserError
from standmap.jobs import correct
from standmap.jobs.bring import BringOptions, NothingToBring, bring
from standmap.jobs.export import export
from standmap.jobs.opening import working_frame
from standmap.messages import Collected
from standmap.stand.ground import AreaKind, PlaceKind
from standmap.stand.tree import Soundness
from standmap.store.stand_file import StandFile

NOW = datetime(2026, 3, 28, 7, 30, tzinfo=UTC)
Write = Callable[[str, str], Path]
HEAD = "name,lon,lat,species,girth_mm,date\n"
B1 = "B1,27.6,61.9,Betula pendula,842,2024-09-14\n"
B2 = "B2,27.601,61.9,Betula pendula,600,2024-09-14\n"


@pytest.fixture
def write(tmp_path: Path) -> Write:
    def to(name: str, text: str) -> Path:
        path = tmp_path / name
        path.write_text(text, encoding="utf-8")
        return path

    return to


def bring_all(
    file: StandFile, *paths: Path, anyway: bool = False, dry_run: bool = False
) -> tuple[list[dict[str, object]], Collected]:
    said = Collected()
    report = bring(file, paths, BringOptions(anyway=anyway, dry_run=dry_run), NOW, said)
    return [{"added": s.added, "updated": s.updated, "skipped": len(s.skipped)} for s in report.sources], said


def gpx(waypoints: str = "", points: str = "") -> str:
    track = f"<trk><name>walk</name><trkseg>{points}</trkseg></trk>" if points else ""
    return (
        '<?xml version="1.0"?><gpx version="1.1" creator="t" xmlns="http://www.topografix.com/GPX/1/1">'
        f"{waypoints}{track}</gpx>"
    )


def standing_walk(times: bool = True) -> str:
    """Return fixes of a walk east: 60 s at each of three places 30 m apart, 30 s between them."""
    degree_m = 52_400.0  # metres in a degree of longitude at 61.9 N, near enough to place stops
    rows = []
    for second in range(3 * 60 + 2 * 30 + 1):
        stage, within = divmod(second, 90)
        east_m = 30 * stage + (30 * (within - 60) / 30 if within > 60 else 0)
        clock = f"<time>2026-03-20T05:{second // 60:02d}:{second % 60:02d}Z</time>" if times else ""
        rows.append(f'<trkpt lat="61.9" lon="{27.6 + east_m / degree_m:.8f}">{clock}</trkpt>')
    return "".join(rows)


def test_trees_and_a_list_of_measurements_in_any_order(stand_file: StandFile, write: Write) -> None:
    trees = write("trees.csv", HEAD + B1 + B2)
    later = write("girths.csv", "name,girth_cm,date\nB2,61.5,2026-01-02\nB9,80,2026-01-02\n")
    counts, _ = bring_all(stand_file, later, trees)
    assert counts == [{"added": 0, "updated": 1, "skipped": 1}, {"added": 2, "updated": 0, "skipped": 0}]
    stand = stand_file.stand()
    newest = stand.newest_measurement(stand.tree("B2").key)
    assert newest is not None
    assert (newest.girth_mm, newest.given, newest.given_unit) == (615.0, "61.5", "cm")
    assert len(stand_file.history()) == 1
    stand_file.undo(NOW)
    assert stand_file.stand().trees == ()


def test_the_same_file_and_the_same_rows_add_nothing(stand_file: StandFile, write: Write) -> None:
    trees = write("trees.csv", HEAD + B1 + B2)
    bring_all(stand_file, trees)
    before, steps = stand_file.stand(), len(stand_file.history())
    counts, said = bring_all(stand_file, trees)
    assert counts == [{"added": 0, "updated": 0, "skipped": 0}]
    assert "brought in before" in said.told[0]
    assert (stand_file.stand(), len(stand_file.history())) == (before, steps)
    # The same rows in another file are the same trees and the same measurements.
    again = write("again.csv", HEAD + B2 + B1)
    assert bring_all(stand_file, again)[0] == [{"added": 0, "updated": 0, "skipped": 0}]
    assert stand_file.stand() == before


def test_all_sources_or_none(stand_file: StandFile, write: Write) -> None:
    good, bad = write("trees.csv", HEAD + B1), write("bad.gpx", "<gpx><wpt")
    with pytest.raises(UserError, match=r"^bad\.gpx"):
        bring_all(stand_file, good, bad)
    assert stand_file.history() == ()
    assert stand_file.stand().trees == ()


def test_nothing_usable_is_an_answer_with_its_reason(stand_file: StandFile, write: Write) -> None:
    line = {
        "type": "Feature",
        "properties": {},
        "geometry": {"type": "LineString", "coordinates": [[27, 62], [27.1, 62]]},
    }
    with pytest.raises(NothingToBring, match="feature 1") as caught:
        bring_all(stand_file, write("line.geojson", json.dumps(line)))
    assert isinstance(caught.value, NothingToDo)
    assert len(caught.value.report.sources[0].skipped) == 1


def test_a_dry_run_says_and_writes_nothing(stand_file: StandFile, write: Write) -> None:
    counts, said = bring_all(stand_file, write("trees.csv", HEAD + B1), dry_run=True)
    assert counts[0]["added"] == 1
    assert said.told[-1] == "dry run: nothing was written"
    assert stand_file.stand().trees == ()
    assert stand_file.settings() == {}


@pytest.mark.parametrize(
    ("row", "why"),
    [
        ("F1,30.0,61.9,,,\n", "km from the stand's centre"),
        ("F2,61.9,27.6,,,\n", "swapped"),
        ("F3,0,0,,,\n", "latitude 0, longitude 0"),
    ],
)
def test_doubtful_positions_are_refused_unless_anyway(stand_file: StandFile, write: Write, row: str, why: str) -> None:
    bring_all(stand_file, write("trees.csv", HEAD + B1))
    report = bring(stand_file, [write("far.csv", HEAD + row + B2)], BringOptions(), NOW)
    assert why in report.sources[0].skipped[0].why
    assert [t.name for t in stand_file.stand().trees] == ["B1", "B2"]
    anyway = write("anyway.csv", HEAD + row)
    assert bring_all(stand_file, anyway, anyway=True)[0][0]["added"] == 1


def test_a_position_that_is_no_number_is_refused_even_so(stand_file: StandFile, write: Write) -> None:
    path = write("nan.csv", HEAD + "N,nan,61.9,,,\n" + B1)
    assert bring_all(stand_file, path, anyway=True)[0] == [{"added": 1, "updated": 0, "skipped": 1}]


def test_trees_within_half_a_metre_are_taken_and_asked_about(stand_file: StandFile, write: Write) -> None:
    close = "B3,27.600002,61.9,Betula pendula,842,\n"  # 0.11 m east of B1
    counts, said = bring_all(stand_file, write("trees.csv", HEAD + B1 + B2 + close))
    assert counts[0]["added"] == 3
    assert [c for c in said.cautions if "same rootstock?" in c] == [
        "B1 and B3 stand 0.11 m apart: same rootstock? or one tree twice?"
    ]


def test_a_known_tree_is_not_moved_by_a_file(stand_file: StandFile, write: Write) -> None:
    bring_all(stand_file, write("trees.csv", HEAD + B1))
    _, said = bring_all(stand_file, write("moved.csv", "name,lon,lat,species\nB1,27.6001,61.9,Betula pubescens\n"))
    tree = stand_file.stand().tree("B1")
    assert tree.at == (27.6, 61.9)
    assert tree.species == "Betula pubescens"
    assert said.cautions == [
        "B1: moved.csv has it 5.3 m elsewhere; it was not moved",
        "B1: species was 'Betula pendula', now 'Betula pubescens'",
    ]


def test_one_name_far_apart_is_two_trees(stand_file: StandFile, write: Write) -> None:
    bring_all(stand_file, write("trees.csv", HEAD + B1))
    counts, said = bring_all(stand_file, write("other.csv", "name,lon,lat\nB1,27.602,61.9\n"))
    assert counts[0]["added"] == 1
    assert said.cautions == ["two trees are called B1: use their ids, or re-tag one"]
    with pytest.raises(UserError, match="2 trees are called 'B1'"):
        stand_file.stand().tree("B1")


def test_ids_of_another_program_are_not_taken_for_ours(stand_file: StandFile, write: Write) -> None:
    """Two files of another program both count from 1: these are two trees."""

    def points(lon: float) -> str:
        shape = {"type": "Point", "coordinates": [lon, 61.9]}
        return json.dumps({"type": "Feature", "id": 1, "properties": {}, "geometry": shape})

    bring_all(stand_file, write("a.geojson", points(27.6)))
    counts, said = bring_all(stand_file, write("b.geojson", points(27.61)))
    assert counts[0]["added"] == 1
    assert [t.name for t in stand_file.stand().trees] == ["1", "1"]
    assert said.cautions == ["two trees are called 1: use their ids, or re-tag one"]


def test_a_file_that_was_not_used_whole_is_read_again(stand_file: StandFile, write: Write) -> None:
    """What was refused may be taken later: with --anyway, or when the tree that a list speaks of is there."""
    path = write("far.csv", HEAD + B1 + "B5,27.602,61.9,,,\nF1,29.6,61.9,,,\n")
    list_of_girths = write("girths.csv", "name,girth_cm,date\nB1,85,2026-01-02\nB2,61.5,2026-01-02\n")
    assert bring_all(stand_file, path, list_of_girths)[0] == [
        {"added": 2, "updated": 0, "skipped": 1},
        {"added": 0, "updated": 1, "skipped": 1},
    ]
    assert bring_all(stand_file, path, anyway=True)[0] == [{"added": 1, "updated": 0, "skipped": 0}]
    bring_all(stand_file, write("trees.csv", HEAD + B2))
    assert bring_all(stand_file, list_of_girths)[0] == [{"added": 0, "updated": 1, "skipped": 0}]
    assert bring_all(stand_file, path, list_of_girths)[0] == [{"added": 0, "updated": 0, "skipped": 0}] * 2
    assert len(stand_file.history()) == 4


def test_far_positions_taken_anyway_are_taken_once(stand_file: StandFile, write: Write) -> None:
    bring_all(stand_file, write("trees.csv", HEAD + B1 + B2))
    path = write("far.csv", HEAD + "A2,0,0,,,\nA3,61.9,27.6,,,\nA5,,,Betula,900,\n")
    assert bring_all(stand_file, path, anyway=True)[0] == [{"added": 2, "updated": 0, "skipped": 1}]
    assert bring_all(stand_file, path, anyway=True)[0] == [{"added": 0, "updated": 0, "skipped": 1}]
    assert len(stand_file.stand().trees) == 4


def test_ids_survive_whatever_the_order_of_files(stand_file: StandFile, write: Write, tmp_path: Path) -> None:
    bring_all(stand_file, write("trees.csv", HEAD + B1 + B2))
    sent = stand_file.stand()
    export(sent, tmp_path / "out")
    with StandFile.create(tmp_path / "other.gpkg") as other:
        bring_all(other, *(tmp_path / "out" / n for n in ("stand.gpx", "trees.csv", "stand.geojson")))
        assert [(t.key, t.name) for t in other.stand().trees] == [(t.key, t.name) for t in sent.trees]


def test_a_table_of_returns_is_for_record(stand_file: StandFile, write: Write) -> None:
    with pytest.raises(UserError, match=r"returns\.csv.* 'standmap record'"):
        bring_all(stand_file, write("returns.csv", "tree,date,what\nB1,2026-03-20,tapped\n"))


def test_waypoints_of_one_default_name_are_each_a_tree(stand_file: StandFile, write: Write) -> None:
    points = "".join(f'<wpt lat="61.9" lon="{27.6 + i / 10000:.4f}"><name>Birch</name></wpt>' for i in range(4))
    counts, said = bring_all(stand_file, write("points.gpx", gpx(points)))
    assert counts[0]["added"] == 4
    assert len([c for c in said.cautions if "two trees are called Birch" in c]) == 3
    # Saved anew, they are the same trees.
    assert bring_all(stand_file, write("saved.gpx", gpx(points) + "\n"))[0][0]["added"] == 0


def test_nameless_points_of_a_file_saved_anew_are_the_same_trees(stand_file: StandFile, write: Write) -> None:
    points = "".join(f'<wpt lat="61.9" lon="{27.6 + i / 10000:.4f}"/>' for i in range(4))
    assert bring_all(stand_file, write("points.gpx", gpx(points)))[0][0]["added"] == 4
    assert bring_all(stand_file, write("saved.gpx", gpx(points) + "\n"))[0][0]["added"] == 0
    assert [t.name for t in stand_file.stand().trees] == ["T1", "T2", "T3", "T4"]


def test_an_old_export_takes_nothing_back(stand_file: StandFile, write: Write, tmp_path: Path) -> None:
    bring_all(stand_file, write("trees.csv", HEAD + B1 + B2))
    export(stand_file.stand(), tmp_path / "old", what=["geojson"])
    correct.fell(stand_file, "B1", NOW.date(), NOW)
    correct.confirm_tag(stand_file, ["B2"], NOW)
    correct.set_soundness(stand_file, ["B2"], Soundness.UNSOUND, NOW)
    correct.retag(stand_file, "B2", "K2", NOW.date(), NOW)
    before = stand_file.stand()
    _, said = bring_all(stand_file, tmp_path / "old" / "stand.geojson")
    assert stand_file.stand() == before
    assert said.cautions == [
        "B1: the file says standing; it stays felled",
        "K2: the file calls it B2; it keeps its name ('standmap correct re-tag' gives another)",
    ]


def test_a_girth_mended_in_our_own_export_is_mended_here(stand_file: StandFile, write: Write, tmp_path: Path) -> None:
    bring_all(stand_file, write("trees.csv", HEAD + B1))
    export(stand_file.stand(), tmp_path / "out", what=["csv"])
    path = tmp_path / "out" / "trees.csv"
    path.write_bytes(path.read_bytes().replace(b",842", b",824"))  # not in an id
    assert bring_all(stand_file, path)[0] == [{"added": 0, "updated": 1, "skipped": 0}]
    assert [m.girth_mm for m in stand_file.stand().measurements] == [824.0]


def test_holes_counted_from_one_by_another_program_stay_apart(stand_file: StandFile, write: Write) -> None:
    def tree(name: str, lon: float, litres: float) -> dict[str, object]:
        taken = {
            "id": 1,
            "collected_on": "2025-03-21",
            "volume_ml": litres * 1000,
            "given": str(litres),
            "given_unit": "l",
        }
        hole = {"id": 1, "number": 1, "kind": "hole", "made_on": "2025-03-20", "collections": [taken]}
        shape = {"type": "Point", "coordinates": [lon, 61.9]}
        return {"type": "Feature", "id": name, "properties": {"name": name, "holes": [hole]}, "geometry": shape}

    features = [tree("H1", 27.6, 1.0), tree("H2", 27.601, 2.0)]
    path = write("h.geojson", json.dumps({"type": "FeatureCollection", "features": features}))
    bring_all(stand_file, path)
    again = write("again.geojson", json.dumps({"features": features, "type": "FeatureCollection"}))
    assert bring_all(stand_file, again)[0][0] == {"added": 0, "updated": 0, "skipped": 0}
    stand = stand_file.stand()
    litres = {
        t.name: [c.volume_ml for h in stand.holes_of[t.key] for c in stand.collections_of[h.key]] for t in stand.trees
    }
    assert litres == {"H1": [1000.0], "H2": [2000.0]}


def test_walks_look_for_trees_of_files_named_after_them(stand_file: StandFile, write: Write) -> None:
    report = bring(
        stand_file, [write("walk.gpx", gpx(points=standing_walk())), write("trees.csv", HEAD + B1)], BringOptions(), NOW
    )
    assert [s.tree for s in report.sources[0].stops] == ["B1", "P1", "P2"]


def test_names_are_compared_whatever_their_accents_are_coded_as(stand_file: StandFile, write: Write) -> None:
    bring_all(stand_file, write("trees.csv", HEAD + B1.replace("B1", "K\u00e4the")))
    counts, _ = bring_all(stand_file, write("girths.csv", "name,girth_cm\nKa\u0308the,90\n"))
    assert counts[0]["updated"] == 1


def test_a_girth_after_today_is_refused_and_one_that_disagrees_asked_about(stand_file: StandFile, write: Write) -> None:
    late = B2.replace("2024", "2062")
    head = "name,lon,lat,girth_cm,dbh_cm\n"
    counts, _ = bring_all(stand_file, write("trees.csv", HEAD + B1 + late))
    assert counts[0] == {"added": 1, "updated": 0, "skipped": 1}
    _, said = bring_all(stand_file, write("both.csv", head + "B7,27.6005,61.9,60,30\nB8,27.6015,61.9,90,28.6\n"))
    assert said.cautions == ["B7: girth 600 mm and diameter 300 mm do not agree"]


def test_the_frame_outlives_the_edit_that_chose_it(stand_file: StandFile, write: Write) -> None:
    bring_all(stand_file, write("first.csv", HEAD + B1))
    bring_all(stand_file, write("second.csv", HEAD + B2))
    stand_file.take_back(1, NOW)
    assert working_frame(stand_file.stand()) is not None
    with pytest.raises(NothingToBring, match="km from the stand's centre"):
        bring_all(stand_file, write("far.csv", "name,lon,lat\nF,5,50\n"))


def test_waypoints_become_trees_or_places(stand_file: StandFile, write: Write) -> None:
    waypoints = (
        '<wpt lat="61.9" lon="27.6"><name>B1</name></wpt>'
        '<wpt lat="61.9001" lon="27.6"><name>north gate</name><type>Gate</type></wpt>'
        '<wpt lat="61.9002" lon="27.6"><name>drum</name><sym>Water Tank</sym></wpt>'
    )
    bring_all(stand_file, write("points.gpx", gpx(waypoints)))
    stand = stand_file.stand()
    assert [t.name for t in stand.trees] == ["B1"]
    assert {p.name: p.kind for p in stand.places} == {"north gate": PlaceKind.GATE, "drum": PlaceKind.TANK}


def test_stops_of_a_walk_become_proposed_trees(stand_file: StandFile, write: Write) -> None:
    report = bring(stand_file, [write("walk.gpx", gpx(points=standing_walk()))], BringOptions(), NOW)
    stops = report.sources[0].stops
    stand = stand_file.stand()
    assert [s.tree for s in stops] == ["P1", "P2", "P3"] == [t.name for t in stand.trees]
    assert all(
        t.proposed and t.walk_key and t.sigma_m == pytest.approx(s.sigma_m)
        for t, s in zip(stand.trees, stops, strict=True)
    )
    frame = working_frame(stand)
    assert frame is not None
    x, _ = frame.to_xy(np.array([s.lon for s in stops]), np.array([s.lat for s in stops]))
    assert [x[1] - x[0], x[2] - x[1]] == pytest.approx([30, 30], abs=2)
    # Brought from another file with the same track, the walk is the same walk.
    assert bring_all(stand_file, write("copy.gpx", gpx(points=standing_walk()) + " "))[0][0]["added"] == 0
    assert len(stand_file.stand().trees) == 3


def test_a_stop_at_a_known_tree_suggests_no_other(stand_file: StandFile, write: Write) -> None:
    bring_all(stand_file, write("trees.csv", HEAD + B1))
    report = bring(stand_file, [write("walk.gpx", gpx(points=standing_walk()))], BringOptions(), NOW)
    assert [s.tree for s in report.sources[0].stops] == ["B1", "P1", "P2"]


def test_a_walk_without_times_is_kept_as_a_line(stand_file: StandFile, write: Write) -> None:
    counts, said = bring_all(stand_file, write("walk.gpx", gpx(points=standing_walk(times=False))))
    assert counts[0]["added"] == 1
    assert any("no times" in t for t in said.told)
    assert stand_file.stand().trees == ()


def test_ground_is_taken_once_and_brought_up_to_date(stand_file: StandFile, write: Write) -> None:
    ring = [[27.6, 61.9], [27.61, 61.9], [27.61, 61.91], [27.6, 61.9]]

    def area(**properties: object) -> str:
        shape = {"type": "Polygon", "coordinates": [ring]}
        return json.dumps({"type": "Feature", "properties": {"kind": "permitted", **properties}, "geometry": shape})

    first = write("a.geojson", area(owner="the board", **{"from": "2026-03-01", "until": "2026-04-30"}, most_trees=30))
    assert bring_all(stand_file, first)[0][0]["added"] == 1
    assert bring_all(stand_file, write("b.geojson", area(most_trees=20)))[0] == [
        {"added": 0, "updated": 1, "skipped": 0}
    ]
    (kept,) = stand_file.stand().areas
    assert (kept.kind, kept.owner, kept.most_trees) == (AreaKind.PERMITTED, "the board", 20)
    assert str(kept.until_date) == "2026-04-30"
    assert bring_all(stand_file, write("c.geojson", area(most_trees=20)))[0][0] == {
        "added": 0,
        "updated": 0,
        "skipped": 0,
    }


def test_grid_coordinates_need_their_system(stand_file: StandFile, write: Write) -> None:
    path = write("grid.csv", "name,x,y\nB1,531500,6863500\n")
    with pytest.raises(UserError, match="--crs"):
        bring_all(stand_file, path)
    bring(stand_file, [path], BringOptions(crs="EPSG:3067"), NOW)
    lon, lat = stand_file.stand().trees[0].at
    assert (27 < lon < 28, 61 < lat < 63) == (True, True)
