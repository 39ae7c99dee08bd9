"""Days on which the stand showed where the season is."""

from __future__ import annotations

from datetime import date, datetime

import pytest

from standmap.errors import NothingToDo, UserError
from standmap.jobs.signs import note_sign, remove_sign, sign_of, signs_of
from standmap.season.answer import Sign
from standmap.store.stand_file import StandFile


def note(file: StandFile, what: str, on: date, now: datetime) -> None:
    note_sign(file, what, on, date(2026, 3, 28), now)


def test_a_sign_is_one_edit_listed_newest_first_and_taken_back(stand_file: StandFile, now: datetime) -> None:
    note(stand_file, "leaf-out", date(2025, 4, 20), now)
    note(stand_file, "First Sap", date(2026, 3, 25), now)
    assert [(s.what, s.seen_on) for s in signs_of(stand_file.stand())] == [
        (Sign.FIRST_SAP, date(2026, 3, 25)),
        (Sign.LEAF_OUT, date(2025, 4, 20)),
    ]
    assert [e.label for e in stand_file.history()] == ["leaf-out: 2025-04-20", "first sap: 2026-03-25"]
    stand_file.take_back(stand_file.last_step(), now)
    assert len(stand_file.stand().signs) == 1
    remove_sign(stand_file, "leaf-out", date(2025, 4, 20), now)
    assert stand_file.stand().signs == ()
    with pytest.raises(NothingToDo, match="leaf-out is not noted for 2025-04-20"):
        remove_sign(stand_file, "leaf-out", date(2025, 4, 20), now)


@pytest.mark.parametrize(
    ("what", "on", "why"),
    [
        ("leaf-out", date(2025, 11, 3), "not seen at that time of year"),
        ("leaf-out", date(2026, 4, 20), "is after today"),
        ("leaf-out", date(2025, 4, 28), "was seen on 2025-04-20 already"),
        ("buds opening", date(2025, 4, 25), "would come after leaf-out"),
        ("sap", date(2025, 3, 1), "is no sign of the season"),
    ],
)
def test_what_cannot_be_is_refused_and_nothing_is_stored(
    stand_file: StandFile, now: datetime, what: str, on: date, why: str
) -> None:
    note(stand_file, "leaf-out", date(2025, 4, 20), now)
    with pytest.raises(UserError, match=why):
        note(stand_file, what, on, now)
    assert len(stand_file.stand().signs) == 1
    assert stand_file.last_step() == 1


def test_a_sign_is_known_however_it_is_written() -> None:
    assert {sign_of(text) for text in ("leaf-out", "Leaf out", " LEAFOUT ")} == {Sign.LEAF_OUT}
