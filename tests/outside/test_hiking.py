"""The hiking function against published points.

W. Tobler, "Three presentations on geographical analysis and modeling", NCGIA Technical Report 93-1, 1993: the speed in
km/h is 6 exp(-3.5 |S + 0.05|), with three fifths of it off paths. The values below were computed from that formula by
hand, to four decimals.
"""

from __future__ import annotations

import numpy as np
import pytest

from standmap.rounds.ground import Ground
from standmap.rounds.heights import Heights
from standmap.rounds.hiking import Pace, slowness, speed_km_h
from standmap.rounds.walking import walking

POINTS = {-0.3: 2.5012, -0.1: 5.0367, -0.05: 6.0, 0.0: 5.0367, 0.1: 3.5493, 0.2: 2.5012}


@pytest.mark.parametrize(("slope", "km_h"), POINTS.items())
def test_speed(slope: float, km_h: float) -> None:
    assert float(speed_km_h(np.array(slope))) == pytest.approx(km_h, abs=5e-5)
    assert POINTS[0.0] / float(slowness(np.array(slope))) == pytest.approx(km_h, abs=1e-4)


# Where it is steeper than 1 in 3.5 the quickest way leads aslant, so that these points are not met.
@pytest.mark.parametrize(("slope", "km_h"), [(s, v) for s, v in POINTS.items() if abs(s) < 1 / 3.5])
def test_minutes_over_a_plane_of_that_slope(slope: float, km_h: float) -> None:
    east = np.arange(-150.0, 151.0, 5.0)
    heights = Heights(-150.0, -150.0, 5.0, np.tile(east * slope, (len(east), 1)).astype(np.float32))
    ways = walking(((-50.0, 0.0), (50.0, 0.0)), Ground(heights=heights))
    assert ways.minutes[0, 1] == pytest.approx(0.1 / (km_h * 3 / 5) * 60, rel=1e-4)


def test_level_paces() -> None:
    assert Pace().path_m_per_min == pytest.approx(5.0367 * 1000 / 60, abs=1e-3)
    assert Pace().wood_m_per_min == pytest.approx(3.0220 * 1000 / 60, abs=1e-3)
