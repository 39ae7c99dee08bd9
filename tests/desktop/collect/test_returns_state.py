"""What was typed as returns: kept, checked, and nothing stored twice. No window here."""

from __future__ import annotations

from datetime import date

from standmap.desktop.pages.collect.returns_state import ReturnsTyped, total_line
from standmap.jobs.returns import ReturnGroup, ReturnRow
from standmap.stand.tapping import Collection
from standmap.units_shown import System, UnitsShown

METRIC = UnitsShown()
DAY = date(2026, 3, 28)


def typed() -> ReturnsTyped:
    rows = [ReturnRow(f"h{k}", f"t{k}", f"B{k}", 3.0) for k in range(4)]
    found = ReturnsTyped()
    found.show((ReturnGroup(1, tuple(rows[:2])), ReturnGroup(2, tuple(rows[2:]))))
    return found


def written(key: str, ml: float, given: str, note: str = "") -> tuple[Collection, ...]:
    return (Collection(f"c{key}", key, DAY, None, ml, given, "l", note=note),)


def test_lines_stand_in_the_order_of_the_walk() -> None:
    found = typed()
    assert found.shown_lines() == ["h0", "h1", "h2", "h3"]
    found.as_total.add(2)
    assert found.shown_lines() == ["h0", "h1", total_line(2)]


def test_only_what_was_typed_is_stored() -> None:
    found = typed()
    assert not found.anything
    found.line("h1").amount = " 2,5 "
    found.line("h1").note = " ants "
    assert found.anything
    checked = found.check(METRIC, {})
    (entry,) = checked.returns
    assert (entry.hole_key, entry.volume.ml, entry.volume.given, entry.note) == ("h1", 2500, "2.5", "ants")
    assert not checked.errors


def test_a_total_goes_by_what_was_expected_and_what_was_typed_by_tree_waits() -> None:
    found = typed()
    found.line("h2").amount = "1"
    found.as_total.add(2)
    found.line(total_line(2)).amount = "8"
    checked = found.check(METRIC, {})
    assert checked.returns == ()
    (total,) = checked.totals
    assert (total.trip, total.volume.ml, dict(total.expected)) == (2, 8000, {"h2": 3.0, "h3": 3.0})
    found.as_total.discard(2)
    assert [entry.hole_key for entry in found.check(METRIC, {}).returns] == ["h2"]


def test_gallons_are_those_of_the_settings() -> None:
    found = typed()
    found.line("h0").amount = "0.5"
    (entry,) = found.check(UnitsShown(System.US), {}).returns
    assert (entry.volume.unit, round(entry.volume.ml, 3)) == ("us_gal", 1892.706)


def test_a_bare_number_keeps_its_unit_when_the_settings_change() -> None:
    found = typed()
    found.line("h0").amount = "2.5"
    found.line("h1").amount = "1 US gal"
    found.name_unit(METRIC.volume_unit)
    returns = found.check(UnitsShown(System.IMPERIAL), {}).returns
    assert [round(entry.volume.ml) for entry in returns] == [2500, 3785]


def test_what_is_wrong_or_unlikely_is_told_by_line() -> None:
    found = typed()
    found.line("h0").amount = "ten"
    found.line("h1").note = "no amount"
    found.line("h2").amount = "9"
    found.line("h3").amount = "1"
    found.line("h3").note = "x" * 5000
    checked = found.check(METRIC, {})
    assert set(checked.errors) == {"h0", "h1", "h3"}
    assert checked.errors["h1"].what == "there is a note without an amount"
    assert set(checked.doubts) == {"h2"}
    assert [entry.hole_key for entry in checked.returns] == ["h2"]


def test_what_is_written_down_just_so_is_not_stored_again() -> None:
    found = typed()
    found.line("h0").amount = "2.5"
    found.line("h1").amount = "2.5"
    before = {"h0": written("h0", 2500, "2.5"), "h1": written("h1", 2400, "2.4")}
    assert [entry.hole_key for entry in found.check(METRIC, before).returns] == ["h1"]
    found.as_total.add(2)
    found.line(total_line(2)).amount = "5"
    note = "share of a total of 5 L for trip 2"
    shared = {"h2": written("h2", 2500, "2.5", note), "h3": written("h3", 2500, "2.5", note)}
    assert found.check(METRIC, before | shared).totals == ()
    found.line(total_line(2)).amount = "6"
    assert len(found.check(METRIC, before | shared).totals) == 1


def test_another_walk_keeps_what_was_typed_for_its_trees() -> None:
    found = typed()
    found.line("h3").amount = "2"
    found.as_total.add(2)
    found.show((ReturnGroup(1, (ReturnRow("h3", "t3", "B3", 3.0),)),))
    assert found.as_total == set()
    assert found.shown_lines() == ["h3"]
    assert found.line("h3").amount == "2"
    found.clear()
    assert not found.anything
