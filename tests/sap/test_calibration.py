"""Whether past seasons came as they were told."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from standmap.sap.calibration import calibrated
from standmap.sap.records import records_of
from standmap.stand.snapshot import Stand
from tests.sap.invented import Truth, invented, records

VESSEL_ML = 4000.0
MADE = invented(Truth(), trees=15, seasons=5, nights=12, seed=21)


def test_each_season_is_told_from_those_before_it() -> None:
    found = calibrated(records(MADE, vessel_ml=VESSEL_ML), VESSEL_ML)
    assert [s.season for s in found.seasons] == list(range(2016, 2021))
    assert [s.collections for s in found.seasons] == [15 * 12] * 5
    assert found.inside(0.9) == pytest.approx(0.92, abs=0.08)
    assert found.inside(0.5) == pytest.approx(0.53, abs=0.13)
    last = found.seasons[-1]
    alone = calibrated(records(MADE, vessel_ml=VESSEL_ML).before(2021), VESSEL_ML).seasons[-1]
    assert last == alone
    other = replace(MADE, run_ml=np.where(MADE.season[:, None] == 0, 3 * MADE.run_ml, MADE.run_ml))
    assert calibrated(records(other, vessel_ml=VESSEL_ML), VESSEL_ML).seasons[-1] != last


def test_vessels_run_over_about_as_often_as_told() -> None:
    found = calibrated(records(MADE, vessel_ml=VESSEL_ML), VESSEL_ML)
    ran_over = int((MADE.run_ml > VESSEL_ML).sum())
    assert sum(s.run_over for s in found.seasons) == ran_over
    assert sum(s.run_over_told for s in found.seasons[1:]) == pytest.approx(
        sum(s.run_over for s in found.seasons[1:]), rel=0.35
    )
    assert sum(c.collections for c in found.chances) == found.collections
    assert all(c.least <= c.told <= c.most for c in found.chances)
    came = [c.came for c in found.chances]
    assert came[0] < 0.06
    assert came[-1] > 0.4


def test_collections_of_several_nights_are_told_as_sums_and_totals_are_not_told() -> None:
    two = calibrated(records(MADE, every=2), VESSEL_ML)
    assert two.collections == 15 * 6 * 5
    assert two.inside(0.9) == pytest.approx(0.92, abs=0.08)
    assert calibrated(records(MADE, total_of=5), VESSEL_ML).collections == 0


def test_without_records_nothing_is_told() -> None:
    found = calibrated(records_of(Stand()), VESSEL_ML)
    assert (found.seasons, found.chances, found.inside(0.9)) == ((), (), None)
