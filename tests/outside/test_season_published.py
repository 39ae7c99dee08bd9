"""The season held against published forms, numbers and series.

Sources stand beside each check. pyPhenology 0.7.1 (MIT) brings the series of two other species, Vaccinium corymbosum at
Harvard Forest and Populus tremuloides; that library is asked for days at base 0 only, where its sums are plain.
"""

from __future__ import annotations

import warnings
from datetime import date, timedelta
from typing import Any

import numpy as np
import pytest

from standmap.season.fitting import OwnYear, mean_error_days, taught
from standmap.season.thermal import (
    BASE_WARMTH_C,
    MENZEL_A,
    MENZEL_B,
    MENZEL_BASE_C,
    MENZEL_CHILL_C,
    SEASON_DAYS,
    birch_models,
    chill_days,
    decaying,
    degree_days,
    logarithmic,
    responding,
)

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    from pyPhenology import models, utils


def test_warmth_above_three_bases_of_a_short_series() -> None:
    """Sum of max(T - base, 0), by arithmetic."""
    means = np.array([-3.0, 0, 2, 4, 6, 8, 10, 3, 7, 12])
    assert [float(degree_days(means, base)[-1]) for base in (5.0, 3.5, 0.0)] == [18.0, 26.0, 52.0]


def test_the_chilling_form_with_published_numbers() -> None:
    """T = a + b e^(rC): Cannell & Smith 1983, Journal of Applied Ecology 20(3), 951-963.

    A generic summergreen tree: a 0, b 100, k 0.05 (Sykes et al. 1996, eq. 1; constants via the source of the CABLE
    land model). Salix viminalis: b 540.196, m -0.016 (R package phenModel). Neither is birch.
    """
    generic = decaying(0.0, 100.0, -0.05)(np.array([0.0, 20, 50, 100]))
    assert generic == pytest.approx([100, 36.788, 8.2085, 0.6738], rel=1e-4)
    willow = decaying(0.0, 540.196, -0.016)(np.array([0.0, 50, 100]))
    assert willow == pytest.approx([540.196, 242.726, 109.064], rel=1e-4)


def test_the_response_of_forcing_to_temperature() -> None:
    """1 / (1 + e^(b(T - c))) with b -0.2 and c 10: form of Chuine 2000, numbers ours."""
    assert responding(np.array([5.0, 10, 15]), -0.2, 10.0) == pytest.approx([0.268941, 0.5, 0.731059], abs=1e-6)


def test_downy_birch_has_the_published_constants() -> None:
    """Menzel 1997, Forstliche Forschungsberichte München, read in the R package vegperiod 0.4.

    Chill days at or below 9 °C from 1 November, warmth above 5 °C from 1 February, wanted 1438 - 261 ln(chill days).

    On that package's series of Göttingen, which is not kept here, the model told days 110, 112, 96, 106, 108, 113, 112,
    98 and 108 of 2002 to 2010, each the same as in the package's own tests.
    """
    published = birch_models()[1]
    assert (published.base_c, published.chill_c, published.months_on) == (5.0, 9.0, 3)
    assert (MENZEL_A, MENZEL_B) == (1438.0, -261.0)
    assert logarithmic(MENZEL_A, MENZEL_B)(np.array([100.0]))[0] == pytest.approx(1438 - 261 * np.log(100))
    assert "Menzel 1997" in published.source


def test_a_spring_worked_through_by_hand_as_the_published_model_has_it() -> None:
    """The same rules, day by day and in plain words; on springs of a seeded wave."""
    rng = np.random.default_rng(3)
    begins = date(2023, 11, 1)
    for _ in range(20):
        at = np.arange(SEASON_DAYS)
        means = 6 - 10 * np.cos(2 * np.pi * (at - 75) / 365) + rng.normal(0, 4, SEASON_DAYS)
        chill, heat, told = 0, 0.0, None
        for n, value in enumerate(means):
            day = begins + timedelta(days=n)
            chill += value <= MENZEL_CHILL_C
            if day >= date(2024, 2, 1) and value > MENZEL_BASE_C:
                heat += value - MENZEL_BASE_C
            if day >= date(2024, 2, 1) and heat >= MENZEL_A + MENZEL_B * np.log(chill):
                told = n
                break
        assert birch_models()[1].leaf_out(means, begins) == told
        assert chill_days(means, MENZEL_CHILL_C)[told] == chill


def test_the_base_of_plain_warmth_is_within_the_published_ones() -> None:
    """-1 to +2 °C from 1 January predicted the bud burst of birch well: Rousi & Pusenius 2005, Tree Physiology 25."""
    assert -1 <= BASE_WARMTH_C <= 2
    assert birch_models()[0].months_on == 2  # from 1 November to 1 January


def series(name: str) -> tuple[Any, Any]:
    seen, means = utils.load_test_data(name=name)
    return seen, means


def test_plain_sums_reach_their_day_as_another_library_says() -> None:
    """pyPhenology's ThermalTime at base 0, 300 degree days from 1 January, on its Vaccinium series."""
    seen, means = series("vaccinium")
    years = sorted(set(seen.year))
    model = models.ThermalTime(parameters={"t1": 1, "T": 0, "F": 300})
    first = seen.drop_duplicates("year").sort_values("year")
    theirs = dict(zip(first.year, model.predict(to_predict=first, predictors=means), strict=True))
    for year in years:
        own = means[(means.year == year) & (means.doy >= 1)].sort_values("doy")
        sums = degree_days(own.temperature.to_numpy(float), 0.0)
        # It asks for more than the sum, where we ask for as much.
        assert int(own.doy.to_numpy()[int((sums > 300).argmax())]) == theirs[year]


def own_years(seen: Any, means: Any) -> list[OwnYear]:
    """Return the years of one site with whole weather and the mean day on which its buds burst."""
    found = []
    for year, rows in seen.groupby("year"):
        own = means[means.year == year].sort_values("doy")
        begins = date(int(year) - 1, 11, 1)
        first = (begins - (date(int(year), 1, 1) - timedelta(days=1))).days
        values = dict(zip(own.doy, own.temperature, strict=True))
        days = [values.get(first + n) for n in range(230)]
        known = [float(v) for v in days if v is not None]
        if len(known) < 200:
            continue
        series = np.array([np.nan if v is None else float(v) for v in days])
        holes = np.isnan(series)
        series[holes] = np.interp(np.flatnonzero(holes), np.flatnonzero(~holes), series[~holes])
        found.append(OwnYear(begins, series, round(float(rows.doy.mean())) - first))
    return found


def test_a_fit_to_blueberry_days_beats_their_mean_out_of_sample() -> None:
    """Vaccinium corymbosum, bud burst at Harvard Forest (phenophase 371), 1991 to 2001."""
    seen, means = series("vaccinium")
    years = own_years(seen[seen.phenophase == seen.phenophase.min()], means)
    assert len(years) >= 8
    mean = mean_error_days(years)
    assert mean is not None
    for model in birch_models():
        fitted = taught(model, years)
        assert fitted.error_days is not None
        assert fitted.error_days < mean


def test_a_fit_to_aspen_days_of_many_places_beats_their_mean_where_chilling_counts() -> None:
    """Populus tremuloides, bud burst at 107 sites, each place and year told from the others.

    A model for one stand is not made for a continent: one sum of plain warmth for all places misses by 25 days, more
    than their mean does (20); with chilling it misses by 19.
    """
    seen, means = series("aspen")
    seen = seen[(seen.phenophase == seen.phenophase.min()) & (seen.doy < 182)]  # a few stand in autumn
    years = []
    for site, rows in seen.groupby("site_id"):
        years += own_years(rows, means[means.site_id == site])
    assert len(years) > 150
    mean = mean_error_days(years)
    assert mean is not None
    for model in birch_models()[1:]:
        fitted = taught(model, years)
        assert fitted.error_days is not None
        assert fitted.error_days < mean
