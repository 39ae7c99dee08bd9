"""A walk to trees that are known: which tree each stop was at, what is asked, and what is kept of what was before."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import pytest

from standmap.jobs.adjust import propose_adjustment, store_adjustment
from standmap.jobs.bring import BringOptions, bring
from standmap.jobs.bring_review_file import review_json
from standmap.jobs.review import Decision, Fate, Item, Kind, Verb, propose, store
from standmap.jobs.rule_choice import rules_of
from standmap.jobs.tag_checks import tags_to_check
from standmap.messages import Collected
from standmap.rules.columns import columns, verdict_columns
from standmap.rules.verdicts import Verdict, judge_all, judge_tree
from standmap.stand.sights import Origin, TakenPosition
from standmap.stand.walks import Stop, StopState
from standmap.store.stand_file import StandFile
from tests.jobs.stand_rows import rows, walk_text

NOW = datetime(2026, 3, 28, 7, 30, tzinfo=UTC)
DEGREE_M = 52_400.0
Write = Callable[[str, str], Path]


@pytest.fixture
def write(tmp_path: Path) -> Write:
    def written(name: str, text: str) -> Path:
        path = tmp_path / name
        path.write_text(text, encoding="utf-8")
        return path

    return written


def trees_at(*east_m: float, letter: str = "B") -> str:
    """Return a table of trees so many metres east of where walks begin."""
    lines = [f"{letter}{n},{27.6 + at / DEGREE_M:.8f},61.9" for n, at in enumerate(east_m, 1)]
    return "\n".join(["name,lon,lat", *lines]) + "\n"


def asked(file: StandFile, path: Path) -> list[Item]:
    return [i for i in propose(file, [path], BringOptions(), NOW).items if i.kind is Kind.STOP]


def test_a_tree_that_was_given_keeps_that_position_when_a_walk_stops_at_it(stand_file: StandFile, write: Write) -> None:
    bring(stand_file, [write("trees.csv", trees_at(1, 41))], BringOptions(), NOW)
    given, before = stand_file.stand().trees, rows(stand_file.path)
    bring(stand_file, [write("walk.gpx", walk_text(0, 40, 80))], BringOptions(), NOW)
    stand = stand_file.stand()
    assert [t.name for t in stand.trees] == ["B1", "B2", "P1"]
    assert [t.at for t in stand.trees[:2]] == [t.at for t in given]
    kept = stand_file.rows(TakenPosition)
    assert {(t.tree_key, t.at, t.origin) for t in kept} == {(t.key, t.at, Origin.GIVEN) for t in given}
    stand_file.undo(NOW)
    assert rows(stand_file.path) == before


def test_what_was_given_and_two_walks_count_together_in_adjusting(stand_file: StandFile, write: Write) -> None:
    bring(stand_file, [write("trees.csv", trees_at(0, 40, 80))], BringOptions(), NOW)
    for name, off in (("one.gpx", 1.2), ("two.gpx", -0.8)):
        bring(stand_file, [write(name, walk_text(off, 40 + off, 80 + off))], BringOptions(), NOW)
    assert len(stand_file.rows(TakenPosition)) == 3  # what was given is kept once
    assert len({(s.walk_key, s.tree_key) for s in stand_file.rows(Stop) if s.tree_key}) == 6
    store_adjustment(stand_file, propose_adjustment(stand_file), NOW)
    for tree, east in zip(stand_file.stand().trees, (0, 40, 80), strict=True):
        assert abs((tree.at[0] - 27.6) * DEGREE_M - east) < 0.8
        assert tree.sigma_m is not None
        assert tree.sigma_m < 3.0


def test_trees_that_a_walk_suggested_rest_on_their_stops_alone(stand_file: StandFile, write: Write) -> None:
    bring(stand_file, [write("one.gpx", walk_text(0, 40))], BringOptions(), NOW)
    bring(stand_file, [write("two.gpx", walk_text(0.4, 40.3))], BringOptions(), NOW)
    assert [t.name for t in stand_file.stand().trees] == ["P1", "P2"]
    assert stand_file.rows(TakenPosition) == ()
    assert len(stand_file.rows(Stop)) == 4


def test_by_how_much_a_walk_lies_off_is_told(stand_file: StandFile, write: Write) -> None:
    east = tuple(30.0 * n for n in range(8))
    bring(stand_file, [write("trees.csv", trees_at(*east))], BringOptions(), NOW)
    said = Collected()
    bring(stand_file, [write("walk.gpx", walk_text(*(at + 2.5 for at in east)))], BringOptions(), NOW, said)
    (told,) = (text for text in said.told if "known trees: allowed for" in text)
    assert " m east" in told
    assert len(stand_file.stand().trees) == 8
    said = Collected()
    bring(stand_file, [write("again.gpx", walk_text(*(at + 0.01 for at in east)))], BringOptions(), NOW, said)
    assert not any("allowed for" in text for text in said.told)


def test_a_doubtful_stop_names_its_candidates_and_waits(stand_file: StandFile, write: Write) -> None:
    bring(stand_file, [write("trees.csv", trees_at(-1, 1.2))], BringOptions(), NOW)
    walk = write("walk.gpx", walk_text(0, 40))
    stop, new = asked(stand_file, walk)
    assert (stop.fate, stop.default, new.fate, new.candidates) == (Fate.DOUBTFUL, Verb.WAIT, Fate.NEW, ())
    keys = {t.name: t.key for t in stand_file.stand().trees}
    assert {c.ref for c in stop.candidates} >= set(keys.values())
    assert [c.chance for c in stop.candidates] == sorted((c.chance for c in stop.candidates), reverse=True)
    assert sum(c.chance for c in stop.candidates) <= 1 + 1e-6
    away = {c.name: c.away_m for c in stop.candidates}
    assert 0 < (away["B1"] or 0) < 2
    report = bring(stand_file, [walk], BringOptions(), NOW)
    assert any("may be at" in s.why and "--review" in s.why for s in report.sources[0].skipped)
    kept = min(stand_file.rows(Stop), key=lambda s: s.from_at)
    assert (kept.tree_key, kept.state) == (None, StopState.PROPOSED)


def test_a_candidate_is_chosen_in_the_review(stand_file: StandFile, write: Write) -> None:
    bring(stand_file, [write("trees.csv", trees_at(-1, 1.2))], BringOptions(), NOW)
    walk = write("walk.gpx", walk_text(0, 40))
    proposal = propose(stand_file, [walk], BringOptions(), NOW)
    stop = next(i for i in proposal.items if i.candidates)
    held = json.loads(json.dumps(review_json(proposal, stand_file.path)))
    told = next(i["candidates"] for i in held["items"] if i["id"] == stop.id)
    assert {"B1", "B2"} <= {c["name"] for c in told}
    b2 = stand_file.stand().tree("B2").key
    store(stand_file, proposal, {stop.id: Decision(Verb.MERGE, b2)}, NOW)
    assert min(stand_file.rows(Stop), key=lambda s: s.from_at).tree_key == b2


def test_a_stop_left_out_is_told_from_one_that_waits(stand_file: StandFile, write: Write) -> None:
    bring(stand_file, [write("trees.csv", trees_at(-1, 1.2))], BringOptions(), NOW)
    walk = write("walk.gpx", walk_text(0, 40))
    report = bring(stand_file, [walk], BringOptions(), NOW).sources[0]
    assert (len(report.waiting), report.ignored) == (1, 0)
    assert {c.tree for c in report.waiting[0].candidates} == {"B1", "B2"}
    assert stand_file.history()[-1].label == "bring in walk.gpx; stops that wait: 1"
    proposal = propose(stand_file, [walk], BringOptions(), NOW)
    (stop,) = (i for i in proposal.items if i.kind is Kind.STOP)
    report = store(stand_file, proposal, {stop.id: Decision(Verb.IGNORE)}, NOW).sources[0]
    assert (report.waiting, report.ignored) == ((), 1)
    assert stand_file.history()[-1].label == "bring in walk.gpx; stops left out: 1"
    assert {s.state for s in stand_file.rows(Stop) if s.tree_key is None} == {StopState.IGNORED}
    assert [i for i in propose(stand_file, [walk], BringOptions(), NOW).items if i.kind is Kind.STOP] == []


def test_tags_are_checked_where_a_stop_waits(stand_file: StandFile, write: Write) -> None:
    bring(stand_file, [write("trees.csv", trees_at(-1, 1.2, 300))], BringOptions(), NOW)
    stand_file.stand()
    ripe = "name,girth_cm,species\n" + "".join(f"B{n},120,Betula pendula\n" for n in (1, 2, 3))
    bring(stand_file, [write("girths.csv", ripe)], BringOptions(), NOW)
    rules = rules_of(stand_file.stand())
    walk = write("walk.gpx", walk_text(0, 40))
    bring(stand_file, [walk], BringOptions(), NOW)

    def asked_at() -> tuple[set[str], set[str], list[str]]:
        stand = stand_file.stand()
        judged = judge_all(stand, 2026, rules)
        ready = {t.name for t, j in zip(stand.present, judged, strict=True) if j.verdict is Verdict.READY}
        assert ready >= {"B1", "B2", "B3"}
        alone = [judge_tree(stand, tree, 2026, rules) for tree in stand.present]
        names = [
            {
                t.name
                for t, j in zip(stand.present, some, strict=True)
                if any("stop of 2026-03-20" in c for c in j.cautions)
            }
            for some in (judged, alone)
        ]
        codes, _ = verdict_columns(columns(stand), 2026, rules)
        return names[0], names[1], [stand.present[row].name for row in tags_to_check(stand, 2026, codes, rules)]

    assert asked_at() == ({"B1", "B2"}, {"B1", "B2"}, ["B1", "B2"])
    proposal = propose(stand_file, [walk], BringOptions(), NOW)
    (stop,) = (i for i in proposal.items if i.kind is Kind.STOP)
    store(stand_file, proposal, {stop.id: Decision(Verb.ACCEPT)}, NOW)
    assert asked_at() == (set(), set(), [])


def test_the_shift_of_a_walk_stands_in_its_review(stand_file: StandFile, write: Write) -> None:
    east = tuple(30.0 * n for n in range(8))
    bring(stand_file, [write("trees.csv", trees_at(*east))], BringOptions(), NOW)
    proposal = propose(stand_file, [write("walk.gpx", walk_text(*(at + 2.5 for at in east)))], BringOptions(), NOW)
    walk = proposal.items[0]
    assert (walk.kind, walk.fate) == (Kind.WALK, Fate.NEW)
    assert walk.why.startswith("it lies ")
    assert " m east" in walk.why
    (off,) = proposal.report.sources[0].walks
    assert off.off_east_m == pytest.approx(2.5, abs=1.0)
    assert abs(off.off_north_m) < 0.5


def test_a_walk_that_comes_back_to_a_tree_makes_no_second_one(stand_file: StandFile, write: Write) -> None:
    bring(stand_file, [write("trees.csv", trees_at(0, 60, 120))], BringOptions(), NOW)
    back = write("walk.gpx", walk_text(0, 60, 120, 60))
    report = bring(stand_file, [back], BringOptions(), NOW)
    assert [t.name for t in stand_file.stand().trees] == ["B1", "B2", "B3"]
    names = [s.tree for s in report.sources[0].stops]
    assert names == [n for n in ("B1", "B2", "B3", "B2") if n in names]


def test_a_stop_that_waits_is_asked_again_and_decided_later(stand_file: StandFile, write: Write) -> None:
    bring(stand_file, [write("trees.csv", trees_at(-1, 1.2))], BringOptions(), NOW)
    walk = write("walk.gpx", walk_text(0, 40))
    bring(stand_file, [walk], BringOptions(), NOW)
    before = rows(stand_file.path)
    proposal = propose(stand_file, [walk], BringOptions(), NOW)
    track, stop = proposal.items  # the stop that found its tree is not asked about again
    assert (track.kind, stop.fate, len(stop.candidates)) == (Kind.WALK, Fate.DOUBTFUL, 3)
    store(stand_file, proposal, {}, NOW)
    assert rows(stand_file.path) == before
    b1 = stand_file.stand().tree("B1").key
    store(stand_file, proposal, {stop.id: Decision(Verb.MERGE, b1)}, NOW)
    assert len(stand_file.rows(Stop)) == 2
    assert min(stand_file.rows(Stop), key=lambda s: s.from_at).tree_key == b1
    assert {t.tree_key for t in stand_file.rows(TakenPosition)} == {b1}
    assert [i.kind for i in propose(stand_file, [walk], BringOptions(), NOW).items] == []
    stand_file.undo(NOW)
    assert rows(stand_file.path) == before


def test_a_stop_that_waited_may_become_a_tree_of_its_own(stand_file: StandFile, write: Write) -> None:
    bring(stand_file, [write("trees.csv", trees_at(-1, 1.2))], BringOptions(), NOW)
    walk = write("walk.gpx", walk_text(0, 40))
    bring(stand_file, [walk], BringOptions(), NOW)
    proposal = propose(stand_file, [walk], BringOptions(), NOW)
    (stop,) = (i for i in proposal.items if i.kind is Kind.STOP)
    store(stand_file, proposal, {stop.id: Decision(Verb.SPLIT)}, NOW)
    names = {t.key: t.name for t in stand_file.stand().trees}
    assert sorted(names.values()) == ["B1", "B2", "P1", "P2"]
    assert [names[s.tree_key or ""] for s in sorted(stand_file.rows(Stop), key=lambda s: s.from_at)] == ["P2", "P1"]


def test_a_stop_that_speaks_against_a_pinned_tree_is_asked_and_nothing_moves(
    stand_file: StandFile, write: Write
) -> None:
    bring(stand_file, [write("trees.csv", trees_at(0, 40, 80, 120, 160))], BringOptions(), NOW)
    pinned = [stand_file.stand().tree(name) for name in ("B2", "B3")]
    with stand_file.writing("pin", NOW) as writing:
        for tree in pinned:
            writing.change(tree, pinned=True, var_e_m2=0.01, var_n_m2=0.01, cov_en_m2=0.0)
    before = stand_file.stand().trees
    walk = write("walk.gpx", walk_text(0, 40, 83.5, 120, 160))
    found = {i.tree_name: i for i in asked(stand_file, walk)}
    assert (found["B2"].fate, found["B2"].why) == (Fate.MATCHED, "")
    assert (found["B3"].fate, found["B3"].default) == (Fate.DOUBTFUL, Verb.ACCEPT)
    assert "B3 is pinned" in found["B3"].why
    bring(stand_file, [walk], BringOptions(), NOW)
    assert stand_file.stand().trees == before
