"""When a wound is expected to close, what was seen of it, and the peg that plugs a hole."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from standmap.aftercare.closing import MAPLE_SOURCE, closing_of, rests_on
from standmap.aftercare.peg import peg_for
from standmap.stand.looks import Look, last_look, looks_at
from standmap.stand.tapping import Act, Observation, TapHole, Wound

HOLE = TapHole("h", "t", 1, Wound.HOLE, date(2026, 3, 20))


def seen(what: Act, on: date, hole: str | None = "h") -> Observation:
    return Observation(f"{what}{on}", "t", hole, what, on)


def test_only_looks_that_tell_something_of_this_wound_count() -> None:
    acts = [
        seen(Act.SEEN_OPEN, date(2026, 3, 1)),  # before it was made
        seen(Act.LOOKED_AT, date(2026, 9, 1)),
        seen(Act.SEEN_OPEN, date(2026, 9, 2), None),
        seen(Act.SEEN_OPEN, date(2026, 9, 2), "other"),
        seen(Act.SEEN_OPEN, date(2026, 9, 3)),
        seen(Act.SEEN_CLOSED, date(2027, 9, 3)),
    ]
    assert looks_at(HOLE, acts) == (Look(date(2026, 9, 3), True), Look(date(2027, 9, 3), False))
    assert last_look(HOLE, acts, date(2027, 9, 2)) == Look(date(2026, 9, 3), True)
    assert last_look(HOLE, acts, date(2026, 9, 2)) is None


def test_of_two_looks_on_one_day_the_later_entry_counts() -> None:
    both = [seen(Act.SEEN_OPEN, date(2026, 9, 3)), seen(Act.SEEN_CLOSED, date(2026, 9, 3))]
    assert last_look(HOLE, both, date(2026, 9, 3)) == Look(date(2026, 9, 3), False)


@pytest.mark.parametrize(
    ("look", "on", "told"),
    [
        (None, date(2026, 5, 1), "expected to close by autumn 2028"),
        (None, date(2029, 5, 1), "expected to close by autumn 2028; nobody has noted whether it did"),
        (
            Look(date(2027, 9, 1), True),
            date(2029, 5, 1),
            "seen open on 2027-09-01; expected to close by autumn 2028",
        ),
        (Look(date(2027, 9, 1), False), date(2029, 5, 1), "seen closed on 2027-09-01"),
    ],
)
def test_how_far_a_wound_is_is_told_and_without_a_look_it_is_not_called_open(
    look: Look | None, on: date, told: str
) -> None:
    assert closing_of(HOLE, look, 3).told(on) == told


def test_an_assumption_stands_beside_what_is_published_of_maple() -> None:
    told = rests_on(4, "set for this stand")
    assert told.startswith("closing expected within 4 growing seasons: set for this stand; in maple nearly all holes")
    assert rests_on(3, MAPLE_SOURCE).count("Gibbs") == 1
    assert rests_on(1, f"assumption, as in maple ({MAPLE_SOURCE})").count("Gibbs") == 1


@given(st.floats(5, 50), st.floats(5, 100))
def test_a_peg_goes_in_thinner_sticks_where_thicker_and_is_longer_than_the_hole_is_deep(
    bit_mm: float, depth_mm: float
) -> None:
    peg = peg_for(bit_mm, depth_mm)
    assert 0 < peg.thin_mm < bit_mm < peg.thick_mm
    assert peg.long_mm > depth_mm
    assert peg.one_in == pytest.approx(peg.long_mm / (peg.thick_mm - peg.thin_mm))


def test_a_peg_is_told_in_one_line_and_a_guess_says_so() -> None:
    assert peg_for(8, 30).told == "peg of 10 mm tapering to 7 mm, 45 mm long (1 in 15), for a hole of 8 mm"
    assert "measure it" in peg_for(10, 15, noted=False).told


@pytest.mark.parametrize(("bit_mm", "depth_mm"), [(0, 10), (8, -1), (float("nan"), 10), (8, float("inf"))])
def test_no_peg_for_what_cannot_be(bit_mm: float, depth_mm: float) -> None:
    with pytest.raises(ValueError, match="finite and above 0"):
        peg_for(bit_mm, depth_mm)
