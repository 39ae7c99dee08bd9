"""Sights: what one says, and where the points lie that they lead to; known truth is found again."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from standmap.stand.sights import North, Sight
from standmap.survey.sighting import (
    XY,
    first_positions,
    grid_bearing_deg,
    level_distance_m,
    misfit_m,
    misreadings,
    place,
    sigma_deg,
    sigma_m,
    turn_deg,
)

COORDINATE = st.floats(-500, 500).map(lambda v: round(v, 3))
POINT = st.tuples(COORDINATE, COORDINATE)
ANGLE = st.floats(0, 359.999)


def taken(start: str, end: str, bearing: float | None = None, distance: float | None = None) -> Sight:
    north = None if bearing is None else North.TRUE
    return Sight(f"{start}-{end}", start, end, bearing_deg=bearing, distance_m=distance, north=north)


def true_sight(at: dict[str, XY], start: str, end: str) -> Sight:
    (x, y), (u, v) = at[start], at[end]
    return taken(start, end, math.degrees(math.atan2(u - x, v - y)) % 360.0, math.dist(at[start], at[end]))


def tape(at: dict[str, XY], start: str, end: str) -> Sight:
    return taken(start, end, None, math.dist(at[start], at[end]))


def close(a: XY, b: XY, within: float = 1e-6) -> bool:
    return math.dist(a, b) <= within


@given(ANGLE, st.floats(-180, 180))
def test_a_turn_is_the_short_way_round(begin: float, turn: float) -> None:
    found = turn_deg(begin, begin + turn)
    assert -180.0 < found <= 180.0
    assert math.isclose(math.cos(math.radians(found)), math.cos(math.radians(turn)), abs_tol=1e-9)


@given(ANGLE, st.floats(-20, 20), st.floats(-40, 40), st.floats(-2, 2))
def test_both_ways_are_meant_over_the_turn_of_the_circle(
    bearing: float, off: float, declination: float, convergence: float
) -> None:
    back = (bearing + 180.0 + off) % 360.0
    sight = Sight("s", "a", "b", bearing_deg=bearing, back_bearing_deg=back, north=North.MAGNETIC)
    sight = replace(sight, declination_deg=declination)
    found = grid_bearing_deg(sight, convergence)
    assert found is not None
    assert 0.0 <= found < 360.0
    assert abs(turn_deg(bearing + off / 2 + declination - convergence, found)) < 1e-9


def test_north_and_slope_are_taken_out() -> None:
    sight = Sight("s", "a", "b", bearing_deg=350.0, north=North.MAGNETIC, declination_deg=12.0, distance_m=10.0)
    assert grid_bearing_deg(sight) == pytest.approx(2.0)
    assert grid_bearing_deg(replace(sight, north=North.TRUE)) == 350.0
    assert grid_bearing_deg(replace(sight, bearing_deg=None, back_bearing_deg=170.0)) == pytest.approx(2.0)
    assert grid_bearing_deg(replace(sight, bearing_deg=None)) is None
    assert level_distance_m(replace(sight, slope_deg=60.0)) == pytest.approx(5.0)
    assert level_distance_m(replace(sight, slope_deg=-60.0)) == pytest.approx(5.0)
    assert level_distance_m(replace(sight, distance_m=None)) is None


def test_two_readings_are_surer_than_one_and_paces_less_than_tape() -> None:
    one = Sight("s", "a", "b", bearing_deg=10.0, north=North.TRUE, distance_m=20.0, given_unit="m")
    both = replace(one, back_bearing_deg=190.0)
    assert sigma_deg(both) == pytest.approx(sigma_deg(one) / math.sqrt(2))
    assert sigma_m(replace(one, given_unit="paces")) > sigma_m(one)
    assert sigma_m(replace(one, sigma_m=0.3)) == 0.3
    assert sigma_deg(replace(one, sigma_deg=0.5)) == 0.5


@given(st.lists(POINT, min_size=3, max_size=12, unique=True), st.data())
def test_a_traverse_is_walked_either_way(points: list[XY], data: st.DataObject) -> None:
    at = {str(number): point for number, point in enumerate(points)}
    names = list(at)
    sights = []
    for a, b in pairwise(names):
        if math.dist(at[a], at[b]) < 0.5:
            return
        sights.append(true_sight(at, *data.draw(st.sampled_from([(a, b), (b, a)]))))
    known = data.draw(st.sampled_from(names))
    found = first_positions({known: at[known]}, data.draw(st.permutations(sights)))
    assert set(found) == set(names) - {known}
    assert all(close(found[name], at[name]) for name in found)


@given(POINT, st.floats(5, 40), ANGLE)
def test_three_tapes_are_enough_and_two_are_not(tree: XY, length: float, turn: float) -> None:
    corners = {
        name: (
            tree[0] + size * length * math.sin(math.radians(turn + angle)),
            tree[1] + size * length * math.cos(math.radians(turn + angle)),
        )
        for name, angle, size in (("a", 0.0, 1.0), ("b", 100.0, 0.8), ("c", 220.0, 1.2))
    }
    at = {**corners, "t": tree}
    tapes = [tape(at, name, "t") for name in corners]
    assert close(first_positions(corners, tapes)["t"], tree)
    assert first_positions(corners, tapes[:2]) == {}


@given(POINT, st.floats(5, 30), st.floats(-55, 50))
def test_a_rough_bearing_tells_the_side_of_two_tapes(base: XY, length: float, rough: float) -> None:
    at = {"a": base, "b": (base[0] + length, base[1]), "t": (base[0] + 0.4 * length, base[1] + 0.6 * length)}
    sights = [tape(at, "a", "t"), tape(at, "b", "t")]
    bearing = math.degrees(math.atan2(0.4, 0.6)) + rough
    sights.append(replace(taken("a", "t", bearing % 360.0), sigma_deg=1e6))
    known = {"a": at["a"], "b": at["b"]}
    assert close(first_positions(known, sights)["t"], at["t"], 1e-4)
    mirrored = first_positions(known, [*sights[:2], replace(taken("a", "t", (180.0 - bearing) % 360.0), sigma_deg=1e6)])
    assert close(mirrored["t"], (at["t"][0], 2 * base[1] - at["t"][1]), 1e-4)


def test_three_points_in_one_line_do_not_tell_the_side() -> None:
    at: dict[str, XY] = {"a": (0.0, 0.0), "b": (10.0, 0.0), "c": (20.0, 0.1), "t": (8.0, 6.0)}
    known = {name: at[name] for name in "abc"}
    assert first_positions(known, [tape(at, name, "t") for name in "abc"]) == {}


def test_bearings_that_cross_place_a_point_ahead_of_them() -> None:
    known = {"a": (0.0, 0.0), "b": (20.0, 0.0)}
    found = first_positions(known, [taken("a", "t", 45.0), taken("b", "t", 315.0)])
    assert close(found["t"], (10.0, 10.0))
    assert first_positions(known, [taken("a", "t", 135.0), taken("b", "t", 225.0)])["t"][1] < 0
    assert first_positions(known, [taken("a", "t", 315.0), taken("b", "t", 45.0)]) == {}  # they part
    assert first_positions(known, [taken("a", "t", 90.0), taken("b", "t", 92.0)]) == {}  # too thin


@given(POINT, POINT, st.floats(-30, 30), st.floats(-30, 30))
def test_an_offset_is_squared_off_its_base_line(a: XY, b: XY, along: float, offset: float) -> None:
    length = math.dist(a, b)
    if length < 1.0:
        return
    sight = Sight("s", "a", "t", toward_key="b", along_m=along, offset_m=offset)
    found = first_positions({"a": a, "b": b}, [sight])["t"]
    east, north = (b[0] - a[0]) / length, (b[1] - a[1]) / length
    off = (found[0] - a[0], found[1] - a[1])
    assert off[0] * east + off[1] * north == pytest.approx(along, abs=1e-9)
    assert off[0] * north - off[1] * east == pytest.approx(offset, abs=1e-9)
    assert first_positions({"a": a}, [sight]) == {}


def test_points_are_reached_one_after_another_and_what_hangs_on_nothing_is_missing() -> None:
    at: dict[str, XY] = {"a": (0.0, 0.0), "b": (10.0, 0.0), "c": (10.0, 12.0), "d": (4.0, 9.0), "x": (0.0, 50.0)}
    offset = Sight("o", "a", "e", toward_key="c", along_m=5.0, offset_m=0.0)
    sights = [offset, *(tape(at, name, "d") for name in "abc"), true_sight(at, "c", "b"), true_sight(at, "a", "b")]
    found = first_positions({"a": at["a"]}, [*sights, taken("x", "y", 0.0, 5.0)])
    assert set(found) == {"b", "c", "d", "e"}
    assert close(found["d"], at["d"])
    unused = [replace(s, used=False) for s in sights]
    assert first_positions({"a": at["a"]}, unused) == {}


def test_a_point_is_as_sure_as_its_measuring_and_what_it_hangs_on() -> None:
    sights = [taken("a", "b", 90.0, 20.0), taken("b", "c", 90.0, 20.0)]
    found = place({"a": ((0.0, 0.0), (4.0, 9.0, 1.0))}, sights)
    along, across = sigma_m(sights[0]) ** 2, (math.radians(sigma_deg(sights[0])) * 20.0) ** 2
    assert found["b"].measured == pytest.approx((along, across, 0.0))
    assert found["c"].measured == pytest.approx((2 * along, 2 * across, 0.0))
    assert found["c"].covariance == pytest.approx((4.0 + 2 * along, 9.0 + 2 * across, 1.0))
    assert found["c"].roots == {"a"}
    assert found["c"].by == (1,)


@given(POINT, POINT)
def test_a_true_sight_has_no_misfit(a: XY, b: XY) -> None:
    if math.dist(a, b) < 0.1:
        return
    sight = true_sight({"a": a, "b": b}, "a", "b")
    assert misfit_m(sight, a, b) < 1e-6
    assert misfit_m(sight, a, (b[0] + 3.0, b[1] + 4.0)) == pytest.approx(5.0, abs=1e-6)


def test_misreadings_are_named() -> None:
    good = Sight("s", "a", "b", bearing_deg=355.0, back_bearing_deg=178.0, north=North.MAGNETIC, distance_m=12.0)
    assert misreadings(good) == ()
    assert "20.0° off a straight line" in misreadings(replace(good, back_bearing_deg=195.0))[0]
    assert "point the same way" in misreadings(replace(good, back_bearing_deg=355.0))[0]
    assert "percentage" in misreadings(replace(good, slope_deg=50.0))[0]
    assert "decimal mark" in misreadings(replace(good, distance_m=125.0))[0]
