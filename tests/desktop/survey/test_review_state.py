"""What a review says will happen is what happens when it is stored."""

from __future__ import annotations

import tempfile
from datetime import UTC, datetime
from pathlib import Path

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from standmap.assets import sample_stand
from standmap.desktop.pages.survey.review_state import Review, Will
from standmap.errors import UserError
from standmap.jobs.bring import BringOptions, bring
from standmap.jobs.review import Decision, Fate, Kind, Verb, propose, store
from standmap.store.stand_file import StandFile
from tests.jobs.stand_rows import walk_text

NOW = datetime(2026, 3, 28, 7, 30, tzinfo=UTC)
HEAD = "name,lon,lat,species,girth_mm,date\n"


@settings(max_examples=35, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.data())
def test_as_many_trees_are_stored_as_the_button_says(data: st.DataObject) -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        known, trees, girths, walk = (folder / n for n in ("known.csv", "trees.csv", "girths.csv", "walk.gpx"))
        known.write_text(HEAD + "B1,27.6,61.9,,842,2024-09-14\n")
        rows = "B1,27.6,61.9,,850,2025-09-14\nC1,27.600573,61.9,,,\nF1,30.0,61.9,,,\nD1,27.603,61.9,,,\n"
        trees.write_text(HEAD + rows)
        girths.write_text("name,girth_cm\nC1,70\nD1,80\nQ9,90\n")
        walk.write_text(walk_text(0, 30, 60, 30, 60))
        with StandFile.create(folder / "wood.gpkg") as file:
            bring(file, [known], BringOptions(), NOW)
            proposal = propose(file, [trees, girths, walk], BringOptions(), NOW)
            review = Review(proposal, proposal.basis.known.frame)
            targets = ["B1", *(i.id for i in review.items if i.kind in (Kind.TREE, Kind.STOP))]
            for item in data.draw(st.lists(st.sampled_from([i for i in review.items if i.choices]), max_size=8)):
                verb = data.draw(st.sampled_from(item.choices))
                into = None
                if verb is Verb.MERGE:
                    ref = data.draw(st.sampled_from(targets))
                    into = proposal.basis.known.stand.tree("B1").key if ref == "B1" else ref
                review.decide([item.id], Decision(verb, into))
            before = len(file.stand().trees)
            try:
                store(file, proposal, review.decisions, NOW)
            except UserError:
                assert any(d.verb is Verb.MERGE for d in review.decisions.values())
                return
            assert len(file.stand().trees) - before == review.new_trees
            for item in review.items:
                assert (review.target(item) is not None) == (review.will(item) is Will.JOINS)


def test_the_nearest_trees_are_offered_and_any_can_be_named(tmp_path: Path) -> None:
    with StandFile.create(tmp_path / "wood.gpkg") as file:
        bring(file, [sample_stand("alder-brook", "trees.csv")], BringOptions(), NOW)
        proposal = propose(file, [sample_stand("alder-brook", "walk.gpx")], BringOptions(), NOW)
    review = Review(proposal, proposal.basis.known.frame)
    stop = next(i for i in review.items if i.kind is Kind.STOP)
    near = review.neighbours(stop)
    assert len(near) == 3
    assert sorted(t.away_m for t in near) == [t.away_m for t in near]
    assert stop.id not in [t.ref for t in near]
    assert [t.name for t in review.called(stop, "b07")] == ["B07"]
    assert review.called(stop, "nobody") == []
    row = review.item_at(
        (float(review.xy[review.row_of[stop.id], 0]) + 0.5, float(review.xy[review.row_of[stop.id], 1])), 1
    )
    assert row == review.row_of[stop.id]


def test_what_asks_for_a_look_comes_first_and_is_gone_through_in_a_circle(tmp_path: Path) -> None:
    path = tmp_path / "trees.csv"
    path.write_text(
        HEAD + "A,27.6,61.9,,,\nB,27.600002,61.9,,,\nC,27.61,61.9,,,\nD,27.7,61.9,,,2030-01-01\nE,99,61.9,,,\n"
    )
    with StandFile.create(tmp_path / "wood.gpkg") as file:
        proposal = propose(file, [path], BringOptions(), NOW)
    review = Review(proposal, proposal.basis.known.frame)
    shown = [review.items[row].name for row in review.shown(())]
    assert shown[:3] == ["A", "B", "E"]
    assert [review.items[row].name for row in review.shown([Fate.NEW])] == ["C", "D"]
    first = next(review.to_look_at(None))
    assert [review.items[row].name for row in review.to_look_at(first)] == ["B", "E", "A"]
