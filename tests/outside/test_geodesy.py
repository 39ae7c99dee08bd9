"""Published and independently computed geodesics, held against our own distances, bearings and frame.

The second implementation is geographiclib (C. F. F. Karney, Algorithms for geodesics, J. Geodesy 87, 43-55, 2013).
"""

from __future__ import annotations

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic
from hypothesis import given
from hypothesis import strategies as st
from pyproj import Geod, Transformer

from standmap.survey.frame import WorkingFrame, true_azimuth, true_distance

WGS84 = Geodesic.WGS84

# Karney's example from John F. Kennedy to London Heathrow, in the documentation of GeographicLib's GeodSolve.
JFK, LHR = (-73.8, 40.6), (-0.5, 51.6)
# Karney's near-antipodal pair Wellington - Salamanca, in the documentation of geographiclib; figures of its Inverse.
WNZ, SLM = (174.81, -41.32), (-5.50, 40.96)


@pytest.mark.parametrize(
    ("a", "b", "length_m", "azimuth_deg", "last_azimuth_deg"),
    [
        (JFK, LHR, 5551759.4003186841, 51.198882845579824, 107.821776735514248),
        (WNZ, SLM, 19959679.26735382, 161.06766998616, 18.82519512325),
    ],
    ids=["JFK-LHR", "WNZ-SLM"],
)
def test_inverse_geodesic(
    a: tuple[float, float], b: tuple[float, float], length_m: float, azimuth_deg: float, last_azimuth_deg: float
) -> None:
    assert true_distance(a, b) == pytest.approx(length_m, abs=1e-6)
    assert true_azimuth(a, b) == pytest.approx(azimuth_deg, abs=1e-9)
    # Seen from the far end the geodesic goes back the other way.
    assert true_azimuth(b, a) == pytest.approx((last_azimuth_deg + 180) % 360, abs=1e-9)
    second = WGS84.Inverse(a[1], a[0], b[1], b[0])
    assert second["s12"] == pytest.approx(length_m, abs=1e-6)
    assert second["azi1"] == pytest.approx(azimuth_deg, abs=1e-9)


def test_direct_geodesic() -> None:
    # 10 000 km from JFK at 45 degrees; figures of geographiclib's Direct.
    end = (49.0110395832242, 32.642844327605516)
    assert true_distance(JFK, end) == pytest.approx(10_000_000.0, abs=1e-4)
    assert true_azimuth(JFK, end) == pytest.approx(45.0, abs=1e-9)
    assert true_azimuth(end, JFK) == pytest.approx((140.36623046535098 + 180) % 360, abs=1e-9)
    lon, lat, _ = Geod(ellps="WGS84").fwd(*JFK, 45.0, 10_000_000.0)
    assert (lon, lat) == pytest.approx(end, abs=1e-9)


def test_geodesic_polygon() -> None:
    # The 18 points of Antarctica in the documentation of geographiclib; perimeter and area of its PolygonArea.
    antarctica = [
        (-63.1, -58), (-72.9, -74), (-71.9, -102), (-74.9, -102), (-74.3, -131), (-77.5, -163), (-77.4, 163),
        (-71.7, 172), (-65.9, 140), (-65.7, 113), (-66.6, 88), (-66.9, 59), (-69.8, 25), (-70.0, -4), (-71.0, -14),
        (-77.3, -33), (-77.9, -46), (-74.7, -61),
    ]  # fmt: skip
    lat, lon = zip(*antarctica, strict=True)
    area, perimeter = Geod(ellps="WGS84").polygon_area_perimeter(lon, lat)
    assert perimeter == pytest.approx(16831067.89279071, rel=1e-6)
    assert abs(area) == pytest.approx(13662703680020.094, rel=1e-6)
    ring = [(float(x), float(y)) for y, x in [*antarctica, antarctica[0]]]
    assert sum(map(true_distance, ring[:-1], ring[1:])) == pytest.approx(perimeter, abs=1e-6)


def test_one_degree_of_meridian_and_of_parallel() -> None:
    # At 60 N, 25 E; figures of pyproj's Geod on WGS 84.
    assert true_distance((25.0, 59.5), (25.0, 60.5)) == pytest.approx(111412.27336670281, abs=1e-6)
    assert true_distance((24.5, 60.0), (25.5, 60.0)) == pytest.approx(55799.4703932604, abs=1e-6)
    assert WGS84.Inverse(59.5, 25.0, 60.5, 25.0)["s12"] == pytest.approx(111412.27336670281, abs=1e-6)


@pytest.mark.parametrize(
    ("x", "y", "lon", "lat"),
    [
        # 100 m north and 100 m east of 62.6 N, 29.76 E; figures of geographiclib's Direct.
        (0.0, 100.0, 29.76, 62.60089722085092),
        (100.0, 0.0, 29.761946854703638, 62.59999998646673),
    ],
    ids=["north", "east"],
)
def test_hundred_metres_in_the_frame(x: float, y: float, lon: float, lat: float) -> None:
    frame = WorkingFrame(29.76, 62.6)
    found_lon, found_lat = frame.to_lonlat(np.array([x]), np.array([y]))
    assert found_lon[0] == pytest.approx(lon, abs=1e-10)
    assert found_lat[0] == pytest.approx(lat, abs=1e-10)
    assert true_distance((29.76, 62.6), (lon, lat)) == pytest.approx(100.0, abs=1e-6)


@pytest.mark.parametrize(("x", "ppm"), [(1000.0, 0.0122), (2500.0, 0.0765), (5000.0, 0.3061)])
def test_scale_error_of_the_frame(x: float, ppm: float) -> None:
    # Transverse Mercator centred at 62.6 N, 29.76 E with scale 1; figures of pyproj's get_factors.
    frame = WorkingFrame(29.76, 62.6)
    assert frame.scale_error_ppm(np.array([x]))[0] == pytest.approx(ppm, abs=0.01)
    assert frame.scale_error_ppm(np.array([x]))[0] < 10  # what a working frame may be wrong by
    lon, lat = frame.to_lonlat(np.array([x, x]), np.array([-50.0, 50.0]))
    true = true_distance((float(lon[0]), float(lat[0])), (float(lon[1]), float(lat[1])))
    assert 1e6 * (100.0 / true - 1) == pytest.approx(ppm, abs=0.01)


@pytest.mark.parametrize(
    ("crs", "lon", "lat", "east_m", "north_m", "within_m"),
    [
        # Ordnance Survey, A guide to coordinate systems in Great Britain, annex C (OSGB36, Airy 1830).
        ("EPSG:27700", 1 + 43 / 60 + 4.5177 / 3600, 52 + 39 / 60 + 27.2531 / 3600, 651409.903, 313177.270, 0.001),
        # IOGP Geomatics Guidance Note 7-2 (373-7-2, 2019), method 9807.
        ("EPSG:27700", 0.5, 50.5, 577274.99, 69740.50, 0.01),
        # J. P. Snyder, Map Projections - A Working Manual, USGS PP 1395, 1987: UTM zone 18 on Clarke 1866.
        ("+proj=utm +zone=18 +ellps=clrk66", -73.5, 40.5, 627106.5, 4484124.4, 0.1),
        # Helsinki and Joensuu, UTM zones 35 and 36 on WGS 84; figures of pyproj.
        ("EPSG:32635", 24.9384, 60.1699, 385611.3167, 6672118.3803, 0.001),
        ("EPSG:32636", 29.7636, 62.6010, 333885.6565, 6945301.9217, 0.001),
    ],
)  # fmt: skip
def test_worked_examples_of_national_grids(
    crs: str, lon: float, lat: float, east_m: float, north_m: float, within_m: float
) -> None:
    # Without a change of datum, as the examples are: from the grid's own geographic coordinates.
    target = Transformer.from_crs(crs, crs).source_crs
    assert target is not None
    assert target.geodetic_crs is not None
    east, north = Transformer.from_crs(target.geodetic_crs, target, always_xy=True).transform(lon, lat)
    assert east == pytest.approx(east_m, abs=within_m)
    assert north == pytest.approx(north_m, abs=within_m)


def test_utm_convergence_at_helsinki_has_our_sign() -> None:
    # Convergence of Helsinki in UTM zone 35 (central meridian 27 E) by pyproj: -1.788639 degrees.
    frame = WorkingFrame(27.0, 60.1699)
    lon, lat = np.array([24.9384]), np.array([60.1699])
    assert frame.convergence_deg(lon, lat)[0] == pytest.approx(-1.788639, abs=1e-6)


@given(st.floats(-180, 180), st.floats(-89, 89), st.floats(0, 360), st.floats(0.01, 20_000))
def test_both_implementations_agree_on_what_is_walked(lon: float, lat: float, azimuth: float, length: float) -> None:
    end = WGS84.Direct(lat, lon, azimuth, length)
    a, b = (lon, lat), (end["lon2"], end["lat2"])
    assert true_distance(a, b) == pytest.approx(length, abs=1e-6)
    if length > 1:
        assert abs((true_azimuth(a, b) - azimuth + 180) % 360 - 180) < 1e-4
