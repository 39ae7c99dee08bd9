"""Trees and measures put down by hand: pinned, checked, one edit each."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest

from standmap.errors import NothingToDo, UserError
from standmap.formats.quantities import Thickness
from standmap.jobs.measure import measure
from standmap.jobs.opening import working_frame
from standmap.jobs.tree_history import history_of
from standmap.jobs.trees_by_hand import DoubtfulPositionError, TypedGirth, add_tree, move_tree
from standmap.messages import Collected
from standmap.store.stand_file import StandFile

NOW = datetime(2026, 3, 28, 7, 30, tzinfo=UTC)
TODAY = date(2026, 3, 28)
HERE = (27.6, 61.9)
BESIDE = (27.601, 61.9)


def test_the_first_tree_of_a_stand_fixes_its_frame(stand_file: StandFile) -> None:
    made = add_tree(
        stand_file, " Old  one ", HERE, TODAY, NOW, species="Betula pendula", girth=TypedGirth("71,8", "cm", TODAY)
    )
    stand = stand_file.stand()
    assert stand.trees == (made,)
    assert (made.name, made.at, made.pinned, made.proposed) == ("Old one", HERE, True, False)
    (row,) = stand.measurements
    assert (row.girth_mm, row.diameter_mm, row.given, row.given_unit) == (718.0, None, "71,8", "cm")
    frame = working_frame(stand)
    assert frame is not None
    add_tree(stand_file, None, BESIDE, TODAY, NOW)
    assert working_frame(stand_file.stand()) == frame
    assert [e.label for e in stand_file.history()] == ["add Old one", "add T1"]
    stand_file.undo(NOW)
    stand_file.undo(NOW)
    assert stand_file.stand().trees == ()
    assert "working_frame" not in stand_file.settings()


@pytest.mark.parametrize(
    ("name", "why"),
    [
        ("", "cannot be a name"),
        ("x" * 10_000, "a name of 10000 characters is too long; use 1 to 120"),
        ("a\x07b", "cannot be a name"),
        ("b\u0131rch\u202e", "cannot be a name"),
        ("B1", "another tree is called 'B1'"),
        (" b1 ", "another tree is called 'b1'"),
    ],
)
def test_names_that_cannot_be(stand_file: StandFile, name: str, why: str) -> None:
    add_tree(stand_file, "B1", HERE, TODAY, NOW)
    with pytest.raises(UserError, match=why):
        add_tree(stand_file, name, BESIDE, TODAY, NOW)
    assert len(stand_file.stand().trees) == 1


@pytest.mark.parametrize("name", ["🌳 7", "שלום", "Ø-å", "x" * 120])
def test_names_in_any_script(stand_file: StandFile, name: str) -> None:
    assert add_tree(stand_file, name, HERE, TODAY, NOW).name == name


@pytest.mark.parametrize(
    ("text", "unit", "on", "why"),
    [
        ("0", "mm", TODAY, "a girth of 0 mm"),
        ("9", "m", TODAY, "a girth of 9000 mm"),
        ("-3", "cm", TODAY, "must lie within 50 mm and 6 m"),
        ("thick", "cm", TODAY, "'thick' is not a number"),
        ("80", "parsec", TODAY, "'parsec' is no unit of length"),
        ("80", "cm", date(2026, 3, 29), "2026-03-29 is after today"),
        ("80", "cm", date(26, 3, 29), "is the year right"),
    ],
)
def test_girths_that_cannot_be(stand_file: StandFile, text: str, unit: str, on: date, why: str) -> None:
    with pytest.raises(UserError, match=why):
        add_tree(stand_file, "B1", HERE, TODAY, NOW, girth=TypedGirth(text, unit, on))
    add_tree(stand_file, "B1", HERE, TODAY, NOW)
    with pytest.raises(UserError, match=why):
        measure(stand_file, "B1", Thickness.GIRTH, text, unit, on, TODAY, NOW)
    assert stand_file.stand().measurements == ()


def test_an_unlikely_position_needs_a_person_who_is_sure(stand_file: StandFile) -> None:
    add_tree(stand_file, "B1", HERE, TODAY, NOW)
    with pytest.raises(DoubtfulPositionError, match="swapped"):
        add_tree(stand_file, "B2", (61.9, 27.6), TODAY, NOW)
    with pytest.raises(DoubtfulPositionError, match="km from the stand's centre"):
        add_tree(stand_file, "B2", (28.2, 61.9), TODAY, NOW)
    with pytest.raises(UserError, match="in a stand of its own"):
        add_tree(stand_file, "B2", (61.9, 27.6), TODAY, NOW, sure=True)
    assert add_tree(stand_file, "B2", (28.2, 61.9), TODAY, NOW, sure=True).at == (28.2, 61.9)


def test_a_tree_moves_on_purpose_only_and_keeps_where_it_was(stand_file: StandFile) -> None:
    add_tree(stand_file, "B1", HERE, TODAY, NOW)
    before = stand_file.stand()
    moved = move_tree(stand_file, "B1", BESIDE, TODAY, NOW, spread_m2=(4.0, 9.0, 1.0))
    assert (moved.at, moved.pinned, moved.var_n_m2, moved.walk_key) == (BESIDE, True, 9.0, None)
    stand = stand_file.stand()
    assert "moved 52.6 m by hand, was 61.9000000 27.6000000" in history_of(stand, stand.trees[0])[-1]
    assert move_tree(stand_file, "B1", (27.602, 61.9), TODAY, NOW).sigma_m is None
    with pytest.raises(NothingToDo, match="B1 stands there already"):
        move_tree(stand_file, "B1", (27.602, 61.9), TODAY, NOW)
    with pytest.raises(UserError, match="no covariance"):
        move_tree(stand_file, "B1", HERE, TODAY, NOW, spread_m2=(-1.0, 1.0, 0.0))
    stand_file.undo(NOW)
    stand_file.undo(NOW)
    assert stand_file.stand() == before


def test_a_tree_on_top_of_another_is_asked_about(stand_file: StandFile) -> None:
    heard = Collected()
    add_tree(stand_file, "B1", HERE, TODAY, NOW, messages=heard)
    add_tree(stand_file, "B2", (27.600002, 61.9), TODAY, NOW, messages=heard)
    assert heard.cautions == ["B2 stands 0.11 m from B1: one tree twice, or one rootstock?"]


def test_measuring_keeps_what_was_written_and_asks_about_what_cannot_grow(stand_file: StandFile) -> None:
    add_tree(stand_file, "B1", HERE, TODAY, NOW)
    heard = Collected()
    first = measure(stand_file, "B1", Thickness.DIAMETER, "9", "in", date(2024, 5, 1), TODAY, NOW, messages=heard)
    assert (first.diameter_mm, first.girth_mm, first.given, first.given_unit) == (228.6, None, "9", "in")
    assert heard.cautions == []
    measure(stand_file, "B1", Thickness.GIRTH, "70", "cm", date(2025, 5, 1), TODAY, NOW, messages=heard)
    assert heard.cautions == ["B1: girth was 718 mm in 2024 and is 700 mm now: a stem does not shrink"]
    measure(stand_file, "B1", Thickness.GIRTH, "2", "m", TODAY, TODAY, NOW, messages=heard)
    assert heard.cautions[1:] == ["B1: girth was 700 mm in 2025 and is 2000 mm now: is the unit right?"]
    with pytest.raises(UserError, match="must lie within 0 and 10 m"):
        measure(stand_file, "B1", Thickness.GIRTH, "80", "cm", TODAY, TODAY, NOW, at_height_mm=20_000)
    assert stand_file.history()[-1].label == "B1: girth 2 m"
    assert len(stand_file.stand().measurements) == 3
