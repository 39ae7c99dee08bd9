"""Signs of the season as a table: written and read back whole, and what cannot be read."""

from __future__ import annotations

import tempfile
from datetime import date
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from standmap.errors import UserError
from standmap.formats.door import read
from standmap.formats.signs_csv import write_signs_csv
from standmap.formats.texts import note_of
from standmap.season.answer import Sign
from standmap.stand.records import SeasonSign
from standmap.stand.snapshot import Stand

NOTES = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0"), max_size=30).map(note_of)
SIGNS = st.builds(SeasonSign, st.just("k"), st.sampled_from(Sign).map(str), st.dates(), NOTES)


@given(signs=st.lists(SIGNS, max_size=5))
@settings(deadline=None, max_examples=60)
def test_what_is_written_comes_back_whole(signs: list[SeasonSign]) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "signs.csv"
        path.write_bytes(write_signs_csv(Stand(signs=tuple(signs))))
        found = read(path)
    told = sorted((s.seen_on, s.what, s.note) for s in signs)
    assert sorted((s.seen_on, s.what, s.note) for s in found.signs) == told
    assert (found.format, found.read) == ("signs", len(signs))


def test_a_person_may_write_it(tmp_path: Path) -> None:
    path = tmp_path / "s.csv"
    path.write_bytes("Date;Sign\r\n4.5.2024;Leaf out\r\n".encode("utf-16"))
    (sign,) = read(path).signs
    assert (sign.what, sign.seen_on) == (Sign.LEAF_OUT, date(2024, 5, 4))


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ("frost,2024-05-04,", "s.csv, line 2: 'frost' is no sign of the season"),
        ("leaf-out,2023-02-29,", "s.csv, line 2: date '2023-02-29' is not a day"),
        ("leaf-out,,", "s.csv, line 2: date '' is not a day"),
    ],
)
def test_what_cannot_be_is_one_clear_line(tmp_path: Path, row: str, said: str) -> None:
    path = tmp_path / "s.csv"
    path.write_text(f"sign,date,note\n{row}\n")
    with pytest.raises(UserError) as caught:
        read(path)
    assert caught.value.what == said
    assert caught.value.remedy
