"""The official test values of the World Magnetic Model 2025, and the edition's own words about its error."""

from __future__ import annotations

import math
from datetime import date

import pytest

from standmap.survey.north import _at, declination

# WMM2025 test values, NOAA NCEI and BGS, 2025: decimal year, height in km, latitude, longitude, declination (east +).
PUBLISHED = [
    (2025.0, 0, 80, 0, 1.28),
    (2025.0, 0, 0, 120, -0.16),
    (2025.0, 0, -80, 240, 68.78),
    (2025.0, 100, 80, 0, 0.85),
    (2025.0, 100, 0, 120, -0.15),
    (2027.5, 0, 80, 0, 2.59),
    (2027.5, 0, 0, 120, -0.24),
    (2027.5, 0, -80, 240, 68.49),
    (2027.5, 100, 80, 0, 2.16),
    (2027.5, 100, -80, 240, 67.93),
]


@pytest.mark.parametrize(("year", "km", "lat", "lon", "deg"), PUBLISHED)
def test_published_values(year: float, km: float, lat: float, lon: float, deg: float) -> None:
    east = (lon + 180) % 360 - 180
    assert _at(east, lat, km * 1000, year, date(int(year), 1, 1)).deg == pytest.approx(deg, abs=0.006)


@pytest.mark.parametrize(("lat", "lon", "deg"), [(80, 0, 1.28), (0, 120, -0.16), (-80, -120, 68.78)])
def test_a_day_is_the_year_it_begins(lat: float, lon: float, deg: float) -> None:
    found = declination(lon, lat, date(2025, 1, 1))
    assert found.deg == pytest.approx(deg, abs=0.006)
    assert (found.model, found.from_year, found.until_year) == ("WMM2025", 2025, 2030)


def test_the_error_is_the_one_that_the_report_gives() -> None:
    # WMM2025 report: sigma of D = sqrt(0.26² + (5417 / H)²) degrees, H in nT; at 0 N 120 E H is about 39 500 nT.
    found = declination(120.0, 0.0, date(2025, 1, 1))
    assert found.within_deg == pytest.approx(math.hypot(0.26, 5417 / 39500), abs=0.005)
