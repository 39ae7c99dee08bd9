"""Looking through files before they are kept: what is proposed and decided, and that nothing else is written."""

from __future__ import annotations

import json
import tempfile
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from standmap.assets import sample_stand
from standmap.cli.main import run
from standmap.errors import UserError
from standmap.jobs import correct
from standmap.jobs.bring import BringOptions, BringReport, BroughtStop, bring
from standmap.jobs.bring_review_file import read_decided, review_json
from standmap.jobs.review import Decision, Fate, Item, Kind, Proposal, StandChangedError, Verb, propose, store
from standmap.jobs.rule_choice import choose_rules
from standmap.messages import Collected
from standmap.stand.tree import Tree
from standmap.stand.walks import Stop, StopState, Walk
from standmap.store.stand_file import StandFile
from tests.jobs.stand_rows import rows, walk_text

NOW = datetime(2026, 3, 28, 7, 30, tzinfo=UTC)
Write = Callable[[str, str], Path]
HEAD = "name,lon,lat,species,girth_mm,date\n"
B1 = "B1,27.6,61.9,Betula pendula,842,2024-09-14\n"
B2 = "B2,27.601,61.9,Betula pendula,600,2024-09-14\n"
FAR = "F1,30.0,61.9,,,\n"
CLOSE = "C1,27.600002,61.9,,,\n"
ACCEPT, IGNORE, SPLIT = Decision(Verb.ACCEPT), Decision(Verb.IGNORE), Decision(Verb.SPLIT)
FILES = ("ground.geojson", "trees.csv", "walk.gpx", "measurements.csv")


@pytest.fixture
def write(tmp_path: Path) -> Write:
    def to(name: str, text: str) -> Path:
        path = tmp_path / name
        path.write_text(text, encoding="utf-8")
        return path

    return to


def look(file: StandFile, *paths: Path) -> Proposal:
    return propose(file, paths, BringOptions(), NOW)


def merge(into: str) -> Decision:
    return Decision(Verb.MERGE, into)


def test_each_fate_is_told_with_its_reason_and_nothing_is_written(stand_file: StandFile, write: Write) -> None:
    bring(stand_file, [write("trees.csv", HEAD + B1)], BringOptions(), NOW)
    before = rows(stand_file.path)
    more = HEAD + B1.replace("842", "850") + B2 + FAR + CLOSE + "L1,27.602,61.9,,700,2062-01-01\nX,nan,61.9,,,\n"
    proposal = look(stand_file, write("more.csv", more), write("girths.csv", "name,girth_cm\nB2,70\nQ9,80\n"))
    told = {i.id: (i.kind, i.fate, i.tree_name, i.default) for i in proposal.items}
    assert told == {
        "1:line 2": (Kind.TREE, Fate.MATCHED, "B1", Verb.ACCEPT),
        "1:line 3": (Kind.TREE, Fate.NEW, "", Verb.ACCEPT),
        "1:line 4": (Kind.TREE, Fate.DOUBTFUL, "", Verb.IGNORE),
        "1:line 5": (Kind.TREE, Fate.DOUBTFUL, "", Verb.ACCEPT),
        "1:line 6": (Kind.TREE, Fate.REFUSED, "", Verb.IGNORE),
        "1:unread 1": (Kind.FEATURE, Fate.REFUSED, "", Verb.IGNORE),
        "2:line 2": (Kind.RECORDS, Fate.MATCHED, "B2", Verb.ACCEPT),
        "2:line 3": (Kind.RECORDS, Fate.REFUSED, "", Verb.IGNORE),
    }
    assert proposal.item("1:line 2").away_m == 0
    assert proposal.item("2:line 2").of == "1:line 3"
    whys = {i.id: i.why for i in proposal.items}
    assert "km from the stand's centre" in whys["1:line 4"]
    assert whys["1:line 5"] == "0.11 m from B1: same rootstock? or one tree twice?"
    assert "after today" in whys["1:line 6"]
    assert proposal.item("2:line 3").choices == (Verb.MERGE, Verb.IGNORE)
    assert proposal.counts == {Fate.NEW: 1, Fate.MATCHED: 2, Fate.DOUBTFUL: 2, Fate.REFUSED: 3}
    assert rows(stand_file.path) == before


def test_decisions_are_done_in_one_edit(stand_file: StandFile, write: Write) -> None:
    bring(stand_file, [write("trees.csv", HEAD + B1)], BringOptions(), NOW)
    before = rows(stand_file.path)
    more = HEAD + B1.replace("842", "850") + B2 + FAR + CLOSE + "D1,27.603,61.9,,711,2025-01-01\n"
    proposal = look(stand_file, write("more.csv", more), write("girths.csv", "name,girth_cm\nC1,70\nQ9,80\n"))
    report = store(
        stand_file,
        proposal,
        {
            "1:line 2": SPLIT,
            "1:line 3": IGNORE,
            "1:line 4": ACCEPT,
            "1:line 5": merge("B1"),
            "1:line 6": merge("1:line 5"),
            "2:line 3": merge("1:line 2"),
        },
        NOW,
    )
    stand = stand_file.stand()
    assert [t.name for t in stand.trees] == ["B1", "B1-2", "F1"]
    girths = {t.name: [m.girth_mm for m in stand.measurements_of.get(t.key, [])] for t in stand.trees}
    # C1 and D1 were B1 all along, so the list's C1 means B1; Q9 was the tree split from it.
    assert girths == {"B1": [700.0, 842.0, 711.0], "B1-2": [800.0, 850.0], "F1": []}
    assert stand.tree("B1").at == (27.6, 61.9)
    assert [(s.where, s.why) for s in report.sources[0].skipped] == [("line 3", "left out by choice")]
    assert [e.label for e in stand_file.history()] == ["bring in trees.csv", "bring in more.csv, girths.csv"]
    stand_file.undo(NOW)
    assert rows(stand_file.path) == before


def test_what_was_left_out_can_be_brought_later(stand_file: StandFile, write: Write) -> None:
    path = write("trees.csv", HEAD + B1 + B2)
    store(stand_file, look(stand_file, path), {"1:line 3": IGNORE}, NOW)
    again = look(stand_file, path)
    assert {i.id: i.fate for i in again.items} == {"1:line 2": Fate.MATCHED, "1:line 3": Fate.NEW}
    store(stand_file, again, {}, NOW)
    assert [t.name for t in stand_file.stand().trees] == ["B1", "B2"]


def test_stops_are_accepted_merged_split_and_ignored(stand_file: StandFile, write: Write) -> None:
    bring(stand_file, [write("trees.csv", HEAD + B1)], BringOptions(), NOW)
    proposal = look(stand_file, write("walk.gpx", walk_text(0, 30, 60, 90, 120)))
    walk, *stops = proposal.items
    assert (walk.kind, walk.fate) == (Kind.WALK, Fate.NEW)
    assert [(s.id, s.fate, s.name) for s in stops] == [
        (f"1:track 1, stop {n}", Fate.MATCHED if n == 1 else Fate.NEW, name)
        for n, name in enumerate(["B1", "P1", "P2", "P3", "P4"], start=1)
    ]
    first, second, third, fourth, _ = (s.id for s in stops)
    store(stand_file, proposal, {first: SPLIT, second: merge("B1"), third: IGNORE, fourth: merge(first)}, NOW)
    stand = stand_file.stand()
    # A name that was promised in the review is kept, and none of the promised ones is given to another.
    assert [t.name for t in stand.trees] == ["B1", "P5", "P4"]
    named = {t.key: t.name for t in stand.trees}
    kept = sorted(stand_file.rows(Stop), key=lambda s: s.from_at)
    assert [named.get(s.tree_key or "", "none") for s in kept] == ["P5", "B1", "none", "P5", "P4"]
    assert kept[2].state is StopState.IGNORED


def test_an_ignored_walk_takes_its_stops_with_it(stand_file: StandFile, write: Write) -> None:
    before = rows(stand_file.path)
    proposal = look(stand_file, write("walk.gpx", walk_text(0, 30)))
    report = store(stand_file, proposal, {"1:track 1": IGNORE}, NOW)
    assert rows(stand_file.path) == before
    assert stand_file.history() == ()
    assert report.sources[0].stops == ()


def test_a_stop_between_two_trees_is_doubtful(stand_file: StandFile, write: Write) -> None:
    pair = HEAD + "L,27.59998,61.9,,,\nR,27.60002,61.9,,,\n"  # about a metre to each side
    bring(stand_file, [write("trees.csv", pair)], BringOptions(), NOW)
    _, stop = look(stand_file, write("walk.gpx", walk_text(0))).items
    assert stop.fate is Fate.DOUBTFUL
    assert stop.why.startswith("it may be at")
    assert stop.choices == (Verb.ACCEPT, Verb.SPLIT, Verb.MERGE, Verb.IGNORE, Verb.WAIT)
    assert stop.default is Verb.WAIT


def test_what_belongs_to_an_item_goes_where_that_goes(stand_file: StandFile, write: Write) -> None:
    bring(stand_file, [write("known.csv", HEAD + B2)], BringOptions(), NOW)
    trees, girths = write("trees.csv", HEAD + B1), write("girths.csv", "name,girth_cm\nB1,70\n")
    before = rows(stand_file.path)

    def stored(decisions: dict[str, Decision]) -> dict[str, list[float | None]]:
        proposal = look(stand_file, trees, girths, write("walk.gpx", walk_text(0, 30)))
        assert [i.of for i in proposal.items if i.kind is Kind.STOP] == ["1:line 2", None]
        store(stand_file, proposal, decisions, NOW)
        stand, stops = stand_file.stand(), stand_file.rows(Stop)
        stand_file.undo(NOW)
        assert rows(stand_file.path) == before
        at = [stand.by_key[s.tree_key].name if s.tree_key else "" for s in stops]
        found = {t.name: [m.girth_mm for m in stand.measurements_of.get(t.key, [])] for t in stand.trees}
        return {**found, "stops at " + ", ".join(at): []}

    assert stored({}) == {"B2": [600], "B1": [700, 842], "P1": [], "stops at B1, P1": []}
    assert stored({"1:line 2": IGNORE}) == {"B2": [600], "P1": [], "stops at , P1": []}
    assert stored({"1:line 2": merge("B2")}) == {"B2": [700, 600, 842], "P1": [], "stops at P1, B2": []}
    split = {"1:line 2": IGNORE, "3:track 1, stop 1": SPLIT}
    assert stored(split) == {"B2": [600], "P2": [], "P1": [], "stops at P2, P1": []}
    onto_the_stop = {"1:line 2": merge("3:track 1, stop 1")}
    assert stored(onto_the_stop) == {"B2": [600], "P2": [700, 842], "P1": [], "stops at P2, P1": []}


def test_other_edits_meanwhile_do_not_matter_unless_something_comes_out_otherwise(
    stand_file: StandFile, write: Write
) -> None:
    bring(stand_file, [write("trees.csv", HEAD + B1)], BringOptions(), NOW)
    proposal = look(stand_file, write("more.csv", HEAD + B2))
    choose_rules(stand_file, NOW, None, {"return_after_years": 5})
    store(stand_file, proposal, {}, NOW)
    assert [t.name for t in stand_file.stand().trees] == ["B1", "B2"]

    late = look(stand_file, write("late.csv", HEAD + "B3,27.602,61.9,,,\n"))
    bring(stand_file, [write("same.csv", HEAD + "B3,27.602,61.9,Betula,,\n")], BringOptions(), NOW)
    before = rows(stand_file.path)
    with pytest.raises(StandChangedError, match="look through them again"):
        store(stand_file, late, {}, NOW)
    with pytest.raises(StandChangedError, match="whether it was brought in before"):
        store(stand_file, proposal, {}, NOW)
    assert rows(stand_file.path) == before


@pytest.mark.parametrize(
    ("decisions", "said"),
    [
        ({"9:line 1": IGNORE}, "there is no item '9:line 1'"),
        ({"1:line 2": SPLIT}, "1:line 2 is new: 'split' is not possible; possible: accept, merge, ignore"),
        ({"1:line 2": Decision(Verb.MERGE)}, "1:line 2: it is not said into which tree"),
        ({"1:line 2": merge("1:line 2")}, "cannot be merged into itself"),
        ({"1:line 2": merge("1:line 3"), "1:line 3": merge("1:line 2")}, "merged in a circle"),
        ({"1:line 2": merge("1:line 3"), "1:line 3": IGNORE}, "there is no tree '1:line 3'"),
        ({"1:line 2": merge("nobody")}, "there is no tree 'nobody'"),
    ],
)
def test_what_cannot_be_decided_is_said_and_nothing_written(
    stand_file: StandFile, write: Write, decisions: dict[str, Decision], said: str
) -> None:
    proposal = look(stand_file, write("trees.csv", HEAD + B1 + B2))
    with pytest.raises(UserError, match=said.replace("'", ".")):
        store(stand_file, proposal, decisions, NOW)
    assert stand_file.history() == ()


def test_a_single_doubtful_position_may_be_meant(stand_file: StandFile, write: Write) -> None:
    proposal = look(stand_file, write("zero.csv", HEAD + "Z,0,0,,,\n"))
    store(stand_file, proposal, {"1:line 2": ACCEPT}, NOW)
    assert stand_file.stand().tree("Z").at == (0, 0)


def test_the_review_as_a_file_is_decided_in_an_editor(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("STANDMAP_TODAY", "2026-03-28")
    (tmp_path / "trees.csv").write_text(HEAD + B1 + B2 + FAR)
    assert run(["new", "wood.gpkg"]) == 0
    assert run(["bring", "wood.gpkg", "trees.csv", "--review", "out.json"]) == 0
    assert "2 new, 0 matched, 1 doubtful, 0 refused" in capsys.readouterr().out
    held = json.loads((tmp_path / "out.json").read_text())
    told = ["stand", "crs", "anyway", "notes_zone_s", "clock_ahead_s", "day", "pace_m", "station"]
    assert list(held) == [*told, "sources", "items"]
    assert list(held["items"][0]) == [
        *("id", "kind", "fate", "why", "name", "file", "where", "lon", "lat"),
        *("tree", "away_m", "decision", "into", "possible", "candidates"),
    ]
    held["items"][0]["decision"] = "ignore"
    held["items"][2]["decision"] = "merge"
    held["items"][2]["into"] = "1:line 3"
    (tmp_path / "out.json").write_text(json.dumps(held))
    assert run(["bring", "wood.gpkg", "--decide", "out.json"]) == 0
    with StandFile.open(tmp_path / "wood.gpkg") as file:
        assert [t.name for t in file.stand().trees] == ["B2"]
    # By now the stand is another, so the same review no longer holds.
    assert run(["bring", "wood.gpkg", "--decide", "out.json"]) == 2
    assert "1:line 3 was new when the review was written and is matched by now" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ("not json", "is not JSON"),
        ('{"items": []}', "is no review"),
        ('{"sources": [], "items": [{"id": "1:line 2", "fate": "new", "decision": "eat"}]}', "'eat' is no decision"),
        ('{"sources": [{"file": "trees.csv", "sha256": "0"}], "items": []}', "trees.csv: has changed since"),
    ],
)
def test_a_spoilt_review_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, change: str, said: str, write: Write
) -> None:
    monkeypatch.chdir(tmp_path)
    write("trees.csv", HEAD + B1)
    with pytest.raises(UserError, match=said):
        read_decided(write("out.json", change))


def test_files_and_ways_that_do_not_go_together_are_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "trees.csv").write_text(HEAD + B1)
    run(["new", "wood.gpkg"])
    assert run(["bring", "wood.gpkg"]) == 2
    assert run(["bring", "wood.gpkg", "trees.csv", "--decide", "out.json"]) == 2
    (tmp_path / "out.json").write_text("mine")
    assert run(["bring", "wood.gpkg", "trees.csv", "--review", "out.json"]) == 2
    assert (tmp_path / "out.json").read_text() == "mine"
    said = capsys.readouterr().err.splitlines()
    assert [line.split(";")[0].removeprefix("standmap: ") for line in said[-3:]] == [
        "no file is named",
        "--decide takes its files and options from the review",
        "out.json: the file is there already",
    ]


def test_the_sample_wood_comes_out_as_by_plain_bringing(tmp_path: Path) -> None:
    paths = [sample_stand("alder-brook", name) for name in FILES]
    with StandFile.create(tmp_path / "a.gpkg") as plain, StandFile.create(tmp_path / "b.gpkg") as looked:
        report = bring(plain, paths, BringOptions(), NOW)
        proposal = propose(looked, paths, BringOptions(), NOW)
        assert len({i.id for i in proposal.items}) == len(proposal.items)
        mine = store(looked, proposal, {}, NOW)
        assert mine == report
        assert bare(plain) == bare(looked)
        json.dumps(review_json(proposal, looked.path), allow_nan=False)


def bare(file: StandFile) -> list[object]:
    """Return all trees, stops and records of a stand with names in place of keys."""
    stand = file.stand()
    named = {t.key: t.name for t in stand.trees}
    return [
        [(t.name, t.at, t.species, t.proposed, t.var_e_m2) for t in stand.trees],
        [(named[m.tree_key], m.girth_mm, m.measured_on) for m in stand.measurements],
        [(named[s.tree_key or ""], s.at, s.from_at) for s in file.rows(Stop)],
        [(p.name, p.kind, p.at) for p in stand.places],
        [(line.name, line.course) for line in stand.lines],
        [(a.name, a.outline, a.owner) for a in stand.areas],
        [len(w.fixes) for w in file.rows(Walk)],
        stand.settings,
    ]


def _decision(draw: st.DrawFn, item: Item, proposal: Proposal) -> Decision:
    verb = draw(st.sampled_from(item.choices))
    targets = ["B1", *(i.id for i in proposal.items if i.kind in (Kind.TREE, Kind.STOP))]
    return Decision(verb, draw(st.sampled_from(targets)) if verb is Verb.MERGE else None)


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.data())
def test_any_decisions_store_consistently_and_undo_gives_the_rows_back(data: st.DataObject) -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        known, trees, girths, walk = (folder / n for n in ("known.csv", "trees.csv", "girths.csv", "walk.gpx"))
        known.write_text(HEAD + B1 + B2)
        trees.write_text(
            HEAD + B1.replace("842", "850") + CLOSE + FAR + "D1,27.603,61.9,,711,2025-01-01\n,27.604,61.9,,,\n"
        )
        girths.write_text("name,girth_cm\nB2,70\nD1,80\nQ9,90\n")
        walk.write_text(walk_text(0, 30, 60, 30, 157.2))
        with StandFile.create(folder / "wood.gpkg") as file:
            bring(file, [known], BringOptions(), NOW)
            correct.confirm_tag(file, ["B1"], NOW)
            before, steps = rows(file.path), len(file.history())
            proposal = propose(file, [trees, girths, walk], BringOptions(), NOW)
            open_items = [i for i in proposal.items if i.choices]
            chosen = data.draw(st.lists(st.sampled_from(open_items), unique_by=lambda i: i.id))
            draw = data.draw(st.composite(lambda d: {i.id: _decision(d, i, proposal) for i in chosen})())
            try:
                report = store(file, proposal, draw, NOW)
            except UserError:  # a merge into what is left out, or in a circle
                assert any(d.verb is Verb.MERGE for d in draw.values())
                assert (rows(file.path), len(file.history())) == (before, steps)
                return
            stand = file.stand()
            fresh = [t for t in stand.trees if t.name not in ("B1", "B2")]
            assert len({t.name for t in stand.trees}) == len(stand.trees)
            assert all(s.tree_key is not None or s.state is not StopState.ACCEPTED for s in file.rows(Stop))
            assert all(m.tree_key in stand.by_key for m in stand.measurements)
            told = sum(s.added for s in report.sources) + len({s.tree for s in fresh_stops(report, fresh)})
            assert told == len(fresh) + len(file.rows(Walk))
            assert len(file.history()) <= steps + 1
            if len(file.history()) > steps:
                file.undo(NOW)
            assert rows(file.path) == before


def fresh_stops(report: BringReport, fresh: list[Tree]) -> list[BroughtStop]:
    names = {t.name for t in fresh if t.proposed}
    return [p for s in report.sources for p in s.stops if p.tree in names]


def test_ignoring_everything_leaves_the_rows(stand_file: StandFile, write: Write) -> None:
    bring(stand_file, [write("known.csv", HEAD + B1)], BringOptions(), NOW)
    before = rows(stand_file.path)
    paths = [sample_stand("alder-brook", name) for name in FILES]
    proposal = propose(stand_file, [write("trees.csv", HEAD + B1 + B2), *paths], BringOptions(), NOW)
    store(stand_file, proposal, {i.id: IGNORE for i in proposal.items if Verb.IGNORE in i.choices}, NOW)
    assert rows(stand_file.path) == before
    assert len(stand_file.history()) == 1


def test_a_known_name_far_from_the_known_tree_is_doubtful_and_comes_in_by_default(
    stand_file: StandFile, write: Write
) -> None:
    bring(stand_file, [write("known.csv", HEAD + B1)], BringOptions(), NOW)
    more = write("more.csv", HEAD + B1.replace("61.9,", "61.901,") + "Way,27.603,61.9,,,\nWay,27.604,61.9,,,\n")
    proposal = look(stand_file, more)
    first, *others = proposal.items
    assert (first.fate, first.default) == (Fate.DOUBTFUL, Verb.ACCEPT)
    assert first.why == "another tree is called B1, 111 m away"
    assert first.choices == (Verb.ACCEPT, Verb.MERGE, Verb.IGNORE)
    # Waypoints of one file often share a name: nobody is asked about each of them.
    assert [i.fate for i in others] == [Fate.NEW, Fate.NEW]
    known = stand_file.stand().tree("B1").key
    store(stand_file, proposal, {first.id: merge(known)}, NOW)
    assert [t.name for t in stand_file.stand().trees] == ["B1", "Way", "Way"]


def test_bring_takes_a_known_name_far_from_the_known_tree_and_says_so(stand_file: StandFile, write: Write) -> None:
    bring(stand_file, [write("known.csv", HEAD + B1)], BringOptions(), NOW)
    heard = Collected()
    bring(stand_file, [write("more.csv", HEAD + B1.replace("61.9,", "61.901,"))], BringOptions(), NOW, heard)
    assert [t.name for t in stand_file.stand().trees] == ["B1", "B1"]
    assert any("two trees are called B1" in text for text in heard.cautions)
