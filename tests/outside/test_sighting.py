"""Sights against direct geodesics: GeographicLib (C. F. F. Karney, Algorithms for geodesics, J. Geodesy 87, 2013)."""

from __future__ import annotations

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic
from hypothesis import given
from hypothesis import strategies as st

from standmap.stand.sights import North, Sight
from standmap.survey.frame import WorkingFrame
from standmap.survey.sighting import first_positions


@given(
    st.floats(-70, 70),
    st.floats(-179, 179),
    st.floats(-2000, 2000),
    st.floats(-2000, 2000),
    st.floats(0, 359.99),
    st.floats(1, 100),
)
def test_a_true_bearing_and_a_tape_lead_where_the_geodesic_leads(
    lat0: float, lon0: float, east: float, north: float, bearing: float, length: float
) -> None:
    frame = WorkingFrame(lon0, lat0)
    lon, lat = (float(v) for v in frame.to_lonlat(np.array(east), np.array(north)))
    convergence = float(frame.convergence_deg(np.array(lon), np.array(lat)))
    sight = Sight("s", "a", "t", bearing_deg=bearing, north=North.TRUE, distance_m=length)
    found = first_positions({"a": (east, north)}, [sight], convergence)["t"]
    truth = Geodesic.WGS84.Direct(lat, lon, bearing, length)
    x, y = frame.to_xy(np.array(truth["lon2"]), np.array(truth["lat2"]))
    assert found == pytest.approx((float(x), float(y)), abs=1e-4)


def test_a_magnetic_bearing_is_turned_by_its_declination() -> None:
    frame = WorkingFrame(25.0, 60.0)
    sight = Sight(
        "s", "a", "t", bearing_deg=80.0, north=North.MAGNETIC, declination_deg=10.0, distance_m=50.0, slope_deg=60.0
    )
    x, y = first_positions({"a": (0.0, 0.0)}, [sight])["t"]
    lon, lat = frame.to_lonlat(np.array(x), np.array(y))
    truth = Geodesic.WGS84.Direct(60.0, 25.0, 90.0, 25.0)
    assert (float(lon), float(lat)) == pytest.approx((truth["lon2"], truth["lat2"]), abs=1e-9)
