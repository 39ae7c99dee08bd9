"""Several nights of many holes, told together."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from standmap.sap.model import learn
from standmap.sap.records import SapRecords, records_of
from standmap.sap.sums import summed, total_of
from standmap.sap.together import together
from standmap.stand.snapshot import Stand
from tests.sap.invented import FIRST_YEAR, Truth, invented, records

MADE = invented(Truth(), trees=20, seasons=4, nights=10, seed=5)
BEFORE = records(MADE).before(FIRST_YEAR + 3)
MODEL = learn(BEFORE)
KEYS = ["t00002", "t00007", "nobody", "t00002"]
GIRTHS = [900.0, None, 700.0, 900.0]
NIGHTS = [
    (date(FIRST_YEAR + 2, 3, 26), None),
    (date(FIRST_YEAR + 2, 3, 27), 4.0),
    (date(FIRST_YEAR + 3, 3, 27), 8.0),
    (date(FIRST_YEAR + 3, 3, 28), None),
]


@pytest.mark.parametrize("model", [MODEL, learn(records_of(Stand()))])
def test_each_night_by_itself_is_what_the_model_says_of_it(model) -> None:  # type: ignore[no-untyped-def]
    joint = together(model, KEYS, GIRTHS, NIGHTS)
    for number, (day, mean_c) in enumerate(NIGHTS):
        middles, spreads = model.logs(KEYS, GIRTHS, day, mean_c)
        assert joint.middles[:, number] == pytest.approx(middles)
        assert np.sqrt(joint.covariances[:, number, number]) == pytest.approx(spreads)


def test_trees_that_were_fitted_by_themselves_are_told_alike(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("standmap.sap.model.MOST_TREES", 6)
    few = learn(BEFORE)
    assert "t00002" not in few.effects.tree_at
    joint = together(few, KEYS, GIRTHS, NIGHTS)
    middles, spreads = few.logs(KEYS, GIRTHS, *NIGHTS[2])
    assert joint.middles[:, 2] == pytest.approx(middles)
    assert np.sqrt(joint.covariances[:, 2, 2]) == pytest.approx(spreads)


def test_nights_of_one_hole_go_together_and_what_is_shared_is_less_than_all() -> None:
    joint = together(MODEL, KEYS, GIRTHS, NIGHTS)
    for covariance in (*joint.covariances, joint.shared):
        assert covariance == pytest.approx(covariance.T)
        assert np.linalg.eigvalsh(covariance).min() > -1e-9
    new = joint.covariances[:, 2, 3]
    assert (new > 0).all()
    assert new[2] > new[0], "of a tree without records less is known"
    assert (np.diag(joint.shared) < np.diagonal(joint.covariances, axis1=1, axis2=2)).all()


def test_nine_totals_of_ten_stay_below_the_figure_that_is_told() -> None:
    """A season that nobody had seen: 20 holes, with the nights' warmth known."""
    below, middle, nights = 0, 0, range(30, 40)
    keys = [f"t{k:05d}" for k in range(20)]
    for made, model in ((MADE, MODEL), *((m, _before(m)) for m in (_other(6), _other(7), _other(8)))):
        for night in nights:
            told = together(model, keys, made.girth_mm.tolist(), [(made.days[night], float(made.warmth_c[night]))])
            middles, spreads = summed(told.middles, told.covariances, np.ones((20, 1)))
            shared = np.full(20, np.sqrt(told.shared[0, 0]))
            total = total_of(middles, spreads, shared, np.full(20, np.inf))
            came = made.run_ml[night].sum()
            below += came < total.most_ml
            middle += came < total.median_ml
    assert 30 <= below <= 40
    assert 10 <= middle <= 30


def test_two_nights_give_about_twice_one() -> None:
    day = date(FIRST_YEAR + 3, 3, 27)
    two = together(MODEL, KEYS[:1], GIRTHS[:1], [(day, 6.0), (day + timedelta(days=1), 6.0)])
    (middle,), (spread,) = summed(two.middles, two.covariances, np.ones((1, 2)))
    one = MODEL.night(KEYS[0], GIRTHS[0], day, 6.0)
    assert 2 * one.median_ml < np.exp(middle) < 2.4 * one.median_ml
    assert spread < one.spread


def _other(seed: int):  # type: ignore[no-untyped-def]
    return invented(Truth(), trees=20, seasons=4, nights=10, seed=seed)


def _before(made):  # type: ignore[no-untyped-def]
    known: SapRecords = records(replace(made)).before(FIRST_YEAR + 3)
    return learn(known)
