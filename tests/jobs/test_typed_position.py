"""Coordinates as people type them: every common way is read, and each slip is named."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from standmap.errors import UserError
from standmap.jobs.typed_position import doubt_about, typed_position
from standmap.stand.snapshot import Stand
from standmap.stand.tree import Tree

HELSINKI = (24.9384, 60.1699)


@pytest.mark.parametrize(
    "text",
    [
        "60.1699 24.9384",
        "60.1699, 24.9384",
        "60.1699,24.9384",
        "60,1699 24,9384",
        "60,1699; 24,9384",
        "  +60.1699\t+24.9384 ",
        "60.1699N 24.9384E",
        "24.9384 E, 60.1699 N",
        "N60.1699 E24.9384",
        "n 60.1699° e 24.9384°",
        "60°10'11.64\"N 24°56'18.24\"E",
        "60º10′11.64″ 24º56′18.24″",
        "60 10 11.64 N 24 56 18.24 E",
        "60 10 11.64 24 56 18.24",
        "N 60° 10.194' E 024° 56.304'",
        "60 10.194 24 56.304",
        "60° 24° 56.304'".replace("60°", "60° 10.194'"),
    ],
)
def test_the_same_place_in_many_hands(text: str) -> None:
    assert typed_position(text) == pytest.approx(HELSINKI, abs=1e-9)


def test_south_and_west_are_negative() -> None:
    assert typed_position("33.5 S 70.25 W") == (-70.25, -33.5)
    assert typed_position("-33 30 -70 15") == (-70.25, -33.5)
    assert typed_position("-0°30' -0°15'") == (-0.25, -0.5)


@given(st.floats(-90, 90), st.floats(-180, 180))
def test_what_is_written_is_read_back(lat: float, lon: float) -> None:
    assert typed_position(f"{lat:.9f} {lon:.9f}") == pytest.approx((lon, lat), abs=1e-9)


@given(st.text(max_size=250))
def test_any_text_is_a_position_or_a_clear_no(text: str) -> None:
    try:
        lon, lat = typed_position(text)
    except UserError as error:
        lon, lat, told = 0.0, 0.0, str(error)
        told += "" if error.remedy else "\n"
    else:
        told = ""
    assert "\n" not in told
    assert abs(lon) <= 180
    assert abs(lat) <= 90


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("", "there is no position"),
        ("somewhere", "'somewhere' is no part of a position"),
        ("60.1699", "has 1 number, not a latitude and a longitude"),
        ("60 24 3", "has 3 numbers"),
        ("60,24", "has 1 number"),
        ("91 24", "latitude 91 is not within -90 and 90; are longitude and latitude swapped"),
        ("60 181", "longitude 181 is not within"),
        ("60 61 24 10", "61 minutes are not within 0 and 60"),
        ("60 10 75 24 10 10", "75 seconds are not within"),
        ("60.5 10 24.5 10", "'60.5' with smaller parts after it"),
        ("60N 24N", "needs one of N and S and one of E and W"),
        ("60N 24", "needs one of N and S"),
        ("-60S 24E", "both a sign and the letter S"),
        ("9" * 10_000, "too long"),
        ("60.1699 🌳", "'🌳' is no part"),
        ("1e999 3", "needs one of N and S"),
    ],
)
def test_what_is_wrong_is_named(text: str, why: str) -> None:
    with pytest.raises(UserError) as refused:
        typed_position(text)
    assert why in refused.value.what
    assert refused.value.remedy
    assert len(str(refused.value)) < 250


def test_grids_by_their_code() -> None:
    # The centre of zone 35 on the equator, and a point of Finland's grid computed back.
    assert typed_position("500000 0", 32635) == pytest.approx((27.0, 0.0), abs=1e-9)
    assert typed_position("385594 6672004", 3067) == pytest.approx((24.9385, 60.1698), abs=2e-3)
    assert typed_position("60.1699 24.9384", 4258) == pytest.approx(HELSINKI, abs=1e-6)


@pytest.mark.parametrize(
    ("text", "code", "why"),
    [
        ("385594 6672004", 999999, "EPSG:999999 is no known coordinate system"),
        ("6672004 385594", 3067, "lies outside the ground that EPSG:3067 is for"),
        ("385594", 3067, "is not an easting and a northing"),
        ("385594N 6672004E", 3067, "is not an easting and a northing"),
    ],
)
def test_grid_slips_are_named(text: str, code: int, why: str) -> None:
    with pytest.raises(UserError, match=r"EPSG|easting") as refused:
        typed_position(text, code)
    assert why in refused.value.what


def test_a_position_far_from_the_stand_is_doubted() -> None:
    stand = Stand(trees=(Tree("1", "B1", HELSINKI),))
    assert doubt_about(stand, (24.94, 60.17)) is None
    assert "swapped" in (doubt_about(stand, (60.1699, 24.9384)) or "")
    assert "km from the stand's centre" in (doubt_about(stand, (25.5, 60.17)) or "")
    assert doubt_about(Stand(), HELSINKI) is None
