"""What holes leave in a stem, against published and computed figures.

Sources. 220 times the drilled volume, a mean for paper birch: van den Berg, Isselhardt & Perkins 2018, Agricultural
Sciences 9(3), doi 10.4236/as.2018.93018. Of maple an order of 50 times is told (UVM Proctor Maple Research Center, from
memory). The tapping zone is depth times dropline length times girth: Perkins & van den Berg 2014, A Model of the
Tapping Zone. The volumes beside them are computed by hand, pi/4 times the square of the bit times the depth.
"""

from __future__ import annotations

import pytest

from standmap.stem.column import BIRCH_RATIO, column_of, drilled_ml
from standmap.stem.zone import Left, clear_share, zone_ml

ROWS = [
    # bit mm, depth mm, drilled mL, left without sap mL
    (7.9375, 38.1, 1.885, 414.8),  # 5/16 in by 1.5 in
    (11.1125, 38.1, 3.695, 812.9),  # 7/16 in by 1.5 in
    (10.0, 30.0, 2.356, 518.4),
    (8.0, 40.0, 2.011, 442.3),
]


@pytest.mark.parametrize(("bit_mm", "depth_mm", "drilled", "left"), ROWS)
def test_drilled_volume_and_what_it_leaves(bit_mm: float, depth_mm: float, drilled: float, left: float) -> None:
    assert drilled_ml(bit_mm, depth_mm) == pytest.approx(drilled, abs=0.0006)
    assert column_of(bit_mm, depth_mm).volume_ml == pytest.approx(left, abs=0.06)
    assert BIRCH_RATIO == 220


def test_maple_by_its_own_ratio() -> None:
    assert column_of(10.0, 30.0, 50.0).volume_ml == pytest.approx(117.8, abs=0.05)


def test_the_tapping_zone_is_depth_times_height_times_girth() -> None:
    # 2 in deep, a dropline of 30 in, a stem of 40 in girth: 2400 cubic inches, 39.33 L (computed).
    inch = 25.4
    assert zone_ml(40 * inch, (0.0, 30 * inch), 2 * inch) / 1000 == pytest.approx(39.33, abs=0.005)


def test_growth_buries_old_columns() -> None:
    column, band = column_of(10.0, 30.0), (300.0, 1200.0)
    shares = [clear_share(800.0, band, 30.0, [Left(0.0, 750.0, column, cover)]) for cover in (0.0, 10.0, 20.0, 30.0)]
    assert shares == sorted(shares)
    assert 1 - shares[0] == pytest.approx(518.4 / zone_ml(800.0, band, 30.0), rel=1e-3)
    assert 1 - shares[1] == pytest.approx(2 / 3 * (1 - shares[0]))
    assert shares[-1] == 1.0
