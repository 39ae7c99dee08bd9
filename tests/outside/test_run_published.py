"""What is expected of a night, held against published daily yields and against another library's mixed model."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
import statsmodels.formula.api as smf

from standmap.sap.model import DAY, REST, TREE, YEAR, learn
from standmap.sap.night import NightRun
from standmap.sap.priors import PUBLISHED, Belief
from standmap.sap.records import records_of
from standmap.stand.snapshot import Stand
from tests.sap.invented import Truth, invented, records

PRIOR = learn(records_of(Stand()))
USUAL_MM = math.pi * 250.0
"""Girth of the mean stem (25.0 cm) in Gryazkin et al. 2023."""

GRYAZKIN = "Gryazkin et al. 2023, Lesnoy Zhurnal 4, 180-189, doi 10.37482/0536-1036-2023-4-180-189 (abstract)"
BILBERRY = "Gryazkin et al., bilberry-type birch stand (abstract)"
POLISH = "Selected aspects of silver birch sap utilisation (Poland, abstract)"
FINNISH = "Finnish Forest Research Institute figures, via Seinäjoki UAS"

WARM_C = 9.0
"""Of a day called warmer and sunny, or good: an assumption; the sources seen give no figure."""


def middle_nine_tenths(run: NightRun) -> tuple[float, float]:
    """Return the interval in litres."""
    return run.quantile_ml(0.05) / 1000, run.quantile_ml(0.95) / 1000


@pytest.mark.parametrize(
    ("source", "litres", "mean_c"),
    [
        (f"{GRYAZKIN}: damp, the coolest day", 0.54, 3.0),
        (f"{GRYAZKIN}: damp, the mildest day", 1.37, 6.0),
        (f"{GRYAZKIN}: warmer and sunny, least", 2.50, WARM_C),
        (f"{GRYAZKIN}: warmer and sunny, most", 6.22, WARM_C),
        (f"{BILBERRY}: least", 0.95, None),
        (f"{BILBERRY}: most", 6.43, None),
        (f"{POLISH}: at 35 years", 3.6, None),
        (f"{POLISH}: at 80 years", 4.7, None),
        (f"{FINNISH}: least of a good day", 5.0, WARM_C),
        (f"{FINNISH}: most of a good day", 15.0, WARM_C),
    ],
)
def test_published_daily_yields_lie_inside_under_their_weather(
    source: str, litres: float, mean_c: float | None
) -> None:
    """Yields of a tree and day; a hole in a night of the model is as much, where a tree has one hole."""
    low, high = middle_nine_tenths(PRIOR.night("any", USUAL_MM, mean_c=mean_c))
    assert low < litres < high, source


def test_the_interval_does_not_hold_everything() -> None:
    """At most 285 mL an hour and hole (Gryazkin et al. 2023) are 6.8 L in a day: no cool damp night gives that."""
    cool = PRIOR.night("any", USUAL_MM, mean_c=3.0)
    assert 1 - cool.overflow_chance(0.285 * 24 * 1000) > 0.95
    low, high = middle_nine_tenths(PRIOR.night("any", USUAL_MM))
    assert high / low < 30


@pytest.mark.parametrize("richer", [(700.0, None, 1100.0, None), (800.0, 4.0, 800.0, 9.0)])
def test_effects_go_the_way_that_was_found(richer: tuple[float, float | None, float, float | None]) -> None:
    """More from thicker stems: Miina and Kurttila 2022, doi 10.14214/sf.10679; on warmer days: Gryazkin et al. 2023."""
    thin, cool, thick, warm = richer
    assert PRIOR.night("a", thin, mean_c=cool).median_ml < PRIOR.night("a", thick, mean_c=warm).median_ml


def test_estimates_are_those_of_a_mixed_model_in_another_library() -> None:
    """Restricted maximum likelihood of statsmodels' MixedLM, crossed effects by variance components.

    Single nights without overflows, beliefs so wide that they say nothing: then both maximise the same likelihood,
    the integral over fixed and random effects, and what is left between them is where two searches stop. Both stop
    well within a hundredth of the standard errors; hence 0.5 % for standard deviations and 0.002 for effects of
    logarithms.
    """
    made = invented(Truth(year=0.3), trees=9, seasons=5, nights=6, seed=8)
    vague = Belief(0.3, 1e3, "")
    priors = replace(
        PUBLISHED,
        lasting=Belief(1e-5, 1e-3, "no night takes after another, as in their model"),
        **dict.fromkeys(("year", "day", "tree", "rest"), vague),
        **{name: replace(getattr(PUBLISHED, name), spread=1e3) for name in ("run_ml", "girth", "warmth")},
    )
    ours = learn(records(made), priors)
    nights, trees = made.run_ml.shape
    table = pd.DataFrame(
        {
            "log_ml": np.log(made.run_ml).ravel(),
            "girth": np.tile(np.log(made.girth_mm / PUBLISHED.girth_mm.value), nights),
            "warmth": np.repeat(made.warmth_c - PUBLISHED.warmth_c.value, trees),
            "year": np.repeat(made.season, trees),
            "night": np.repeat(np.arange(nights), trees),
            "tree": np.tile(np.arange(trees), nights),
            "stand": 1,
        }
    )
    parts = {name: f"0 + C({name})" for name in ("year", "night", "tree")}
    theirs = smf.mixedlm("log_ml ~ girth + warmth", table, groups="stand", vc_formula=parts).fit(reml=True)
    assert theirs.converged
    assert ours.fit.theta[:3] == pytest.approx(theirs.fe_params.to_numpy(), abs=2e-3)
    errors = np.sqrt(np.diag(ours.fit.covariance)[:3])
    # Theirs come from a Hessian over effects and variances together, ours hold the variances: alike, not the same.
    assert errors == pytest.approx(theirs.bse_fe.to_numpy(), rel=0.1)
    variance = theirs.scale * np.eye(len(table))
    for name, part in zip(theirs.model.exog_vc.names, theirs.vcomp, strict=True):
        indicator = pd.get_dummies(table[name]).to_numpy(float)
        variance += part * indicator @ indicator.T
    fixed = np.column_stack([np.ones(len(table)), table["girth"], table["warmth"]])
    generalised = np.linalg.inv(fixed.T @ np.linalg.solve(variance, fixed))
    assert errors == pytest.approx(np.sqrt(np.diag(generalised)), rel=5e-3)
    found = np.exp(ours.fit.log_sd)
    components = dict(zip(theirs.model.exog_vc.names, np.sqrt(theirs.vcomp), strict=True))
    assert found[YEAR] == pytest.approx(components["year"], rel=5e-3)
    assert found[DAY] == pytest.approx(components["night"], rel=5e-3)
    assert found[TREE] == pytest.approx(components["tree"], rel=5e-3)
    assert found[REST] == pytest.approx(math.sqrt(theirs.scale), rel=5e-3)
    effects = theirs.random_effects[1]
    for tree in range(trees):
        mine = ours.fit.theta[ours.effects.tree_at[f"t{tree:05d}"]]
        assert mine == pytest.approx(effects[f"tree[C(tree)[{tree}]]"], abs=2e-3)
