"""Notes, waypoints and pictures go to the tree of their stop, by a clock that the walk sets right."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from standmap.jobs.bring import BringOptions, NothingToBring, bring
from standmap.jobs.bring_report import ClockStated
from standmap.jobs.review import Decision, Fate, Kind, Verb, propose, store
from standmap.stand.records import Media
from standmap.stand.tree import Tree
from standmap.stand.walks import Stop
from standmap.store.stand_file import StandFile
from tests.jobs.stand_rows import rows, walk_text
from tests.photo_files import photo

NOW = datetime(2026, 3, 28, 7, 30, tzinfo=UTC)
BEGIN = datetime(2026, 3, 20, 5, 0, tzinfo=UTC)
EAST_M = (0.0, 22.0, 47.0, 66.0, 94.0, 118.0)
IN_STOP_S = (20, 115, 215, 305, 380, 490)
"""A moment within each stop of `walk_text(*EAST_M)`, seconds after its begin."""


class Heard:
    """Keeps what was told."""

    def __init__(self) -> None:
        self.told: list[str] = []

    def tell(self, text: str) -> None:
        self.told.append(text)

    caution = tell


def walk(folder: Path, extra: str = "") -> Path:
    path = folder / "walk.gpx"
    path.write_text(walk_text(*EAST_M).replace("<trk>", f"{extra}<trk>"))
    return path


def notes(folder: Path, moments: Sequence[str], girths: bool = True, names: Sequence[str] = ()) -> Path:
    path = folder / "notes.csv"
    names = names or [f"B{n}" for n in range(1, len(moments) + 1)]
    lines = [
        f"{when},{name},{700 + 10 * i if girths else ''}"
        for i, (when, name) in enumerate(zip(moments, names, strict=True))
    ]
    path.write_text("\n".join(["time,name,girth_mm", *lines]) + "\n")
    return path


def moments(ahead_s: float = 0.0, zone: str = "Z") -> list[str]:
    return [(BEGIN + timedelta(seconds=s + ahead_s)).strftime("%Y-%m-%dT%H:%M:%S") + zone for s in IN_STOP_S]


def named(file: StandFile) -> dict[str, Tree]:
    return {t.name: t for t in file.stand().trees}


def girths(file: StandFile) -> dict[str, float | None]:
    stand = file.stand()
    return {stand.by_key[m.tree_key].name: m.girth_mm for m in stand.measurements}


WANTED = {f"B{n}": 700.0 + 10 * (n - 1) for n in range(1, 7)}


@pytest.mark.parametrize("turned", [False, True])
def test_walk_notes_and_picture_make_trees_with_names_girths_and_picture(
    stand_file: StandFile, tmp_path: Path, turned: bool
) -> None:
    picture = photo(tmp_path / "birch.jpg", taken="2026:03:20 07:01:50", offset="+02:00", camera="K")
    files = [walk(tmp_path), notes(tmp_path, moments()), picture]
    report = bring(stand_file, files[::-1] if turned else files, BringOptions(), NOW)
    assert girths(stand_file) == WANTED
    trees = named(stand_file)
    assert set(trees) == set(WANTED)
    assert not any(t.proposed for t in trees.values())
    assert {m.measured_on for m in stand_file.stand().measurements} == {date(2026, 3, 20)}
    (kept,) = stand_file.rows(Media)
    assert kept.tree_key == trees["B2"].key
    assert kept.taken_at == BEGIN + timedelta(seconds=110)
    assert kept.content[:3] == b"\xff\xd8\xff"
    assert sum(len(s.stops) for s in report.sources) == 6
    assert len(stand_file.history()) == 1


def test_the_same_files_again_change_nothing(stand_file: StandFile, tmp_path: Path) -> None:
    picture = photo(tmp_path / "birch.jpg", taken="2026:03:20 07:01:50", offset="+02:00")
    files = [walk(tmp_path), notes(tmp_path, moments()), picture]
    bring(stand_file, files, BringOptions(), NOW)
    before = rows(stand_file.path)
    bring(stand_file, files, BringOptions(), NOW)
    assert rows(stand_file.path) == before


@pytest.mark.parametrize(
    ("ahead_s", "zone", "words"),
    [
        (3600, "Z", "1 h 00 min 00 s ahead"),
        (-3600, "Z", "1 h 00 min 00 s behind"),
        (7200, "", "2 h 00 min 00 s ahead"),
        (5.75 * 3600, "", "5 h 45 min 00 s ahead"),
    ],
)
def test_a_clock_off_by_a_zone_is_set_by_the_walk(
    stand_file: StandFile, tmp_path: Path, ahead_s: float, zone: str, words: str
) -> None:
    heard = Heard()
    bring(stand_file, [walk(tmp_path), notes(tmp_path, moments(ahead_s, zone))], BringOptions(), NOW, heard)
    assert girths(stand_file) == WANTED
    assert any(words in text and "taken off" in text for text in heard.told)


def test_a_stated_offset_and_zone_are_taken_off(stand_file: StandFile, tmp_path: Path) -> None:
    stated = ClockStated(zone_s=-5 * 3600, ahead_s=75)
    files = [walk(tmp_path), notes(tmp_path, moments(75 - 5 * 3600, ""))]
    bring(stand_file, files, BringOptions(clock=stated), NOW)
    assert girths(stand_file) == WANTED


def test_notes_of_the_wrong_day_are_left_out_and_told(stand_file: StandFile, tmp_path: Path) -> None:
    heard = Heard()
    files = [walk(tmp_path), notes(tmp_path, moments(3 * 86_400))]
    report = bring(stand_file, files, BringOptions(), NOW, heard)
    assert girths(stand_file) == {}
    whys = [k.why for s in report.sources for k in s.skipped]
    assert len(whys) == 6
    assert all("after the walk ended" in why and why.startswith("noted 2 d 23 h") for why in whys)
    # The clock is stated to be three days ahead: the days that were written are wrong by as much.
    stated = BringOptions(clock=ClockStated(ahead_s=3 * 86_400))
    bring(stand_file, files, stated, NOW)
    assert girths(stand_file) == WANTED
    assert {m.measured_on for m in stand_file.stand().measurements} == {date(2026, 3, 20)}


def test_notes_brought_later_name_the_trees_that_the_walk_suggested(stand_file: StandFile, tmp_path: Path) -> None:
    bring(stand_file, [walk(tmp_path)], BringOptions(), NOW)
    assert set(named(stand_file)) == {f"P{n}" for n in range(1, 7)}
    keys = {s.tree_key for s in stand_file.rows(Stop)}
    bring(stand_file, [notes(tmp_path, moments())], BringOptions(), NOW)
    assert girths(stand_file) == WANTED
    assert {t.key for t in stand_file.stand().trees} == keys
    stand_file.undo(NOW)
    assert set(named(stand_file)) == {f"P{n}" for n in range(1, 7)}


def test_a_name_identifies_a_known_tree_that_stands_further_than_another(stand_file: StandFile, tmp_path: Path) -> None:
    known = tmp_path / "known.csv"
    rows_of = [f"{name},{27.6 + at / 52_400:.8f},61.9" for name, at in (("near", 22.4), ("B2", 27.0))]
    known.write_text("name,lon,lat\n" + "\n".join(rows_of) + "\n")
    bring(stand_file, [known], BringOptions(), NOW)
    bring(stand_file, [walk(tmp_path), notes(tmp_path, moments())], BringOptions(), NOW)
    trees = named(stand_file)
    assert len(trees) == 7
    stops = {s.from_at: s.tree_key for s in stand_file.rows(Stop)}
    assert [key for _, key in sorted(stops.items())][1] == trees["B2"].key
    assert girths(stand_file) == WANTED


def test_a_note_that_names_a_known_tree_needs_no_walk(stand_file: StandFile, tmp_path: Path) -> None:
    known = tmp_path / "known.csv"
    known.write_text("name,lon,lat\nB1,27.6,61.9\n")
    bring(stand_file, [known], BringOptions(), NOW)
    bring(stand_file, [notes(tmp_path, ["2026-03-20 07:00:20"])], BringOptions(), NOW)
    assert girths(stand_file) == {"B1": 700.0}
    with pytest.raises(NothingToBring, match="no walk"):
        bring(stand_file, [notes(tmp_path, ["2026-03-20 08:00:20"], names=["B9"])], BringOptions(), NOW)


def test_a_picture_between_stops_is_asked_and_can_be_merged(stand_file: StandFile, tmp_path: Path) -> None:
    picture = photo(tmp_path / "a.jpg", taken="2026:03:20 07:01:14", offset="+02:00")
    proposal = propose(stand_file, [walk(tmp_path), notes(tmp_path, moments()), picture], BringOptions(), NOW)
    item = next(i for i in proposal.items if i.kind is Kind.PHOTO)
    assert item.fate is Fate.DOUBTFUL
    assert item.why.startswith("noted 1")
    assert item.why.endswith(("s after the stop at B1", "s before the stop at B2"))
    assert item.default is Verb.IGNORE
    third = [i for i in proposal.items if i.kind is Kind.STOP][2]
    store(stand_file, proposal, {item.id: Decision(Verb.MERGE, third.id)}, NOW)
    assert [m.tree_key for m in stand_file.rows(Media)] == [named(stand_file)["B3"].key]


def test_a_note_between_stops_tells_of_a_short_stop(stand_file: StandFile, tmp_path: Path) -> None:
    bring(stand_file, [walk(tmp_path)], BringOptions(), NOW)
    stand_file.undo(NOW)
    between = BEGIN + timedelta(seconds=75)
    files = [walk(tmp_path), notes(tmp_path, [*moments(), between.strftime("%Y-%m-%dT%H:%M:%SZ")])]
    bring(stand_file, files, BringOptions(), NOW)
    trees = named(stand_file)
    assert set(trees) == {f"B{n}" for n in range(1, 8)}
    assert trees["B1"].at[0] < trees["B7"].at[0] < trees["B2"].at[0]


def test_an_ignored_note_leaves_its_stop_without_its_name(stand_file: StandFile, tmp_path: Path) -> None:
    files = [walk(tmp_path), notes(tmp_path, moments())]
    proposal = propose(stand_file, files, BringOptions(), NOW)
    item = next(i for i in proposal.items if i.kind is Kind.NOTE and i.where == "line 3")
    assert item.fate is Fate.MATCHED
    store(stand_file, proposal, {item.id: Decision(Verb.IGNORE)}, NOW)
    assert set(named(stand_file)) == {"B1", "P1", "B3", "B4", "B5", "B6"}
    assert named(stand_file)["P1"].proposed


def test_notes_follow_their_stop_where_it_is_merged_or_left_out(stand_file: StandFile, tmp_path: Path) -> None:
    files = [walk(tmp_path), notes(tmp_path, moments())]
    proposal = propose(stand_file, files, BringOptions(), NOW)
    stops = [i for i in proposal.items if i.kind is Kind.STOP]
    decisions = {stops[1].id: Decision(Verb.MERGE, stops[0].id), stops[2].id: Decision(Verb.IGNORE)}
    store(stand_file, proposal, decisions, NOW)
    assert set(named(stand_file)) == {"B1", "B4", "B5", "B6"}
    of_b1 = [m.girth_mm for m in stand_file.stand().measurements if m.tree_key == named(stand_file)["B1"].key]
    assert of_b1 == [700.0, 710.0]


def test_two_names_in_one_stop_are_told(stand_file: StandFile, tmp_path: Path) -> None:
    heard = Heard()
    bring(stand_file, [walk(tmp_path)], BringOptions(), NOW)
    twice = [*moments(), (BEGIN + timedelta(seconds=25)).strftime("%Y-%m-%dT%H:%M:%SZ")]
    report = bring(stand_file, [notes(tmp_path, twice)], BringOptions(), NOW, heard)
    assert girths(stand_file) == WANTED
    assert [k.where for k in report.sources[0].skipped] == ["line 8"]
    assert any("two trees at one stop" in text for text in heard.told)


def waypoint(name: str, second: int | None, east_m: float) -> str:
    clock = "" if second is None else f"<time>{(BEGIN + timedelta(seconds=second)):%Y-%m-%dT%H:%M:%SZ}</time>"
    return f'<wpt lat="61.9" lon="{27.6 + east_m / 52_400:.8f}">{clock}<name>{name}</name></wpt>'


def test_a_waypoint_of_a_stop_names_its_tree_by_time_and_place(stand_file: StandFile, tmp_path: Path) -> None:
    extra = waypoint("W2", 110, 25.0) + waypoint("W3", None, 44.0) + waypoint("far", 300, 400.0)
    bring(stand_file, [walk(tmp_path, extra)], BringOptions(), NOW)
    trees = named(stand_file)
    assert set(trees) == {"P1", "W2", "W3", "P2", "P3", "P4", "far"}
    # At the stop's position, which rests on sixty fixes; the waypoint far off stays where it is.
    assert trees["W2"].at[0] == pytest.approx(27.6 + 22 / 52_400, abs=1e-6)
    assert trees["far"].at[0] == pytest.approx(27.6 + 400 / 52_400, abs=1e-6)
    assert not trees["W2"].proposed


def test_a_waypoint_can_be_kept_as_a_tree_of_its_own(stand_file: StandFile, tmp_path: Path) -> None:
    files = [walk(tmp_path, waypoint("W2", 110, 30.0))]
    proposal = propose(stand_file, files, BringOptions(), NOW)
    item = next(i for i in proposal.items if i.kind is Kind.NOTE)
    store(stand_file, proposal, {item.id: Decision(Verb.SPLIT)}, NOW)
    trees = named(stand_file)
    assert trees["W2"].at[0] == pytest.approx(27.6 + 30 / 52_400, abs=1e-6)
    assert len(trees) == 7


def test_waypoints_without_a_walk_are_trees(stand_file: StandFile, tmp_path: Path) -> None:
    path = tmp_path / "points.gpx"
    space = "http://www.topografix.com/GPX/1/1"
    both = waypoint("W1", 20, 0.0) + waypoint("W2", None, 30.0)
    path.write_text(f'<gpx version="1.1" creator="t" xmlns="{space}">{both}</gpx>')
    bring(stand_file, [path], BringOptions(), NOW)
    assert set(named(stand_file)) == {"W1", "W2"}


def test_a_picture_with_a_place_and_no_walk_goes_to_the_one_tree_there(stand_file: StandFile, tmp_path: Path) -> None:
    known = tmp_path / "known.csv"
    known.write_text("name,lon,lat\nB1,27.6,61.9\nB2,27.601,61.9\nB3,27.60103,61.9\n")
    bring(stand_file, [known], BringOptions(), NOW)
    one = photo(tmp_path / "one.jpg", at=(27.60001, 61.9), within_m=3.0)
    doubtful = photo(tmp_path / "two.jpg", at=(27.60101, 61.9), within_m=3.0, colour="red")
    report = bring(stand_file, [one, doubtful], BringOptions(), NOW)
    assert [m.tree_key for m in stand_file.rows(Media)] == [named(stand_file)["B1"].key]
    assert "no one tree stands there" in report.sources[1].skipped[0].why


def test_pictures_with_satellite_time_set_the_clock_of_all_of_that_camera(
    stand_file: StandFile, tmp_path: Path
) -> None:
    heard = Heard()
    both = photo(
        tmp_path / "a.jpg", taken="2026:03:20 11:11:10", gps_day="2026:03:20", gps_clock=(5, 0, 20), camera="K1"
    )
    plain = photo(tmp_path / "b.jpg", taken="2026:03:20 11:12:45", camera="K1", colour="red")
    bring(stand_file, [plain, both, walk(tmp_path)], BringOptions(), NOW, heard)
    trees = named(stand_file)
    assert [m.tree_key for m in stand_file.rows(Media)] == [trees["P2"].key, trees["P1"].key]
    assert any("the clock of K1 is 6 h 10 min 50 s ahead: taken off" in text for text in heard.told)


def test_a_walk_that_is_left_out_makes_its_waypoints_trees(stand_file: StandFile, tmp_path: Path) -> None:
    files = [walk(tmp_path, waypoint("W2", 110, 25.0)), notes(tmp_path, moments())]
    proposal = propose(stand_file, files, BringOptions(), NOW)
    whole = next(i for i in proposal.items if i.kind is Kind.WALK)
    store(stand_file, proposal, {whole.id: Decision(Verb.IGNORE)}, NOW)
    assert set(named(stand_file)) == {"W2"}
    assert girths(stand_file) == {}


def test_what_was_noted_at_a_stop_that_is_asked_goes_where_it_goes(stand_file: StandFile, tmp_path: Path) -> None:
    known = tmp_path / "known.csv"
    known.write_text("name,lon,lat\n" + "".join(f"K{m},{27.6 + m / 52_400:.8f},61.9\n" for m in (20, 24)))
    bring(stand_file, [known], BringOptions(), NOW)
    walked, remark = tmp_path / "walk.gpx", tmp_path / "remark.csv"
    walked.write_text(walk_text(22, 90))
    remark.write_text("time,girth_mm,note\n2026-03-20T05:00:20Z,842,leans\n")
    proposal = propose(stand_file, [walked, remark], BringOptions(), NOW)
    stop = next(i for i in proposal.items if i.kind is Kind.STOP)
    noted = next(i for i in proposal.items if i.kind is Kind.NOTE)
    assert (stop.fate, noted.fate, noted.of) == (Fate.DOUBTFUL, Fate.DOUBTFUL, stop.id)
    store(stand_file, proposal, {stop.id: Decision(Verb.MERGE, "K24")}, NOW)
    assert girths(stand_file) == {"K24": 842.0}
    assert named(stand_file)["K24"].note == "leans"
