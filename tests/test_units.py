"""Units: exact at the edges, nothing lost to rounding."""

from __future__ import annotations

import math
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from standmap.errors import UserError
from standmap.units import decimal_number, diameter_of, girth_of, to_ml, to_mm


def test_conversions_are_exact() -> None:
    """The inch is 25.4 mm; gallons 4.54609 L (imperial) and 3.785411784 L (US), by definition; from memory."""
    assert to_mm(Decimal(9), "in") == 228.6
    assert to_mm(Decimal("22.86"), "cm") == 228.6
    assert to_mm(Decimal("4.5"), "ft") == 1371.6
    assert to_ml(Decimal(1), "imp_gal") == 4546.09
    assert to_ml(Decimal(1), "us_gal") == 3785.411784
    assert to_ml(Decimal("2.95"), "l") == 2950.0


@pytest.mark.parametrize(
    ("text", "number"),
    [("71.8", "71.8"), ("71,8", "71.8"), (" 9 ", "9"), ("\u22123", "-3"), ("1e3", "1000"), ("1\u00a0000", "1000")],
)
def test_numbers_as_people_write_them(text: str, number: str) -> None:
    assert decimal_number(text) == Decimal(number)


@pytest.mark.parametrize("text", ["", "nine", "1,2,3", "1.2,3", "nan", "inf", "1_000", "9e999", "0x10", "--3"])
def test_what_is_no_number_is_refused(text: str) -> None:
    with pytest.raises(UserError, match="is not a number"):
        decimal_number(text)


@given(st.text(max_size=30))
def test_any_text_is_a_number_or_refused(text: str) -> None:
    try:
        assert math.isfinite(float(decimal_number(text)))
    except UserError as error:
        assert "not a number" in str(error)  # noqa: PT017 - either outcome is right


def test_girth_and_diameter_of_round_stems() -> None:
    """girth = pi times diameter: 20 cm is 628.3 mm, 10 in 798.0 mm, 12 in 957.6 mm (computed)."""
    assert [round(girth_of(d), 1) for d in (200, 254, 304.8)] == [628.3, 798.0, 957.6]
    assert diameter_of(girth_of(228.6)) == pytest.approx(228.6, rel=1e-15)
