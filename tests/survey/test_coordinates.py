"""Positions in degrees, UTM and national grids, and how good a transformation is."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pyproj import Transformer

from standmap.errors import UserError
from standmap.survey.coordinates import (
    decimal_text,
    grid_number,
    in_grid,
    in_utm,
    sexagesimal_text,
    utm_zone,
)

JOENSUU = (29.7636, 62.601)


def test_degrees() -> None:
    assert decimal_text(*JOENSUU) == "62.601000 N, 29.763600 E"
    assert decimal_text(-147.72, -0.5) == "0.500000 S, 147.720000 W"
    assert sexagesimal_text(*JOENSUU) == "62° 36′ 03.60″ N, 29° 45′ 48.96″ E"
    assert sexagesimal_text(-79.387139, 43.642567) == "43° 38′ 33.24″ N, 79° 23′ 13.70″ W"


def test_seconds_never_become_sixty() -> None:
    assert sexagesimal_text(0.0, 59 + 59.99999 / 60) == "60° 00′ 00.00″ N, 0° 00′ 00.00″ E"


@pytest.mark.parametrize(
    ("lon", "lat", "zone"),
    [
        (24.94, 60.17, 35),
        (29.999, 62.6, 35),
        (30.0, 62.6, 36),
        (-180.0, 10.0, 1),
        (179.999, 10.0, 60),
        (180.0, 10.0, 1),
        # South-west Norway: Bergen lies in 32, though 31 would be its zone; not south of 56, not from 64 on.
        (5.32, 60.39, 32),
        (3.0, 56.0, 32),
        (2.99, 60.0, 31),
        (5.0, 55.99, 31),
        (5.0, 64.0, 31),
        # Svalbard: Longyearbyen is in 33; zones 32, 34 and 36 are not used there.
        (15.63, 78.22, 33),
        (8.99, 78.0, 31),
        (9.0, 78.0, 33),
        (21.0, 78.0, 35),
        (33.0, 78.0, 37),
        (41.9, 84.0, 37),
        (42.0, 78.0, 38),
        (7.0, 71.99, 32),
    ],
)
def test_zones(lon: float, lat: float, zone: int) -> None:
    assert utm_zone(lon, lat) == zone


def test_utm_says_zone_and_half_of_the_earth() -> None:
    north, south = in_utm(*JOENSUU), in_utm(19.0, -33.5)
    assert north is not None
    assert south is not None
    assert (north.grid, north.code) == ("UTM 35 north", "EPSG:32635")
    assert (south.grid, south.code, south.text) == ("UTM 34 south", "EPSG:32734", "314214 E 6291491 N")
    assert not north.caution


@pytest.mark.parametrize("lat", [84.1, 90.0, -80.1])
def test_there_is_no_utm_near_the_poles(lat: float) -> None:
    assert in_utm(10.0, lat) is None


@given(st.floats(-180, 180), st.floats(-79.9, 83.9))
def test_utm_comes_back(lon: float, lat: float) -> None:
    found = in_utm(lon, lat)
    assert found is not None
    back = Transformer.from_crs(found.code, "EPSG:4326", always_xy=True).transform(found.x, found.y)
    assert abs((back[0] - lon + 180) % 360 - 180) < 1e-7
    assert back[1] == pytest.approx(lat, abs=1e-8)
    assert 10_000 < found.x < 990_000


def test_a_grid_at_hand() -> None:
    found = in_grid(*JOENSUU, 3067)
    assert found.grid == "ETRS89 / TM35FIN(E,N)"
    assert (found.x_name, found.y_name, found.unit) == ("east", "north", "m")
    assert found.x == pytest.approx(641858.8, abs=0.1)
    assert found.y == pytest.approx(6944173.3, abs=0.1)
    assert not found.approximate
    assert (found.accuracy_m, found.caution) == (1.0, "")


def test_a_grid_whose_best_transformation_is_not_at_hand_is_approximate() -> None:
    found = in_grid(-3.19, 55.95, 27700)
    assert found.approximate
    assert found.accuracy_m == 2.0
    assert found.caution.startswith("approximate: within about 2 m")
    # Edinburgh Castle stands at about NT 251 735: the figure is near, whatever the caution says.
    castle = in_grid(-3.2008, 55.9486, 27700)
    assert castle.x == pytest.approx(325100, abs=150)
    assert castle.y == pytest.approx(673500, abs=150)


def test_far_from_its_country_a_grid_says_so() -> None:
    found = in_grid(*JOENSUU, 27700)
    assert not found.inside
    assert "outside the area" in found.caution
    assert "nobody states how good" in found.caution


def test_axes_and_units_are_the_grids_own() -> None:
    south_african = in_grid(19.0, -33.5, 2048)
    assert (south_african.x_name, south_african.y_name) == ("west", "south")
    assert south_african.x == pytest.approx(0.0, abs=1.0)  # 19 E is the middle of this grid
    german = in_grid(10.0, 51.0, 31467)
    assert (german.x_name, german.y_name) == ("east", "north")
    assert 3_500_000 < german.x < 3_600_000  # the easterly axis first, though this grid writes it second
    american = in_grid(-74.0, 40.7, 2263)
    assert american.unit == "US survey foot"
    assert american.x == pytest.approx(984_250.0, abs=1.0)


@pytest.mark.parametrize(("text", "number"), [("3067", 3067), (" EPSG:3067 ", 3067), ("epsg: 27700", 27700)])
def test_a_grid_is_typed(text: str, number: int) -> None:
    assert grid_number(text) == number


@pytest.mark.parametrize(
    ("text", "wrong"),
    [
        ("TM35", "is no EPSG code"),
        ("", "is no EPSG code"),
        ("٣٠٦٧", "is no EPSG code"),
        ("12345678", "is no EPSG code"),
        ("999999", "there is no reference system EPSG:999999"),
        ("4326", "is no grid on the ground"),
        ("5773", "is no grid on the ground"),
        ("7789", "is no grid on the ground"),
    ],
)
def test_what_is_no_grid(text: str, wrong: str) -> None:
    with pytest.raises(UserError, match=wrong):
        grid_number(text)
