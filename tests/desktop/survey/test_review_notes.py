"""Notes and pictures in the review: told in words, decided like the rest, and stored as the button says."""

from __future__ import annotations

import tempfile
from datetime import UTC, datetime
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from standmap.desktop.pages.survey.review_state import Review, Will
from standmap.desktop.pages.survey.review_words import kind_word, outcome_words, spoken, where_words
from standmap.errors import UserError
from standmap.jobs.bring import BringOptions
from standmap.jobs.review import Decision, Kind, Proposal, Verb, propose, store
from standmap.stand.records import Media
from standmap.store.stand_file import StandFile
from standmap.units_shown import UnitsShown
from tests.jobs.stand_rows import walk_text
from tests.photo_files import photo

NOW = datetime(2026, 3, 28, 7, 30, tzinfo=UTC)


def proposed(file: StandFile, folder: Path) -> Proposal:
    """Look through a walk of three stops, two notes, a picture in a stop, and one between two."""
    walk, notes = folder / "walk.gpx", folder / "notes.csv"
    point = '<wpt lat="61.9" lon="27.601107"><time>2026-03-20T05:03:30Z</time><name>W3</name></wpt>'
    walk.write_text(walk_text(0, 25, 58).replace("<trk>", f"{point}<trk>"))
    notes.write_text("time,name,girth_mm\n2026-03-20T05:00:20Z,B1,842\n2026-03-20T05:01:50Z,B2,790\n")
    within = photo(folder / "in.jpg", taken="2026:03:20 07:01:45", offset="+02:00")
    between = photo(folder / "between.jpg", taken="2026:03:20 07:01:14", offset="+02:00", colour="red")
    return propose(file, [notes, walk, within, between], BringOptions(), NOW)


@pytest.mark.usefixtures("qapp")
def test_each_is_told_in_words(stand_file: StandFile, tmp_path: Path) -> None:
    proposal = proposed(stand_file, tmp_path)
    review = Review(proposal, proposal.basis.known.frame)
    units = UnitsShown()
    told = {
        (kind_word(i.kind), i.name): outcome_words(review, i, units)
        for i in review.items
        if i.kind in (Kind.NOTE, Kind.PHOTO)
    }
    assert told == {
        ("note", "B1"): "of B1",
        ("note", "B2"): "of B2",
        ("note", "W3"): "of W3",
        ("picture", "in.jpg"): "of B2",
        ("picture", "between.jpg"): "left out",
    }
    assert review.new_trees == 3
    lone = next(i for i in review.items if i.name == "between.jpg")
    assert where_words(lone) == "picture"
    assert "after the stop at B1" in spoken(review, lone, units)
    nearest = review.neighbours(lone)[0]
    assert nearest.name == "B1"
    review.decide([lone.id], Decision(Verb.MERGE, nearest.ref))
    assert outcome_words(review, lone, units) == "goes to B1"
    store(stand_file, proposal, review.decisions, NOW)
    trees = stand_file.stand()
    assert sorted(trees.by_key[str(m.tree_key)].name for m in stand_file.rows(Media)) == ["B1", "B2"]


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.data())
def test_as_many_trees_are_stored_as_the_button_says(data: st.DataObject) -> None:
    with tempfile.TemporaryDirectory() as name, StandFile.create(Path(name) / "wood.gpkg") as file:
        proposal = proposed(file, Path(name))
        review = Review(proposal, proposal.basis.known.frame)
        stops = [i.id for i in review.items if i.kind is Kind.STOP]
        for item in data.draw(st.lists(st.sampled_from([i for i in review.items if i.choices]), max_size=6)):
            verb = data.draw(st.sampled_from(item.choices))
            review.decide([item.id], Decision(verb, data.draw(st.sampled_from(stops)) if verb is Verb.MERGE else None))
        try:
            store(file, proposal, review.decisions, NOW)
        except UserError:
            assert any(d.verb is Verb.MERGE for d in review.decisions.values())
            return
        stand = file.stand()
        assert len(stand.trees) == review.new_trees
        assert len({t.name for t in stand.trees}) == len(stand.trees)
        assert all(m.tree_key in stand.by_key for m in file.rows(Media))
        kept = sum(i.kind is Kind.PHOTO and review.will(i) is not Will.LEFT for i in review.items)
        assert len(file.rows(Media)) == kept
