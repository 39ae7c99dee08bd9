"""Field sheets brought in: placed from what is known, in any order of files; blunders asked, nothing twice."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import pytest

from standmap.jobs.bring import BringOptions, NothingToBring, bring
from standmap.jobs.opening import working_frame
from standmap.jobs.positions import apart_m, xy
from standmap.jobs.review import Decision, Fate, Item, Kind, Verb, propose, store
from standmap.messages import Collected
from standmap.stand.ground import PlaceKind
from standmap.stand.sights import North, Sight, TakenPosition
from standmap.store.stand_file import StandFile
from standmap.survey.north import declination

NOW = datetime(2026, 3, 28, 7, 30, tzinfo=UTC)
Write = Callable[[str, str], Path]
TREES = "name,lon,lat\nA,27.6,61.9\nB,27.601,61.9\n"
HEAD = "from,to,bearing (true),back bearing,distance (m),toward,along,offset,date,girth_mm,what\n"
LOOP = "A,S1,0,,30,,,,,,station\nS1,S2,90,,30,,,,,,station\nS2,T7,45,,10,,,,,842,\nS2,A,{home},,42.43,,,,,,\n"


@pytest.fixture
def write(tmp_path: Path) -> Write:
    def to(name: str, text: str) -> Path:
        path = tmp_path / name
        path.write_text(text, encoding="utf-8")
        return path

    return to


def items_of(file: StandFile, *paths: Path) -> dict[str, Item]:
    return {item.where: item for item in propose(file, paths, BringOptions(), NOW).items if item.kind is Kind.SIGHT}


def offset_m(file: StandFile, start: str, end: str) -> tuple[float, float]:
    stand = file.stand()
    frame = working_frame(stand)
    assert frame is not None
    at = {**{t.name: t.at for t in stand.trees}, **{p.name: p.at for p in stand.places}}
    (x, y), (u, v) = xy(frame, [at[start], at[end]]).tolist()
    return u - x, v - y


@pytest.mark.parametrize("sheet_first", [True, False])
def test_a_sheet_is_placed_from_trees_of_the_same_command(
    stand_file: StandFile, write: Write, sheet_first: bool
) -> None:
    trees = write("t.csv", TREES)
    sheet = write("s.csv", HEAD + LOOP.format(home=225) + "A,B8,,,,S1,10,-2.5,,,\n")
    said = Collected()
    report = bring(stand_file, [sheet, trees] if sheet_first else [trees, sheet], BringOptions(), NOW, said)
    assert sum(s.added for s in report.sources) == 2 + 5
    assert all(not s.skipped for s in report.sources)
    assert offset_m(stand_file, "A", "S2") == pytest.approx((30.0, 30.0), abs=0.02)
    assert offset_m(stand_file, "S2", "T7") == pytest.approx((7.071, 7.071), abs=0.02)
    assert offset_m(stand_file, "A", "B8") == pytest.approx((-2.5, 10.0), abs=0.02)
    found = stand_file.stand()
    tree = found.tree("T7")
    assert not tree.proposed
    assert tree.sigma_m is not None
    assert [m.girth_mm for m in found.measurements_of[tree.key]] == [842.0]
    assert {(p.name, p.kind) for p in found.places} == {("S1", PlaceKind.LANDMARK), ("S2", PlaceKind.LANDMARK)}
    assert len(stand_file.rows(Sight)) == 5
    # A was given before it was sighted; what is new hangs on its sights alone.
    assert [t.tree_key for t in stand_file.rows(TakenPosition)] == [found.tree("A").key]
    assert any("adjusting makes the best" in told for told in said.told)
    assert len(stand_file.history()) == 1


def test_a_tree_from_which_the_known_one_is_sighted(stand_file: StandFile, write: Write) -> None:
    sheet = write("s.csv", HEAD + "T1,A,180,,10,,,,,,\nT1,S9,90,,4,,,,,,station\nS9,T1,270,,4,,,,,,\n")
    items = items_of(stand_file, sheet, write("t.csv", TREES))
    assert [(w, i.covariance is not None) for w, i in items.items()] == [
        ("line 2", False),
        ("line 3", False),
        ("line 4", True),
    ]
    bring(stand_file, [sheet, write("t.csv", TREES)], BringOptions(), NOW)
    assert offset_m(stand_file, "A", "T1") == pytest.approx((0.0, 10.0), abs=0.02)
    found = stand_file.stand()
    assert {t.tree_key for t in stand_file.rows(TakenPosition)} == {found.tree("A").key}


def test_the_same_sheet_and_the_same_lines_change_nothing(stand_file: StandFile, write: Write) -> None:
    trees, sheet = write("t.csv", TREES), write("s.csv", HEAD + LOOP.format(home=225))
    bring(stand_file, [trees, sheet], BringOptions(), NOW)
    before = (stand_file.stand(), stand_file.rows(Sight))
    bring(stand_file, [sheet], BringOptions(), NOW)
    again = write("again.csv", HEAD + LOOP.format(home=225) + "\n")
    assert {i.fate for i in items_of(stand_file, again).values()} == {Fate.MATCHED}
    bring(stand_file, [again], BringOptions(), NOW)
    assert (stand_file.stand(), stand_file.rows(Sight)) == before
    more = write("more.csv", HEAD + LOOP.format(home=225) + "T7,T9,90,,4,,,,,,\n")
    report = bring(stand_file, [more], BringOptions(), NOW)
    assert report.sources[0].added == 1


def test_undo_takes_all_of_it_back(stand_file: StandFile, write: Write) -> None:
    bring(stand_file, [write("t.csv", TREES)], BringOptions(), NOW)
    before = stand_file.stand()
    bring(stand_file, [write("s.csv", HEAD + LOOP.format(home=225))], BringOptions(), NOW)
    stand_file.undo(NOW)
    assert stand_file.stand() == before
    assert stand_file.rows(Sight) == ()


def test_a_sheet_that_hangs_on_nothing_is_refused(stand_file: StandFile, write: Write) -> None:
    sheet = write("s.csv", HEAD + "X,Y,0,,10,,,,,,\n")
    with pytest.raises(NothingToBring, match="hangs on nothing"):
        bring(stand_file, [sheet], BringOptions(), NOW)
    bring(stand_file, [write("t.csv", TREES)], BringOptions(), NOW)
    with pytest.raises(NothingToBring, match="bring in a walk"):
        bring(stand_file, [sheet], BringOptions(), NOW)
    assert len(stand_file.history()) == 1


def test_too_little_is_said(stand_file: StandFile, write: Write) -> None:
    bring(stand_file, [write("t.csv", TREES)], BringOptions(), NOW)
    (item,) = items_of(stand_file, write("s.csv", HEAD + "A,Z,40,,,,,,,,\n")).values()
    assert item.fate is Fate.REFUSED
    assert "does not tell where Z is" in item.why


def test_a_sight_that_misses_a_known_tree_is_asked(stand_file: StandFile, write: Write) -> None:
    bring(stand_file, [write("t.csv", TREES)], BringOptions(), NOW)
    before = stand_file.stand()
    sheet = write("s.csv", HEAD + "A,B,90,,92.4,,,,,,\n")  # B stands 52.6 m east of A
    (item,) = items_of(stand_file, sheet).values()
    assert (item.fate, item.default) == (Fate.DOUBTFUL, Verb.IGNORE)
    assert "misses B as it is known by 39.8 m" in item.why
    assert item.shape is not None  # it is drawn, though it is left out
    with pytest.raises(NothingToBring, match="give --anyway"):
        bring(stand_file, [sheet], BringOptions(), NOW)
    assert (stand_file.stand(), stand_file.rows(Sight)) == (before, ())
    bring(stand_file, [sheet], BringOptions(anyway=True), NOW)
    assert len(stand_file.rows(Sight)) == 1
    assert stand_file.stand().trees == before.trees  # nothing known was moved


def test_a_loop_that_closes_by_forty_metres_is_left_out_whole_until_it_is_decided(
    stand_file: StandFile, write: Write
) -> None:
    bring(stand_file, [write("t.csv", TREES)], BringOptions(), NOW)
    before = stand_file.stand()
    sheet = write("s.csv", HEAD + LOOP.format(home=281) + "A,T8,180,,6,,,,,,\n")
    items = items_of(stand_file, sheet)
    assert {w: i.fate for w, i in items.items()} == {
        **{f"line {n}": Fate.DOUBTFUL for n in (2, 3, 4, 5)},
        "line 6": Fate.NEW,
    }
    assert any("loop" in i.why or "misses" in i.why for i in items.values())
    assert "hangs on S2, which is in doubt" in items["line 4"].why
    proposal = propose(stand_file, [sheet], BringOptions(), NOW)
    store(stand_file, proposal, {}, NOW)
    assert {t.name for t in stand_file.stand().trees} - {t.name for t in before.trees} == {"T8"}
    stand_file.undo(NOW)
    # The last line was misread: leave it out and take the others.
    proposal = propose(stand_file, [sheet], BringOptions(), NOW)
    decided = {items[f"line {n}"].id: Decision(Verb.ACCEPT) for n in (2, 3, 4)}
    store(stand_file, proposal, decided, NOW)
    assert len(stand_file.rows(Sight)) == 4
    assert offset_m(stand_file, "A", "S2") == pytest.approx((30.0, 30.0), abs=0.02)


def test_what_is_left_alone_goes_as_it_was_shown(stand_file: StandFile, write: Write) -> None:
    bring(stand_file, [write("t.csv", TREES)], BringOptions(), NOW)
    sheet = write("s.csv", HEAD + LOOP.format(home=281) + "A,T8,180,,6,,,,,,\n")
    proposal = propose(stand_file, [sheet], BringOptions(), NOW)
    items = {i.where: i for i in proposal.items}
    # With the first tree left out nothing else is decided: the loop stays out as it was shown.
    store(stand_file, proposal, {items["line 6"].id: Decision(Verb.IGNORE)}, NOW)
    assert stand_file.rows(Sight) == ()


def test_bearings_by_compass_are_turned_by_the_day(stand_file: StandFile, write: Write) -> None:
    bring(stand_file, [write("t.csv", TREES)], BringOptions(), NOW)
    head = "from,to,bearing,distance (m),date\n"
    said = Collected()
    sheet = write("s.csv", head + "A,C,0,100,2015-06-01\nA,D,0,100,\nA,E,0,100,2005-01-01\nA,F,0,9,2026-04-01\n")
    report = bring(stand_file, [sheet], BringOptions(), NOW, said)
    frame = working_frame(stand_file.stand())
    assert frame is not None
    by_name = {stand_file.stand().by_key[s.to_key].name: s for s in stand_file.rows(Sight)}
    for name, day in (("C", datetime(2015, 6, 1, tzinfo=UTC)), ("D", NOW)):
        expected = declination(frame.lon0, frame.lat0, day.date()).deg
        assert by_name[name].declination_deg == pytest.approx(expected)
        assert by_name[name].north is North.MAGNETIC
    assert any("taken as of today (2026-03-28)" in told for told in said.told)
    whys = {s.where: s.why for s in report.sources[0].skipped}
    assert "magnetic north is not known for 2005-01-01" in whys["line 4"]
    assert "after today" in whys["line 5"]


def test_a_name_of_two_trees_is_settled_by_a_person(stand_file: StandFile, write: Write) -> None:
    bring(stand_file, [write("t.csv", TREES + "B,27.6,61.9003\n")], BringOptions(), NOW)
    sheet = write("s.csv", HEAD + "B,T1,0,,5,,,,,,\n")
    proposal = propose(stand_file, [sheet], BringOptions(), NOW)
    (item,) = proposal.items
    assert (item.fate, item.choices) == (Fate.REFUSED, (Verb.MERGE, Verb.IGNORE))
    assert "several trees or places have this name" in item.why
    other = stand_file.stand().named("B")[1]
    store(stand_file, proposal, {item.id: Decision(Verb.MERGE, other.key)}, NOW)
    frame = working_frame(stand_file.stand())
    assert frame is not None
    assert apart_m(frame, stand_file.stand().tree("T1").at, other.at) == pytest.approx(5.0, abs=0.01)


def test_a_new_far_end_can_be_merged_into_a_known_tree(stand_file: StandFile, write: Write) -> None:
    bring(stand_file, [write("t.csv", TREES)], BringOptions(), NOW)
    sheet = write("s.csv", HEAD + "A,Birch nine,90,,52.4,,,,2026-03-01,700,\n")
    proposal = propose(stand_file, [sheet], BringOptions(), NOW)
    store(stand_file, proposal, {proposal.items[0].id: Decision(Verb.MERGE, "B")}, NOW)
    found = stand_file.stand()
    assert {t.name for t in found.trees} == {"A", "B"}
    (sight,) = stand_file.rows(Sight)
    assert sight.to_key == found.tree("B").key
    assert [m.girth_mm for m in found.measurements_of[sight.to_key]] == [700.0]


def test_both_bearings_at_odds_are_named(stand_file: StandFile, write: Write) -> None:
    bring(stand_file, [write("t.csv", TREES)], BringOptions(), NOW)
    items = items_of(stand_file, write("s.csv", HEAD + "A,C,10,200,5,,,,,,\nA,D,10,10,5,,,,,,\n"))
    assert [(i.fate, i.default) for i in items.values()] == [
        (Fate.DOUBTFUL, Verb.ACCEPT),
        (Fate.DOUBTFUL, Verb.IGNORE),
    ]
    assert "10.0° off a straight line" in items["line 2"].why


def test_a_girth_list_may_speak_of_a_taped_tree(stand_file: StandFile, write: Write) -> None:
    girths = write("g.csv", "name,girth_mm,date\nT7,850,2026-03-02\n")
    files = [girths, write("s.csv", HEAD + LOOP.format(home=225)), write("t.csv", TREES)]
    bring(stand_file, files, BringOptions(), NOW)
    found = stand_file.stand()
    assert sorted(m.girth_mm or 0.0 for m in found.measurements_of[found.tree("T7").key]) == [842.0, 850.0]


def test_a_review_file_names_the_sights(stand_file: StandFile, write: Write, tmp_path: Path) -> None:
    from standmap.jobs.bring_review_file import review_json

    bring(stand_file, [write("t.csv", TREES)], BringOptions(), NOW)
    proposal = propose(stand_file, [write("s.csv", HEAD + "A,C,10,,5,,,,,,\n")], BringOptions(), NOW)
    (item,) = json.loads(json.dumps(review_json(proposal, tmp_path / "s.gpkg")))["items"]
    assert (item["kind"], item["fate"], item["name"], item["decision"]) == ("sight", "new", "A → C", "accept")


def test_a_doubtful_sight_to_a_new_point_says_what_tree_would_come_of_it(stand_file: StandFile, write: Write) -> None:
    bring(stand_file, [write("t.csv", TREES)], BringOptions(), NOW)
    sheet = write("s.csv", HEAD + "A,N,90,,20,,,,,,\nN,B,90,,72,,,,,,\n")  # B is 52.6 m from A, not 92
    before = stand_file.stand()
    first, second = items_of(stand_file, sheet).values()
    assert {first.default, second.default} == {Verb.IGNORE}
    assert (first.covariance is not None, second.covariance is not None) == (True, False)
    assert first.at is not None
    assert first.shape is not None
    assert second.shape is not None
    assert stand_file.stand() == before


def test_paces_need_a_length_that_may_be_stated(stand_file: StandFile, write: Write) -> None:
    bring(stand_file, [write("t.csv", TREES)], BringOptions(), NOW)
    sheet = write("s.csv", HEAD.replace("distance (m)", "distance (paces)") + "A,N,90,,20,,,,,,\n")
    with pytest.raises(NothingToBring, match="pace"):
        bring(stand_file, [sheet], BringOptions(), NOW)
    bring(stand_file, [sheet], BringOptions(pace_m=0.8), NOW)
    (sight,) = stand_file.rows(Sight)
    assert sight.distance_m == pytest.approx(16.0)
    assert sight.given_unit == "paces"
