"""Single records that go to the tree they belong to: one edit, told at both trees, and taken back as one."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest

from standmap.errors import UserError
from standmap.jobs.moving_records import move_look, move_measurement, move_single, single_records, told
from standmap.jobs.taking_back import undo
from standmap.jobs.tree_history import history_of
from standmap.stand.tapping import Act, Observation, TapHole, Wound
from standmap.stand.tree import Measurement, Tree
from standmap.store.stand_file import StandFile

NOW = datetime(2026, 3, 28, 7, 30, tzinfo=UTC)
DAY = date(2026, 3, 27)
MEASURED, SEEN = date(2025, 9, 1), date(2025, 10, 1)


@pytest.fixture
def file(stand_file: StandFile) -> StandFile:
    """Return a stand in which B1 has what belongs to B2."""
    with stand_file.writing("plant", NOW) as writing:
        writing.insert(
            Tree("1", "B1", (27.0, 62.0)),
            Tree("2", "B2", (27.001, 62.0)),
            Measurement("m1", "1", MEASURED, 800.0, None, "80", "cm"),
            Measurement("m2", "1", MEASURED, None, 250.0, "250", "mm"),
            Measurement("m3", "1", None, 700.0, None, "70", "cm"),
            TapHole("h", "1", 1, Wound.HOLE, date(2024, 3, 20)),
            Observation("o1", "1", None, Act.LOOKED_AT, SEEN, note="bark split"),
            Observation("o2", "1", "h", Act.PLUGGED, date(2024, 4, 20)),
            Observation("o3", "1", None, Act.RETAGGED, SEEN, note="was A1"),
        )
    return stand_file


def test_what_can_be_moved_singly(file: StandFile) -> None:
    stand = file.stand()
    found = single_records(stand, stand.tree("B1"))
    assert [one.key for one in found] == ["o1", "m1", "m2", "m3"]
    assert [told(one) for one in found] == [
        "looked at (2025-10-01)",
        "girth 80 cm (2025-09-01)",
        "diameter 250 mm (2025-09-01)",
        "girth 70 cm (day not known)",
    ]


def test_a_measurement_goes_to_the_tree_it_belongs_to_as_one_edit(file: StandFile) -> None:
    before = file.stand()
    steps = len(file.history())
    done = move_measurement(file, "B1", "B2", MEASURED, 2, DAY, NOW)
    stand = file.stand()
    assert done.text == "diameter 250 mm (2025-09-01) went from B1 to B2"
    assert [m.key for m in stand.measurements_of["2"]] == ["m2"]
    assert sorted(m.key for m in stand.measurements_of["1"]) == ["m1", "m3"]
    assert any("moved to B2" in line for line in history_of(stand, stand.tree("B1")))
    assert any("moved here from B1" in line for line in history_of(stand, stand.tree("B2")))
    assert len(file.history()) == steps + 1
    undo(file, NOW)
    assert file.stand() == before


def test_what_was_seen_goes_with_its_note(file: StandFile) -> None:
    move_look(file, "B1", "B2", SEEN, None, DAY, NOW)
    (seen,) = (o for o in file.stand().observations_of["2"] if o.what is Act.LOOKED_AT)
    assert (seen.key, seen.note) == ("o1", "bark split")


def test_an_undated_measurement_can_be_named(file: StandFile) -> None:
    move_measurement(file, "B1", "B2", None, None, DAY, NOW)
    assert [m.key for m in file.stand().measurements_of["2"]] == ["m3"]


@pytest.mark.parametrize(
    ("of", "nth", "to", "why"),
    [
        (MEASURED, None, "B2", "2 such records of 2025-09-01; say which: 1 is girth 80 cm"),
        (MEASURED, 3, "B2", "no measurement 3 of 2025-09-01; give 1 to 2"),
        (DAY, None, "B2", "no measurement of 2026-03-27"),
        (None, None, "B1", "B1 has the record already"),
    ],
)
def test_a_record_that_cannot_be_moved_is_refused(
    file: StandFile, of: date | None, nth: int | None, to: str, why: str
) -> None:
    with pytest.raises(UserError, match=why):
        move_measurement(file, "B1", to, of, nth, DAY, NOW)


@pytest.mark.parametrize("key", ["o2", "o3", "none"])
def test_what_belongs_to_a_wound_or_is_the_trees_own_history_stays(file: StandFile, key: str) -> None:
    with pytest.raises(UserError, match="B1 has no such record"):
        move_single(file, "B1", "B2", key, DAY, NOW)
