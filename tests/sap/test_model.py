"""What is learned of nights, held against invented stands whose truth is known."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from standmap.sap import model as model_file
from standmap.sap.expected import learned
from standmap.sap.fit import fitted
from standmap.sap.model import DAY, REST, TREE, YEAR, SapModel, learn
from standmap.sap.priors import PUBLISHED
from standmap.sap.records import SapRecords, records_of
from standmap.stand.snapshot import Stand
from tests.sap.invented import Truth, as_stand, invented, records

TRUTH = Truth()
MADE = invented(TRUTH, trees=24, seasons=4, nights=12, seed=11)
KNOWN = learn(records(MADE))


def sure(model: SapModel, number: int) -> float:
    """Return the standard error of one effect."""
    return float(np.sqrt(model.fit.covariance[number, number]))


def test_known_effects_are_found_within_their_errors() -> None:
    level, girth, warmth = KNOWN.fit.theta[:3]
    assert abs(level - np.log(TRUTH.median_ml)) < 2.5 * sure(KNOWN, 0)
    assert abs(girth - TRUTH.girth) < 2.5 * sure(KNOWN, 1) < 1.2
    assert abs(warmth - TRUTH.warmth) < 2.5 * sure(KNOWN, 2) < 0.15
    found = np.exp(KNOWN.fit.log_sd)
    for number, true in ((YEAR, TRUTH.year), (DAY, TRUTH.day), (TREE, TRUTH.tree), (REST, TRUTH.rest)):
        assert abs(np.log(found[number] / true)) < 2.5 * KNOWN.fit.log_sd_spread[number]
    trees = np.array([KNOWN.fit.theta[KNOWN.effects.tree_at[f"t{k:05d}"]] for k in range(24)])
    assert np.corrcoef(trees, MADE.tree)[0, 1] > 0.95


def test_vessels_that_run_over_do_not_pull_down() -> None:
    vessel_ml = float(np.quantile(MADE.run_ml, 0.65))
    cut = records(MADE, vessel_ml=vessel_ml)
    assert cut.overflowed.mean() == pytest.approx(0.35, abs=0.01)
    heeded = learn(cut)
    taken_whole = learn(replace(cut, overflowed=np.zeros(cut.rows, np.bool_)))
    whole = KNOWN.night("t00003", 900).median_ml
    assert heeded.night("t00003", 900).median_ml == pytest.approx(whole, rel=0.06)
    assert taken_whole.night("t00003", 900).median_ml < 0.85 * whole
    assert np.exp(heeded.fit.log_sd[REST]) == pytest.approx(np.exp(KNOWN.fit.log_sd[REST]), rel=0.06)
    assert np.exp(taken_whole.fit.log_sd[REST]) < 0.9 * np.exp(KNOWN.fit.log_sd[REST])


@pytest.mark.parametrize(("every", "total_of"), [(2, 1), (1, 6), (2, 4)])
def test_sums_tell_what_their_parts_tell(every: int, total_of: int) -> None:
    """Less surely: a sum of two nights or six trees says little of each, and the level must still be right."""
    summed = learn(records(MADE, every=every, total_of=total_of))
    one, many = KNOWN.night("t00003", 900), summed.night("t00003", 900)
    assert many.median_ml == pytest.approx(one.median_ml, rel=0.25)
    level, of_sums = KNOWN.night("a new one", 900), summed.night("a new one", 900)
    assert of_sums.median_ml == pytest.approx(level.median_ml, rel=0.1)
    assert sure(summed, 0) > 0.9 * sure(KNOWN, 0)


def test_a_total_of_alike_trees_is_worth_as_much_as_each_of_them() -> None:
    """Without differences between trees, nights or years, six trees' total tells the level as well as six rows."""
    alike = replace(TRUTH, year=1e-3, day=1e-3, tree=1e-3, rest=0.2)
    made = invented(alike, trees=6, seasons=2, nights=10, seed=3)
    one, all_six = learn(records(made)), learn(records(made, total_of=6))
    assert all_six.night("n", 900).median_ml == pytest.approx(one.night("n", 900).median_ml, rel=0.03)


def test_nothing_collected_says_that_little_ran() -> None:
    quiet = replace(records(MADE), volume_ml=np.where(records(MADE).part_day < 3, 0.0, records(MADE).volume_ml))
    nights = [learn(quiet).night("t00003", 900, MADE.days[n]).median_ml for n in (1, 5)]
    assert nights[0] < 400 < nights[1]


def test_more_seasons_make_it_narrower() -> None:
    made = invented(TRUTH, trees=12, seasons=6, nights=10, seed=5)
    all_of_it = records(made)
    models = [learn(all_of_it.before(2016 + n)) for n in (0, 1, 3, 6)]
    spreads = [m.night("t00001", float(made.girth_mm[1]), mean_c=6.0).spread for m in models]
    assert spreads == sorted(spreads, reverse=True)
    assert spreads[-1] < 0.75 * spreads[0]
    assert [m.night("t00001").assumed for m in models] == [True, False, False, False]


def test_the_same_records_give_the_same_to_the_last_bit_in_any_order() -> None:
    stand = as_stand(MADE)
    mixed = np.random.default_rng(1).permutation(len(stand.collections))
    other = replace(
        stand,
        collections=tuple(stand.collections[k] for k in mixed),
        holes=stand.holes[::-1],
        trees=stand.trees[::-1],
        measurements=stand.measurements[::-1],
    )
    first, again, turned = (learned(s) for s in (stand, stand, other))
    for model in (again, turned):
        assert np.array_equal(first.fit.theta, model.fit.theta)
        assert np.array_equal(first.fit.covariance, model.fit.covariance)
        assert np.array_equal(first.fit.log_sd, model.fit.log_sd)


def test_a_stand_and_its_arrays_teach_the_same() -> None:
    found, made = records_of(as_stand(MADE)), records(MADE, known_warmth=False)
    assert found.days == made.days
    assert found.tree_keys == made.tree_keys
    assert np.allclose(np.sort(found.volume_ml), np.sort(made.volume_ml))
    at = np.lexsort((made.part_tree, made.part_day))
    order = np.lexsort((found.part_tree, found.part_day))
    assert np.allclose(found.volume_ml[found.part_row[order]], made.volume_ml[made.part_row[at]])
    assert np.allclose(learn(found).fit.theta, learn(made).fit.theta, atol=1e-6)


def test_a_night_of_which_more_is_known_is_told_more_narrowly() -> None:
    day, girth = MADE.days[4], float(MADE.girth_mm[2])
    past = KNOWN.night("t00002", girth, day)
    weather = KNOWN.night("t00002", girth, date(MADE.days[4].year, 5, 5), 6.5)
    year = KNOWN.night("t00002", girth, year=day.year)
    any_night = KNOWN.night("t00002", girth)
    stranger = KNOWN.night("nobody", girth)
    assert past.spread < weather.spread < year.spread < any_night.spread < stranger.spread
    assert past.median_ml == pytest.approx(MADE.run_ml[4, 2], rel=0.6)
    assert KNOWN.night("t00002", girth, mean_c=9.0).median_ml > KNOWN.night("t00002", girth, mean_c=3.0).median_ml


def test_tonight_takes_after_last_night() -> None:
    made = invented(replace(TRUTH, lasting=0.85), trees=8, seasons=8, nights=14, seed=4)
    model = learn(records(made))
    assert KNOWN.fit.lasting < 0.5 < model.fit.lasting
    last = made.days[-1]
    runs = [model.night("t00001", 900, last + timedelta(n), 6.0) for n in (1, 3, 8)]
    spreads = [run.spread for run in runs]
    assert spreads == sorted(spreads)
    assert spreads[0] < 0.9 * model.night("t00001", 900, mean_c=6.0, year=last.year).spread
    off = [
        abs(np.log(run.median_ml / model.night("t00001", 900, mean_c=6.0, year=last.year).median_ml)) for run in runs
    ]
    assert off == sorted(off, reverse=True)


def test_each_of_many_is_told_as_one_alone() -> None:
    keys = ["t00001", "nobody", "t00007", "nobody else"]
    girths = [700.0, None, None, 1200.0]
    many = KNOWN.night_of_each(keys, girths, MADE.days[7], 4.0)
    for key, girth, run in zip(keys, girths, many, strict=True):
        alone = KNOWN.night(key, girth, MADE.days[7], 4.0)
        assert (run.median_ml, run.spread) == pytest.approx((alone.median_ml, alone.spread), rel=1e-9)
        assert run.basis == alone.basis


def test_without_records_the_priors_speak() -> None:
    model = learn(records_of(Stand()))
    run = model.night("any", 785.0, mean_c=6.0)
    assert run.median_ml == pytest.approx(PUBLISHED.run_ml.value)
    assert run.spread == pytest.approx(
        np.sqrt(PUBLISHED.run_ml.spread**2 + sum(v for v in model.fit.variances())), rel=1e-9
    )
    assert run.assumed
    assert model.nights == 0


def test_trees_beyond_those_fitted_at_once_are_told_about_as_well(monkeypatch: pytest.MonkeyPatch) -> None:
    vessel_ml = float(np.quantile(MADE.run_ml, 0.8))
    all_of_it = records(MADE, vessel_ml=vessel_ml)
    whole = learn(all_of_it)
    monkeypatch.setattr(model_file, "MOST_TREES", 10)
    part = learn(all_of_it)
    assert len(part.effects.tree_at) == 10
    assert len(part.others.at) == 14
    keys = list(part.others.at)
    girths = [float(MADE.girth_mm[int(key[1:])]) for key in keys]
    for few, full in zip(part.night_of_each(keys, girths), whole.night_of_each(keys, girths), strict=True):
        assert few.median_ml == pytest.approx(full.median_ml, rel=0.15)
        assert few.spread == pytest.approx(full.spread, rel=0.15)
        assert few.basis == full.basis


def test_a_lone_night_moves_the_stand_a_little() -> None:
    one = SapRecords(
        ("a",),
        (date(2026, 4, 2),),
        np.array([np.nan]),
        np.array([600.0]),
        np.array([False]),
        np.zeros(1, np.int64),
        np.zeros(1, np.int64),
        np.zeros(1, np.int64),
        np.array([np.nan]),
    )
    model = learn(one)
    assert 600 < model.night("a").median_ml < model.night("b").median_ml < PUBLISHED.run_ml.value
    assert model.night("b").spread == pytest.approx(learn(one.before(2020)).night("b").spread, rel=0.15)


def test_a_bounded_slope_is_that_of_the_loss() -> None:
    """The search for variances goes by slopes: they must be the loss's own, sums and overflows included."""
    from standmap.sap.effects import design_of, effects_of, groups_of, usual_of
    from standmap.sap.fit import _Marginal
    from standmap.sap.night_rows import linear

    made = invented(TRUTH, trees=5, seasons=2, nights=6, seed=2)
    some = records(made, every=2, vessel_ml=float(np.quantile(made.run_ml, 0.6)))
    effects = effects_of(some)
    groups = groups_of(effects, PUBLISHED)
    design = design_of(some, effects, usual_of(some, PUBLISHED, 5))
    middles = np.array([*(np.log(belief.value) for belief in groups.beliefs), -0.4])
    spreads = np.array([belief.spread for belief in (*groups.beliefs, groups.lasting)])
    marginal = _Marginal(linear(design, groups.center), groups, middles, spreads, groups.center)
    at, one = middles + np.array([0.2, -0.3, 0.1, 0.15, 0.3]), np.ones(5)
    slope = marginal.loss_and_slope(at, one)[1]
    steps = 1e-4 * np.eye(5)
    differences = [
        (marginal.loss_and_slope(at + s, one)[0] - marginal.loss_and_slope(at - s, one)[0]) / 2e-4 for s in steps
    ]
    assert slope == pytest.approx(differences, rel=1e-4, abs=1e-4)
    assert np.isfinite(fitted(design, groups).theta).all()
